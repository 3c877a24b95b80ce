"""The program's own plain CSV: measured logs and anything else with named columns.

    # label = interval ending
    # utc_offset = -5
    # latitude = 36.10
    # longitude = -79.95
    # elevation = 273
    time,ghi,dni,dhi,air_c,wind_m_s,wind_from_deg
    2025-04-15 00:01,0,0,0,8.1,1.2,200

- Lines that start with "#" hold `key = value`. `label` says what a stamp means and is required, unless the time
  column's name says it (`time_start`, `time_end`, `time_centre`): "interval ending" ("hour ending", "end"),
  "interval starting" ("hour starting", "start"), "interval centre" ("centre", "center"), "instant".
  `utc_offset` in hours of standard time is required unless every stamp carries its own ("2025-04-15T06:00-05:00").
  `latitude`, `longitude` (degrees), `elevation` (m) are used to check the file against the site; `typical = yes`
  puts the rows on the job's year.
- `time` is ISO: year first; 24:00 is the end of the day.
- Light in W/m²: `ghi`, `dni`, `dhi`, also `ghi_w_m2` and so on. GHI alone, or DNI with DHI, is enough.
- Air: `air_c` or `air_f`. Wind: `wind_m_s`, `wind_mph` or `wind_km_h`; direction it comes from: `wind_from_deg`.
- Rain in the interval: `rain_mm`; it washes the modules.
- Separator comma, semicolon or tab (decimal commas with the latter two); an empty field, "NaN", 9999, -9900, -9999
  mean missing.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from trackersim import units
from trackersim.arrays import FloatArray
from trackersim.errors import Fault, InputError, Notice, counted
from trackersim.weather import cells
from trackersim.weather.limits import HEAD
from trackersim.weather.raw import COLUMNS, FIELD, RawTable, Row, as_numbers, chosen, fault, note, typical_centres
from trackersim.weather.shape import check_quotes

_LAYOUT = "See weather_samples/README.md for the layout, or start from the file of sample:clear-spring-day."

# Normalised column name -> (what it is, unit)
_NAMES: dict[str, tuple[str, str]] = {
    **{f"{light}{tail}": (light, "") for light in ("ghi", "dni", "dhi") for tail in ("", "_w_m2")},
    "air_c": ("air_c", ""),
    "air_f": ("air_c", "F"),
    "wind_m_s": ("wind_m_s", ""),
    "wind_mph": ("wind_m_s", "mph"),
    "wind_km_h": ("wind_m_s", "km/h"),
    "wind_from_deg": ("wind_from_deg", ""),
    "rain_mm": ("rain_mm", ""),
}
_TIME_NAMES = {"time": "", "time_start": "start", "time_end": "end", "time_centre": "centre", "time_center": "centre"}
# First word that matches -> place of the interval's centre, in intervals after the stamp.
_LABELS = (("end", -0.5), ("start", 0.5), ("cent", 0.0), ("instant", 0.0))
_MISSING_CODES = (9999.0, -9900.0, -9999.0, -99999.0)
_OFFSET = re.compile(r"(?:Z|[+-]\d{2}:?\d{2})$")


@dataclass(frozen=True, kw_only=True)
class _Head:
    """The lines above the rows, and the rows: each with the number of its line in the file, from 1."""

    keys: dict[str, str]
    columns: list[str]
    separator: str
    lines: tuple[tuple[int, str], ...]

    @property
    def label(self) -> str:
        named = next((_TIME_NAMES[name] for name in self.columns if name in _TIME_NAMES), "")
        return named or self.keys.get("label", "")

    def number(self, key: str) -> float | None:
        text = self.keys.get(key, "")
        try:
            return float(text) if text else None
        except ValueError:
            raise fault(text, f'is no number for "# {key} =".', f"Write the line as # {key} = 12.5.") from None


def head_of(text: str) -> _Head | None:
    """The head of a plain CSV, or None when the text has no line of column names with a time and some light."""
    keys: dict[str, str] = {}
    lines = text.split("\n")
    for number, line in enumerate(lines[:100]):
        bare = line.strip().strip(",;")
        if not bare:
            continue
        if bare.startswith("#"):
            key, equals, value = bare.lstrip("# ").partition("=")
            if equals:
                keys[key.strip().lower().replace(" ", "_")] = value.strip()
            continue
        separator = next((each for each in ";\t," if each in line), ",")
        columns = [_normalised(each) for each in line.split(separator)]
        if any(name in _TIME_NAMES for name in columns) and any(name in _NAMES for name in columns):
            rows = tuple((at, row) for at, row in enumerate(lines[number + 1 :], number + 2) if _is_row(row))
            return _Head(keys=keys, columns=columns, separator=separator, lines=rows)
        return None
    return None


def read_plain(text: str, path: Path, year: int) -> RawTable:
    """The rows of a plain CSV. `InputError` lists everything the head lacks at once."""
    head = head_of(text)
    if head is None:
        raise fault(str(path), "has no line of column names with time and ghi.", _LAYOUT)
    frame = _rows(head, path)
    stamps = frame[next(name for name in head.columns if name in _TIME_NAMES)].fillna("").astype(str).str.strip()
    shift = _label_shift(head.label)
    _check_head(head, shift, carries_offset=bool(_OFFSET.search(stamps.iloc[0][10:])))
    line_of = [head.lines[row][0] for row in frame.index]
    local_s, offset_h, notices = _clock(stamps, head.number("utc_offset"), line_of)
    step_min = native_step_min(local_s)
    columns = {name: np.full(len(frame), np.nan) for name in COLUMNS}
    for name in head.columns:
        if name in _NAMES:
            kind, unit = _NAMES[name]
            columns[kind] = _in_si(_numbers(frame[name]), unit)
    centre_s = local_s + (shift or 0.0) * step_min * 60
    table = RawTable(
        label=head.label,
        centre_s=centre_s,
        columns=columns,
        offset_h=offset_h,
        instant=head.label.lower().startswith("instant"),
        step_min=step_min,
        latitude_deg=head.number("latitude"),
        longitude_deg=head.number("longitude"),
        elevation_m=head.number("elevation"),
        notices=notices,
    )
    typical = head.keys.get("typical", "").lower() in ("yes", "true", "1")
    return _on_year(table, year) if typical else table


def native_step_min(stamps_s: FloatArray) -> int:
    """The usual distance of neighbouring stamps in minutes; `InputError` unless it is a divisor of 60 minutes."""
    gaps = np.diff(np.unique(stamps_s))
    if gaps.size == 0:
        raise fault("1 row", "is too little to tell how far the samples are apart.", "Use a log of at least one day.")
    step_s = float(np.median(gaps))
    step = round(step_s / 60)
    if step < 1 or abs(step_s - step * 60) > 1 or 60 % step:
        remedy = "Average the log to 1, 2, 5, 10, 15, 30 or 60 minutes first."
        raise fault(f"{step_s:g} s", "is the usual time between rows, which does not divide an hour.", remedy)
    return step


def _rows(head: _Head, path: Path) -> pd.DataFrame:
    """The rows as a table; its index counts `head.lines`."""
    doubled = [name for name in dict.fromkeys(head.columns) if name and head.columns.count(name) > 1]
    if doubled:
        raise fault(doubled[0], "is the name of two columns.", "Give each column a name of its own.")
    check_quotes(head.lines)
    cells.check_width(head.lines, width=len(head.columns), separator=head.separator)
    sample = "\n".join(row for _, row in head.lines[:50])
    decimal = "," if head.separator != "," and re.search(r"\d,\d", sample) else "."
    try:
        frame = pd.read_csv(
            io.StringIO("\n".join(row for _, row in head.lines)),
            sep=head.separator,
            header=None,
            names=[name or f"without name {at}" for at, name in enumerate(head.columns)],
            index_col=False,
            comment="#",
            decimal=decimal,
            skipinitialspace=True,
            dtype={name: str for name in head.columns if name in _TIME_NAMES},
        )
    except ValueError:  # pandas' ParserError is one
        raise fault(str(path), "cannot be read as rows of columns.", _LAYOUT) from None
    frame = frame.dropna(how="all")
    if frame.empty:
        raise fault(str(path), "has column names but no rows.", _LAYOUT)
    return frame


def _is_row(line: str) -> bool:
    """Whether a line holds a row and no remark."""
    return bool(line.strip()) and not line.lstrip().startswith("#")


def _check_head(head: _Head, shift: float | None, *, carries_offset: bool) -> None:
    faults = []

    def lacks(value: object, reason: str, remedy: str) -> None:
        faults.append(Fault(field=FIELD, value=value, reason=reason, remedy=remedy))

    if shift is None:
        reason = "does not say whether a stamp is the start, the end or the centre of its interval."
        remedy = "Add the line # label = interval ending (or starting, centre, instant)."
        lacks(head.label or "no label", reason, remedy)
    if head.number("utc_offset") is None and not carries_offset:
        reason = "has times without a clock: hours from UTC are not given."
        lacks("no utc_offset", reason, "Add the line # utc_offset = -5 with the standard time of the logger's clock.")
    offset = head.number("utc_offset")
    first, last = HEAD["first_clock"].value, HEAD["last_clock"].value
    if offset is not None and not first <= offset <= last:
        lacks(offset, "is no UTC offset in hours.", f"Use hours from −{-first:g} to {last:g}, such as -5.")
    kinds = {_NAMES[name][0] for name in head.columns if name in _NAMES}
    if "ghi" not in kinds and not {"dni", "dhi"} <= kinds:
        lacks(", ".join(head.columns), "has neither ghi nor both dni and dhi.", "Add a column ghi in W/m².")
    if "air_c" not in kinds:
        lacks(", ".join(head.columns), "has no air temperature.", "Add a column air_c (or air_f).")
    if faults:
        raise InputError(faults)


def _label_shift(label: str) -> float | None:
    return next((shift for word, shift in _LABELS if word in label.lower()), None)


def _clock(
    stamps: pd.Series[str], given_h: float | None, line_of: Sequence[int]
) -> tuple[FloatArray, float, tuple[Notice, ...]]:
    """Local seconds at one fixed offset, that offset in hours, and remarks. `line_of` is each stamp's line."""
    notices: list[Notice] = []
    late = stamps.str.contains(r"[T ]24:00", regex=True)
    if late.any():
        stamps = stamps.str.replace(r"([T ])24:00", r"\g<1>00:00", regex=True)
        text = f"{int(late.sum())} stamps of 24:00 were read as 00:00 of the next day."
        short = Row(what="stamps of 24:00", many=counted(int(late.sum()), "row"), done="read as the next day's 00:00")
        notices.append(note(text, row=short))
    own = stamps.str.slice(10).str.extract(r"(Z|[+-]\d{2}:?\d{2})$", expand=False)
    if own.notna().any() and own.isna().any():
        row = int(np.flatnonzero(own.isna().to_numpy())[0])
        reason = f"carries no UTC offset in line {line_of[row]} while other stamps of the file do."
        raise fault(stamps.iloc[row], reason, "Write the offset on every stamp or on none.")
    moments = _moments(stamps, line_of)
    seconds = np.asarray((moments - pd.Timestamp("1970-01-01", tz="UTC")) / pd.Timedelta(seconds=1), dtype=float)
    seconds += 86400.0 * late.to_numpy()
    if own.isna().all():
        return seconds, float(given_h or 0.0), tuple(notices)
    hours = sorted({_offset_h(text) for text in own.unique()})
    offset_h = given_h if given_h is not None else hours[0]
    if len(hours) > 1:
        text = f"The stamps change between UTC offsets {hours} (daylight saving); all were put on {offset_h:g} h."
        short = Row(what="stamps that change their clock", many=f"{len(hours)} clocks", done=f"put on {offset_h:g} h")
        notices.append(note(text, row=short))
    return seconds + offset_h * 3600, offset_h, tuple(notices)


