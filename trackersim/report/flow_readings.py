"""What voltmeter, ammeter and gauge say beside a measured flow, in words."""

from __future__ import annotations

from trackersim.analysis.flow_check import FlowCheck
from trackersim.units import System, show

_ARRAY_WORDS = {
    "no voltage": "nothing comes from the array: look at disconnect, fuses and wire, and test before touching",
    "open circuit": "open circuit, nothing is drawn: this pump stands",
    "floating": "above its best point, so the array floats: the pump takes less than it could have, as at full speed",
    "best point": "its best point: the controller takes all there is",
    "below best point": "below its best point: modules bypassed or shaded, or the controller holds it there",
}
# Less than this share of what the light should give is told.
_WEAK = 0.85
# A gauge within so much of what is asked of it agrees.
_GAUGE_SHARE, _GAUGE_M = 1.07, 1.0


def array_words(check: FlowCheck, system: System) -> str:
    """How the array stands by the volts and amps that were read; empty without them."""
    readings, point = check.readings, check.point
    if point is None or (readings.voltage_v is None and readings.current_a is None):
        return ""
    unit, name = point.units[readings.unit], check.job.unit_names[readings.unit]
    where = f"At {name}, " if name else ""
    should = f"{unit.input_v:.0f} V and {unit.input_a:.1f} A were to be expected"
    if readings.voltage_v is None:
        return f"{where}{readings.current_a:.1f} A: {should}."
    read = f"{readings.voltage_v:.0f} V"
    if readings.current_a is not None:
        power = show(readings.voltage_v * readings.current_a, "power", system)
        read += f" and {readings.current_a:.1f} A ({power})"
    meaning = "" if check.array is None else f" is {_ARRAY_WORDS[check.array]}"
    if check.array == "no voltage":
        meaning = f": {_ARRAY_WORDS[check.array]}"
    if check.array == "best point" and readings.current_a is not None and unit.input_w > 0:
        share = readings.voltage_v * readings.current_a / unit.input_w
        if share < _WEAK:
            meaning += f", which is {100 * share:.0f} % of what this light should give: dirt, shade or a string out"
    best = f"the best point is {unit.best_v:.0f} V, open circuit {unit.open_v:.0f} V in this light"
    return f"{where}{read}{meaning}. {should[0].upper()}{should[1:]}; {best}."


def gauge_agrees(check: FlowCheck) -> bool:
    """Whether a gauge that was read tells what the pipe as described asks; also where none was."""
    gauge, asked = check.gauge_head_m, check.asked_head_m
    return gauge is None or asked is None or (_least_m(asked) <= gauge <= _most_m(asked))


def _least_m(asked_m: float) -> float:
    return asked_m / _GAUGE_SHARE - _GAUGE_M


def _most_m(asked_m: float) -> float:
    return _GAUGE_SHARE * asked_m + _GAUGE_M


def gauge_words(check: FlowCheck, system: System) -> str:
    """What the gauge says of all that lies beyond it, and what it cannot say; empty without one."""
    gauge, asked = check.gauge_head_m, check.asked_head_m
    if gauge is None or asked is None:
        return ""
    pipe, above = ("main", " above where the pipes meet") if check.job.unit else ("pipe", "")
    if check.measured.flow_m3_s == 0:
        return _still_words(gauge, asked, above, system)
    shown = f"The gauge tells a head of {show(gauge, 'length', system)}{above}; the {pipe} as described asks "
    shown += f"{show(asked, 'length', system)} at this flow: "
    if gauge > _most_m(asked):
        shown += f"the {pipe} takes more than it should, the outlet lies higher, or the gauge sits lower than told."
    elif gauge < _least_m(asked):
        shown += "the water leaves more easily than described: a lower outlet, a wider pipe, or a gauge set higher."
    else:
        shown += f"{pipe} and outlet are as described"
        shown += ", so look at pump, power, light and water level." if check.verdict == "low" else "."
    return shown + (" A gauge up here cannot tell the water level." if check.verdict in ("low", "high") else "")


def _still_words(gauge_m: float, outlet_m: float, above: str, system: System) -> str:
    """What the gauge says while no water comes."""
    shown = (
        f"The gauge tells a head of {show(gauge_m, 'length', system)}{above}; water that stands in the pipe up to the "
        f"outlet gives {show(outlet_m, 'length', system)}: "
    )
    if gauge_m > _most_m(outlet_m):
        return shown + "something beyond the gauge is shut or blocked, and the pump has pressed against it."
    return shown + (
        "the pump presses against nothing beyond the gauge; it stands, gets no water, or something is shut before the "
        "gauge. A gauge up here cannot tell the water level."
    )
