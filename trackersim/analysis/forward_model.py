"""What the engine expects at the moments of observations, for a job whose parameters are being learned.

Only the days with observations and two before each are simulated. Where nothing but the rack was watched, nothing but
the rack is. The engine steps by minutes: crossings are interpolated within the minute.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from trackersim.analysis.observations import Observation
from trackersim.arrays import FloatArray
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.job.ranges import clipped
from trackersim.rack.events import ARRIVED_WITHIN_DEG
from trackersim.simulation.runner import Runner
from trackersim.simulation.tracking import Tracking
from trackersim.weather.calendar import in_year

_DAYS_BEFORE = 2
_OF_RACK = ("flip", "arrival", "rotation")


@dataclass(frozen=True, kw_only=True)
class Watched:
    """Some days simulated together, and the observations in them with the row of their day."""

    runner: Runner
    seen: tuple[tuple[int, int, Observation], ...]  # place among all, day in the scene, observation


@dataclass(frozen=True, kw_only=True)
class Engine:
    """Expected observations as a function of the values of `keys`, fields of the job."""

    job: Job
    keys: tuple[str, ...]
    watched: tuple[Watched, ...]
    count: int
    known: dict[tuple[float, ...], FloatArray] = field(default_factory=dict, repr=False, compare=False)

    def __call__(self, values: FloatArray) -> FloatArray:
        """What would be seen (n,): minutes of the day for flips and arrivals, else the unit of each observation."""
        point = tuple(float(value) for value in values)
        if point not in self.known:
            self.known[point] = self._expected(dict(zip(self.keys, point, strict=True)))
        return self.known[point]

    def _expected(self, values: Mapping[str, float]) -> FloatArray:
        job = with_overrides(self.job, {key: clipped(key, value) for key, value in values.items()})
        found = np.zeros(self.count)
        for days in self.watched:
            only_rack = all(seen.what in _OF_RACK for _, _, seen in days.seen)
            minutes = _rack_alone(job, days.runner) if only_rack else _whole(job, days.runner)
            for place, day, seen in days.seen:
                found[place] = at_moment(minutes, day, seen)
        return found


def engine_for(job: Job, keys: Sequence[str], observations: Sequence[Observation]) -> Engine:
    """The engine for these observations of a job, its weather and sun prepared."""
    watched = []
    for dates in _spans(sorted({seen.moment.date for seen in observations})):
        runner = Runner(job, first_day=_begin(dates[0], dates[0]), last_day=dates[-1])
        scene = runner.scene()
        days = {date: n for n, date in enumerate(scene.weather.times[::1440].date)}
        year = scene.weather.times[0].year if scene.weather.typical else None
        seen = tuple(
            (place, days[in_year(each.moment.date, year) if year else each.moment.date], each)
            for place, each in enumerate(observations)
            if each.moment.date in dates
        )
        watched.append(Watched(runner=runner, seen=seen))
    return Engine(job=job, keys=tuple(keys), watched=tuple(watched), count=len(observations))


def _begin(date: dt.date, first: dt.date) -> dt.date:
    """Some days before, within the same year: a typical year has no year before."""
    return max(first - dt.timedelta(days=_DAYS_BEFORE), dt.date(date.year, 1, 1))


def _spans(dates: Sequence[dt.date]) -> list[list[dt.date]]:
    """Dates in runs that are simulated together: a gap longer than the days before begins a new one."""
    spans: list[list[dt.date]] = []
    for date in dates:
        near = spans and (date - spans[-1][-1]).days <= _DAYS_BEFORE + 1 and date.year == spans[-1][-1].year
        if near:
            spans[-1].append(date)
        else:
            spans.append([date])
    return spans


@dataclass(frozen=True, kw_only=True)
class Minutes:
    """What is looked up, all (days, 1440): rotation and the ideal one, flow and voltage; moments of each day."""

    rotation_deg: FloatArray
    ideal_deg: FloatArray
    flip: npt.NDArray[np.int64]
    arrival: npt.NDArray[np.int64]
    flow_m3_s: FloatArray | None = None
    input_v: FloatArray | None = None


def _rack_alone(job: Job, runner: Runner) -> Minutes:
    return rack_minutes(runner.tracking(job), job.units[0].rack.max_rotation_deg)


def rack_minutes(tracking: Tracking, limit_deg: float) -> Minutes:
    """What is looked up of a rack that turns so between stops at `limit_deg`."""
    sun = tracking.orientation.sun_rotation_deg.reshape(tracking.rotation_deg.shape)
    return Minutes(
        rotation_deg=tracking.rotation_deg,
        ideal_deg=np.clip(sun, -limit_deg, limit_deg),
        flip=tracking.morning.flip,
        arrival=tracking.morning.arrival,
    )


def _whole(job: Job, runner: Runner) -> Minutes:
    result = runner.run(job)
    limit = job.units[0].rack.max_rotation_deg
    return Minutes(
        rotation_deg=result.by_day("rotation_deg"),
        ideal_deg=np.clip(result.by_day("sun_rotation_deg"), -limit, limit),
        flip=result.morning.flip,
        arrival=result.morning.arrival,
        flow_m3_s=result.by_day("flow_m3_s"),
        input_v=result.by_day("input_v"),
    )


def at_moment(minutes: Minutes, day: int, seen: Observation) -> float:
    """What is expected of one observation on that day of the minutes."""
    rotation = minutes.rotation_deg[day]
    if seen.what == "flip":
        return _crossing(rotation, int(minutes.flip[day]))
    if seen.what == "arrival":
        gap = np.abs(rotation - minutes.ideal_deg[day]) - ARRIVED_WITHIN_DEG
        return _crossing(gap, int(minutes.arrival[day]))
    series = {"rotation": rotation}
    if minutes.flow_m3_s is not None and minutes.input_v is not None:
        series |= {"flow": minutes.flow_m3_s[day], "voltage": minutes.input_v[day]}
    return float(np.interp(seen.minute, np.arange(1440) + 0.5, series[seen.what]))


def _crossing(values: FloatArray, minute: int) -> float:
    """Minute of the day, with its fraction, at which `values` pass zero on the way to index `minute`.

    The end of the day where there is no such minute: whoever has seen a flip gets a large gap to one that never comes.
    """
    if minute < 0:
        return float(len(values))
    before, after = (float(values[minute - 1]), float(values[minute])) if minute else (0.0, 0.0)
    share = before / (before - after) if before >= 0 >= after and before > after else 1.0
    return minute - 0.5 + share
