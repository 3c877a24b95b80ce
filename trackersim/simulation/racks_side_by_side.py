"""Many thermal racks on a few mornings: what a diagnosis compares with what was seen, and what varied numbers do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from trackersim.arrays import FloatArray, IndexArray
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.model import Job
from trackersim.job.rack import Rack
from trackersim.rack.events import MorningEvents, morning_events, solar_midnight_min
from trackersim.rack.thermal import Forcing
from trackersim.rack.thermal_year import march_mornings, march_thermal
from trackersim.simulation.canister_shade import canister_shares
from trackersim.simulation.canisters import canister_forcing
from trackersim.simulation.orientation import orientation_of
from trackersim.simulation.scene import Scene
from trackersim.simulation.tracking import thermal_forcing

UNTIL_MIN = 960  # `moves_of` follows racks from midnight to four in the afternoon


class Driven(NamedTuple):
    """A rack, and what drives it through all scenes: arrays (days, minutes) from midnight on, and what trees and hills
    leave of the direct light at its canisters (3, 2, days, minutes), None in the open.
    """

    rack: Rack
    forcing: Forcing
    beam_share: FloatArray | None


@dataclass(frozen=True, kw_only=True)
class MorningAir:
    """Light, air and wind of each rack on each morning, every array (racks, days, 1440) in W/m², °C and m/s at 10 m."""

    dni_w_m2: FloatArray
    dhi_w_m2: FloatArray
    air_c: FloatArray
    wind_m_s: FloatArray


@dataclass(frozen=True, kw_only=True)
class Moves:
    """What each rack does on each morning (racks, days): minutes of the standard day, NaN where it does not happen.

    `east_deg` is how far east of centre it stands at the most until noon.
    """

    flip: FloatArray
    arrival: FloatArray
    east_deg: FloatArray


def driven_through(unit: Job, scenes: Sequence[Scene]) -> Driven:
    """The unit's rack and what drives it through scenes with weather of their own.

    Parameters
    ----------
    unit : Job
        A job of one unit with a thermal rack.
    scenes : Sequence[Scene]
        Its days, which need not follow each other.

    Returns
    -------
    Driven
        The days of all scenes, one after the other.
    """
    parts = [thermal_forcing(unit, scene, orientation_of(unit, scene)) for scene in scenes]
    forcing = Forcing(*(np.concatenate(values) for values in zip(*(part for part, _ in parts), strict=True)))
    return Driven(unit.rack, forcing, _joined_days([share for _, share in parts]))


def turned_side_by_side(units: Sequence[Job], scenes: Sequence[Scene]) -> FloatArray:
    """The rotation of several thermal racks, each in a scene of its own, day after day.

    Parameters
    ----------
    units : Sequence[Job]
        Jobs of one unit each, with thermal racks.
    scenes : Sequence[Scene]
        One for each, of as many days.

    Returns
    -------
    FloatArray
        Shape (units, days, 1440) [degrees], + west, as `track` gives it for each alone.
    """
    driven = [driven_through(unit, [scene]) for unit, scene in zip(units, scenes, strict=True)]
    return np.stack(
        [march_thermal(each.rack, each.forcing, beam_share=each.beam_share).rotation_deg for each in driven]
    )


def mornings_of(
    driven: Sequence[Driven], scenes: Sequence[Scene], beam_w_m2: FloatArray
) -> tuple[FloatArray, MorningEvents]:
    """All racks through all days of the scenes, side by side, every morning begun at rest.

    Parameters
    ----------
    driven : Sequence[Driven]
        Shape (racks,). Racks with the same stops.
    scenes : Sequence[Scene]
        The sun on the days through which they are driven.
    beam_w_m2 : FloatArray
        Shape (racks · days, 1440). Direct light at the middle of the axis past trees [W/m²].

    Returns
    -------
    tuple[FloatArray, MorningEvents]
        Rotation (racks · days, minutes) [degrees], + west, and the moments of its mornings, rack by rack.
    """
    elevation = np.concatenate([scene.by_day(scene.sun.true_elevation_deg) for scene in scenes])
    rotation = np.concatenate([march_mornings(each.rack, each.forcing, beam_share=each.beam_share) for each in driven])
    minutes = rotation.shape[1]
    found = morning_events(
        rotation_deg=rotation,
        sun_rotation_deg=np.concatenate([each.forcing.sun_rotation_deg for each in driven]),
        true_elevation_deg=np.tile(elevation, (len(driven), 1))[:, :minutes],
        beam_w_m2=beam_w_m2[:, :minutes],
        midnight_min=np.tile(solar_midnight_min(elevation), len(driven)),
        max_rotation_deg=driven[0].rack.max_rotation_deg,
    )
    return rotation, found


def moves_of(
    unit: Job, racks: Sequence[Rack], scenes: Sequence[Scene], air: MorningAir, *, tree_power: FloatArray
) -> Moves:
    """Racks in the place of the unit's, each through mornings of its own air and light, begun at rest.

    Parameters
    ----------
    unit : Job
        A job of one unit with a thermal rack: where the others stand.
    racks : Sequence[Rack]
        Shape (racks,). Thermal racks with its stops.
    scenes : Sequence[Scene]
        Sun, trees and hills on each day; their weather is not read.
    air : MorningAir
        Light, air and wind of each rack on each day.
    tree_power : FloatArray
        Shape (racks,). Exponent on what trees and hills pass: above 1 trees are denser than the job says.

    Returns
    -------
    Moves
        Moments and angles (racks, days).
    """
    seen = [orientation_of(unit, scene) for scene in scenes]
    sun_rotation, reach = (
        np.concatenate([each.reshape(-1, MINUTES_A_DAY) for each in parts])
        for parts in ([each.sun_rotation_deg for each in seen], [each.reach for each in seen])
    )
    share = _joined_days([canister_shares(unit, scene) for scene in scenes])
    at_axis = np.concatenate([scene.by_day(scene.spread(scene.beam_share)) for scene in scenes])
    driven = []
    for n, rack in enumerate(racks):
        passed = None if share is None else share[..., :UNTIL_MIN] ** tree_power[n]
        forcing = canister_forcing(
            unit.model_copy(update={"rack": rack}),
            sun_rotation_deg=sun_rotation[:, :UNTIL_MIN],
            square_beam_w_m2=(air.dni_w_m2[n] * reach)[:, :UNTIL_MIN],
            dhi_w_m2=air.dhi_w_m2[n, :, :UNTIL_MIN],
            air_c=air.air_c[n, :, :UNTIL_MIN],
            wind_m_s=air.wind_m_s[n, :, :UNTIL_MIN],
            beam_share=passed,
        )
        driven.append(Driven(rack, forcing, passed))
    beam = air.dni_w_m2 * at_axis[None] ** tree_power[:, None, None]
    rotation, found = mornings_of(driven, scenes, beam.reshape(-1, MINUTES_A_DAY))
    shape = beam.shape[:2]

    def told(minute: IndexArray) -> FloatArray:
        return np.where(minute >= 0, minute.astype(float), np.nan).reshape(shape)

    noon = int(np.argmax(np.concatenate([scene.by_day(scene.sun.true_elevation_deg) for scene in scenes]).mean(axis=0)))
    return Moves(
        flip=told(found.flip),
        arrival=told(found.arrival),
        east_deg=-rotation[:, :noon].min(axis=1).reshape(shape),
    )


def _joined_days(shares: Sequence[FloatArray | None]) -> FloatArray | None:
    """Shares (3, 2, days, minutes) one after the other; None if none stands in the way."""
    known = [share for share in shares if share is not None]
    return np.concatenate(known, axis=2) if known else None
