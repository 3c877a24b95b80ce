"""The kinds of value a job file may hold, and the base class of its sections.

Inside, a field's name ends in its unit (`lift_m`); in the file the key is the name without it (`lift`), because the
value may carry a unit of its own ("70 ft"). A bare number (lift = 21.3) is read in the field's own unit; in quotes it
must say its unit, except where there is but one to say (degrees, hours, wire areas). Shares are 0…1 or "5 %".
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict
from pydantic_core import PydanticCustomError

from trackersim.quantity_reading import UnitError, read_quantities, read_quantity, without_unit
from trackersim.quantity_text import MOST_LETTERS
from trackersim.quantity_writing import NEEDED_IN_TEXT

_LARGEST_NAME = 10_000  # of a name that is a number


def _reads(unit: str) -> BeforeValidator:
    needed = unit in NEEDED_IN_TEXT

    def read(value: object) -> float:
        return float(_told(lambda: read_quantity(value, unit, unit_needed=needed)))

    return BeforeValidator(read)


def _reads_list(unit: str) -> BeforeValidator:
    needed = unit in NEEDED_IN_TEXT

    def read(value: object) -> tuple[float, ...]:
        return tuple(_told(lambda: read_quantities(value, unit, unit_needed=needed)))

    return BeforeValidator(read)


def _told(read: Callable[[], Any]) -> Any:
    try:
        return read()
    except UnitError as error:
        raise ValueError(str(error)) from None


def _read_month_day(value: object) -> str:
    """Check "MM-DD" (02-29 is refused: it would exist only every fourth year)."""
    if isinstance(value, str) and len(value) == 5:
        try:
            dt.date.fromisoformat(f"2025-{value}")
        except ValueError:
            pass
        else:
            return value
    raise ValueError('is not a day of the year as "MM-DD", such as "04-20".')


def text_of(value: object) -> str:
    """A name that may be written as a number too (gauge = 10) as text. Raises `ValueError` for what is neither."""
    if isinstance(value, str) and len(value) <= MOST_LETTERS:
        return value
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) < _LARGEST_NAME:
        return str(value)
    raise ValueError("is neither a short text nor a small whole number.")


def refuse(field: str, reason: str) -> PydanticCustomError:
    """A fault between fields of one section, told at the field to mend: `raise refuse("vmp", "must be …")`."""
    return PydanticCustomError("fault", "{reason}", {"field": field, "reason": reason})


def _read_count(value: object) -> object:
    """True is no count, although Python takes it for 1."""
    if isinstance(value, bool):
        raise ValueError("is not a whole number.")
    return value


Count = Annotated[int, BeforeValidator(_read_count)]
Number = Annotated[float, _reads("")]
Share = Annotated[float, _reads("")]
Length = Annotated[float, _reads("m")]
Angle = Annotated[float, _reads("deg")]
Hours = Annotated[float, _reads("hour")]
Minutes = Annotated[float, _reads("min")]
Speed = Annotated[float, _reads("m/s")]
Temperature = Annotated[float, _reads("degC")]
TemperatureSpan = Annotated[float, _reads("delta_degC")]
Watts = Annotated[float, _reads("W")]
Irradiance = Annotated[float, _reads("W/m**2")]
Dose = Annotated[float, _reads("kJ/m**2")]
Volts = Annotated[float, _reads("V")]
Amperes = Annotated[float, _reads("A")]
Area = Annotated[float, _reads("mm**2")]
SquareMetres = Annotated[float, _reads("m**2")]
Flow = Annotated[float, _reads("m**3/s")]
DailyVolume = Annotated[float, _reads("m**3/day")]
SpecificCapacity = Annotated[float, _reads("m**3/s/m")]
Flows = Annotated[tuple[float, ...], _reads_list("m**3/s")]
Volume = Annotated[float, _reads("m**3")]
Pressure = Annotated[float, _reads("kPa")]
DailyVolumes = Annotated[tuple[float, ...], _reads_list("m**3/day")]
Lengths = Annotated[tuple[float, ...], _reads_list("m")]
Powers = Annotated[tuple[float, ...], _reads_list("W")]
Shares = Annotated[tuple[float, ...], _reads_list("")]
MonthDay = Annotated[str, BeforeValidator(_read_month_day)]


# For a list of sections, `Annotated[tuple[Wire, ...], OneOrMany]`: a single one may be written [wire] for [[wire]].
OneOrMany = BeforeValidator(lambda value: [value] if isinstance(value, dict) else value)


class Section(BaseModel):
    """Base of every section: immutable, unknown keys refused, keys without unit suffix in the file."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        alias_generator=without_unit,
        populate_by_name=True,
        allow_inf_nan=False,
        str_strip_whitespace=True,
        str_max_length=400,
    )

    def plain(self) -> dict[str, Any]:
        """It as plain data under the keys of a job file; what is None is left out."""
        return self.model_dump(mode="json", by_alias=True, exclude_none=True)
