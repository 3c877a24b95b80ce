"""The best tilt of a rack locked facing the equator: one for the year, two, or four settings, found with few runs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from trackersim.arrays import BoolArray, FloatArray
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.simulation.pumping import WaterSide
from trackersim.simulation.result import Result
from trackersim.simulation.runner import Runner

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
    month = runner.scene(job).month_of_day

    def tried(base: Job, tilts_deg: Iterable[int]) -> dict[int, _Seen]:
        tilts = sorted(tilts_deg)
        found = runner.of_each([locked(base, tilt) for tilt in tilts], _seen)
        return dict(zip(tilts, found, strict=True))

    parts = {name: [np.isin(month, months) for months in settings] for name, settings in SETTINGS.items()}
    days = {name: [part for part in each if part.any()] for name, each in parts.items()}
    seen = tried(job, _COARSE_DEG)
    tops = {_top_of_parabola(seen, part) for each in days.values() for part in each}
    seen |= tried(job, tops - set(seen))
    best = {name: [_best(seen, part) for part in each] for name, each in days.items()}
    aged = None if older is None else tried(older, {tilt for tilts in best.values() for tilt in tilts})
    found = []
    for name, tilts in best.items():
        water = _followed(tilts, days[name], seen, runner)
        later = water if aged is None else _followed(tilts, days[name], aged, runner)
        found.append(Tilted(name=name, tilts_deg=tuple(tilts), job=seen[tilts[0]].job, water=water, later=later))
    return tuple(found)


def locked(job: Job, tilt_deg: float) -> Job:
    """Every rack of the job standing still at this tilt, facing along its axis."""
    changes = {"rack.kind": "fixed", "rack.fixed_rotation": 0, "rack.fixed_azimuth": None, "rack.fixed_tilt": tilt_deg}
    return with_overrides(job, changes)


def _seen(result: Result) -> _Seen:
    power = tuple(given.power.input_w for given in result.stages.generations)
    return _Seen(job=result.job, input_w=power, water_m3=result.daily_water_m3)


def _best(seen: dict[int, _Seen], days: BoolArray) -> int:
    """The tilt with most water on these days; of equal ones the flattest."""
    return max(sorted(seen), key=lambda tilt: float(seen[tilt].water_m3[days].sum()))


def _top_of_parabola(seen: Mapping[int, _Seen], days: BoolArray) -> int:
    """Where a parabola through these days' best tilt and its two neighbours is highest, whole degrees from 0 to 89."""
    tilts = sorted(seen)
    water_m3 = [float(seen[tilt].water_m3[days].sum()) for tilt in tilts]
    best = int(np.argmax(water_m3))
    middle = min(max(best, 1), len(tilts) - 2)
    three = slice(middle - 1, middle + 2)
    bend, slope, _ = np.polyfit(tilts[three], water_m3[three], 2)
    if bend >= 0:
        return tilts[best]
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
