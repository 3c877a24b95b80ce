"""The order of the chain, and the only module that knows it: weather → sky → rack → light → power → water.

Three layers of work are shared by everything after them (`scene.py` describes them): the `Scene` (place and weather),
the `Aim` (one axis in that scene), the `Machine` (modules and pump). Physics runs on sun-up minutes; night is zeros
and a rack that has an angle.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from trackersim.constants import MINUTES_A_DAY
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.power.module import Label, cell_temperature_c, fit_label, module_table
from trackersim.rack.delayed import delayed_rotation
from trackersim.rack.events import MorningEvents, morning_events, solar_midnight_min
from trackersim.rack.fixed import fixed_rotation, ideal_rotation
from trackersim.rack.geometry import Axis, sun_on_axis
from trackersim.rack.thermal_march import ThermalHistory, ThermalWeather, march_thermal
from trackersim.sky.module_shade import module_shade, shade_edges
from trackersim.sky.plane import PlaneLight, light_on_plane, rotation_grid_deg, sky_light, view_at
from trackersim.sky.sun import sun_at
from trackersim.sky.trees import beam_share, behind_horizon, sky_view
from trackersim.study.canisters import (
    canister_beam_share,
    canister_lift_pa,
    canister_light_w,
    canister_loss,
    thermal_rack,
    wind_torque,
)
from trackersim.study.electrics import module_limits, module_wire_ohm, motor_w
from trackersim.study.modules import GroupShade, array_places, array_power, group_shade, soiling_share
from trackersim.study.notices import result_notices
from trackersim.study.obstacles import crowns_of, horizon_of
from trackersim.study.result import Result, provenance_of
from trackersim.study.scene import Aim, Machine, Scene
from trackersim.water.operate import Operation, operate
from trackersim.water.pump import pump_curve
from trackersim.water.system import OperatingPoint, flow_at_power, operating_table
from trackersim.weather.calendar import days_between
from trackersim.weather.load import native_weather
from trackersim.weather.minutes import minute_times, to_minutes

FloatArray = npt.NDArray[np.float64]
Progress = Callable[[str, float], None]

RACKS: tuple[str, ...] = ("fixed", "delayed", "thermal", "ideal")


def simulate(
    job: Job,
    *,
    first_day: dt.date | None = None,
    last_day: dt.date | None = None,
    scene: Scene | None = None,
    progress: Progress | None = None,
) -> Result:
    """Simulate `job` on its own rack over the days of its weather, or those from `first_day` to `last_day`.

    `scene` may be one that `prepare` made for a job of the same place, weather, horizon and trees. Raises `InputError`
    for input that shows itself impossible only now, such as a weather file of another hemisphere.
    """
    return next(
        iter(
            compare(
                job, kinds=[job.rack.kind], first_day=first_day, last_day=last_day, scene=scene, progress=progress
            ).values()
        )
    )


def compare(
    job: Job,
    *,
    kinds: Sequence[str] = RACKS,
    first_day: dt.date | None = None,
    last_day: dt.date | None = None,
    scene: Scene | None = None,
    progress: Progress | None = None,
) -> dict[str, Result]:
    """Simulate `job` on each kind of rack, sharing sun, weather, trees, modules and pump between them."""
    tell = progress or (lambda words, share: None)
    tell("weather, sun and trees", 0.0)
    if scene is None:
        scene = prepare(job, first_day=first_day, last_day=last_day)
    machine = assemble(job, scene)
    results: dict[str, Result] = {}
    aims: dict[tuple[Axis, bytes], Aim] = {}
    for number, kind in enumerate(kinds):
        tell(f"{kind} rack", (number + 1) / (len(kinds) + 1))
        variant = job if kind == job.rack.kind else with_overrides(job, {"rack.kind": kind})
        results[kind] = _run(variant, scene, _aim(variant, scene, aims), machine)
    tell("done", 1.0)
    return results


def prepare(job: Job, *, first_day: dt.date | None = None, last_day: dt.date | None = None) -> Scene:
    """The scene of `job`: weather as minutes, the sun, the split sky and the share of beam that passes the trees."""
    site = job.site
    whole = native_weather(job)
    native = days_between(whole, first_day, last_day)
    times = minute_times(native)
    place = {"latitude_deg": site.latitude_deg, "longitude_deg": site.longitude_deg, "elevation_m": site.elevation_m}
    sun = sun_at(times, **place)
    weather = to_minutes(native, sun=sun, **place)
    up = np.flatnonzero(sun.is_up)
    up_day = up // MINUTES_A_DAY
    direction = np.ascontiguousarray(sun.direction[:, up])
    day_of_year = np.asarray(times[::MINUTES_A_DAY].day_of_year)
    crowns, horizon = crowns_of(job, day_of_year), horizon_of(job)
    light = sky_light(
        dni_w_m2=weather.dni_w_m2[up],
        dhi_w_m2=weather.dhi_w_m2[up],
        ghi_w_m2=weather.ghi_w_m2[up],
        cos_zenith=direction[2],
        day_of_year=day_of_year[up_day],
        ground_albedo=site.ground_albedo,
    )
    share = beam_share(direction, up_day, crowns, horizon)
    return Scene(
        weather=weather, sun=sun, up=up, up_day=up_day, up_direction=direction, light=light, beam_share=share,
        hidden=behind_horizon(direction, horizon), crowns=crowns, horizon=horizon, coldest_c=float(whole.air_c.min()),
    )  # fmt: skip


def assemble(job: Job, scene: Scene) -> Machine:
    """The module tables and the pump's operating table of `job`, and when shade crosses its modules in `scene`."""
    array = job.array
    label = Label(
        vmp_v=array.vmp_v, imp_a=array.imp_a, voc_v=array.voc_v, isc_a=array.isc_a, isc_per_k=array.isc_per_k,
        voc_per_k=array.voc_per_k, cells=array.cells,
    )  # fmt: skip
    curve = pump_curve(job.pump)
    pump = operating_table(
        curve,
        static_head_m=job.source.lift_m,
        pipes=job.pipes,
        source=job.source,
        max_speed=job.pump.max_speed,
        min_speed=job.pump.min_speed,
    )
    diode, places = fit_label(label), array_places(array)
    return Machine(
        diode=diode,
        module=module_table(diode),
        at_controller=module_table(diode, wire_ohm=module_wire_ohm(job), limits=module_limits(job)),
        places=places,
        edges=shade_edges(
            scene.up_direction,
            scene.light.beam_w_m2 + scene.light.circumsolar_w_m2,
            scene.crowns,
            radius_m=places.radius_m,
        ),
        pump=pump,
        pump_assumed=curve.assumed,
    )


