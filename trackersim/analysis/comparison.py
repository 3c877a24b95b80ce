"""The same pump on every kind of rack, and what trees and the late flip take from the job's own."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from trackersim.analysis.losses import SiteLosses, site_losses
from trackersim.analysis.made_minutes import MadeMinutes, made_minutes
from trackersim.job.model import Job
from trackersim.simulation.result import Result
from trackersim.simulation.runner import RACKS, Progress, Runner


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """Results of one job by kind of rack, its own among them, the losses of its site, and what made minutes move."""

    racks: Mapping[str, Result]
    site: SiteLosses
    minutes: MadeMinutes | None = None

    @property
    def own(self) -> Result:
        """The job as it stands."""
        return self.site.own

    def summary(self) -> dict[str, Any]:
        """Plain data (SI)."""
        told: dict[str, Any] = {
            "racks": {kind: result.summary() for kind, result in self.racks.items()},
            "site": self.site.summary(),
            "minutes": None if self.minutes is None else self.minutes.summary(),
        }
        if self.own.job.trees:
            told["without_trees"] = self.site.open_sky.summary()
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
    kinds = RACKS if job.rack.kind in RACKS else (job.rack.kind, *RACKS)
    racks = runner.racks(kinds, progress=progress)
    site = site_losses(runner, job)
    return Comparison(racks=racks, site=site, minutes=made_minutes(runner, site.own))
