"""How the job's rack stands: its axis in the scene, and its rotation minute by minute."""

from __future__ import annotations

import numpy as np

from trackersim.arrays import FloatArray, IndexArray
from trackersim.constants import MINUTES_A_DAY
from trackersim.errors import InputError
from trackersim.job.folders import path_in
from trackersim.job.model import Job
from trackersim.rack.delayed import delayed_rotation
from trackersim.rack.fixed import fixed_rotation, ideal_rotation
from trackersim.rack.geometry import Axis, sun_on_axis
from trackersim.rack.logged import logged_rotation, read_rotation_log
from trackersim.rack.thermal_year import ThermalHistory, ThermalWeather, march_thermal
from trackersim.simulation.canisters import (
    canister_beam_share,
    canister_lift_pa,
    canister_light_w,
    canister_loss,
    thermal_rack,
    wind_torque,
)
from trackersim.simulation.scene import Aim, Scene
from trackersim.sky.irradiance import rotation_grid_deg
from trackersim.sky.sun import unix_seconds
from trackersim.sky.trees import sky_view

KnownAims = dict[tuple[Axis, bytes], Aim]


def axis_of(job: Job) -> Axis:
    """The axis that the job's rack turns on; of a fixed plane, the axis at the plane's own tilt and azimuth."""
    rack, azimuth, tilt = job.rack, job.axis_azimuth_deg, job.rack.axis_tilt_deg
    if rack.kind == "fixed":
        tilt = tilt if rack.fixed_tilt_deg is None else rack.fixed_tilt_deg
        azimuth = azimuth if rack.fixed_azimuth_deg is None else rack.fixed_azimuth_deg
    return Axis(azimuth_deg=azimuth, tilt_deg=tilt)


def aim_of(job: Job, scene: Scene, known: KnownAims) -> Aim:
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


def rack_rotation(
    job: Job, scene: Scene, aim: Aim, beam_w_m2: FloatArray, midnight_min: IndexArray
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
    if rack.kind == "logged":
        return _logged(job, scene), None
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


def _logged(job: Job, scene: Scene) -> FloatArray:
    """The rotation in the file that the job names."""
    rack, offset_h = job.rack, job.site.standard_offset_h
    path = path_in(job.folder, rack.log)
    if path is None:
        raise InputError.of("rack.log", rack.log, "is no file that this job may name.", "Put it beside the job file.")
    return logged_rotation(
        read_rotation_log(path, utc_offset_h=offset_h),
        unix_s=scene.by_day(unix_seconds(scene.weather.times)),
        utc_offset_h=offset_h,
        max_rotation_deg=rack.max_rotation_deg,
    )


def _canisters(job: Job, scene: Scene, aim: Aim) -> ThermalHistory:
    """The thermal rack marched through the scene's days."""
    rack, weather, up = job.rack, scene.weather, scene.up
    share = None
    if scene.beam_crowns or scene.beam_horizon is not None:
        seen = canister_beam_share(
            scene.up_direction, scene.up_day, scene.beam_crowns, scene.beam_horizon,
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