def _moments(stamps: pd.Series[str], line_of: Sequence[int]) -> pd.DatetimeIndex:
    """The stamps in UTC; one without an offset as if it were UTC, for the caller to set right."""
    moments = pd.to_datetime(stamps, format="ISO8601", errors="coerce", utc=True)
    # Text such as "20" or a bare year passes as ISO; outside living memory it is no stamp of a weather log.
    bad = (moments.isna() | (moments.dt.year < 1900) | (moments.dt.year > 2200)).to_numpy()
    if bad.any():
        row = int(np.flatnonzero(bad)[0])
        reason = f"is no date and time, in line {line_of[row]} of the file ({counted(int(bad.sum()), 'such line')})."
        raise fault(stamps.iloc[row], reason, "Write times as 2025-04-15 06:30, year first.")
    return pd.DatetimeIndex(moments)


def _offset_h(text: str) -> float:
    if text == "Z":
        return 0.0
    sign = -1 if text[0] == "-" else 1
    return sign * (int(text[1:3]) + int(text[-2:]) / 60)


def _numbers(values: pd.Series[float]) -> FloatArray:
    numbers = as_numbers(values)
    numbers[np.isin(numbers, _MISSING_CODES) | ~np.isfinite(numbers)] = np.nan
    return numbers


def _in_si(values: FloatArray, unit: str) -> FloatArray:
    if unit == "F":
        return units.held_value(values, "temperature", "us")
    if unit == "mph":
        return units.held_value(values, "speed", "us")
    return values / 3.6 if unit == "km/h" else values


def _on_year(table: RawTable, year: int) -> RawTable:
    """A plain file that calls itself typical, on the job's year."""
    moments = pd.to_datetime(table.centre_s, unit="s")
    midnight = moments.normalize()
    minute = np.asarray((moments - midnight) / pd.Timedelta(minutes=1), dtype=float)
    centre_s, kept = typical_centres(moments.month.to_numpy(), moments.day.to_numpy(), minute, year=year)
    table = replace(table, centre_s=centre_s, typical=True)
    if kept.all():
        return table
    text = f"The typical year holds a 29 February ({int((~kept).sum())} rows), which was left out."
    row = Row(what="29 February", many=counted(int((~kept).sum()), "row"), when="29 February", done="left out")
    return chosen(table, kept, note(text, row=row))


def _normalised(name: str) -> str:
    """ "GHI (W/m^2)" -> "ghi_w_m2", "Air [°C]" -> "air_c"."""
    name = name.strip().strip('"').lower().replace("²", "2").replace("^", "").replace("°", "")
    return re.sub(r"[^a-z0-9]+", "_", name).strip("_")
