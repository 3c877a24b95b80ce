"""When the sun clears the trees, month by month; the site with trees grown; which way of stringing loses less."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from trackersim.analysis.light_moments import LightDay, light_of_days
from trackersim.clock import minute_words
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.simulation.result import Result
from trackersim.simulation.runner import Progress, simulate

_DAY_OF_MONTH = 21
YEARS_AHEAD = (5, 10)


@dataclass(frozen=True, kw_only=True)
class Shade:
    """What trees do at a job's site.

    `days` are the 21sts of twelve months. `own` is the job's result, `by_years` those with trees grown by so many
    years, `other_stringing` that with strings along the other edge of the array, None for a single string.
    """

    job: Job
    days: tuple[LightDay, ...]
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


def clearing_days(job: Job) -> tuple[LightDay, ...]:
    """The 21st of each month: when the sun clears the trees, with the rack as it stands then."""
    return light_of_days(job, [dt.date(job.weather.year, month, _DAY_OF_MONTH) for month in range(1, 13)])
