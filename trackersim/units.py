"""The kinds of figures that are shown, and the unit of each in either system: `show(value, kind, system)` gives text.

Everything behind this edge is SI, degrees for angles and °C for temperatures. Gallons are US gallons. `unit_factors`
has the factors; `quantity_reading` and `quantity_writing` are for the fields of a job.
"""

from __future__ import annotations

import math
import re
from functools import cache
from typing import Any, Literal, TypeVar, cast

from trackersim.unit_factors import in_unit

System = Literal["us", "si"]
_Number = TypeVar("_Number")
# kind -> (unit in which the engine holds it, SI unit, US unit, words for SI, words for US)
_KINDS: dict[str, tuple[str, str, str, str, str]] = {
    "length": ("m", "m", "ft", "m", "ft"),
    "bore": ("m", "mm", "inch", "mm", "in"),
    "volume": ("m**3", "m**3", "gallon", "m³", "gal"),
    "volume_per_day": ("m**3/day", "m**3/day", "gallon/day", "m³/day", "gal/day"),
    "flow": ("m**3/s", "L/min", "gallon/min", "L/min", "gpm"),
    "speed": ("m/s", "m/s", "mph", "m/s", "mph"),
    "velocity": ("m/s", "m/s", "ft/s", "m/s", "ft/s"),
    "temperature": ("degC", "degC", "degF", "°C", "°F"),
    "pressure": ("kPa", "kPa", "psi", "kPa", "psi"),
    "power": ("W", "W", "W", "W", "W"),
    "energy": ("kWh", "kWh", "kWh", "kWh", "kWh"),
    "light_sum": ("kWh/m**2", "kWh/m**2", "kWh/m**2", "kWh/m²", "kWh/m²"),
    "light": ("W/m**2", "W/m**2", "W/m**2", "W/m²", "W/m²"),
    "angle": ("deg", "deg", "deg", "°", "°"),
    "yield": ("m**3/s/m", "L/min/m", "gallon/min/ft", "L/min per m", "gpm per ft"),
    "mass": ("kg", "kg", "lb", "kg", "lb"),
    "surface": ("m**2", "m**2", "ft**2", "m²", "ft²"),
    "wire": ("mm**2", "mm**2", "kcmil", "mm²", "kcmil"),
    "difference": ("delta_degC", "delta_degC", "delta_degF", "K", "°F"),
}


@cache
def _linear(kind: str, system: System) -> tuple[float, float]:
    """Factor and offset from the engine's unit to the shown one."""
    held, si, us = _KINDS[kind][:3]
    shown = si if system == "si" else us
    zero = in_unit(0.0, held, shown)
    return in_unit(1.0, held, shown) - zero, zero


def shown_value(value: _Number, kind: str, system: System) -> _Number:
    """`value` (SI, as the engine holds it) in the unit in which `system` shows this kind; a number, array or column."""
    factor, offset = _linear(kind, system)
    return cast(_Number, cast(Any, value) * factor + offset)


def held_value(value: _Number, kind: str, system: System) -> _Number:
    """The inverse of `shown_value`."""
    factor, offset = _linear(kind, system)
    return cast(_Number, (cast(Any, value) - offset) / factor)


def unit_label(kind: str, system: System) -> str:
    """The unit as printed: "gal/day", "°F"."""
    return _KINDS[kind][3 if system == "si" else 4]


def show(value: float, kind: str, system: System, *, digits: int = 3) -> str:
    """Value and unit as text, rounded to `digits` significant digits: "2,480 gal/day"."""
    label = unit_label(kind, system)
    return f"{shown_number(value, kind, system, digits=digits)}{'' if label == '°' else ' '}{label}"


def shown_number(value: float, kind: str, system: System, *, digits: int = 3) -> str:
    """The number of `show` alone, for a place beside which the unit stands: "2,480"."""
    return rounded(shown_value(value, kind, system), digits)


def show_both(value: float, kind: str, *, digits: int = 3) -> str:
    """Value and unit in both systems, for words that go to every reader: "65.6 ft (20.0 m)"."""
    return f"{show(value, kind, 'us', digits=digits)} ({show(value, kind, 'si', digits=digits)})"


@cache
def _told_in_both() -> re.Pattern[str]:
    """What `show_both` and `in_both` write of any kind: a figure in US units, and in brackets the same in SI."""
    labels = {(us, si) for _, _, _, si, us in _KINDS.values() if us != si}
    number = r"[-−]?[\d,]*\.?\d+"
    pairs = (rf"{number} {re.escape(us)} \({number} {re.escape(si)}\)" for us, si in sorted(labels, reverse=True))
    return re.compile("|".join(pairs))


def own_first(text: str, system: System) -> str:
    """Words with figures in both systems, those of `system` first: words for every reader, shown to one who has chosen.

    >>> own_first("from 65.6 ft (20.0 m) at 41 °F (5.0 °C)", "si")
    'from 20.0 m (65.6 ft) at 5.0 °C (41 °F)'
    """
    if system == "us":
        return text

    def turned(found: re.Match[str]) -> str:
        us, _, si = found.group().removesuffix(")").partition(" (")
        return f"{si} ({us})"

    return _told_in_both().sub(turned, text)


def rounded(number: float, digits: int = 3) -> str:
    """A number with about `digits` significant digits and thousands separators: 2481.7 -> "2,480".

    >>> rounded(2481.7), rounded(0.04567), rounded(0.0)
    ('2,480', '0.0457', '0')
    """
    if number == 0 or not math.isfinite(number):
        return "0" if number == 0 else str(number)
    places = digits - 1 - math.floor(math.log10(abs(number)))
    value = round(number, places)
    return f"{value:,.{max(0, places)}f}"
