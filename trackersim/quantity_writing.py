"""Writing the value of a field: into a job as a technician would, for a printed line, or as a limit in both systems."""

from __future__ import annotations

from typing import get_args

from trackersim.quantity_reading import unit_of
from trackersim.unit_factors import in_unit
from trackersim.units import System, shown_number, unit_label

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
    number = in_unit(value, unit, _DEGREES.get(word, word))
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


_DEGREES = {"C": "degC", "F": "degF"}
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
    us, si = (f"{trimmed(value, kind, system)} {unit_label(kind, system)}" for system in get_args(System))
    return f"{us} ({si})"


def trimmed(value: float, kind: str, system: System) -> str:
    """The number in the unit shown, to four digits, without zeros at the end of its decimals."""
    number = shown_number(value, kind, system, digits=4)
    return number.rstrip("0").rstrip(".") if "." in number else number
