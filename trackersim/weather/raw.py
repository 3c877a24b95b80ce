"""`RawTable`: what every format's reader hands to the cleaning, and the calendar of typical years."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, TypedDict

import numpy as np
import numpy.typing as npt
import pandas as pd

from trackersim.arrays import BoolArray, FloatArray
from trackersim.errors import InputError, Notice

IntArray = npt.NDArray[np.int64]

FIELD = "weather.file"
LIGHT = ("ghi", "dni", "dhi")
COLUMNS = (*LIGHT, "air_c", "wind_m_s", "wind_from_deg", "rain_mm")

_MONTH_DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
_FEB_29_MIN = 59 * 1440
_LONGEST_NUMBER = 100  # letters


@dataclass(frozen=True, kw_only=True)
class RawTable:
    """Rows as the file has them, in any order, with faults and gaps.

    `centre_s` (n) is the centre of the time each row's light stands for, in seconds of the local clock since
    1970-01-01 00:00 local time. `instant` is true when the light is a reading at that moment instead of a mean.
    `air_delay_s` is how much later than `centre_s` the air and wind were read. Every array in `columns` has n
    entries, NaN where the file gives none; light in W/m², °C, m/s, degrees, mm of rain. `step_min` is None when the
    rows must tell.
    """

    label: str
    centre_s: FloatArray
    columns: Mapping[str, FloatArray]
    offset_h: float
    instant: bool = False
    air_delay_s: float = 0.0
    step_min: int | None = None
    latitude_deg: float | None = None
    longitude_deg: float | None = None
    elevation_m: float | None = None
    typical: bool = False
    cut_by_hills: bool = False
    notices: tuple[Notice, ...] = ()


class HeadPlace(TypedDict):
    """What a file's head tells of its place, by the names of `RawTable`."""

    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    offset_h: float


def fault(value: object, reason: str, remedy: str) -> InputError:
    """An `InputError` about the weather file."""
    return InputError.of(FIELD, value, reason, remedy)


@dataclass(frozen=True, kw_only=True)
class Row:
    """What was found in a weather file as a row of a table: what, of how many, when, and what was done about it."""

    what: str
    many: str
    when: str = "throughout"
    done: str = "used as it is"


@dataclass(frozen=True, kw_only=True)
class Remark(Notice):
    """A remark about a weather file; `row` is the same in short, None for what is only to be known."""

    row: Row | None = None


def note(text: str, *, caution: bool = False, row: Row | None = None) -> Remark:
    """A `Remark` about the weather file."""
    return Remark(text=text, field=FIELD, level="caution" if caution else "note", row=row)


def as_numbers(values: pd.Series[Any]) -> FloatArray:
    """Cells as numbers (n,), NaN for whatever is none."""
    try:
        numbers = pd.to_numeric(values, errors="coerce")
    except OverflowError:  # whole numbers of hundreds of digits
        numbers = pd.to_numeric(values.where(values.astype(str).str.len() < _LONGEST_NUMBER), errors="coerce")
    return numbers.to_numpy(dtype=float, copy=True)


def year_start_s(year: int) -> float:
    """Seconds of the local clock at the start of `year`."""
    return float(np.datetime64(f"{year:04d}-01-01", "s").astype(np.int64))


def typical_centres(month: IntArray, day: IntArray, minute: FloatArray, *, year: int) -> tuple[FloatArray, BoolArray]:
    """Rows of a typical year on the calendar `year`: (centre_s, kept), each of shape (n,).

    `minute` is the centre in minutes after the start of the row's day; it may lie before 0 or beyond 1440 and wraps
    around the year's end. Rows whose centre falls on 29 February are not kept: a typical year has 365 days.
    """
    leap = bool(((month == 2) & (day == 29)).any())
    lengths = _MONTH_DAYS + np.array([0, int(leap), *[0] * 10])
    before = np.concatenate([[0], np.cumsum(lengths)[:-1]])
    of_year = ((before[month - 1] + day - 1) * 1440.0 + minute) % (lengths.sum() * 1440)
    kept = np.ones(len(of_year), dtype=bool)
    if leap:
        kept = (of_year < _FEB_29_MIN) | (of_year >= _FEB_29_MIN + 1440)
        of_year = np.where(of_year >= _FEB_29_MIN, of_year - 1440, of_year)
    if _is_leap(year):
        of_year = np.where(of_year >= _FEB_29_MIN, of_year + 1440, of_year)
    return year_start_s(year) + of_year * 60, kept


def with_leap_day(table: RawTable, *, year: int) -> RawTable:
    """A typical year on a leap `year` gets 28 February again as 29 February, when it has both neighbours."""
    if not (table.typical and _is_leap(year)):
        return table
    day = (table.centre_s - year_start_s(year)) // 86400
    twin = day == 58
    if not twin.any() or not (day == 60).any():
        return table
    columns = {name: np.concatenate([values, values[twin]]) for name, values in table.columns.items()}
    text = f"{year} is a leap year and a typical year has no 29 February: 28 February is used twice."
    return _changed(table, np.concatenate([table.centre_s, table.centre_s[twin] + 86400]), columns, note(text))


def chosen(table: RawTable, kept: BoolArray, remark: Notice) -> RawTable:
    """Only the rows `kept`, with a remark on the others."""
    columns = {name: values[kept] for name, values in table.columns.items()}
    return _changed(table, table.centre_s[kept], columns, remark)


def _changed(table: RawTable, centre_s: FloatArray, columns: dict[str, FloatArray], remark: Notice) -> RawTable:
    return replace(table, centre_s=centre_s, columns=columns, notices=(*table.notices, remark))


def _is_leap(year: int) -> bool:
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