def axis_of(job: Job) -> Axis:
    """The axis that the job's rack turns on; of a fixed plane, the axis at the plane's own tilt and azimuth."""
    rack, azimuth, tilt = job.rack, job.axis_azimuth_deg, job.rack.axis_tilt_deg
    if rack.kind == "fixed":
        tilt = tilt if rack.fixed_tilt_deg is None else rack.fixed_tilt_deg
        azimuth = azimuth if rack.fixed_azimuth_deg is None else rack.fixed_azimuth_deg
    return Axis(azimuth_deg=azimuth, tilt_deg=tilt)


def _aim(job: Job, scene: Scene, known: dict[tuple[Axis, bytes], Aim]) -> Aim:
    """The job's axis in the scene; taken from `known` where another rack has it already."""
    rack, axis = job.rack, axis_of(job)
    fixed = rack.kind == "fixed"
    rotations = np.array([rack.fixed_rotation_deg]) if fixed else rotation_grid_deg(rack.max_rotation_deg)
    key = (axis, rotations.tobytes())
    if key not in known:
        same_axis = next((aim for (other, _), aim in known.items() if other == axis), None)
        sun_rotation, reach = (
            (same_axis.sun_rotation_deg, same_axis.reach) if same_axis else sun_on_axis(scene.sun.direction, axis)
        )
        view = sky_view(axis.normals(rotations), scene.days, scene.crowns, scene.horizon)
        known[key] = Aim(axis=axis, sun_rotation_deg=sun_rotation, reach=reach, view=view)
    return known[key]


