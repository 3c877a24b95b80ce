"""Where the water went: a loss waterfall from an ideal site to the job as it stands, one term for each cause.

The waterfall begins with an ideal rack on a site without trees, a new clean array, no wire, a controller without
limits, a new pump and pipe, an endless source and a store that is never full. Equipment comes first: one cause after
the other is put back, and a term is the difference of two runs. The site comes last: trees and the late flip. What each
of these two takes depends on which is put back first, so each is the mean of both orders; the two then add up exactly
to what they take together. They are the figures that every answer quotes (`site_losses`).

Beside each term stands what removing this one cause alone would gain on the job as it stands, which does not add up.

Water is water lifted. Energy is the electrical energy that the motors take while they give water: what reaches the
motor, at most what the pump takes at full speed.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from trackersim.analysis.loss_terms import EQUIPMENT, with_losses_removed
from trackersim.analysis.measures import repair_rack
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.simulation.day_figures import DayFigures, days_alone
from trackersim.simulation.result import Result
from trackersim.simulation.runner import Progress, Runner, on_rack

TREES, LATE, STANDING = "trees", "late flip", "rack not following the sun"


class Yield(NamedTuple):
    """What one run gave over its days: water lifted and energy that the motors took while giving it."""

    water_m3: float
    energy_kwh: float

    def less(self, other: Yield) -> Yield:
        """This less the other."""
        return Yield(self.water_m3 - other.water_m3, self.energy_kwh - other.energy_kwh)


@dataclass(frozen=True, kw_only=True)
class LossTerm:
    """One cause: what it takes (below 0: it gives), and what removing it alone would gain on the job as it stands.

    `present` is false for a cause that this job does not have at all, so that both are exactly 0.
    """

    cause: str
    lost: Yield
    alone: Yield
    present: bool


class SiteJobs(NamedTuple):
    """The jobs that are held against each other to tell what trees and the late flip take (see `SiteLosses`)."""

    own: Job
    prompt: Job
    open_sky: Job
    open_prompt: Job
    repaired: Job | None

    @property
    def asked(self) -> list[Job]:
        """Those there are."""
        return [job for job in self if job is not None]


class SiteWater(NamedTuple):
    """Water of each of `SiteJobs` [m³/day]: the one accounting of trees and the late flip."""

    own: float
    prompt: float
    open_sky: float
    open_prompt: float
    repaired: float | None

    @property
    def late(self) -> float:
        """Water that the late flip takes, as the mean of both orders."""
        return ((self.prompt - self.own) + (self.open_prompt - self.open_sky)) / 2

    @property
    def trees(self) -> float:
        """Water that the trees take, as the mean of both orders."""
        return ((self.open_sky - self.own) + (self.open_prompt - self.prompt)) / 2


@dataclass(frozen=True, kw_only=True)
class SiteLosses:
    """What trees and the late flip take from a job, on its own equipment.

    `own` is the job as it stands, `water` what it and the jobs held against it lift. Means over its days.
    """

    own: DayFigures
    water: SiteWater

    @property
    def open_prompt_m3_per_day(self) -> float:
        """Water without trees, on a rack that follows the sun."""
        return self.water.open_prompt

    def without_minutes(self) -> SiteLosses:
        """The same figures, without the minutes of the job as it stands."""
        return replace(self, own=days_alone(self.own))

    def of_job(self, job: Job) -> SiteLosses:
        """The same figures as those of a job that differs in nothing that moves water."""
        return replace(self, own=self.own.of_job(job))

    @property
    def late_m3_per_day(self) -> float:
        """Water that the late flip takes, as the mean of both orders."""
        return self.water.late

    @property
    def trees_m3_per_day(self) -> float:
        """Water that the trees take, as the mean of both orders."""
        return self.water.trees

    @property
    def won_back_m3_per_day(self) -> float | None:
        """Water of the late flip that a repair wins back; None where there is nothing to repair."""
        return None if self.water.repaired is None else self.water.repaired - self.water.own

    def summary(self) -> dict[str, float | None]:
        """Plain data (SI): open and prompt less late and trees is the job as it stands."""
        return {
            "open_and_prompt_m3_per_day": self.open_prompt_m3_per_day,
            "late_m3_per_day": self.late_m3_per_day,
            "trees_m3_per_day": self.trees_m3_per_day,
            "as_it_stands_m3_per_day": self.water.own,
            "repair_wins_back_m3_per_day": self.won_back_m3_per_day,
        }


@dataclass(frozen=True, kw_only=True)
class Losses:
    """The waterfall of one job: from `ideal` by the terms to `own`, sums over the days of the site's results."""

    job: Job
    site: SiteLosses
    ideal: Yield
    terms: tuple[LossTerm, ...]
    own: Yield

    def of_job(self, job: Job) -> Losses:
        """The same waterfall as that of a job that differs in nothing that moves water."""
        return replace(self, job=job, site=self.site.of_job(job))

    @property
    def result(self) -> DayFigures:
        """The job as it stands."""
        return self.site.own

    @property
    def days(self) -> int:
        """Whole days simulated."""
        return self.result.days

    def summary(self) -> dict[str, Any]:
        """Plain data (SI)."""
        return {
            "job": self.job.site.name,
            "days": self.days,
            "water": "lifted",
            "energy": "taken by the motors while they give water",
            "ideal": self.ideal._asdict(),
            "steps": [
                {
                    "cause": term.cause,
                    "present": term.present,
                    "lost": term.lost._asdict(),
                    "mended_alone_gains": term.alone._asdict(),
                }
                for term in self.terms
            ],
            "own": self.own._asdict(),
            "site": self.site.summary(),
        }


