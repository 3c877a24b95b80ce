"""The best tilt of a rack locked facing the equator: one for the year, two, or four settings, found with few runs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trackersim.arrays import BoolArray, FloatArray
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.simulation.pumping import WaterSide
from trackersim.simulation.result import Result
from trackersim.simulation.runner import Runner
from trackersim.simulation.scene import Scene

_COARSE_DEG = (10, 25, 40, 55, 70)
_STEEPEST_DEG = 89
# Months of each setting (common practice, no source): by half-year, and by season with the long ones at the solstices.
SETTINGS: dict[str, tuple[tuple[int, ...], ...]] = {
    "lock-best-tilt": (tuple(range(1, 13)),),
    "two-tilts": ((4, 5, 6, 7, 8, 9), (10, 11, 12, 1, 2, 3)),
    "four-tilts": ((3, 4), (5, 6, 7, 8), (9, 10), (11, 12, 1, 2)),
}


@dataclass(frozen=True, kw_only=True)
class Tilted:
    """A rack locked at `tilts_deg`, one for each setting of which the days hold any; its job at the first of them.

    `later` is the water of the `older` job at the same tilts.
    """

    name: str
    tilts_deg: tuple[int, ...]
    job: Job
    water: WaterSide
    later: WaterSide


@dataclass(frozen=True, kw_only=True)
class _Seen:
    """One tilt over all days: power at every unit's controller over sun-up minutes, and water (days,)."""

    job: Job
    input_w: tuple[FloatArray, ...]
    water_m3: FloatArray


def best_tilts(job: Job, runner: Runner, *, older: Job | None = None) -> tuple[Tilted, ...]:
    """The job's racks locked at the best one, two and four tilts; `older` is the job in later years.

    Tilts 15° apart are tried first, then, for each setting, the top of a parabola through the best and its neighbours.
    A setting's best is that with most water on its own days; the store is then followed through all settings at once.
    """
    scene = runner.scene(job)
    coarse = runner.of_each([locked(job, tilt) for tilt in _COARSE_DEG], lambda result: _seen(result, scene))
    seen = dict(zip(_COARSE_DEG, coarse, strict=True))
    month = scene.month_of_day
    found = []
    for name, settings in SETTINGS.items():
        days = [np.isin(month, months) for months in settings]
        days = [each for each in days if each.any()]
        for each in days:
            top = _top_of_parabola(sorted(seen), [float(seen[tilt].water_m3[each].sum()) for tilt in sorted(seen)])
            if top not in seen:
                seen[top] = _seen(runner.run(locked(job, top)), scene)
        best = [_best(seen, each) for each in days]
        water = _followed(best, days, seen, runner)
        later = water
        if older is not None:
            aged = {tilt: _seen(runner.run(locked(older, tilt)), scene) for tilt in set(best)}
            later = _followed(best, days, aged, runner)
        found.append(Tilted(name=name, tilts_deg=tuple(best), job=seen[best[0]].job, water=water, later=later))
    return tuple(found)


def locked(job: Job, tilt_deg: float) -> Job:
    """Every rack of the job standing still at this tilt, facing along its axis."""
    changes = {"rack.kind": "fixed", "rack.fixed_rotation": 0, "rack.fixed_azimuth": None, "rack.fixed_tilt": tilt_deg}
    return with_overrides(job, changes)


def _seen(result: Result, scene: Scene) -> _Seen:
    power = tuple(minutes["input_w"][scene.up] for minutes in result.unit_minutes)
    return _Seen(job=result.job, input_w=power, water_m3=result.daily["water_m3"].to_numpy())


def _best(seen: dict[int, _Seen], days: BoolArray) -> int:
    """The tilt with most water on these days; of equal ones the flattest."""
    return max(sorted(seen), key=lambda tilt: float(seen[tilt].water_m3[days].sum()))


def _top_of_parabola(tilts_deg: Sequence[int], water_m3: Sequence[float]) -> int:
    """Where a parabola through the best tilt and its two neighbours is highest, whole degrees from 0 to 89."""
    best = int(np.argmax(water_m3))
    middle = min(max(best, 1), len(tilts_deg) - 2)
    three = slice(middle - 1, middle + 2)
    bend, slope, _ = np.polyfit(tilts_deg[three], water_m3[three], 2)
    if bend >= 0:
        return tilts_deg[best]
    return int(np.clip(round(-slope / (2 * bend)), 0, _STEEPEST_DEG))


def _followed(best: list[int], days: list[BoolArray], seen: dict[int, _Seen], runner: Runner) -> WaterSide:
    """Water of the power of each setting's days put together."""
    first = seen[best[0]]
    up_day = runner.scene(first.job).up_day
    power = [np.array(unit) for unit in first.input_w]
    for tilt, each in zip(best, days, strict=True):
        minutes = each[up_day]
        for unit, given in zip(power, seen[tilt].input_w, strict=True):
            unit[minutes] = given[minutes]
    return runner.pumped(first.job, power)
