"""Is that flow right for this sun? A measured flow against what the job as described would give at that minute."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

import trackersim
from trackersim.analysis.controller_reading import ArrayReading, array_reading
from trackersim.analysis.explanations import Evidence, Explanation, explanations_of
from trackersim.analysis.fault_odds import OTHER, Read
from trackersim.analysis.flow_instants import PUMP_RANGE, instants_of
from trackersim.analysis.flow_measurement import Measured, Readings
from trackersim.analysis.observed_sky import COVER, Seen
from trackersim.analysis.sampled_mornings import RUNS, latin, within
from trackersim.clock import Moment, clock_name
from trackersim.constants import GRAVITY_M_S2
from trackersim.errors import InputError, Notice
from trackersim.job.model import Job
from trackersim.simulation.pump_station import PAIR, main_lift_m, pump_station
from trackersim.simulation.steady import Instant, Point, UnitPoint, highest_v, point_of
from trackersim.water.pump import WATER_DENSITY_KG_M3
from trackersim.water.unit_state import UnitState

FlowVerdict = Literal["right for this sun", "low", "high", "cannot tell", "no water expected"]

_CLOUDY = 0.3
_UNSURE = 0.8  # a range this wide beside its likely value tells nothing
_PRESSURE_SHARE, _PRESSURE_M, _VOLT_SHARE = 0.07, 1.0, 0.07
_AMP_SHARE, _AMP_A = 0.10, 0.3
_LEAST_SD = 0.015  # of the expected flow: no job is known better

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
    _check_rotation(job, readings)
    every = instants_of(job, moment, seen, readings)
    factors = [1.0, *(within(PUMP_RANGE, share) for share in latin(RUNS, 1)[::-1, 0])]
    bright = [n for n, instant in enumerate(every) if _gives_what_was_read(instant, readings)]
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
    array = _array(readings, points[likely].units[readings.unit]) if points else None
    meters_agree = _meters_agree(array, measured, points, readings.unit)
    verdict = _verdict(measured, expected, lit=bool(points), meters_agree=meters_agree)
    gauge, asked = _heads(job, moment, measured, readings)
    evidence = _evidence(job, moment, measured, readings, points[likely], flows, gauge) if points else None
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
        causes = tuple(_held(cause, evidence) for cause in causes)
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
            *_notices(job, readings, points[likely] if points else None),
            *([] if bright or not every else [_too_bright(readings)]),
        ),
    )


def _gives_what_was_read(instant: Instant, readings: Readings) -> bool:
    """Whether the array can give the volts and amps that were read under the light of this minute.

    What its pump does is left open, and what the array lacks: a fault takes from an array, and nothing adds to it.
    """
    if readings.voltage_v is None:
        return True
    least_v = (1 - _VOLT_SHARE) * readings.voltage_v
    least_a = max((1 - _AMP_SHARE) * (readings.current_a or 0.0) - _AMP_A, 0.0)
    return highest_v(instant, readings.unit, least_v * least_a) >= least_v


def _meters_agree(array: ArrayReading | None, measured: Measured, points: Sequence[Point], unit: int) -> bool:
    """Whether a sound pump may give the flow with its array as the meters tell it.

    A pump for which nothing is drawn lifts nothing. One whose array floats has all the power that it can use.
    """
    if array in ("no voltage", "open circuit"):
        return False
    if array != "floating":
        return True
    low, high = measured.flow_m3_s - measured.error_m3_s, measured.flow_m3_s + measured.error_m3_s
    ample = [point.flow_m3_s for point in points if point.units[unit].has_spare]
    return bool(ample) and PUMP_RANGE[0] * min(ample) <= high and low <= PUMP_RANGE[2] * max(ample)


def _evidence(
    job: Job,
    moment: Moment,
    measured: Measured,
    readings: Readings,
    point: Point,
    flows: Sequence[float],
    gauge_m: float | None,
) -> Evidence:
    """The readings with what they may be off by, and with what the job's own figures leave open."""
    unit = point.units[readings.unit]
    ratio = np.array(flows) / max(point.flow_m3_s, 1e-12)
    open_sd = max(float(ratio.std()), _LEAST_SD) * point.flow_m3_s
    most_a = max(2 * unit.input_w / max(unit.best_v, 1.0), readings.current_a or 0.0, 1.0)
    outlet_m = _outlet_m(job, moment)
    return Evidence(
        unit=readings.unit,
        gauge_above_m=readings.gauge_above_m,
        outlet_m=outlet_m,
        flow=Read(measured.flow_m3_s, max(math.hypot(open_sd, measured.error_m3_s / 2), 1e-7)),
        voltage=Read(readings.voltage_v, _VOLT_SHARE / 2 * max(unit.open_v, 1.0)),
        current=Read(readings.current_a, math.hypot(_AMP_SHARE / 2 * unit.input_a, _AMP_A)),
        head=Read(gauge_m, math.hypot(_PRESSURE_SHARE / 2 * (gauge_m or 0.0), _PRESSURE_M / 2)),
        spans={
            "flow_m3_s": 1.5 * max(point.flow_m3_s, measured.flow_m3_s, 1e-6),
            "input_v": 1.1 * max(unit.open_v, readings.voltage_v or 0.0, 1.0),
            "input_a": most_a,
            "head_m": 2 * max(outlet_m + point.common_loss_m, gauge_m or 0.0, 1.0),
        },
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


def _array(readings: Readings, unit: UnitPoint) -> ArrayReading | None:
    if readings.voltage_v is None or unit.best_v <= 0 or unit.input_w <= 0:
        return None
    return array_reading(
        readings.voltage_v,
        readings.current_a,
        best_v=unit.best_v,
        best_a=unit.input_w / unit.best_v,
        open_v=max(unit.open_v, unit.best_v),
    )


def _check_rotation(job: Job, readings: Readings) -> None:
    most = max(unit.rack.max_rotation_deg for unit in job.units)
    if readings.rotation_deg is not None and abs(readings.rotation_deg) > most + 1:
        remedy = f"West is positive, east negative, level 0; its stops are at {most:g}°."
        raise InputError.of("rotation", readings.rotation_deg, "lies beyond the rack's stops.", remedy)
    if readings.rotation_deg is not None and readings.stands is not None:
        raise InputError.of(
            "rotation", readings.rotation_deg, "is given beside how the rack stands.", "Give one of the two."
        )


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


def _heads(job: Job, moment: Moment, measured: Measured, readings: Readings) -> tuple[float | None, float | None]:
    """Head at the gauge, and what the job's outlet and pipe ask there of all the flow that was measured."""
    if readings.pressure_kpa is None:
        return None, None
    pressed_m = readings.pressure_kpa * 1000 / (WATER_DENSITY_KG_M3 * GRAVITY_M_S2)
    asked_m = _outlet_m(job, moment) + pump_station(job).common_loss_m(measured.flow_m3_s)
    return pressed_m + readings.gauge_above_m, asked_m


def _outlet_m(job: Job, moment: Moment) -> float:
    """Height of the outlet above the standing water that the job tells, with several pumps above where they meet."""
    own = 0.0 if len(job.units) > 1 else job.units[0].source.lifts_m[moment.date.month - 1]
    return own + main_lift_m(job)


def _held(cause: Explanation, found: Evidence) -> Explanation:
    """The cause held against gauge, voltmeter and ammeter, as far as they were read."""
    if cause.name == OTHER:
        return cause
    unit, near = cause.point.units[found.unit], {}
    if found.head.value is not None:
        least, most = found.gauge_m(cause.point)
        allowed = max(_PRESSURE_SHARE * found.head.value, _PRESSURE_M)
        near["gauge"] = least - allowed <= found.head.value <= most + allowed
    if found.voltage.value is not None and unit.input_v:
        near["voltage"] = math.isclose(unit.input_v, found.voltage.value, rel_tol=_VOLT_SHARE)
    if found.current.value is not None:
        near["current"] = math.isclose(unit.input_a, found.current.value, rel_tol=_AMP_SHARE, abs_tol=2 * _AMP_A)
    fits, against = (tuple(name for name, agrees in near.items() if agrees is told) for told in (True, False))
    return replace(cause, fits=fits, against=against)


def _too_bright(readings: Readings) -> Notice:
    """More was read than any sky of this minute lets the array give."""
    read = f"{readings.voltage_v:g} V" + (f" and {readings.current_a:g} A" if readings.current_a is not None else "")
    return Notice(
        text=f"{read} are more than this array can give at this time of day, under any sky like the one seen: look at "
        "the meters, the time, the sky given and the array in the job.",
        field="voltage",
        level="caution",
    )


def _notices(job: Job, readings: Readings, point: Point | None) -> list[Notice]:
    notices = []
    control, volts = job.units[readings.unit].controller, readings.voltage_v
    expected = None if point is None else point.units[readings.unit]
    if volts is not None and volts < control.lowest_v:
        text = f"{volts:g} V at the controller is below the {control.lowest_v:g} V from which it can work the array."
        notices.append(Notice(text=text, field="voltage", level="caution"))
    if volts is not None and control.highest_v is not None and volts > control.highest_v:
        text = f"{volts:g} V at the controller is above the {control.highest_v:g} V up to which it can work the array."
        notices.append(Notice(text=text, field="voltage", level="caution"))
    if volts and expected is not None and 0.1 < volts / max(expected.best_v, 1e-9) < 1 - _VOLT_SHARE:
        series = job.units[readings.unit].array.in_series
        short = max(round(series * (1 - volts / expected.best_v)), 1)
        text = (
            f"{expected.best_v:.0f} V or more were expected: as if about {short} of {series} modules in series were "
            "bypassed."
        )
        notices.append(Notice(text=text, field="voltage"))
    if readings.pressure_kpa is not None and len(job.units) > 1:
        text = (
            "With several pumps the gauge is taken to sit on the main, where their pipes meet, not at one pump's head."
        )
        notices.append(Notice(text=text, field="pressure"))
    return notices
