"""The order of the chain, and the only module that knows it: weather → sky → rack → light → power → water.

Three layers of work are shared by everything after them (`scene.py` describes them): the `Scene` (place and weather),
the `Aim` (one axis in that scene), the `Machine` (modules and pump). Physics runs on sun-up minutes; night is zeros
and a rack that has an angle.
"""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from trackersim.arrays import FloatArray, IndexArray
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.power.module import Label, fit_label, module_table
from trackersim.rack.events import MorningEvents, morning_events, solar_midnight_min
from trackersim.simulation.electrics import module_limits, module_wire_ohm
from trackersim.simulation.generation import UnitSide, array_cell_c, array_light, array_places, array_power, array_shade
from trackersim.simulation.notices import result_notices
from trackersim.simulation.outlook import behind, scene_from
from trackersim.simulation.pump_station import PumpStation, pump_station
from trackersim.simulation.pumping import WaterSide, pump
from trackersim.simulation.result import Result, provenance_of
from trackersim.simulation.scene import Aim, Machine, Scene
from trackersim.simulation.tracking import KnownAims, aim_of, rack_rotation
from trackersim.sky.shading import shade_edges
from trackersim.sky.sun import sun_at
from trackersim.weather.calendar import days_between
from trackersim.weather.downscale import minute_times, to_minutes
from trackersim.weather.load import native_weather

Progress = Callable[[str, float], None]

RACKS: tuple[str, ...] = ("fixed", "delayed", "thermal", "ideal")