def _run(job: Job, scene: Scene, aim: Aim, machine: Machine) -> Result:
    """One rack through the rest of the chain."""
    beam = scene.by_day(scene.spread(scene.light.beam_w_m2 * scene.beam_share))
    midnight = solar_midnight_min(scene.by_day(scene.sun.true_elevation_deg))
    rotation, history = _rotation(job, scene, aim, beam, midnight)
    shade = _shade(job, scene, aim, machine, rotation.ravel()[scene.up])
    light = _light(scene, aim, rotation.ravel()[scene.up], shade)
    cell = _cell_c(job, scene, light)
    power = array_power(
        job,
        light=light,
        cell_c=cell,
        soiling=soiling_share(job, scene)[scene.up_day],
        shade=shade,
        diode=machine.diode,
        at_terminals=machine.module,
        at_controller=machine.at_controller,
    )
    point, operation = _water(job, scene, power.input_w, machine)
    running = operation.running.ravel()
    cell_c = scene.weather.air_c.copy()
    cell_c[scene.up] = cell
    minutes = {
        "rotation_deg": rotation.ravel(),
        "sun_rotation_deg": aim.sun_rotation_deg,
        "beam_share": scene.spread(shade.over(scene.beam_share)),
        "plane_w_m2": scene.spread(light.plane_w_m2),
        "cell_c": cell_c,
        "array_w": scene.spread(power.array_w),
        "input_w": scene.spread(power.input_w),
        "input_v": scene.spread(power.input_v),
        "flow_m3_s": scene.spread(np.where(running[scene.up], point.flow_m3_s, 0.0)),
        "head_m": scene.spread(np.where(running[scene.up], point.head_m, 0.0)),
    }
    return Result(
        job=job,
        rack=job.rack.kind,
        times=scene.weather.times,
        minutes=minutes,
        morning=_events(job, scene, aim, rotation, beam, midnight),
        running=operation.running,
        starts=operation.starts,
        cutouts=operation.cutouts,
        notices=result_notices(job, scene, machine, power, history, operation),
        coldest_c=scene.coldest_c if job.site.design_low_c is None else job.site.design_low_c,
        canisters=history,
        provenance=provenance_of(job, scene.weather),
    )


def _rotation(
    job: Job, scene: Scene, aim: Aim, beam_w_m2: FloatArray, midnight_min: npt.NDArray[np.intp]
) -> tuple[FloatArray, ThermalHistory | None]:
    """Rotation of the rack (days, 1440), and the history of its canisters if it has any that move it."""
    rack, sun_rotation = job.rack, scene.by_day(aim.sun_rotation_deg)
    if rack.kind == "fixed":
        return fixed_rotation(sun_rotation, rotation_deg=rack.fixed_rotation_deg), None
    if rack.kind == "ideal":
        return ideal_rotation(sun_rotation, max_rotation_deg=rack.max_rotation_deg), None
    if rack.kind == "thermal" and rack.thermal.stuck:
        return fixed_rotation(sun_rotation, rotation_deg=rack.thermal.stuck_at_deg), None
    if rack.kind == "thermal":
        history = _canisters(job, scene, aim)
        return history.rotation_deg, history
    watched = delayed_rotation(
        sun_rotation,
        beam_w_m2,
        midnight_min=midnight_min,
        max_rotation_deg=rack.max_rotation_deg,
        flip_delay_min=rack.flip_delay_min,
        turning_min=rack.turning_min,
        lag_deg=rack.lag_deg,
    )
    return watched, None


