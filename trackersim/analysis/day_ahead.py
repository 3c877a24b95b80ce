"""What the owner should see on a day to come: sun past the trees, the rack's turn, first water, flow by the hour."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

import numpy as np

import trackersim
from trackersim.analysis.day_flow import DayFlow, day_flow
from trackersim.analysis.flip_check import Span, span_of
from trackersim.analysis.light_moments import light_of_day
from trackersim.analysis.observed_sky import (
    Seen,
    by_the_sun_alone,
    day_weather,
    days_up_to,
    likely_air,
    scene_under,
)
from trackersim.analysis.rack_turns import WAIT_MIN, RackTurn, rack_turn, racks_alike
from trackersim.analysis.sampled_mornings import Run, runs_of
from trackersim.clock import check_year, clock_name, iso, today_at, wall_time_or_none
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.model import Job
from trackersim.job.rack import Rack
from trackersim.simulation.electrics import motor_w
from trackersim.simulation.pump_station import PAIR, pump_station, unit_flows
from trackersim.simulation.result import Result
from trackersim.simulation.runner import simulate
from trackersim.simulation.steady import changed

SKIES = ("clear", "light cloud")
LIGHT_COVER = 0.5  # half the sky under passing clouds (assumption)
_LITTLE = 0.7  # of a clear day's water: less is worth a call (assumption)


@dataclass(frozen=True, kw_only=True)
class Tomorrow:
    """The card. Minutes are those of the standard day; `first_light` and `full_sun` are those of
    `light_moments`. Early, likely and late on a clear day: the turns of the racks that wait for the sun (none: no
    rack does), `water` of the first unit that gives any, and `waters` of every unit. `levels_m3_s` are the flows in the
    best light of a clear day with no unit, one alone, all but one and all running, smallest first, and `brightest` that
    minute.
    `call_water`, `call_m3` are when to call. `air_c` is the air expected at sunrise [°C], None for the usual.
    """

    job: Job
    date: dt.date
    air_c: float | None
    turns: tuple[RackTurn, ...]
    sunrise: int | None
    first_light: int | None
    full_sun: int | None
    sunset: int | None
    brightest: int | None
    water: Span
    waters: tuple[Span, ...]
    levels_m3_s: tuple[float, ...]
    days: Mapping[str, DayFlow]
    call_water: int | None
    call_m3: float

    @property
    def flip(self) -> Span:
        """The turn of the first rack that waits."""
        return self.turns[0].flip if self.turns else _NEVER

    @property
    def arrival(self) -> Span:
        """When that rack faces the sun."""
        return self.turns[0].arrival if self.turns else _NEVER

    @property
    def call_flip(self) -> int | None:
        """When to call if that rack still faces west."""
        return self.turns[0].call if self.turns else None

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
        names = self.job.unit_names
        return {
            "job": self.job.site.name,
            "date": self.date.isoformat(),
            "clock": self.zone,
            "air_c": self.air_c,
            "rack": self.job.units[0].rack.kind,
            **{name: iso(self.clock(getattr(self, name))) for name in moments},
            **{name: span.told(self.clock) for name, span in spans.items()},
            "racks": [
                {
                    "units": [names[unit] for unit in turn.units],
                    "flip": turn.flip.told(self.clock),
                    "arrival": turn.arrival.told(self.clock),
                    "runs": turn.runs,
                    "runs_without_flip": turn.never,
                    "call": iso(self.clock(turn.call)),
                    "call_if_repeated": iso(self.clock(turn.call_if_repeated)),
                }
                for turn in self.turns
            ],
            "units": [
                {
                    "name": name,
                    "water": self.waters[number].told(self.clock),
                    "minutes": {
                        sky: {str(state): count for state, count in day.states[number].items()}
                        for sky, day in self.days.items()
                    },
                }
                for number, name in enumerate(names)
            ],
            "flows_by_units_running_m3_s": list(self.levels_m3_s),
            "days": {sky: self._day(day) for sky, day in self.days.items()},
            "call_below_m3": self.call_m3,
            "version": trackersim.__version__,
            "job_sha256": self.job.sha256(),
        }

    def _day(self, day: DayFlow) -> dict[str, Any]:
        """One sky's water as plain data."""
        names, hours = self.job.unit_names, []
        for (hour, flow), (_, parts), running in zip(day.hours, day.parts, day.running.values(), strict=True):
            told = [{**part._asdict(), "units": [names[unit] for unit in part.units]} for part in parts]
            hours.append(
                {
                    "hour": hour,
                    "flow_m3_s": flow,
                    "running_minutes": running.minutes,
                    "flow_running_m3_s": running.flow_m3_s,
                    "parts": told,
                }
            )
        return {
            "hours": hours,
            "total_m3": day.total_m3,
            "first_water": iso(self.clock(day.first_water)),
            "last_water": iso(self.clock(day.last_water)),
        }


_NEVER = Span(early=None, likely=None, late=None)


