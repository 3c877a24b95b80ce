"""Reading a quantity: `read_quantity("55 ft", "m")` gives a float in the unit of its field.

A field holds SI, degrees for angles and °C for temperatures; the end of its name says which. Gallons are US
gallons. `unit_factors` has the factors.
"""

from __future__ import annotations

import math
import re
from contextlib import suppress
from functools import lru_cache

from trackersim.quantity_text import MOST_NUMBERS, UnitError, Written, is_unit, split_list, split_pair, split_quantity
from trackersim.unit_factors import in_unit

__all__ = ["SUFFIX_UNITS", "UnitError", "read_quantities", "read_quantity", "unit_of", "without_unit"]

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
