"""How sure the figures are: the job and its variants under many draws of `uncertain_inputs`.

Every draw is made for all variants alike, so that one can be said to beat another however unsure both are. Draws are
worked on by several processes (`simulation.processes`), since threads of one process wait for each other in Python.
Figures depend on seed and draw number alone.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Hashable, Mapping
from dataclasses import asdict, dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

import trackersim
from trackersim.analysis.alternatives import outcome_of
from trackersim.analysis.sample_file import KeptDraws
from trackersim.analysis.uncertain_inputs import (
    UNKNOWNS,
    Draw,
    Unknown,
    acting,
    cut_at,
    draw_of,
    in_light,
    likely_draw,
    room_for_beam,
    varied,
)
from trackersim.arrays import FloatArray
from trackersim.errors import InputError, Notice
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.simulation.processes import shared_out
from trackersim.simulation.result import Result
from trackersim.simulation.runner import RACKS, Progress, Runner
from trackersim.simulation.scene import Scene
from trackersim.weather.calendar import days_between
from trackersim.weather.load import native_weather

AS_IT_IS = "as it is"
PERCENTS = (10, 50, 90)
HEADLINES = ("m3_per_day", "worst_m3_per_day", "short_days")
MOST_DRAWS = 10_000
# Water of two variants nearer than this share is the same.
_SAME = 1e-9


@dataclass(frozen=True, kw_only=True)
class Figures:
    """One run over `days`: water a day [m³] in all of them and by month, days short of the demand.

    Water is what the store gives where it is followed, else what is lifted; `used_m3_per_day` what the demand takes of
    it. `bought_kwh_per_day` comes from a backup. Months without a simulated day are None, `short_days` without a
    demand.
    """

    days: int
    m3_per_day: float
    by_month_m3_per_day: tuple[float | None, ...]
    short_days: int | None
    used_m3_per_day: float
    bought_kwh_per_day: float


@dataclass(frozen=True, kw_only=True)
class Band:
    """The figure below which 10, 50 and 90 % of the draws lie, and the one with everything as the job says."""

    likely: float
    low: float
    middle: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Beats:
    """In how many of all draws a variant gives more (of days short: fewer) than the job as it is, as much, or less."""

    more: int
    same: int
    less: int

    @property
    def share(self) -> float:
        """Share of draws in which it beats the job as it is; ties are no wins."""
        return self.more / (self.more + self.same + self.less)


@dataclass(frozen=True, kw_only=True)
class Spread:
    """Figures of the job and its variants, `likely` and in each of the draws done, by name; "as it is" comes first.

    `asked` draws were wanted; fewer are there if somebody stopped it (`stopped`). `notices` are those of the weather.
    """

    job: Job
    seed: int
    asked: int
    days: int
    stopped: bool
    variants: Mapping[str, Job]
    likely: Mapping[str, Figures]
    draws: tuple[Mapping[str, Figures], ...]
    notices: tuple[Notice, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """The job as it is, then its variants."""
        return tuple(self.likely)

    @property
    def varied(self) -> tuple[Unknown, ...]:
        """What was drawn that can matter to the job or a variant."""
        act = {unknown.name for job in self.variants.values() for unknown in acting(job)}
        return tuple(unknown for unknown in UNKNOWNS if unknown.name in act)

    @property
    def cut(self) -> dict[str, float]:
        """Fields of the job and its variants whose draws end at a limit of the field, and that limit."""
        return {key: end for job in self.variants.values() for key, end in cut_at(job).items()}

    def worst_month(self, name: str) -> int:
        """The month 1…12 that is most often the one with least water a day."""
        runs = (self.likely, *self.draws)
        return Counter(least_month(run[name]) for run in runs).most_common(1)[0][0]

    def band(self, name: str, headline: str) -> Band | None:
        """The spread of one of the `HEADLINES` of a variant; None where it has no such figure."""
        likely = _value(self.likely[name], headline)
        drawn = [value for draw in self.draws if (value := _value(draw[name], headline)) is not None]
        if likely is None or not drawn:
            return None
        low, middle, high = np.percentile(drawn, PERCENTS).tolist()
        return Band(likely=likely, low=low, middle=middle, high=high)

    def beats(self, name: str, headline: str = "m3_per_day") -> Beats | None:
        """How often a variant beats the job as it is; None where there is no such figure."""
        sign, gaps = -1 if "short" in headline else 1, []
        for draw in self.draws:
            own, other = _value(draw[AS_IT_IS], headline), _value(draw[name], headline)
            if own is None or other is None:
                return None
            gaps.append(0 if abs(other - own) <= _SAME * max(abs(own), _SAME) else sign * (other - own))
        more, less = sum(gap > 0 for gap in gaps), sum(gap < 0 for gap in gaps)
        return Beats(more=more, same=len(gaps) - more - less, less=less)

    def summary(self) -> dict[str, Any]:
        """Plain data, as `spread --json` prints it (SI)."""
        return {
            "job": self.job.site.name,
            "seed": self.seed,
            "asked": self.asked,
            "draws": len(self.draws),
            "stopped": self.stopped,
            "days": self.days,
            "variants": [self._row(name) for name in self.names],
            "varied": [asdict(unknown) for unknown in self.varied],
            "version": trackersim.__version__,
            "job_sha256": self.job.sha256(),
            "notices": [str(notice) for notice in self.notices],
        }

    def _row(self, name: str) -> dict[str, Any]:
        bands = {headline: self.band(name, headline) for headline in HEADLINES}
        beats = {headline: self.beats(name, headline) for headline in HEADLINES}
        return {
            "name": name,
            "worst_month": self.worst_month(name),
            **{headline: None if band is None else asdict(band) for headline, band in bands.items()},
            "beats_as_it_is": {
                headline: None if won is None else {**asdict(won), "share": won.share}
                for headline, won in beats.items()
            },
        }


def least_month(figures: Figures) -> int:
    """The month 1…12 with least water a day, of those simulated."""
    known = {month: water for month, water in enumerate(figures.by_month_m3_per_day, start=1) if water is not None}
    return min(known, key=known.__getitem__)


def figures_of(result: Result) -> Figures:
    """What is kept of one run."""
    store = result.water.store
    daily = result.daily_water_m3 if store is None else store.delivered_m3
    month = result.stages.scene.month_of_day
    outcome = outcome_of(result)
    return Figures(
        days=result.days,
        m3_per_day=float(daily.mean()),
        by_month_m3_per_day=tuple(
            float(daily[month == m].mean()) if (month == m).any() else None for m in range(1, 13)
        ),
        short_days=outcome.short_days,
        used_m3_per_day=outcome.used_m3_per_day,
        bought_kwh_per_day=outcome.bought_kwh_per_day,
    )


def _value(figures: Figures, headline: str) -> float | None:
    """One of the `HEADLINES`; the worst month is this run's own, whichever that is."""
    if headline == "worst_m3_per_day":
        return figures.by_month_m3_per_day[least_month(figures) - 1]
    value: float | None = getattr(figures, headline)
    return value


