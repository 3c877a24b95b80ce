"""What a pump's sheet leaves open: figures that no pump has, and work beyond the sheet's last point."""

from __future__ import annotations

import numpy as np

from trackersim.errors import Notice
from trackersim.job.pump import Pump
from trackersim.simulation.pump_station import PumpStation
from trackersim.units import show_both
from trackersim.water.helical_sheet import worst_miss
from trackersim.water.pump import PumpCurve, hydraulic_power_w, pump_curve
from trackersim.water.wear import pump_model

_SHEET_MISSED = 0.05
# Nearer to the end of a sheet than this is its end: what is read off a table is no more exact.
_END = 1e-3


def sheet_notices(pump: Pump, station: PumpStation, unit: int) -> list[Notice]:
    """Notices about the sheet of one pump.

    Parameters
    ----------
    pump : Pump
        The pump.
    station : PumpStation
        Where it works.
    unit : int
        Its number among the units.

    Returns
    -------
    list[Notice]
        Cautions.
    """
    return [*_impossible(pump), *_beyond(pump, station, unit), *_not_its_wear(pump)]


def _not_its_wear(pump: Pump) -> list[Notice]:
    if pump.kind != "helical" or not pump.head_lost:
        return []
    text = (
        "head_lost is left out: a worn helical pump slips more and loses flow, not head. Enter the share of its flow "
        "that is lost at the last head of its sheet as flow_lost."
    )
    return [Notice(text=text, field="pump.head_lost", level="caution")]


def _beyond(pump: Pump, station: PumpStation, unit: int) -> list[Notice]:
    """Work at full power, and no other pump running, where the sheet says nothing."""
    if pump.kind == "helical":
        return _beyond_heads(pump, station, unit)
    at, curve = station.farthest_along(unit), pump_model(pump)
    assert isinstance(curve, PumpCurve)
    end_m3_s = float(curve.flow_m3_s[-1]) * at.speed
    if at.flow_m3_s <= end_m3_s * (1 + _END):
        return []
    text = (
        f"OFF THE SHEET: at full power this pump gives {show_both(at.flow_m3_s, 'flow')}, and its sheet ends at "
        f"{show_both(end_m3_s, 'flow')}. Beyond that its head is guessed and its watts are held at their last "
        "value. So far out a pump may thrust upward, overload its motor and cavitate (common practice, no source): "
        "limit its speed, or get a sheet that goes on."
    )
    return [Notice(text=text, field="pump.curve_flow", level="caution")]


def _beyond_heads(pump: Pump, station: PumpStation, unit: int) -> list[Notice]:
    assert pump.curve_head_m is not None  # the job demands it of a helical pump
    first_m, last_m = pump.curve_head_m[0], pump.curve_head_m[-1]
    heads = [at.head_m for network in station.networks if (at := network.by_itself[unit]).flow_m3_s > 0]
    out = [head for head in heads if not first_m * (1 - _END) <= head <= last_m * (1 + _END)]
    if not out:
        return []
    text = (
        f"OFF THE SHEET: at full power this pump works against {show_both(out[0], 'length')}, and its sheet goes from "
        f"{show_both(first_m, 'length')} to {show_both(last_m, 'length')}. Flow and watts there are its straight line "
        "drawn on: get a sheet that holds this head."
    )
    return [Notice(text=text, field="pump.curve_head", level="caution")]


def _impossible(pump: Pump) -> list[Notice]:
    """A sheet that the laws of its pump cannot follow."""
    if pump.kind == "helical":
        miss = worst_miss(pump)
        if abs(miss.share) <= _SHEET_MISSED:
            return []
        given, modelled = (
            f"{value:.0f} W" if miss.is_power else show_both(value, "flow") for value in (miss.given, miss.modelled)
        )
        text = (
            f"No helical pump follows this sheet: at {show_both(miss.head_m, 'length')} it says {given}, the nearest "
            f"pump with a plausible motor, which is used, has {modelled} ({100 * miss.share:+.0f} %). Flow falls with "
            "head in a straight line, and input rises by more than the water gains: check the sheet."
        )
        field = "curve_power" if miss.is_power else "curve_flow"
        return [Notice(text=text, field=f"pump.{field}", level="caution")]
    curve = pump_curve(pump)
    best = float(np.max(hydraulic_power_w(curve.flow_m3_s, curve.head_m) / curve.shaft_w))
    if best < 1:
        return []
    text = (
        f"With a motor of {100 * pump.motor_efficiency:.0f} % the pump itself would have {100 * best:.0f} % at its "
        "best point, which no pump has: check the sheet, and enter the motor's own motor_efficiency."
    )
    return [Notice(text=text, field="pump.motor_efficiency", level="caution")]
