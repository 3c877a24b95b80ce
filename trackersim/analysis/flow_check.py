"""Is that flow right for this sun? A measured flow against what the job as described would give at that minute."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

import trackersim
from trackersim.analysis.controller_reading import ArrayReading
from trackersim.analysis.explanations import Explanation, explanations_of
from trackersim.analysis.flow_instants import PUMP_RANGE, instants_of
from trackersim.analysis.flow_measurement import Measured, Readings
from trackersim.analysis.flow_readings import (
    array_as_read,
    check_rotation,
    evidence_of,
    flow_goes_with,
    gives_what_was_read,
    heads_of,
    held_against,
    reading_notices,
    too_bright,
)
from trackersim.analysis.observed_sky import COVER, Seen, within
from trackersim.analysis.sampled_mornings import RUNS, latin
from trackersim.clock import Moment, clock_name
from trackersim.errors import Notice
from trackersim.job.model import Job
from trackersim.simulation.pump_station import PAIR
from trackersim.simulation.steady import Instant, Point, point_of
from trackersim.water.unit_state import UnitState

FlowVerdict = Literal["right for this sun", "low", "high", "cannot tell", "no water expected"]

_CLOUDY = 0.3
_UNSURE = 0.8  # a range this wide beside its likely value tells nothing

ASSUMED = (
    "The range takes the array's power as known to −6…+5 %, the pump's flow to ±5 %, the lift to ±3 %, the pipe's C to "
    "−7…+5 %, a light meter to ±5 %, an angle told by eye to ±10°; sky, wind, air and trees as when a "
    "turn is checked. All assumed."
)


@dataclass(frozen=True, kw_only=True)
class FlowCheck:
    """A measured flow beside the expected one [m³/s], least, likely and most.

    `point` is the likely running point of every unit, None with the sun down; `flows_m3_s` the flows to be expected
    with none, one, … of the units running, smallest first. `gauge_head_m` is the head at the gauge, `asked_head_m` what
    outlet and pipe of the job would ask there at the measured flow; both count from the standing water that the job
    tells, with several pumps from the place where their pipes meet. `array` says how the array stands by the volts and
    amps that were read, and `meters_agree` whether volts and amps leave room for a sound pump with this flow. The last
    of `causes` is all that is not named.
    """

    job: Job
    moment: Moment
    seen: Seen
    readings: Readings
    measured: Measured
    expected_m3_s: tuple[float, float, float]
    verdict: FlowVerdict
    point: Point | None
    causes: tuple[Explanation, ...]
    flows_m3_s: tuple[float, ...]
    array: ArrayReading | None
    meters_agree: bool
    gauge_head_m: float | None
    asked_head_m: float | None
    notices: tuple[Notice, ...]

    @property
    def zone(self) -> str:
        """Which clock the moment is told in."""
        return clock_name(self.job.site, self.moment.date)

    def summary(self) -> dict[str, Any]:
        """The answer as plain data in SI units."""
        least, likely, most = self.expected_m3_s
        return {
            "job": self.job.site.name,
            "at": self.moment.wall.isoformat(),
            "clock": self.zone,
            "sky": self.seen.sky,
            "measured_m3_s": self.measured.flow_m3_s,
            "measured_error_m3_s": self.measured.error_m3_s,
            "fills": self.measured.fills,
            "expected_m3_s": {"least": least, "likely": likely, "most": most},
            "verdict": self.verdict,
            "units": [] if self.point is None else self._unit_summaries(self.point),
            "flows_by_units_running_m3_s": list(self.flows_m3_s),
            "array_by_volts_and_amps": self.array,
            "volts_and_amps_agree": self.meters_agree,
            "causes": [cause.summary() for cause in self.causes],
            "gauge_head_m": self.gauge_head_m,
            "head_the_pipe_asks_m": self.asked_head_m,
            "assumptions": [ASSUMED],
            "notices": [str(notice) for notice in self.notices],
            "version": trackersim.__version__,
            "job_sha256": self.job.sha256(),
        }

    def _unit_summaries(self, point: Point) -> list[dict[str, Any]]:
        return [{"name": name, **unit.summary()} for name, unit in zip(self.job.unit_names, point.units, strict=True)]


def check_flow(
    job: Job, moment: Moment, measured: Measured, *, seen: Seen | None = None, readings: Readings | None = None
) -> FlowCheck:
    """Hold `measured` against what `job` should give at `moment` under the sky that was seen.

    The store is taken to have room, and the sources water. Raises `InputError` for readings that cannot be.
    """
    seen, readings = seen or Seen(), readings or Readings()
    check_rotation(job, readings)
    every = instants_of(job, moment, seen, readings)
    factors = [1.0, *(within(PUMP_RANGE, share) for share in latin(RUNS, 1)[::-1, 0])]
    bright = [n for n, instant in enumerate(every) if gives_what_was_read(instant, readings)]
    kept = bright or list(range(len(every)))
    instants = [every[n] for n in kept]
    points = [point_of(instant) for instant in instants]
    flows = [point.flow_m3_s * factors[n] for n, point in zip(kept, points, strict=True)]
    likely = _likely(flows, seen, readings)
    ends = flows
    if len(kept) < len(every):
        # The few that are left may by chance have drawn pumps much alike: the range takes the pump at both its ends.
        ends = [point.flow_m3_s * factor for point in points for factor in PUMP_RANGE]
    expected = (min(ends, default=0.0), flows[likely] if flows else 0.0, max(ends, default=0.0))
    array = array_as_read(readings, points[likely].units[readings.unit]) if points else None
    meters_agree = flow_goes_with(array, measured, points, readings.unit)
    verdict = _verdict(measured, expected, lit=bool(points), meters_agree=meters_agree)
    gauge, asked = heads_of(job, moment, measured, readings)
    evidence = evidence_of(job, moment, measured, readings, points[likely], flows, gauge) if points else None
    causes: tuple[Explanation, ...] = ()
    if evidence is not None and verdict in ("low", "high"):
        seen_angle = readings.stands is not None or readings.rotation_deg is not None
        causes = explanations_of(
            instants[likely],
            points[likely],
            evidence,
            known_light=readings.light_w_m2 is not None,
            known_angle=seen_angle,
        )
        causes = tuple(held_against(cause, evidence) for cause in causes)
    return FlowCheck(
        job=job,
        moment=moment,
        seen=seen,
        readings=readings,
        measured=measured,
        expected_m3_s=expected,
        verdict=verdict,
        point=points[likely] if points else None,
        causes=causes,
        flows_m3_s=_flows_by_units(instants[likely], points[likely]) if points else (0.0,),
        array=array,
        meters_agree=meters_agree,
        gauge_head_m=gauge,
        asked_head_m=asked,
        notices=(
            *measured.notices,
            *reading_notices(job, readings, points[likely] if points else None),
            *([] if bright or not every else [too_bright(readings)]),
        ),
    )


def _flows_by_units(instant: Instant, point: Point) -> tuple[float, ...]:
    """Flows with none of the units running, any one alone, all but any one, and all that can: what somebody may find
    at the pipe."""
    runs = [number for number, unit in enumerate(point.units) if unit.flow_m3_s > 0]
    count = len(point.units)
    stand = [[number for number in range(count) if number != one] for one in runs] if len(runs) > 1 else []
    stand += [[one] for one in runs] if len(runs) > PAIR else []
    some = (point_of(instant.holding(held, UnitState.OFF)).flow_m3_s for held in stand)
    return (0.0, *sorted(some), *((point.flow_m3_s,) if runs else ()))


def _likely(flows: Sequence[float], seen: Seen, readings: Readings) -> int:
    """Which run stands for what is likely: the first, or under passing clouds the one in the middle."""
    if COVER[seen.sky][1] < _CLOUDY or readings.light_w_m2 is not None or not flows:
        return 0
    return int(np.argsort(flows)[len(flows) // 2])


def _verdict(measured: Measured, expected: tuple[float, float, float], *, lit: bool, meters_agree: bool) -> FlowVerdict:
    least, likely, most = expected
    low, high = measured.flow_m3_s - measured.error_m3_s, measured.flow_m3_s + measured.error_m3_s
    if low > most:
        return "high"
    if not lit or most == 0:
        return "no water expected"
    if high < least:
        return "low"
    return "cannot tell" if most - least > _UNSURE * likely or not meters_agree else "right for this sun"
