"""What was read beside a flow, at meters, gauge and rack: whether it can be, what it says of the array, and whether a
cause agrees with it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from trackersim.analysis.controller_reading import ArrayReading, array_reading
from trackersim.analysis.explanations import Evidence, Explanation
from trackersim.analysis.fault_odds import OTHER, Read
from trackersim.analysis.flow_instants import PUMP_RANGE
from trackersim.analysis.flow_measurement import Measured, Readings
from trackersim.clock import Moment
from trackersim.constants import GRAVITY_M_S2
from trackersim.errors import InputError, Notice
from trackersim.job.model import Job
from trackersim.simulation.pump_station import pump_station
from trackersim.simulation.steady import Instant, Point, UnitPoint, highest_v
from trackersim.water.pump import WATER_DENSITY_KG_M3

_PRESSURE_SHARE, _PRESSURE_M, _VOLT_SHARE = 0.07, 1.0, 0.07
_AMP_SHARE, _AMP_A = 0.10, 0.3
_LEAST_SD = 0.015  # of the expected flow: no job is known better


def check_rotation(job: Job, readings: Readings) -> None:
    """`InputError` for an angle that no rack here can have, or that is given beside how the rack stands."""
    most = max(unit.rack.max_rotation_deg for unit in job.units)
    if readings.rotation_deg is not None and abs(readings.rotation_deg) > most + 1:
        remedy = f"West is positive, east negative, level 0; its stops are at {most:g}°."
        raise InputError.of("rotation", readings.rotation_deg, "lies beyond the rack's stops.", remedy)
    if readings.rotation_deg is not None and readings.stands is not None:
        raise InputError.of(
            "rotation", readings.rotation_deg, "is given beside how the rack stands.", "Give one of the two."
        )


def gives_what_was_read(instant: Instant, readings: Readings) -> bool:
    """Whether the array can give the volts and amps that were read under the light of this minute.

    What its pump does is left open, and what the array lacks: a fault takes from an array, and nothing adds to it.
    """
    if readings.voltage_v is None:
        return True
    least_v = (1 - _VOLT_SHARE) * readings.voltage_v
    least_a = max((1 - _AMP_SHARE) * (readings.current_a or 0.0) - _AMP_A, 0.0)
    return highest_v(instant, readings.unit, least_v * least_a) >= least_v


def array_as_read(readings: Readings, unit: UnitPoint) -> ArrayReading | None:
    """How the array stands by the volts and amps read; None where no voltage was, or where the array gives nothing."""
    if readings.voltage_v is None or unit.best_v <= 0 or unit.input_w <= 0:
        return None
    return array_reading(
        readings.voltage_v,
        readings.current_a,
        best_v=unit.best_v,
        best_a=unit.input_w / unit.best_v,
        open_v=max(unit.open_v, unit.best_v),
    )


def flow_goes_with(array: ArrayReading | None, measured: Measured, points: Sequence[Point], unit: int) -> bool:
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


def heads_of(job: Job, moment: Moment, measured: Measured, readings: Readings) -> tuple[float | None, float | None]:
    """Head at the gauge, and what the job's outlet and pipe ask there of all the flow that was measured."""
    if readings.pressure_kpa is None:
        return None, None
    pressed_m = readings.pressure_kpa * 1000 / (WATER_DENSITY_KG_M3 * GRAVITY_M_S2)
    asked_m = _outlet_m(job, moment) + pump_station(job).common_loss_m(measured.flow_m3_s)
    return pressed_m + readings.gauge_above_m, asked_m


def _outlet_m(job: Job, moment: Moment) -> float:
    """Height of the outlet above the standing water that the job tells, with several pumps above where they meet."""
    own = 0.0 if len(job.units) > 1 else job.units[0].source.lifts_m[moment.date.month - 1]
    return own + job.main_lift_m


def evidence_of(
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
    open_sd = max(_open_share(measured.flow_m3_s, point.flow_m3_s, flows), _LEAST_SD) * point.flow_m3_s
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


def _open_share(flow_m3_s: float, expected_m3_s: float, flows: Sequence[float]) -> float:
    """How far off the expected flow sky and job leave it, as a share of it (rms), on the side of what was measured.

    A sky that nobody looked at may bring any flow below the expected one, and hardly more: what it leaves open below
    must not make a small gain of light explain a flow far above.
    """
    away = np.array(flows) / max(expected_m3_s, 1e-12) - 1
    same_side = away[away * (flow_m3_s - expected_m3_s) > 0]
    return float(np.sqrt(np.mean(same_side**2))) if same_side.size else 0.0


def held_against(cause: Explanation, found: Evidence) -> Explanation:
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


def too_bright(readings: Readings) -> Notice:
    """More was read than any sky of this minute lets the array give."""
    read = f"{readings.voltage_v:g} V" + (f" and {readings.current_a:g} A" if readings.current_a is not None else "")
    return Notice(
        text=f"{read} are more than this array can give at this time of day, under any sky like the one seen: look at "
        "the meters, the time, the sky given and the array in the job.",
        field="voltage",
        level="caution",
    )


def reading_notices(job: Job, readings: Readings, point: Point | None) -> list[Notice]:
    """Remarks on a voltage outside the controller's limits or below what was expected, and on a shared gauge."""
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
