"""Racks in every condition that a diagnosis knows, drawn and marched through the mornings that were watched.

For each condition some dozens are drawn: how far it goes, the make's unmeasured numbers, trees, and each morning's air,
wind and haze within what was seen. Draws are a Latin hypercube with a fixed seed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from typing import NamedTuple

import numpy as np
from scipy.stats import norm, qmc

from trackersim.analysis.observed_sky import (
    AIR_NUMBERS,
    Air,
    Days,
    air_drawn,
    day_weather,
    days_up_to,
    scene_under,
    within,
)
from trackersim.analysis.rack_conditions import CONDITIONS, MAKE_SPREAD, SOUND, STUCK, STUCK_IN_THE_WEST
from trackersim.analysis.uncertain_inputs import range_of_input
from trackersim.analysis.watched_mornings import SeenMorning
from trackersim.arrays import FloatArray
from trackersim.job.model import Job
from trackersim.job.rack import Rack
from trackersim.simulation.racks_side_by_side import MorningAir, Moves, moves_of
from trackersim.simulation.runner import Progress
from trackersim.simulation.scene import Scene

RACKS = 80  # drawn for each condition
_SEED = 20260321
_MILD_C = 10.0
_MOST_ROWS = 1200  # of racks and mornings marched at once, which takes some 200 MB
_FEW = 24  # sound racks that are also followed without trees and in mild air
_MOVES = tuple(each.name for each in fields(Moves))
_AIRS = tuple(each.name for each in fields(MorningAir))


class Drawn(NamedTuple):
    """What the racks of each condition do (racks, mornings), and what sound ones would without trees, and mild too."""

    moves: Mapping[str, Moves]
    open_flip: FloatArray
    mild_flip: FloatArray


def scenes_on(job: Job, days: Sequence[Days]) -> list[Scene]:
    """The scene of the job on each of several days, in usual air under a clear sky."""
    return [scene_under(job, each, day_weather(each, Air())) for each in days]


def draw(
    job: Job,
    mornings: Sequence[SeenMorning],
    *,
    colder_k: Sequence[float],
    racks: int = RACKS,
    seed: int = _SEED,
    progress: Progress | None = None,
) -> Drawn:
    """Racks in every condition, marched through the mornings; `colder_k` is added to each morning's air."""
    days = [days_up_to(job, morning.date, before=0) for morning in mornings]
    scenes, open_scenes = (scenes_on(each, days) for each in (job, job.model_copy(update={"trees": ()})))
    made: dict[str, list[Rack]] = {}
    airs, powers, width = [], [], 3 + len(MAKE_SPREAD) + AIR_NUMBERS * len(mornings)
    for place, name in enumerate(CONDITIONS):
        shares = qmc.LatinHypercube(d=width, rng=seed + place).random(racks)
        made[name] = [] if name == STUCK else [_rack(job.rack, name, row) for row in shares]
        if name == STUCK:
            stuck = shares[:, 0]
            continue
        airs.append(_air(days, mornings, colder_k, shares[:, -AIR_NUMBERS * len(mornings) :]))
        powers.append(np.array([_denser(share) for share in shares[:, 1]]))
    moves = _marched(job, made, scenes, airs, powers, progress)
    moves[STUCK] = _stuck(moves[SOUND], job.rack.max_rotation_deg, stuck)
    few = slice(0, min(racks, _FEW))
    sound, air, power = made[SOUND][few], _some(airs[0], few), powers[0][few]
    mild = replace(air, air_c=np.maximum(air.air_c, _MILD_C))
    in_open, in_mild = (moves_of(job, sound, open_scenes, each, tree_power=power).flip for each in (air, mild))
    return Drawn(moves, in_open, in_mild)