def _canisters(job: Job, scene: Scene, aim: Aim) -> ThermalHistory:
    """The thermal rack marched through the scene's days."""
    rack, weather, up = job.rack, scene.weather, scene.up
    share = None
    if scene.crowns or scene.horizon is not None:
        seen = canister_beam_share(
            scene.up_direction, scene.up_day, scene.crowns, scene.horizon,
            axis=aim.axis, lever_m=rack.thermal.lever_m, max_rotation_deg=rack.max_rotation_deg,
        )  # fmt: skip
        share = np.ones((3, 2, scene.days, MINUTES_A_DAY))
        share.reshape(3, 2, -1)[..., up] = seen
    beam, diffuse = canister_light_w(
        job, beam_w_m2=scene.spread(scene.light.beam_w_m2 * aim.reach[up]), diffuse_w_m2=weather.dhi_w_m2
    )
    return march_thermal(
        thermal_rack(job),
        ThermalWeather(
            sun_rotation_deg=scene.by_day(aim.sun_rotation_deg),
            beam_w=scene.by_day(beam),
            beam_share=share,
            diffuse_w=scene.by_day(diffuse),
            air_c=scene.by_day(weather.air_c),
            loss_w_k=scene.by_day(canister_loss(job, wind_m_s=weather.wind_m_s, air_c=weather.air_c)),
            lift_pa=scene.by_day(canister_lift_pa(job, air_c=weather.air_c)),
            wind_torque_nm=scene.by_day(
                wind_torque(job, aim.axis, wind_m_s=weather.wind_m_s, wind_from_deg=weather.wind_from_deg)
            ),
        ),
    )


def _shade(job: Job, scene: Scene, aim: Aim, machine: Machine, rotation_deg: FloatArray) -> GroupShade:
    shade = module_shade(
        scene.up_direction,
        scene.up_day,
        rotation_deg,
        axis=aim.axis,
        places=machine.places,
        crowns=scene.crowns,
        edges=machine.edges,
        hidden=scene.hidden,
    )
    return group_shade(job.array, shade)


def _light(scene: Scene, aim: Aim, rotation_deg: FloatArray, shade: GroupShade) -> PlaneLight:
    sky_share, horizon_share = view_at(aim.view, day=scene.up_day, rotation_deg=rotation_deg)
    return light_on_plane(
        scene.light,
        rotation_deg=rotation_deg,
        sun_rotation_deg=aim.sun_rotation_deg[scene.up],
        reach=aim.reach[scene.up],
        axis=aim.axis,
        beam_share=shade.over(scene.beam_share),
        sky_share=sky_share,
        horizon_share=horizon_share,
    )


def _cell_c(job: Job, scene: Scene, light: PlaneLight) -> FloatArray:
    return cell_temperature_c(
        plane_w_m2=light.plane_w_m2,
        air_c=scene.weather.air_c[scene.up],
        wind_m_s=scene.weather.wind_m_s[scene.up],
        faiman_u0=job.array.faiman_u0,
        faiman_u1=job.array.faiman_u1,
    )


def _water(job: Job, scene: Scene, input_w: FloatArray, machine: Machine) -> tuple[OperatingPoint, Operation]:
    """What the pump would do if it ran (n,) on the controller's input, and when it runs (days, 1440)."""
    control, pump = job.controller, job.pump
    at_motor_w = motor_w(job, input_w)
    point = flow_at_power(machine.pump, at_motor_w)
    operation = operate(
        # Power below the controller's own use is none: without it the pump cannot be said to run.
        available_w=scene.by_day(scene.spread(np.where(at_motor_w > 0, input_w, 0.0))),
        flow_if_running_m3_s=scene.by_day(scene.spread(point.flow_m3_s)),
        start_w=control.start_w,
        stop_w=control.stop_w,
        start_delay_min=control.start_delay_min,
        cutout_flow_m3_s=pump.cutout_flow_m3_s,
        cutout_delay_min=pump.cutout_delay_min,
        cutout_retry_min=pump.cutout_retry_min,
    )
    return point, operation


def _events(
    job: Job,
    scene: Scene,
    aim: Aim,
    rotation_deg: FloatArray,
    beam_w_m2: FloatArray,
    midnight_min: npt.NDArray[np.intp],
) -> MorningEvents:
    return morning_events(
        rotation_deg=rotation_deg,
        sun_rotation_deg=scene.by_day(aim.sun_rotation_deg),
        true_elevation_deg=scene.by_day(scene.sun.true_elevation_deg),
        beam_w_m2=beam_w_m2,
        midnight_min=midnight_min,
        max_rotation_deg=job.rack.max_rotation_deg,
    )
