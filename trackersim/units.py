"""The only place that knows a unit other than SI.

Reading: `read_quantity("55 ft", "m")` gives a float in the field's own unit. Showing: `show(value, kind, system)`
gives text. Everything between the two edges is SI, degrees for angles and °C for temperatures.
Gallons are US gallons. `unit_factors` has the factors.
"""

from __future__ import annotations

import math
import re
from contextlib import suppress
from functools import cache, lru_cache
from typing import Any, Literal, TypeVar, cast

from trackersim.quantity_text import MOST_NUMBERS, UnitError, Written, is_unit, split_list, split_pair, split_quantity
from trackersim.unit_factors import in_unit

__all__ = [
    "NEEDED_IN_TEXT",
    "System",
    "UnitError",
    "field_shown",
    "held_unit",
    "held_value",
    "in_both",
    "own_first",
    "read_quantities",
    "read_quantity",
    "rounded",
    "show",
    "show_both",
    "shown_number",
    "shown_value",
    "unit_label",
    "unit_of",
    "without_unit",
    "written",
]  # fmt: skip

System = Literal["us", "si"]
_Number = TypeVar("_Number")

# Field suffix -> the pint unit in which a bare number of that field is read.
SUFFIX_UNITS: dict[str, str] = {
    "_m3_s_per_m": "m**3/s/m",
    "_m3_per_day": "m**3/day",
    "_ohm_per_m": "ohm/m",
    "_m3_s": "m**3/s",
    "_kj_m2": "kJ/m**2",
    "_w_m2": "W/m**2",
    "_m_s": "m/s",
    "_mm2": "mm**2",
    "_m2": "m**2",
    "_kpa": "kPa",
    "_m3": "m**3",
    "_deg": "deg",
    "_min": "min",
    "_kg": "kg",
    "_h": "hour",
    "_m": "m",
    "_w": "W",
    "_v": "V",
    "_a": "A",
    "_c": "degC",
}

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

_TIMES = ("second", "minute", "min", "hour", "day", "month", "year")
_TEMPERATURE_WORDS = {
    f"{before}{name}": degree
    for degree, names in (("degF", ("f", "fahrenheit")), ("degC", ("c", "celsius")))
    for name in names
    for before in ("", "°", "deg ", "degree ", "degrees ")
}  # in small letters
_WORDS = {
    "°": "deg",
    "%": "percent",
    "%/K": "percent",
    "%/°C": "percent",
    "%/C": "percent",
    "sq mm": "mm**2",
    "sq ft": "ft**2",
    "KW": "kW",
    "kw": "kW",
    "hr": "hour",
}
_MARKS = {"'": "ft", '"': "in", "' '": "in"}  # as `split_quantity` leaves them
_PARTED = ("m", "min", "hour", "s")  # fields whose value people write in two units: 5 ft 6 in, 1 hr 15 min
_POWER_OF_LENGTH = re.compile(r"\b(mm|cm|m|km|in|ft)([23²³])(?![\w*])")


def unit_of(name: str) -> str:
    """The pint unit in which the field `name` is held, "" for a plain number.

    >>> unit_of("max_rotation_deg"), unit_of("soiling")
    ('deg', '')
    """
    for suffix, unit in SUFFIX_UNITS.items():
        if name.endswith(suffix):
            return unit
    return ""


def without_unit(name: str) -> str:
    """The key of a field in a job file: its name less the unit, since the value may carry its own.

    >>> without_unit("specific_capacity_m3_s_per_m"), without_unit("age_years")
    ('specific_capacity', 'age_years')
    """
    for suffix in SUFFIX_UNITS:
        if name.endswith(suffix):
            return name.removesuffix(suffix)
    return name


@lru_cache(maxsize=4096)
def _converted(number: float, word: str, unit: str) -> float:
    """`number` of the unit called `word` in `unit`; kept, since lists repeat themselves.

    A word that is no unit of this kind is tried in small letters too: telephones write "8 Ft" and "5 Gal".
    """
    try:
        return _as_written(number, word, unit)
    except UnitError:
        if word != word.lower():
            with suppress(UnitError):
                return _as_written(number, word.lower(), unit)
        raise