def rack_variants(job: Job) -> dict[str, Job]:
    """The job on every other kind of rack."""
    return {
        f"{kind} rack": with_overrides(job, {"rack.kind": kind})
        for kind in RACKS
        if any(unit.rack.kind != kind for unit in job.units)
    }


def spread(
    job: Job,
    variants: Mapping[str, Job] | None = None,
    *,
    draws: int,
    seed: int,
    first_day: dt.date | None = None,
    last_day: dt.date | None = None,
    workers: int | None = None,
    progress: Progress | None = None,
    keep: Path | None = None,
) -> Spread:
    """The job "as it is" and its `variants` in `draws` draws of the stream `seed`, over the days of its weather.

    `keep` is a folder: every draw is written to draws.jsonl in it as soon as it is done, in order. Ctrl-C ends it
    with the draws done so far (before the first of them it is passed on). `workers` is the number of processes, by
    default one for each core at hand. Raises `InputError` for numbers out of range and as `simulate` does.
    """
    if not 1 <= draws <= MOST_DRAWS:
        raise InputError.of("draws", draws, f"must be 1 to {MOST_DRAWS}.", "50 give a fair picture, 200 a good one.")
    if seed < 0:
        raise InputError.of("seed", seed, "must be 0 or more.", "Any whole number does; the same one, the same draws.")
    jobs = {AS_IT_IS: job, **(variants or {})}
    bench = _Bench(jobs=jobs, seed=seed, first_day=first_day, last_day=last_day)
    tell = progress or (lambda words, share: None)
    done: list[Mapping[str, Figures]] = []
    tell("sun, weather and trees", 0.0)
    notices = days_between(native_weather(job), first_day, last_day).notices
    stopped = False
    about = {"job": job.site.name, "job_sha256": job.sha256(), "seed": seed, "asked": draws, "names": list(jobs)}
    with KeptDraws.begun(keep, about) as kept, shared_out(bench, range(draws + 1), workers=workers) as answers:
        try:
            for number, figures in enumerate(answers):
                plain = {name: asdict(each) for name, each in figures.items()}
                kept.add({"draw": number, "drawn": bench.draw(number).summary(), "figures": plain})
                done.append(figures)
                tell(f"draw {number} of {draws}", number / draws)
        except KeyboardInterrupt:
            if len(done) < 2:
                raise
            stopped = True
    return Spread(
        job=job, seed=seed, asked=draws, days=done[0][AS_IT_IS].days, stopped=stopped, variants=jobs,
        likely={name: done[0][name] for name in jobs}, draws=tuple(done[1:]), notices=notices,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class _Bench:
    """Works out one draw of all jobs. Each process has its own runner, which keeps sun and weather of each place."""

    jobs: Mapping[str, Job]
    seed: int
    first_day: dt.date | None
    last_day: dt.date | None

    def __call__(self, number: int) -> dict[str, Figures]:
        draw = self.draw(number)
        lit: dict[Hashable, Scene] = {}
        found = {}
        for name, job in self.jobs.items():
            drawn = varied(job, draw)
            scene = self._runner.scene(drawn)
            if scene.key not in lit:
                clear = job.weather.clear_sky
                lit[scene.key] = scene if clear else in_light(scene, draw, self._room_for_beam(job, scene))
            found[name] = figures_of(self._runner.run(drawn, scene=lit[scene.key]))
        return found

    def draw(self, number: int) -> Draw:
        """The draw of that number; 0 is the job as it says."""
        return likely_draw() if number == 0 else draw_of(self.seed, number)

    @cached_property
    def _runner(self) -> Runner:
        return Runner(self.jobs[AS_IT_IS], first_day=self.first_day, last_day=self.last_day)

    @cached_property
    def _rooms(self) -> dict[Hashable, FloatArray]:
        return {}

    def _room_for_beam(self, job: Job, scene: Scene) -> FloatArray:
        """More direct light that the place could give; it depends on the weather and the sun alone."""
        if scene.place.key not in self._rooms:
            self._rooms[scene.place.key] = room_for_beam(job, scene)
        return self._rooms[scene.place.key]
