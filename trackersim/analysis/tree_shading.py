"""When the sun clears the trees, month by month; the site with trees grown; which way of stringing loses less."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from trackersim.analysis.light_moments import LightDay, light_of_days
from trackersim.clock import minute_words
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.job.ranges import clipped
from trackersim.simulation.day_figures import DayFigures, days_alone
from trackersim.simulation.runner import Progress, Runner

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
    own: DayFigures
    by_years: dict[int, DayFigures]
    other_stringing: DayFigures | None

    def of_job(self, job: Job) -> Shade:
        """The same as of a job that differs in nothing that moves water."""
        return replace(self, job=job, own=self.own.of_job(job))

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


def shade_of(
    job: Job,
    *,
    years: Sequence[int] = YEARS_AHEAD,
    progress: Progress | None = None,
    runner: Runner | None = None,
) -> Shade:
    """Everything about the trees of `job`. Raises `InputError` as `simulate` does."""
    tell = progress or (lambda words, share: None)
    tell("weather, sun and trees", 0.0)
    runner = Runner(job) if runner is None else runner
    runner.scene(job)
    ahead = years if any(tree.yearly_growth_m > 0 for tree in job.trees) else ()
    other = [strung_the_other_way(job)] if job.trees and job.array.in_parallel > 1 else []
    jobs = [job, *(grown(job, years) for years in ahead), *other]
    own, *rest = runner.of_each(
        jobs, days_alone, each=lambda share: tell("trees grown, strings the other way", 0.2 + 0.7 * share)
    )
    return Shade(
        job=job,
        days=clearing_days(job),
        own=own,
        by_years=dict(zip(ahead, rest[: len(ahead)], strict=True)),
        other_stringing=rest[-1] if other else None,
    )


def grown(job: Job, years: float) -> Job:
    """The job with each tree `years` older: its height by its yearly growth, its width in proportion."""
    changes: dict[str, Any] = {}
    for number, tree in enumerate(job.trees):
        height = clipped("trees.height", tree.height_m + years * tree.yearly_growth_m)
        changes[f"trees.{number}.height"] = height
        # A row grows taller, not longer.
        wider = height / tree.height_m if tree.kind == "tree" else 1.0
        changes[f"trees.{number}.width"] = clipped("trees.width", tree.width_m * wider)
    return with_overrides(job, changes) if changes else job


def strung_the_other_way(job: Job) -> Job:
    """The same modules with strings along the other edge of the array."""
    other = "columns" if job.array.laid_out.strung_by == "rows" else "rows"
    return with_overrides(job, {"array.layout.strung_by": other})


def clearing_days(job: Job) -> tuple[LightDay, ...]:
    """The 21st of each month: when the sun clears the trees, with the rack as it stands then."""
    return light_of_days(job, [dt.date(job.weather.year, month, _DAY_OF_MONTH) for month in range(1, 13)])