def _as_written(number: float, word: str, unit: str) -> float:
    """`number` of the unit called exactly `word`, in `unit`. Raises `UnitError` for no unit or one of another kind."""
    word = _MARKS.get(word, word)
    if not is_unit(word.removesuffix(".")):
        raise UnitError("has an unknown unit.")  # pint would compute whatever powers somebody writes there
    word = _per(word.removesuffix("."))
    if unit.endswith("degC") and word not in ("K", "kelvin"):
        word = unit.removesuffix("degC") + _TEMPERATURE_WORDS.get(word.lower(), word)
    word = _POWER_OF_LENGTH.sub(lambda match: f"{match[1]}**{'2' if match[2] in '2²' else '3'}", _WORDS.get(word, word))
    return in_unit(number, word, unit)


def read_quantity(value: object, unit: str, *, unit_needed: bool = False) -> float:
    """A number, or text with a unit, as a float in `unit` ("" for a plain number or share).

    Text that is a bare number is read in `unit` too, unless a `unit_needed` is missing from it.
    Raises `UnitError` for booleans, text that is no quantity, and quantities of another kind.

    >>> round(read_quantity("55 ft", "m"), 3)
    16.764
    >>> round(read_quantity("41 F", "degC"), 9), round(read_quantity("1 hr 15 min", "min"), 9)
    (5.0, 75.0)
    """
    if isinstance(value, bool) or value is None:
        raise UnitError("is not a number.")
    if isinstance(value, int | float):
        try:
            number = float(value)
        except OverflowError:
            raise UnitError("is too large.") from None
    elif isinstance(value, str):
        number = _number_in(value, unit, unit_needed)
    else:
        raise UnitError("is not a number or a text with a unit.")
    return _finite(number)


# A job is read again for every change that is tried on it, and holds the same texts each time. Those refused, which may
# be long, are not kept.
@lru_cache(maxsize=2048)
def _number_in(text: str, unit: str, unit_needed: bool) -> float:
    number, word = split_quantity(text)
    if unit_needed and not word:
        raise UnitError("has no unit.")
    pair = split_pair(text) if unit in _PARTED else None
    if pair:
        return _sum(pair, unit)
    return _converted(number, word, unit) if word else number


def _sum(pair: tuple[Written, Written], unit: str) -> float:
    """5 ft 6 in as one number in `unit`: so many whole ones of a unit, and less than one more of it."""
    (wholes, word), (number, smaller) = pair
    one, rest = _converted(1.0, word, unit), _converted(number, smaller, unit) if smaller else math.inf
    if not wholes.is_integer() or not 0 <= rest < one:
        raise UnitError("is not a whole number of one unit and a smaller part of it, such as 5 ft 6 in.")
    return math.copysign(abs(wholes) * one + rest, wholes)


def read_quantities(value: object, unit: str, *, unit_needed: bool = False) -> tuple[float, ...]:
    """A list of quantities, or one text with the unit at its end: "0, 5, 10 gpm"; read as `read_quantity` reads one.

    >>> read_quantities("0 5 10 m", "m")
    (0.0, 5.0, 10.0)
    """
    if isinstance(value, str):
        numbers, word = split_list(value)
        if not numbers:
            raise UnitError("is not a list of numbers with a unit.")
        if unit_needed and not word:
            raise UnitError("has no unit.")
        return tuple(_finite(_converted(number, word, unit) if word else number) for number in numbers)
    if isinstance(value, list | tuple):
        if len(value) > MOST_NUMBERS:
            raise UnitError(f"holds more than {MOST_NUMBERS} numbers.")
        return tuple(read_quantity(item, unit, unit_needed=unit_needed) for item in value)
    raise UnitError("is not a list of numbers.")


def _per(word: str) -> str:
    """ "gal a day" as "gal/day": pint's "a" is a year."""
    thing, each, time = word.rpartition(" a ")
    return f"{thing}/{time}" if each and time in _TIMES else word


def _finite(number: float) -> float:
    if not math.isfinite(number):
        raise UnitError("is not a finite number.")
    return number


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


def held_value(value: float, kind: str, system: System) -> float:
    """The inverse of `shown_value`."""
    factor, offset = _linear(kind, system)
    return (value - offset) / factor