def simulate(
    job: Job,
    *,
    first_day: dt.date | None = None,
    last_day: dt.date | None = None,
    scene: Scene | None = None,
    rotation_deg: FloatArray | None = None,
    progress: Progress | None = None,
) -> Result:
    """Simulate `job` on its own rack over the days of its weather, or those from `first_day` to `last_day`.

    `rotation_deg` (days, 1440) stands in for what the rack would do by itself. `scene` may be one that `prepare` made
    for a job of the same place, weather, horizon and trees. Raises `InputError` for input that shows itself impossible
    only now, such as a weather file of another hemisphere.
    """
    return next(
        iter(
            compare(
                job,
                kinds=[job.rack.kind],
                first_day=first_day,
                last_day=last_day,
                scene=scene,
                rotation_deg=rotation_deg,
                progress=progress,
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
    rotation_deg: FloatArray | None = None,
    progress: Progress | None = None,
) -> dict[str, Result]:
    """Simulate `job` on each kind of rack, sharing sun, weather, trees, modules and pump between them."""
    tell = progress or (lambda words, share: None)
    tell("weather, sun and trees", 0.0)
    if scene is None:
        scene = prepare(job, first_day=first_day, last_day=last_day)
    machines = [assemble(unit, scene) for unit in job.units]
    station = pump_station(job)
    results: dict[str, Result] = {}
    aims: KnownAims = {}
    variants = {kind: job if kind == job.rack.kind else with_overrides(job, {"rack.kind": kind}) for kind in kinds}
    for variant in variants.values():
        for unit in variant.units:
            aim_of(unit, scene, aims)
    # Racks know nothing of each other, and most of their time is spent in array routines that let other threads run.
    with ThreadPoolExecutor(max_workers=min(len(variants), os.cpu_count() or 1)) as pool:
        running = {
            kind: pool.submit(_run, variant, scene, aims, machines, station, rotation_deg=rotation_deg)
            for kind, variant in variants.items()
        }
        results = {}
        for number, (kind, future) in enumerate(running.items()):
            tell(f"{kind} rack", (number + 1) / (len(running) + 1))
            results[kind] = future.result()
    tell("done", 1.0)
    return results


def without_trees(job: Job, scene: Scene) -> Result | None:
    """`job` on its own rack under the sun and weather of its `scene`, but no trees; None if it has none."""
    if not job.trees:
        return None
    bare = with_overrides(job, {"trees": []})
    return simulate(bare, scene=behind(scene, bare))


def prepare(job: Job, *, first_day: dt.date | None = None, last_day: dt.date | None = None) -> Scene:
    """The scene of `job`: weather as minutes, the sun, the split sky and the share of beam that passes the trees."""
    site = job.site
    whole = native_weather(job)
    native = days_between(whole, first_day, last_day)
    times = minute_times(native)
    place = {"latitude_deg": site.latitude_deg, "longitude_deg": site.longitude_deg, "elevation_m": site.elevation_m}
    sun = sun_at(times, **place)
    weather = to_minutes(native, sun=sun, **place)
    return scene_from(job, weather, sun, coldest_c=float(whole.air_c.min()))


def assemble(job: Job, scene: Scene) -> Machine:
    """The module tables of one unit, and when shade crosses its modules in `scene`."""
    array = job.array
    label = Label(
        vmp_v=array.vmp_v, imp_a=array.imp_a, voc_v=array.voc_v, isc_a=array.isc_a, isc_per_k=array.isc_per_k,
        voc_per_k=array.voc_per_k, cells=array.cells,
    )  # fmt: skip
    diode, places = fit_label(label), array_places(array)
    return Machine(
        diode=diode,
        module=module_table(diode),
        at_controller=module_table(diode, wire_ohm=module_wire_ohm(job), limits=module_limits(job)),
        places=places,
        edges=shade_edges(
            scene.up_direction,
            scene.light.beam_w_m2 + scene.light.circumsolar_w_m2,
            scene.beam_crowns,
            radius_m=places.radius_m,
        ),
    )


def _run(
    job: Job,
    scene: Scene,
    aims: KnownAims,
    machines: Sequence[Machine],
    station: PumpStation,
    *,
    rotation_deg: FloatArray | None,
) -> Result:
    """One kind of rack through the rest of the chain: every unit to its controller, then the water of all together."""
    midnight = solar_midnight_min(scene.by_day(scene.sun.true_elevation_deg))
    beam = scene.by_day(scene.spread(scene.light.beam_w_m2 * scene.beam_share))
    sides = [
        _unit(unit, scene, aim_of(unit, scene, aims), machine, beam, midnight, rotation_deg)
        for unit, machine in zip(job.units, machines, strict=True)
    ]
    water = pump(job, scene, [side.power.input_w for side in sides], station=station)
    first = sides[0]
    return Result(
        job=job,
        rack=job.rack.kind,
        times=scene.weather.times,
        minutes=_minutes(job, scene, sides, water),
        unit_minutes=tuple(_unit_minutes(scene, side, water, number) for number, side in enumerate(sides)),
        morning=first.morning,
        water=water,
        notices=result_notices(job, scene, machines, station, sides, water),
        coldest_c=scene.coldest_c if job.site.design_low_c is None else job.site.design_low_c,
        canisters=first.history,
        provenance=provenance_of(job, scene.weather),
    )


def _unit(
    job: Job,
    scene: Scene,
    aim: Aim,
    machine: Machine,
    beam_w_m2: FloatArray,
    midnight: IndexArray,
    rotation_deg: FloatArray | None,
) -> UnitSide:
    """One unit from its rack to its controller's input."""
    rotation, history = rotation_deg, None
    if rotation is None:
        rotation, history = rack_rotation(job, scene, aim, beam_w_m2, midnight)
    at_sun_up = rotation.ravel()[scene.up]
    shade = array_shade(job, scene, aim, machine, at_sun_up)
    light = array_light(scene, aim, at_sun_up, shade)
    cell = array_cell_c(job, scene, light)
    power = array_power(job, scene, machine, light=light, cell_c=cell, shade=shade)
    return UnitSide(
        job=job,
        aim=aim,
        rotation_deg=rotation,
        shade=shade,
        light=light,
        cell_c=cell,
        power=power,
        history=history,
        morning=_events(job, scene, aim, rotation, beam_w_m2, midnight),
    )


def _minutes(job: Job, scene: Scene, sides: Sequence[UnitSide], water: WaterSide) -> dict[str, FloatArray]:
    """The series of a result: angles and voltage of the first unit, light on the mean module, sums of the rest."""
    first = sides[0]
    modules = np.array([side.job.array.module_count for side in sides], dtype=float)
    light = sum(side.light.plane_w_m2 * count for side, count in zip(sides, modules / modules.sum(), strict=True))
    cell_c = scene.weather.air_c.copy()
    cell_c[scene.up] = first.cell_c
    return {
        "rotation_deg": first.rotation_deg.ravel(),
        "sun_rotation_deg": first.aim.sun_rotation_deg,
        "beam_share": scene.spread(first.shade.over(scene.beam_share)),
        "plane_w_m2": scene.spread(np.asarray(light)),
        "cell_c": cell_c,
        "array_w": scene.spread(np.asarray(sum(side.power.array_w for side in sides))),
        "input_w": scene.spread(np.asarray(sum(side.power.input_w for side in sides))),
        "input_v": scene.spread(first.power.input_v),
        "flow_m3_s": water.flow_m3_s.sum(axis=0),
        "head_m": water.head_m[0],
    }


def _unit_minutes(scene: Scene, side: UnitSide, water: WaterSide, number: int) -> dict[str, FloatArray]:
    """What each unit does for itself."""
    return {
        "input_w": scene.spread(side.power.input_w),
        "input_v": scene.spread(side.power.input_v),
        "flow_m3_s": water.flow_m3_s[number],
        "head_m": water.head_m[number],
    }


def _events(
    job: Job,
    scene: Scene,
    aim: Aim,
    rotation_deg: FloatArray,
    beam_w_m2: FloatArray,
    midnight_min: IndexArray,
) -> MorningEvents:
    return morning_events(
        rotation_deg=rotation_deg,
        sun_rotation_deg=scene.by_day(aim.sun_rotation_deg),
        true_elevation_deg=scene.by_day(scene.sun.true_elevation_deg),
        beam_w_m2=beam_w_m2,
        midnight_min=midnight_min,
        max_rotation_deg=job.rack.max_rotation_deg,
    )