def rack_cause(job: Job) -> str:
    """What the loss against racks that follow the sun is called: a late flip only where all that lag behind wait."""
    return LATE if all(unit.rack.waits or unit.rack.kind == "ideal" for unit in job.units) else STANDING


def site_jobs(job: Job) -> SiteJobs:
    """The jobs to run for what trees and the late flip take from one."""
    bare = with_overrides(job, {"trees": []}) if job.trees else job
    repair = repair_rack(job)
    return SiteJobs(
        own=job,
        prompt=on_rack(job, "ideal"),
        open_sky=bare,
        open_prompt=on_rack(bare, "ideal"),
        repaired=with_overrides(job, repair.changes) if repair.changes else None,
    )


def site_losses(runner: Runner, job: Job | None = None) -> SiteLosses:
    """What trees and the late flip take from a job (the runner's own by default)."""
    return site_losses_of(runner.run_all(site_jobs(runner.job if job is None else job).asked))


def site_losses_of(results: Sequence[Result]) -> SiteLosses:
    """The same from the results of `SiteJobs.asked`, in its order."""
    own, prompt, open_sky, open_prompt, *rest = [result.water_m3_per_day for result in results]
    return SiteLosses(own=results[0], water=SiteWater(own, prompt, open_sky, open_prompt, rest[0] if rest else None))


def losses_of(
    job: Job,
    *,
    first_day: dt.date | None = None,
    last_day: dt.date | None = None,
    progress: Progress | None = None,
    runner: Runner | None = None,
) -> Losses:
    """The waterfall of a job over the days of its weather.

    Parameters
    ----------
    job
        A valid job.
    first_day, last_day
        Days of the weather, both included; None: from its first, to its last.
    progress
        Hears what is worked on and the share that is done.
    runner
        One that has simulated the job before; it brings its own days.

    Returns
    -------
    Losses
        Closed to rounding: ideal less all terms is the job as it stands.

    Raises
    ------
    InputError
        As `simulate` does.
    """
    tell = progress or (lambda words, share: None)
    tell("weather, sun and trees", 0.0)
    runner = Runner(job, first_day=first_day, last_day=last_day) if runner is None else runner
    runner.scene(job)
    tell("trees and the late flip", 0.1)
    jobs = site_jobs(job)
    results = runner.run_all(jobs.asked)
    site = site_losses_of(results).without_minutes()
    own, prompt, open_sky, whole, *_ = [yield_of(result) for result in results]
    open_prompt = jobs.open_prompt
    chain = [with_losses_removed(open_prompt, EQUIPMENT[n:]) for n in range(len(EQUIPMENT))]
    alone = [with_losses_removed(job, (cause,)) for cause in EQUIPMENT]
    yields = runner.of_each(
        [*chain, *alone], yield_of, each=lambda share: tell("one cause after the other", 0.3 + 0.7 * share)
    )
    along = [*yields[: len(chain)], whole]
    equipment = [
        LossTerm(
            cause=cause,
            lost=along[n].less(along[n + 1]),
            alone=yields[len(chain) + n].less(own),
            present=[*chain, open_prompt][n] != [*chain, open_prompt][n + 1] or alone[n] != job,
        )
        for n, cause in enumerate(EQUIPMENT)
    ]
    tell("done", 1.0)
    terms = (*equipment, *_site_terms(job, own, prompt, open_sky, whole))
    return Losses(job=job, site=site, ideal=along[0], terms=terms, own=own)


def _site_terms(job: Job, own: Yield, prompt: Yield, open_sky: Yield, open_prompt: Yield) -> tuple[LossTerm, LossTerm]:
    """Trees and the late flip, each as the mean of both orders."""
    trees = _mean(open_prompt.less(prompt), open_sky.less(own))
    late = _mean(open_prompt.less(open_sky), prompt.less(own))
    return (
        LossTerm(cause=TREES, lost=trees, alone=open_sky.less(own), present=bool(job.trees)),
        LossTerm(
            cause=rack_cause(job),
            lost=late,
            alone=prompt.less(own),
            present=any(unit.rack.kind != "ideal" for unit in job.units),
        ),
    )


def _mean(one: Yield, other: Yield) -> Yield:
    return Yield((one.water_m3 + other.water_m3) / 2, (one.energy_kwh + other.energy_kwh) / 2)


def yield_of(result: Result) -> Yield:
    """Water and energy of a result."""
    return Yield(result.water_m3, motor_kwh(result))


def motor_kwh(result: Result) -> float:
    """Energy that the motors of a result took while they gave water."""
    water = result.water
    return float(water.motor_w[water.flow_m3_s > 0].sum()) / 60_000