def card_for(job: Job, date: dt.date | None = None, *, air_c: float | None = None) -> Tomorrow:
    """The card for `date`, by default the day after the site's today: what the sun lifts into a store with room.

    `air_c` is the air expected at sunrise [°C]; none, the usual of the season.
    """
    day = date or today_at(job.site) + dt.timedelta(days=1)
    check_year("date", day)
    open_job = by_the_sun_alone(job)
    first = open_job.units[0]
    days, seen = days_up_to(first, day), Seen(sky="clear", air_c=air_c)
    sun = light_of_day(job, day)
    at = sun.sunrise or 0
    groups = racks_alike(open_job)
    runs = [runs_of(open_job.units[units[0]], days, seen, at, count=12) for units in groups]
    drawn = runs or [runs_of(first, days, seen, at)]  # a rack that waits for nothing has haze and trees all the same
    likely = likely_air(days, seen, at)
    clear = simulate(open_job, scene=drawn[0][0].scene)
    cloudy = simulate(
        open_job, scene=scene_under(open_job, days, day_weather(days, replace(likely, cover=LIGHT_COVER)))
    )
    flows = {sky: day_flow(job, result) for sky, result in zip(SKIES, (clear, cloudy), strict=True)}
    waters = _water_spans(open_job, groups, drawn, flows["clear"])
    water = _first_of(waters)
    light = clear.by_day("plane_w_m2")[-1]
    return Tomorrow(
        job=job,
        date=day,
        air_c=air_c,
        turns=tuple(rack_turn(open_job, units, ran) for units, ran in zip(groups, runs, strict=True)),
        sunrise=sun.sunrise,
        first_light=sun.first_light,
        full_sun=sun.full_sun,
        sunset=sun.sunset,
        brightest=int(np.argmax(light)) if light.any() else None,
        water=water,
        waters=waters,
        levels_m3_s=_levels(open_job, clear, day.month),
        days=MappingProxyType(flows),
        call_water=None if water.late is None else water.late + WAIT_MIN,
        call_m3=_LITTLE * flows["clear"].total_m3,
    )


def _levels(job: Job, clear: Result, month: int) -> tuple[float, ...]:
    """Flows with no unit, one alone, all but one and all running, each on its best power of the last day."""
    best_w = [float(minutes["input_w"][-MINUTES_A_DAY:].max()) for minutes in clear.unit_minutes]
    at_motor = [float(motor_w(unit, np.array([watt]))[0]) for unit, watt in zip(job.units, best_w, strict=True)]
    count = len(at_motor)
    alone = np.eye(count) if count > 1 else np.zeros((0, 1))
    all_but_one = 1 - alone[: count if count > PAIR else 0]
    runs = np.vstack([np.zeros((1, count)), alone, all_but_one, np.ones((1, count))])
    offered = [power * runs[:, number] for number, power in enumerate(at_motor)]
    flow = unit_flows(pump_station(job), offered, np.full(len(runs), month)).flow_m3_s.sum(axis=0)
    return tuple(sorted(flow.tolist()))


def _water_spans(
    job: Job, groups: Sequence[tuple[int, ...]], runs: Sequence[tuple[Run, ...]], clear: DayFlow
) -> tuple[Span, ...]:
    """First water of each unit on a clear day: from all runs, but of a unit whose rack waits (`groups`) from those with
    the earliest and the latest turn beside the likely.

    Runs of the same number have the same sky, air and trees at every rack.
    """
    starts = [[first] for first in clear.first_of_units]
    waiting, extremes = {unit for units in groups for unit in units}, _extremes(runs)
    for number in range(1, len(runs[0])) if len(waiting) < len(starts) else extremes:
        racks = {unit: ran[number].job.rack for units, ran in zip(groups, runs, strict=False) for unit in units}
        firsts = day_flow(job, simulate(_on_racks(job, racks), scene=runs[0][number].scene)).first_of_units
        for unit, first in enumerate(firsts):
            if unit not in waiting or number in extremes:
                starts[unit].append(first)
    return tuple(span_of(own) for own in starts)


def _extremes(runs: Sequence[tuple[Run, ...]]) -> set[int]:
    """The runs with the earliest and the latest turn, of those in which every rack turns."""
    told = [number for number in range(len(runs[0])) if all(ran[number].flip is not None for ran in runs)]
    turn = [sum(ran[number].flip or 0 for ran in runs) for number in told]
    return {told[int(np.argmin(turn))], told[int(np.argmax(turn))]} if told else set()


def _on_racks(job: Job, racks: Mapping[int, Rack]) -> Job:
    """The job with other racks at some of its units."""
    for unit, rack in racks.items():

        def instead(_: Rack, new: Rack = rack) -> Rack:
            return new

        job = changed(job, "rack", instead, unit=unit)
    return job


def _first_of(spans: Sequence[Span]) -> Span:
    """The earliest of several units."""

    def least(part: str) -> int | None:
        return min((minute for span in spans if (minute := getattr(span, part)) is not None), default=None)

    return Span(early=least("early"), likely=least("likely"), late=least("late"))
