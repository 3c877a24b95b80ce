"""When the sun clears the trees, month by month; the site with trees grown; which way of stringing loses less."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from trackersim.arrays import BoolArray
from trackersim.clock import minute_words, standard_zone
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.job.rack import PASSIVE
from trackersim.rack.fixed import ideal_rotation
from trackersim.rack.geometry import sun_on_axis
from trackersim.simulation.canisters import canister_beam_share
from trackersim.simulation.generation import array_places
from trackersim.simulation.obstacles import crowns_of, horizon_of
from trackersim.simulation.result import Result
from trackersim.simulation.runner import Progress, simulate
from trackersim.simulation.tracking import axis_of
from trackersim.sky.crowns import Crown
from trackersim.sky.shading import ShadeEdges, module_shade
from trackersim.sky.sun import Sun, sun_at
from trackersim.sky.trees import HorizonProfile, behind_horizon

_DAY_OF_MONTH = 21
_CLEAR = 0.999
YEARS_AHEAD = (5, 10)


@dataclass(frozen=True, kw_only=True)
class ClearingDay:
    """When the sun clears trees and hills on one day, minutes of the day at standard time; None for what never is.

    `first_module`, `last_module`: from then until noon nothing stands before the sun at one module, and at all of them;
    `canister`: at the west canister of a rack that waits in the west (None for other racks). `shaded_from`: first
    minute after noon in which some module is shaded again. A day without sun has no `sunrise`.
    """

    date: dt.date
    sunrise: int | None
    first_module: int | None
    last_module: int | None
    canister: int | None
    shaded_from: int | None
    sunset: int | None


@dataclass(frozen=True, kw_only=True)
class Shade:
    """What trees do at a job's site.

    `days` are the 21sts of twelve months. `own` is the job's result, `by_years` those with trees grown by so many
    years, `other_stringing` that with strings along the other edge of the array, None for a single string.
    """

    job: Job
    days: tuple[ClearingDay, ...]
    own: Result
    by_years: dict[int, Result]
    other_stringing: Result | None

    def summary(self) -> dict[str, Any]:
        """The answer as plain data in SI units."""
        other = self.other_stringing
        return {
            "job": self.job.site.name,
            "clearing": [
                {
                    name: value.isoformat() if isinstance(value, dt.date) else minute_words(value)
                    for name, value in vars(day).items()
                }
                for day in self.days
            ],
            "water_m3_per_day_in_years": {
                "0": self.own.water_m3_per_day,
                **{str(years): result.water_m3_per_day for years, result in self.by_years.items()},
            },
            "strung_by": self.job.array.laid_out.strung_by,
            "array_kwh": float(self.own.daily["array_kwh"].sum()),
            "array_kwh_strung_the_other_way": None if other is None else float(other.daily["array_kwh"].sum()),
        }


def shade_of(job: Job, *, years: Sequence[int] = YEARS_AHEAD, progress: Progress | None = None) -> Shade:
    """Everything about the trees of `job`. Raises `InputError` as `simulate` does."""
    tell = progress or (lambda words, share: None)
    tell("the site as it is", 0.1)
    own = simulate(job)
    by_years = {}
    if any(tree.yearly_growth_m > 0 for tree in job.trees):
        for number, ahead in enumerate(years):
            tell(f"trees in {ahead} years", 0.3 + 0.4 * number / len(years))
            by_years[ahead] = simulate(grown(job, ahead))
    other = None
    if job.trees and job.array.in_parallel > 1:
        tell("strings the other way", 0.8)
        other = simulate(strung_the_other_way(job))
    return Shade(job=job, days=clearing_days(job), own=own, by_years=by_years, other_stringing=other)


def grown(job: Job, years: float) -> Job:
    """The job with each tree `years` older: its height by its yearly growth, its width in proportion."""
    changes: dict[str, Any] = {}
    for number, tree in enumerate(job.trees):
        height = tree.height_m + years * tree.yearly_growth_m
        changes[f"trees.{number}.height"] = height
        # A row grows taller, not longer.
        changes[f"trees.{number}.width"] = tree.width_m * (height / tree.height_m if tree.kind == "tree" else 1.0)
    return with_overrides(job, changes) if changes else job


def strung_the_other_way(job: Job) -> Job:
    """The same modules with strings along the other edge of the array."""
    other = "columns" if job.array.laid_out.strung_by == "rows" else "rows"
    return with_overrides(job, {"array.layout.strung_by": other})


def clearing_days(job: Job) -> tuple[ClearingDay, ...]:
    """The 21st of each month: when the sun clears the trees, with the rack as it stands then.

    A rack that turns late waits at its west stop; a fixed one stands as it does; an ideal one follows the sun.
    """
    dates = [dt.date(job.weather.year, month, _DAY_OF_MONTH) for month in range(1, 13)]
    zone = standard_zone(job.site)
    midnight = pd.DatetimeIndex([pd.Timestamp(date, tz=zone) for date in dates])
    minutes = pd.to_timedelta(np.arange(MINUTES_A_DAY) + 0.5, unit="min")
    times = pd.DatetimeIndex(np.concatenate([(day + minutes).to_numpy() for day in midnight]), tz="UTC").tz_convert(
        zone
    )
    sun = sun_at(
        times,
        latitude_deg=job.site.latitude_deg,
        longitude_deg=job.site.longitude_deg,
        elevation_m=job.site.elevation_m,
    )
    crowns = crowns_of(job, np.array([date.timetuple().tm_yday for date in dates]))
    module, canister = _shaded(job, sun, crowns, horizon_of(job), days=len(dates))
    up = sun.is_up.reshape(len(dates), MINUTES_A_DAY)
    height = sun.direction[2].reshape(len(dates), MINUTES_A_DAY)
    return tuple(
        _clearing(date, up[n], int(np.argmax(height[n])), module[:, n], None if canister is None else canister[n])
        for n, date in enumerate(dates)
    )


def _shaded(
    job: Job, sun: Sun, crowns: Sequence[Crown], horizon: HorizonProfile | None, *, days: int
) -> tuple[BoolArray, BoolArray | None]:
    """Whether something stands before the sun at each module (modules, days, 1440), and at the west canister."""
    axis = axis_of(job)
    sun_rotation, _ = sun_on_axis(sun.direction, axis)
    waits = job.rack.kind in PASSIVE
    if waits:
        rotation = np.full_like(sun_rotation, job.rack.max_rotation_deg)
    elif job.rack.kind == "fixed":
        rotation = np.full_like(sun_rotation, job.rack.fixed_rotation_deg)
    else:
        by_day = sun_rotation.reshape(days, MINUTES_A_DAY)
        rotation = ideal_rotation(by_day, max_rotation_deg=job.rack.max_rotation_deg).ravel()
    every = np.arange(sun.direction.shape[1])
    none = np.zeros(0, dtype=np.intp)
    day = every // MINUTES_A_DAY
    shade = module_shade(
        sun.direction,
        day,
        rotation,
        axis=axis,
        places=array_places(job.array),
        crowns=crowns,
        edges=ShadeEdges(minutes=every, at_edge=(every,) * len(crowns), covered=(none,) * len(crowns)),
        hidden=behind_horizon(sun.direction, horizon),
    )
    groups = max(job.array.diodes, 1)
    by_module = shade.share.reshape(-1, job.array.module_count, groups, every.size).min(axis=(0, 2))
    module = np.asarray(by_module < _CLEAR).reshape(-1, days, MINUTES_A_DAY)
    if not waits:
        return module, None
    seen = canister_beam_share(
        sun.direction,
        day,
        crowns,
        horizon,
        axis=axis,
        lever_m=job.rack.thermal.lever_m,
        max_rotation_deg=job.rack.max_rotation_deg,
    )
    return module, np.asarray(seen[2, 0] < _CLEAR).reshape(days, MINUTES_A_DAY)


def _clearing(date: dt.date, up: BoolArray, noon: int, module: BoolArray, canister: BoolArray | None) -> ClearingDay:
    if not up.any():
        return ClearingDay(
            date=date, sunrise=None, first_module=None, last_module=None, canister=None, shaded_from=None, sunset=None
        )
    lit = np.flatnonzero(up)
    sunrise, sunset = int(lit[0]), int(lit[-1]) + 1

    def clears(shaded: BoolArray) -> int | None:
        """The minute after the last shaded one before noon; None if it is shaded at noon."""
        before = np.flatnonzero(shaded[sunrise : noon + 1])
        minute = sunrise + int(before[-1]) + 1 if before.size else sunrise
        return minute if minute <= noon else None

    times = [clears(one) for one in module]
    known = [time for time in times if time is not None]
    some = np.flatnonzero(np.asarray(module.any(axis=0))[noon:sunset])
    return ClearingDay(
        date=date,
        sunrise=sunrise,
        first_module=min(known, default=None),
        last_module=max(known) if len(known) == len(times) else None,
        canister=None if canister is None else clears(canister),
        shaded_from=noon + int(some[0]) if some.size else None,
        sunset=sunset,
    )
