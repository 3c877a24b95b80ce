"""Second stage of the chain: how a rack turns in its scene."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trackersim.arrays import FloatArray
from trackersim.clock import standard_zone
from trackersim.constants import MINUTES_A_DAY
from trackersim.errors import InputError
from trackersim.job.folders import path_in
from trackersim.job.model import Job
from trackersim.job.rack import Rack
from trackersim.rack.events import MorningEvents, morning_events, solar_midnight_min
from trackersim.rack.fixed import fixed_rotation, ideal_rotation
from trackersim.rack.logged import logged_rotation, read_rotation_log, within_stops
from trackersim.rack.thermal import Forcing, ThermalHistory
from trackersim.rack.thermal_year import march_thermal
from trackersim.simulation.canister_shade import canister_shares
from trackersim.simulation.canisters import canister_forcing
from trackersim.simulation.orientation import Orientation, orientation_of
from trackersim.simulation.reuse import Reuse, worked_anew
from trackersim.simulation.scene import Scene
from trackersim.simulation.watched import watched_rotation
from trackersim.sky.sun import unix_seconds


@dataclass(frozen=True, kw_only=True, eq=False)
class Tracking:
    """What a rack does: its orientation, its rotation (days, 1440) west positive, and the moments of each morning.

    `history` holds the canisters of a thermal rack that they move, None for other racks.
    """

    orientation: Orientation
    rotation_deg: FloatArray
    morning: MorningEvents
    history: ThermalHistory | None = None


def track(unit: Job, scene: Scene, *, rotation_deg: FloatArray | None = None, reuse: Reuse = worked_anew) -> Tracking:
    """The rack of one unit in its scene.

    Parameters
    ----------
    unit
        Read are `rack`, and of a thermal rack that asks for wind the size of `array`.
    scene
        As `make_scene` gives it.
    rotation_deg
        (days, 1440) [degrees], west positive, within the stops and finite at night too: stands in for what the rack
        would do by itself.
    reuse
        Keeps what other racks in this scene share; by default nothing is kept.

    Returns
    -------
    Tracking
        At night a rack has an angle too.

    Raises
    ------
    InputError
        For a `rotation_deg` that is none of these, and for a log that cannot be used.
    """
    orientation = orientation_of(unit, scene, reuse=reuse)
    history = None
    if rotation_deg is None:
        rotation_deg, history = _rotation(unit, scene, orientation, reuse)
    else:
        rotation_deg = _given(rotation_deg, scene.days, unit.rack)
    elevation = scene.by_day(scene.sun.true_elevation_deg)
    morning = morning_events(
        rotation_deg=rotation_deg,
        sun_rotation_deg=scene.by_day(orientation.sun_rotation_deg),
        true_elevation_deg=elevation,
        beam_w_m2=scene.beam_w_m2,
        midnight_min=solar_midnight_min(elevation),
        max_rotation_deg=unit.rack.max_rotation_deg,
    )
    return Tracking(orientation=orientation, rotation_deg=rotation_deg, morning=morning, history=history)


def _given(rotation_deg: FloatArray, days: int, rack: Rack) -> FloatArray:
    """A rotation that somebody gave, as numbers (days, 1440) within the stops."""
    try:
        given = np.asarray(rotation_deg, dtype=float)
    except (TypeError, ValueError):
        remedy = f"Give an array ({days}, {MINUTES_A_DAY}) of degrees."
        raise InputError.of("rotation_deg", None, "holds something that is no number.", remedy) from None
    if given.shape != (days, MINUTES_A_DAY):
        remedy = f"Give one angle for each minute of the {days} days: shape ({days}, {MINUTES_A_DAY})."
        raise InputError.of("rotation_deg", given.shape, "is not its shape.", remedy)
    if not np.isfinite(given).all():
        remedy = "A rack has an angle at night too: fill it with that at which the rack rests."
        raise InputError.of("rotation_deg", float("nan"), "is no angle.", remedy)
    if rack.kind == "fixed":
        if (given == rack.fixed_rotation_deg).all():
            return given
        remedy = 'Give the job a rack that turns: rack.kind = "ideal".'
        raise InputError.of("rotation_deg", given.flat[0], "is that of a rack that does not turn.", remedy)
    return within_stops(given, field="rotation_deg", max_rotation_deg=rack.max_rotation_deg)


def _rotation(
    unit: Job, scene: Scene, orientation: Orientation, reuse: Reuse
) -> tuple[FloatArray, ThermalHistory | None]:
    """Rotation of the rack (days, 1440), and the history of its canisters if it has any that move it."""
    rack, sun_rotation = unit.rack, scene.by_day(orientation.sun_rotation_deg)
    if rack.kind == "fixed":
        return fixed_rotation(sun_rotation, rotation_deg=rack.fixed_rotation_deg), None
    if rack.kind == "ideal":
        key = (scene.place.key, orientation.axis, rack.max_rotation_deg)
        limit = rack.max_rotation_deg
        return reuse("ideal rack", key, lambda: ideal_rotation(sun_rotation, max_rotation_deg=limit)), None
    if rack.kind == "thermal" and rack.thermal.stuck:
        return fixed_rotation(sun_rotation, rotation_deg=rack.thermal.stuck_at_deg), None
    if rack.kind == "thermal":
        history = _canisters(unit, scene, orientation)
        return history.rotation_deg, history
    if rack.kind == "logged":
        return _logged(unit, scene), None
    return watched_rotation(unit, scene, orientation, reuse=reuse), None


def _logged(unit: Job, scene: Scene) -> FloatArray:
    """The rotation in the file that the job names."""
    rack, zone = unit.rack, standard_zone(unit.site)
    path = path_in(unit.folder, rack.log)
    if path is None:
        raise InputError.of("rack.log", rack.log, "is no file that this job may name.", "Put it beside the job file.")
    return logged_rotation(
        read_rotation_log(path, zone=zone),
        unix_s=scene.by_day(unix_seconds(scene.weather.times)),
        zone=zone,
        max_rotation_deg=rack.max_rotation_deg,
    )


def _canisters(unit: Job, scene: Scene, orientation: Orientation) -> ThermalHistory:
    """The thermal rack followed through the scene's days."""
    forcing, share = thermal_forcing(unit, scene, orientation)
    return march_thermal(unit.rack, forcing, beam_share=share)


def thermal_forcing(unit: Job, scene: Scene, orientation: Orientation) -> tuple[Forcing, FloatArray | None]:
    """What acts on a thermal rack through the scene's days.

    Parameters
    ----------
    unit : Job
        A job of one unit with a thermal rack.
    scene : Scene
        Where it stands.
    orientation : Orientation
        Its axis in that scene.

    Returns
    -------
    tuple[Forcing, FloatArray | None]
        Arrays (days, 1440), and what `canister_shares` gives.
    """
    weather, from_deg = scene.weather, scene.weather.wind_from_deg
    share = canister_shares(unit, scene)
    forcing = canister_forcing(
        unit,
        sun_rotation_deg=scene.by_day(orientation.sun_rotation_deg),
        square_beam_w_m2=scene.by_day(scene.spread(scene.light.beam_w_m2 * orientation.reach[scene.up])),
        dhi_w_m2=scene.by_day(weather.dhi_w_m2),
        air_c=scene.by_day(weather.air_c),
        wind_m_s=scene.by_day(weather.wind_m_s),
        wind_from_deg=None if from_deg is None else scene.by_day(from_deg),
        beam_share=share,
    )
    return forcing, share
