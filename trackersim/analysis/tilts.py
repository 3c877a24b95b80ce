"""The best tilt of a locked rack: one for the year, two, or four settings, found with few runs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from trackersim.analysis.alternatives import used_each_day_m3
from trackersim.analysis.loss_terms import Changes, for_units
from trackersim.arrays import BoolArray, FloatArray
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.simulation.pumping import WaterSide
from trackersim.simulation.result import Result
from trackersim.simulation.runner import Runner

_COARSE_DEG = (10, 25, 40, 55, 70)
# The other way is tried where the noon sun stands on that side, or so close to it that mornings and evenings decide.
_OTHER_WAY_DEG, _OTHER_WAY_LATITUDE_DEG = (-20, -5), 30.0
_STEEPEST_DEG = 89
# Tilts with so much of the best one's water give the same water.
_SAME_SHARE = 0.001
# Months of each setting (common practice, no source): by half-year, and by season with the long ones at the solstices.
SETTINGS: dict[str, tuple[tuple[int, ...], ...]] = {
    "lock-best-tilt": (tuple(range(1, 13)),),
    "two-tilts": ((4, 5, 6, 7, 8, 9), (10, 11, 12, 1, 2, 3)),
    "four-tilts": ((3, 4), (5, 6, 7, 8), (9, 10), (11, 12, 1, 2)),
}


@dataclass(frozen=True, kw_only=True)
class Tilted:
    """A rack locked at `tilts_deg` in `months`, one for each setting of which the days hold any; its job at the first.

    A tilt below 0 faces away from where the axis's low end points. `later` is the water of the `older` job at the same
    tilts.
    """

    name: str
    tilts_deg: tuple[int, ...]
    months: tuple[tuple[int, ...], ...]
    job: Job
    water: WaterSide
    later: WaterSide


@dataclass(frozen=True, kw_only=True)
class _Seen:
    """One tilt over all days: power at every unit's controller over sun-up minutes; water used and energy (days,)."""

    job: Job
    input_w: tuple[FloatArray, ...]
    used_m3: FloatArray
    energy: FloatArray


def best_tilts(job: Job, runner: Runner, *, older: Job | None = None) -> tuple[Tilted, ...]:
    """The job's racks locked at the best one, two and four tilts; `older` is the job in later years.

    Tilts 15° apart are tried first, then, for each setting, the top of a parabola through the best and its neighbours.
    A setting's best is that with most wanted water on its own days, among those that give the same the one with most
    energy: with a full tank no tilt gives more water, and what is left in the tank at the end must not decide.
    The store is then followed through all settings at once.
    """
    scene = runner.scene(job)
    month, up_day = scene.month_of_day, scene.up_day

    def seen_of(result: Result) -> _Seen:
        power = tuple(given.power.input_w for given in result.stages.generations)
        return _Seen(
            job=result.job,
            input_w=power,
            used_m3=used_each_day_m3(result.water, result.job, month),
            energy=np.bincount(up_day, weights=sum(power), minlength=len(month)).astype(np.float64),
        )

    def tried(base: Job, tilts_deg: Iterable[int]) -> dict[int, _Seen]:
        tilts = sorted(tilts_deg)
        found = runner.of_each([locked(base, tilt) for tilt in tilts], seen_of)
        return dict(zip(tilts, found, strict=True))

    parts = {name: [(months, np.isin(month, months)) for months in settings] for name, settings in SETTINGS.items()}
    held = {name: [(months, days) for months, days in each if days.any()] for name, each in parts.items()}
    other_way = _OTHER_WAY_DEG if abs(job.site.latitude_deg) < _OTHER_WAY_LATITUDE_DEG else ()
    seen = tried(job, other_way + _COARSE_DEG)
    tops = {_top_of_parabola(seen, days) for each in held.values() for _, days in each}
    seen |= tried(job, tops - set(seen))
    best = {name: [_best(seen, days) for _, days in each] for name, each in held.items()}
    aged = None if older is None else tried(older, {tilt for tilts in best.values() for tilt in tilts})
    found = []
    for name, tilts in best.items():
        months, days = zip(*held[name], strict=True)
        water = _followed(tilts, days, seen, runner)
        later = water if aged is None else _followed(tilts, days, aged, runner)
        first = seen[tilts[0]].job
        found.append(Tilted(name=name, tilts_deg=tuple(tilts), months=months, job=first, water=water, later=later))
    return tuple(found)


def locked(job: Job, tilt_deg: float) -> Job:
    """Every rack of the job standing still at this tilt, facing along its axis; below 0 the other way."""

    def still(unit: Job) -> Changes:
        away_deg = (unit.axis_azimuth_deg + 180) % 360 if tilt_deg < 0 else None
        standing = {"rack.kind": "fixed", "rack.fixed_rotation": 0}
        return {**standing, "rack.fixed_azimuth": away_deg, "rack.fixed_tilt": abs(tilt_deg)}

    return with_overrides(job, still(job) | for_units(job, still))


def _best(seen: Mapping[int, _Seen], days: BoolArray) -> int:
    """The tilt with most water on these days, of those that give the same with most energy, of equals the flattest."""
    used_m3 = {tilt: float(seen[tilt].used_m3[days].sum()) for tilt in sorted(seen, key=abs)}
    same = [tilt for tilt, water_m3 in used_m3.items() if water_m3 >= _same_m3(used_m3.values())]
    return max(same, key=lambda tilt: float(seen[tilt].energy[days].sum()))


def _same_m3(used_m3: Iterable[float]) -> float:
    """From how much on the water of a tilt is the same as the most of these."""
    return (1 - _SAME_SHARE) * max(used_m3)


def _top_of_parabola(seen: Mapping[int, _Seen], days: BoolArray) -> int:
    """Where a parabola through these days' best tilt and its two neighbours is highest, in whole degrees.

    It goes through their water, or through their energy where all three give the same water.
    """
    tilts = sorted(seen)
    best = tilts.index(_best(seen, days))
    middle = min(max(best, 1), len(tilts) - 2)
    three = tilts[middle - 1 : middle + 2]
    height = [float(seen[tilt].used_m3[days].sum()) for tilt in three]
    if min(height) >= _same_m3(height):
        height = [float(seen[tilt].energy[days].sum()) for tilt in three]
    bend, slope, _ = np.polyfit(three, height, 2)
    if bend >= 0:
        return tilts[best]
    flattest = 0 if tilts[0] > 0 else -_STEEPEST_DEG
    return int(np.clip(round(-slope / (2 * bend)), flattest, _STEEPEST_DEG))


def _followed(best: list[int], days: Iterable[BoolArray], seen: dict[int, _Seen], runner: Runner) -> WaterSide:
    """Water of the power of each setting's days put together."""
    first = seen[best[0]]
    up_day = runner.scene(first.job).up_day
    power = [np.array(unit) for unit in first.input_w]
    for tilt, each in zip(best, days, strict=True):
        minutes = each[up_day]
        for unit, given in zip(power, seen[tilt].input_w, strict=True):
            unit[minutes] = given[minutes]
    return runner.pumped(first.job, power)