def _marched(
    job: Job,
    made: Mapping[str, Sequence[Rack]],
    scenes: Sequence[Scene],
    airs: Sequence[MorningAir],
    powers: Sequence[FloatArray],
    progress: Progress | None,
) -> dict[str, Moves]:
    """The racks of several conditions at a time: one march of many rows is quicker than many of few."""
    names = [name for name, racks in made.items() if racks]
    together = max(1, _MOST_ROWS // (len(made[names[0]]) * len(scenes)))
    found: dict[str, Moves] = {}
    for first in range(0, len(names), together):
        if progress:
            progress("racks through the mornings", first / len(names))
        chosen = names[first : first + together]
        racks = [rack for name in chosen for rack in made[name]]
        moves = moves_of(
            job,
            racks,
            scenes,
            _joined(airs[first : first + together]),
            tree_power=np.concatenate(powers[first : first + together]),
        )
        for n, name in enumerate(chosen):
            mine = slice(n * len(made[name]), (n + 1) * len(made[name]))
            found[name] = Moves(**{key: getattr(moves, key)[mine] for key in _MOVES})
    return found


def _joined(airs: Sequence[MorningAir]) -> MorningAir:
    return MorningAir(**{key: np.concatenate([getattr(air, key) for air in airs]) for key in _AIRS})


def _some(air: MorningAir, racks: slice) -> MorningAir:
    return MorningAir(**{key: getattr(air, key)[racks] for key in _AIRS})


def _rack(rack: Rack, name: str, row: FloatArray) -> Rack:
    """One rack in a condition: how far it goes, and the make's unmeasured numbers."""
    thermal = rack.thermal
    spread = {
        key: float(getattr(thermal, key)) * float(np.exp(sd * norm.ppf(share)))
        for (key, sd), share in zip(MAKE_SPREAD.items(), row[3:], strict=False)
    }
    spread["absorptance"] = min(spread["absorptance"], 1.0)
    made = thermal.model_copy(update={**spread, "stuck": False})
    return rack.model_copy(
        update={"thermal": made.model_copy(update=dict(CONDITIONS[name].changes(made, float(row[0]))))}
    )


def _denser(share: float) -> float:
    """Exponent on what the trees pass, so that a crown which passes 0.2 passes what the uncertainty draws."""
    return float(1 + np.log(within(range_of_input("transmittance_leaf_on"), share)) / np.log(0.2))


def _air(
    days: Sequence[Days], mornings: Sequence[SeenMorning], colder_k: Sequence[float], shares: FloatArray
) -> MorningAir:
    """Air, wind and light of each rack on each morning (racks, mornings, 1440)."""
    drawn = []
    for n, (each, morning) in enumerate(zip(days, mornings, strict=True)):
        seen, mine = morning.seen, shares[:, AIR_NUMBERS * n : AIR_NUMBERS * (n + 1)]
        at = int(morning.flip.minute) if morning.flip is not None else int(np.argmax(each.sun.is_up))
        for row in mine:
            found = air_drawn(each.usual, seen, min(at, 1439), row)
            drawn.append(day_weather(each, replace(found, warmer_k=found.warmer_k + colder_k[n])))
    shape = (len(mornings), len(shares), -1)

    def stacked(name: str) -> FloatArray:
        return np.stack([getattr(weather, name) for weather in drawn]).reshape(shape).swapaxes(0, 1)

    return MorningAir(
        dni_w_m2=stacked("dni_w_m2"), dhi_w_m2=stacked("dhi_w_m2"), air_c=stacked("air_c"), wind_m_s=stacked("wind_m_s")
    )


def _stuck(like: Moves, stop_deg: float, shares: FloatArray) -> Moves:
    """Racks that stand still: most of them in the west, the others anywhere."""
    never = np.full_like(like.flip, np.nan)
    elsewhere = (shares - STUCK_IN_THE_WEST) / (1 - STUCK_IN_THE_WEST)
    east = np.where(shares < STUCK_IN_THE_WEST, -stop_deg, (2 * elsewhere - 1) * stop_deg)
    return Moves(
        flip=never,
        arrival=never,
        east_deg=np.broadcast_to(east[:, None], never.shape),
    )
