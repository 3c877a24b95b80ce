"""The same pump on every kind of rack, and what trees and the late flip take from the job's own."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from trackersim.analysis.losses import SiteLosses, site_jobs, site_losses_of
from trackersim.analysis.made_minutes import MadeMinutes, drawn_otherwise, made_minutes_of
from trackersim.job.model import Job
from trackersim.simulation.result import Result
from trackersim.simulation.runner import Progress, Runner, jobs_on, kinds_of


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """Results of one job by kind of rack, its own among them, the losses of its site, and what made minutes move."""

    racks: Mapping[str, Result]
    site: SiteLosses
    open_sky: Result
    minutes: MadeMinutes | None = None

    @property
    def own(self) -> Result:
        """The job as it stands."""
        return self.racks[self.site.own.rack]

    def summary(self) -> dict[str, Any]:
        """Plain data (SI)."""
        told: dict[str, Any] = {
            "racks": {kind: result.summary() for kind, result in self.racks.items()},
            "site": self.site.summary(),
            "minutes": None if self.minutes is None else self.minutes.summary(),
        }
        if self.own.job.trees:
            told["without_trees"] = self.open_sky.summary()
        return told


def compare_racks(
    job: Job,
    *,
    first_day: dt.date | None = None,
    last_day: dt.date | None = None,
    progress: Progress | None = None,
    runner: Runner | None = None,
) -> Comparison:
    """The comparison of a job over the days of its weather, or those of `runner`. Raises `InputError` as `simulate`."""
    runner = Runner(job, first_day=first_day, last_day=last_day) if runner is None else runner
    kinds = kinds_of(job)
    on_racks, of_site, otherwise = jobs_on(job, kinds), site_jobs(job).asked, drawn_otherwise(runner, job)
    results = runner.worked([*on_racks, *of_site, *otherwise], progress)
    racks, rest = results[: len(on_racks)], results[len(on_racks) :]
    own, _, open_sky, *_ = rest
    return Comparison(
        racks=dict(zip(kinds, racks, strict=True)),
        site=site_losses_of(rest[: len(of_site)]),
        open_sky=open_sky,
        minutes=made_minutes_of(own, rest[len(of_site) :]),
    )