# What a field of this unit is written in for a US user: the word, and its digits are those of the field.
_WRITTEN_US: dict[str, str] = {
    "m": "ft",
    "m**2": "ft**2",
    "m**3": "gal",
    "m**3/s": "gpm",
    "m**3/day": "gal/day",
    "m**3/s/m": "gpm/ft",
    "m/s": "mph",
    "degC": "F",
    "kPa": "psi",
}
_WRITTEN_SI: dict[str, str] = {
    **{unit: unit for unit in ("m", "m**2", "m**3", "m**3/day", "m/s", "kPa", "V", "A", "W", "min")},
    **{unit: unit for unit in ("W/m**2", "kJ/m**2")},
    "m**3/s": "L/min",
    "m**3/s/m": "L/min/m",
    "degC": "C",
}
# Units that `written` always puts behind a number: text without one is not what this program wrote, and half of its
# readers would take it for feet. Degrees, hours and wire areas are written bare, and may be read so.
NEEDED_IN_TEXT = frozenset(_WRITTEN_SI)
_SPANS = ("daily_swing_c",)  # differences of temperature, written as a plain number of kelvins


def held_unit(name: str) -> str:
    """The unit in which the field `name` is held, a difference of temperatures told apart from a temperature."""
    return "delta_degC" if name in _SPANS else unit_of(name)


_SMALL_M = 0.6  # lengths below two feet are written in inches or millimetres
_DIGITS = 6


def written(value: float, name: str, system: System) -> str:
    """A value of the field `name` (SI) as a technician would write it into the job: "130 ft", "39.6 m", "12".

    Six digits: it reads back to within a millionth. Times, angles, volts and watts are the same in both systems.

    >>> written(39.624, "lift_m", "us"), written(0.035052, "bore_m", "us"), written(0.03, "soiling", "us")
    ('130 ft', '1.38 in', '0.03')
    """
    unit = "" if name in _SPANS else unit_of(name)
    word = {**_WRITTEN_SI, **(_WRITTEN_US if system == "us" else {})}.get(unit, "")
    if unit == "m" and 0 < abs(value) < _SMALL_M:
        word = "in" if system == "us" else "mm"
    if word in ("", unit):
        return f"{value:.{_DIGITS}g} {word}".strip()
    number = in_unit(value, unit, _TEMPERATURE_WORDS.get(word.lower(), word))
    return f"{number:.{_DIGITS}g} {word}"


def field_shown(value: float, name: str, system: System) -> tuple[float, str]:
    """A value of the field `name` (SI) for a printed line: the number, and its unit with the space before it.

    >>> field_shown(445.907, "flip_dose_kj_m2", "si"), field_shown(9, "lag_deg", "us")
    ((445.907, ' kJ/m²'), (9.0, '°'))
    """
    number, _, word = written(value, name, system).partition(" ")
    held = held_unit(name)
    label = f" {_PRINTED.get(word, word)}" if word else _LIMIT_WORDS.get(held, f" {held}")
    return float(number), label.replace("**2", "²").replace("**3", "³").rstrip()


_PRINTED = {"C": "°C", "F": "°F"}
# How a limit of a field of this unit is told: as which kind, or in which word where both systems share it.
_LIMIT_KINDS = {
    "m": "length", "m**3": "volume", "m**3/s": "flow", "m**3/day": "volume_per_day", "m/s": "speed",
    "degC": "temperature", "kPa": "pressure",
}  # fmt: skip
_LIMIT_WORDS = {
    "deg": "°", "hour": " h", "mm**2": " mm²", "m**2": " m²", "W/m**2": " W/m²", "kJ/m**2": " kJ/m²",
    "m**3/s/m": " m³/s/m", "delta_degC": " °C",
}  # fmt: skip


def in_both(value: float, unit: str) -> str:
    """A limit of a field held in `unit`, in US and in metric units: whoever reads it has written either.

    >>> in_both(600, "m"), in_both(60, "degC"), in_both(90, "deg"), in_both(2000, "V"), in_both(0, "m")
    ('1,969 ft (600 m)', '140 °F (60 °C)', '90°', '2000 V', '0 m')
    """
    kind = _LIMIT_KINDS.get(unit)
    if kind == "length" and 0 < abs(value) < _SMALL_M:
        kind = "bore"
    if kind is None:
        return f"{value:g}{_LIMIT_WORDS.get(unit, f' {unit}' if unit else '')}"
    if value == 0 and kind != "temperature":
        return f"0 {unit_label(kind, 'si')}"
    return f"{_limit(value, kind, 'us')} ({_limit(value, kind, 'si')})"


def _limit(value: float, kind: str, system: System) -> str:
    number = shown_number(value, kind, system, digits=4)
    return f"{number.rstrip('0').rstrip('.') if '.' in number else number} {unit_label(kind, system)}"


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
