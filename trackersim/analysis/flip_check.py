"""Should it have flipped by now? When the rack should turn this morning, early, likely and late, and what that says."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Literal

import numpy as np

import trackersim
from trackersim.analysis.light_moments import LightDay, light_of_day
from trackersim.analysis.observed_sky import Days, Seen, Stands, days_up_to
from trackersim.analysis.sampled_mornings import RUNS, Run, runs_of
from trackersim.analysis.sampled_turns import LEAST, MOST, Turns, turns_of
from trackersim.arrays import FloatArray
from trackersim.clock import Moment, clock_name, iso, wall_time_or_none
from trackersim.job.model import Job
from trackersim.rack.dose import ORDINARY_AIR_C
from trackersim.rack.geometry import sun_on_axis
from trackersim.simulation.orientation import axis_of

MOMENTS = ("flip", "arrival")
FlipVerdict = Literal[
    "too early to tell", "due", "overdue", "turned", "may not turn today", "too late to tell", "night", "no flip",
    "stands the wrong way", "nobody has watched it",
]  # fmt: skip
_WRONG_SIDE_DEG = 15.0
# Air so much colder or warmer than that in which the rack was watched is said (assumption).
_OTHER_AIR_K = 15.0

ASSUMED = (
    "Nine mornings in ten should lie between early and late: runs over haze, cloud, wind, air, what the trees let "
    "through and their height (±5 %), all within assumed ranges.",
    "A watched rack needs a dose of sun above a threshold: what was watched is taken as right to some minutes, the "
    "rest is drawn. Cold air, wind and haze make it wait as they would by physics, which no published measurement has "
    "checked.",
    "A sound rack's friction, damper, tube, charge and shade plates are taken within assumed ranges about the job's.",
)


@dataclass(frozen=True, kw_only=True)
class Span:
    """Early, likely and late minute of the standard day; None for "not at all": late if some run has none, early if
    none has one."""

    early: int | None
    likely: int | None
    late: int | None

    def told(self, clock: Callable[[int | None], dt.datetime | None]) -> dict[str, str | None]:
        """The three as plain data, by a clock."""
        return {name: iso(clock(minute)) for name, minute in vars(self).items()}


@dataclass(frozen=True, kw_only=True)
class FlipCheck:
    """The answer for one moment. `over_min` are the minutes beyond the latest turn (or arrival, for a rack seen level),
    0 unless overdue. `light` is that of a cloudless morning. `stands_now_deg` least, likely and most rotation at that
    moment."""

    job: Job
    moment: Moment
    seen: Seen
    stands: Stands | None
    kind: str
    verdict: FlipVerdict
    over_min: int
    light: LightDay
    spans: Mapping[str, Span]
    stands_now_deg: tuple[float, float, float]
    never: int
    runs: int

    def clock(self, minute: int | None) -> dt.datetime | None:
        """A minute of the day on the site's clock."""
        return wall_time_or_none(self.job.site, self.moment.date, minute)

    @property
    def zone(self) -> str:
        """Which clock that is."""
        return clock_name(self.job.site, self.moment.date)

    @property
    def other_air_c(self) -> float | None:
        """Air in which a watched rack was watched [°C], where that of the moment is far from it."""
        watched, now = watched_air_c(self.job.units[0]), self.seen.air_c
        far = watched is not None and now is not None and abs(now - watched) >= _OTHER_AIR_K
        return watched if far else None

    @property
    def told_cold(self) -> bool:
        """Whether somebody told air below the ordinary, in which a rack waits longer."""
        return self.seen.air_c is not None and self.seen.air_c < ORDINARY_AIR_C

    def summary(self) -> dict[str, Any]:
        """The answer as plain data in SI units."""
        return {
            "job": self.job.site.name,
            "at": self.moment.wall.isoformat(),
            "clock": self.zone,
            "rack": self.kind,
            "sky": self.seen.sky,
            "wind": self.seen.wind,
            "air_c": self.seen.air_c,
            "watched_air_c": watched_air_c(self.job.units[0]),
            "stands": self.stands,
            "verdict": self.verdict,
            "overdue_min": self.over_min,
            **{name: iso(self.clock(getattr(self.light, name))) for name in ("sunrise", "first_light", "full_sun")},
            "moments": {name: span.told(self.clock) for name, span in self.spans.items()},
            "rotation_now_deg": dict(zip(("least", "likely", "most"), self.stands_now_deg, strict=True)),
            "runs": self.runs,
            "runs_without_flip": self.never,
            "assumptions": list(ASSUMED),
            "version": trackersim.__version__,
            "job_sha256": self.job.sha256(),
        }


