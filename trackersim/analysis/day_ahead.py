"""What the owner should see on a day to come: sun past the trees, the rack's turn, first water, flow by the hour."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

import trackersim
from trackersim.analysis.flip_check import Span, span_of
from trackersim.analysis.light_moments import light_of_day
from trackersim.analysis.observed_sky import (
    Air,
    Seen,
    day_weather,
    days_up_to,
    likely_air,
    scene_under,
    with_endless_store,
)
from trackersim.analysis.sampled_mornings import Run, runs_of
from trackersim.clock import check_year, clock_name, iso, today_at, wall_time_or_none, zone_of
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.model import Job
from trackersim.simulation.result import Result
from trackersim.simulation.runner import simulate

SKIES = ("clear", "light cloud")
LIGHT_COVER = 0.5  # half the sky under passing clouds (assumption)
_WAIT_MIN = 30  # what a call may wait beyond the latest expected time (assumption)
_LITTLE = 0.7  # of a clear day's water: less is worth a call (assumption)


@dataclass(frozen=True, kw_only=True)
class DayFlow:
    """One day's water. `hours` are hours of the site's clock with their mean flow [m³/s]; minutes of the standard day
    of first and last water, None without any."""

    hours: tuple[tuple[int, float], ...]
    total_m3: float
    first_water: int | None
    last_water: int | None


@dataclass(frozen=True, kw_only=True)
class Tomorrow:
    """The card. Minutes are those of the standard day; `first_light` and `full_sun` are those of `light_moments`.
    `flip`, `arrival` and `water` are early, likely and late on a clear day; `turns` says whether the
    rack waits for the morning sun at all. `call_flip`, `call_water` and `call_m3` are when to call.
    """

    job: Job
    date: dt.date
    turns: bool
    sunrise: int | None
    first_light: int | None
    full_sun: int | None
    sunset: int | None
    flip: Span
    arrival: Span
    water: Span
    days: Mapping[str, DayFlow]
    call_flip: int | None
    call_water: int | None
    call_m3: float

    def clock(self, minute: int | None) -> dt.datetime | None:
        """A minute of the day on the site's clock."""
        return wall_time_or_none(self.job.site, self.date, minute)

    @property
    def zone(self) -> str:
        """Which clock that is."""
        return clock_name(self.job.site, self.date)

    def summary(self) -> dict[str, Any]:
        """The answer as plain data in SI units."""
        moments = ("sunrise", "first_light", "full_sun", "sunset", "call_flip", "call_water")
        spans = {"flip": self.flip, "arrival": self.arrival, "water": self.water}
        return {
            "job": self.job.site.name,
            "date": self.date.isoformat(),
            "clock": self.zone,
            "rack": self.job.units[0].rack.kind,
            **{name: iso(self.clock(getattr(self, name))) for name in moments},
            **{
                name: {part: iso(self.clock(getattr(span, part))) for part in ("early", "likely", "late")}
                for name, span in spans.items()
            },
            "days": {
                sky: {
                    "hours": [{"hour": hour, "flow_m3_s": flow} for hour, flow in day.hours],
                    "total_m3": day.total_m3,
                    "first_water": iso(self.clock(day.first_water)),
                    "last_water": iso(self.clock(day.last_water)),
                }
                for sky, day in self.days.items()
            },
            "call_below_m3": self.call_m3,
            "version": trackersim.__version__,
            "job_sha256": self.job.sha256(),
        }


def card_for(job: Job, date: dt.date | None = None) -> Tomorrow:
    """The card for `date`, by default the day after the site's today. The store is taken to have room."""
    day = date or today_at(job.site) + dt.timedelta(days=1)
    check_year("date", day)
    open_job = with_endless_store(job)
    first = open_job.units[0]
    days, seen = days_up_to(first, day), Seen(sky="clear")
    runs = runs_of(first, days, seen, 0, count=12 if first.rack.waits else 0)
    likely = likely_air(days, seen, 0)
    clear = simulate(open_job, scene=runs[0].scene)
    cloudy = simulate(open_job, scene=scene_under(open_job, days, day_weather(days, _lightly(likely))))
    flows = {sky: _day_flow(job, result) for sky, result in zip(SKIES, (clear, cloudy), strict=True)}
    flip, arrival = (span_of([getattr(run, name) for run in runs]) for name in ("flip", "arrival"))
    water = _water_span(open_job, runs, flows["clear"].first_water)
    light = light_of_day(job, day)
    return Tomorrow(
        job=job,
        date=day,
        turns=first.rack.waits,
        sunrise=light.sunrise,
        first_light=light.first_light,
        full_sun=light.full_sun,
        sunset=light.sunset,
        flip=flip,
        arrival=arrival,
        water=water,
        days=MappingProxyType(flows),
        call_flip=None if flip.late is None else flip.late + _WAIT_MIN,
        call_water=None if water.late is None else water.late + _WAIT_MIN,
        call_m3=_LITTLE * flows["clear"].total_m3,
    )


def _lightly(air: Air) -> Air:
    return Air(haze=air.haze, cover=LIGHT_COVER, warmer_k=air.warmer_k, wind_m_s=air.wind_m_s)


def _day_flow(job: Job, result: Result) -> DayFlow:
    """The last day of `result` by hours of the site's clock, those with light."""
    flow, light = result.by_day("flow_m3_s")[-1], result.by_day("plane_w_m2")[-1]
    hour = np.asarray(result.times[-MINUTES_A_DAY:].tz_convert(zone_of(job.site)).hour)
    lit = dict.fromkeys(hour[light > 0].tolist())
    wet = np.flatnonzero(flow > 0)
    return DayFlow(
        hours=tuple((int(one), float(flow[hour == one].mean())) for one in lit),
        total_m3=float(flow.sum() * 60),
        first_water=int(wet[0]) if wet.size else None,
        last_water=int(wet[-1]) if wet.size else None,
    )


def _water_span(job: Job, runs: tuple[Run, ...], likely: int | None) -> Span:
    """First water on a clear day, from the runs with the earliest and the latest turn beside the likely one."""
    told = [run for run in runs if run.flip is not None]
    if not told or len(job.units) > 1:
        return Span(early=likely, likely=likely, late=likely)
    ends = {id(run): run for run in (min(told, key=_turn), max(told, key=_turn))}
    starts = [likely]
    for run in ends.values():
        result = simulate(job, scene=run.scene, rotation_deg=run.rotation_deg)
        starts.append(_day_flow(job, result).first_water)
    return span_of(starts)


def _turn(run: Run) -> int:
    return run.flip if run.flip is not None else MINUTES_A_DAY