def check_flip(
    job: Job, moment: Moment, *, seen: Seen | None = None, stands: Stands | None = None, runs: int = RUNS
) -> FlipCheck:
    """Whether the job's rack (of several units, the first one's) should have flipped at `moment`.

    `seen` is what the sky looks like; unknown parts widen the range. Needs the job's weather only for its usual air.
    """
    unit, seen = job.units[0], seen or Seen()
    days = days_up_to(unit, moment.date)
    waits = unit.rack.waits
    ran = runs_of(unit, days, seen, moment.minute, count=runs if waits else 0)
    turns = turns_of(unit, ran)
    spans = spans_of(turns, ran[0])
    now = np.array([run.today_deg[moment.minute] for run in ran])
    verdict, over = _verdict(unit, days, moment, stands, ran, spans)
    return FlipCheck(
        job=job,
        moment=moment,
        seen=seen,
        stands=stands,
        kind=unit.rack.kind,
        verdict=verdict,
        over_min=over,
        light=light_of_day(unit, moment.date),
        spans=MappingProxyType(spans),
        stands_now_deg=(float(now.min()), float(now[0]), float(now.max())),
        never=turns.never,
        runs=len(turns.flip),
    )


def watched_air_c(unit: Job) -> float | None:
    """Air in which the delay of the unit's rack was watched [°C]; None for a rack of another kind or not watched.

    Threshold and dose are told for air of 10 °C, as is a delay whose morning nobody describes.
    """
    if unit.rack.kind != "delayed" or not is_watched(unit):
        return None
    return ORDINARY_AIR_C if unit.rack.flip_threshold_w_m2 is not None else unit.rack.watched.air_c


def is_watched(unit: Job) -> bool:
    """Whether the job says when its delayed rack flips: a delay or both numbers, not the delay by default."""
    return bool({"flip_delay_min", "flip_threshold_w_m2"} & unit.rack.model_fields_set)


def span_of(minutes: Sequence[int | None]) -> Span:
    """Earliest, likely (the first run's) and latest of the runs."""
    known = [minute for minute in minutes if minute is not None]
    return Span(
        early=min(known, default=None),
        likely=minutes[0],
        late=max(known) if len(known) == len(minutes) else None,
    )


def spans_of(turns: Turns, likely: Run) -> dict[str, Span]:
    """Of flip and arrival the minutes before and after which one run in twenty has them, and the likely run's."""
    return {name: _span(getattr(turns, name), getattr(likely, name)) for name in MOMENTS}


def _span(minutes: FloatArray, likely: int | None) -> Span:
    early = float(np.quantile(minutes, LEAST, method="lower"))
    late = float(np.quantile(minutes, MOST, method="higher"))
    if likely is not None:
        early, late = min(early, likely), max(late, likely)
    return Span(
        early=None if np.isinf(early) else int(early), likely=likely, late=None if np.isinf(late) else int(late)
    )


def _verdict(
    job: Job, days: Days, moment: Moment, stands: Stands | None, runs: Sequence[Run], spans: Mapping[str, Span]
) -> tuple[FlipVerdict, int]:
    """The verdict, and the minutes overdue."""
    minute, flip = moment.minute, spans["flip"]
    if not job.rack.waits:
        return "no flip", 0
    at = (days.count - 1) * len(runs[0].today_deg) + minute
    if not days.sun.is_up[at]:
        return "night", 0
    sunrise = runs[0].sunrise
    if sunrise is not None and runs[0].today_deg[sunrise] <= 0:  # under a midnight sun it turns without a sunrise
        return "no flip", 0
    sun_deg = float(sun_on_axis(days.sun.direction[:, at : at + 1], axis_of(job))[0][0])
    if sun_deg > 0:
        return _after_noon(stands, sun_deg)
    if stands == "east":
        return "turned", 0
    if stands == "level":  # on its way, or hanging
        verdict, over = _by_the_clock(minute, Span(early=0, likely=flip.likely, late=None), spans["arrival"].late)
    else:
        verdict, over = _by_the_clock(minute, flip, flip.late)
    if verdict == "overdue" and job.rack.kind == "delayed" and not is_watched(job):
        return "nobody has watched it", 0
    return verdict, over


def _after_noon(stands: Stands | None, sun_deg: float) -> tuple[FlipVerdict, int]:
    """With the sun in the west a sound rack stands west again: that says nothing about the morning."""
    wrong = stands == "east" and sun_deg > _WRONG_SIDE_DEG
    return ("stands the wrong way" if wrong else "too late to tell"), 0


def _by_the_clock(minute: int, flip: Span, last: int | None) -> tuple[FlipVerdict, int]:
    if flip.likely is None:
        return "may not turn today", 0
    if flip.early is not None and minute < flip.early:
        return "too early to tell", 0
    if last is None or minute <= last:
        return "due", 0
    return "overdue", minute - last
