"""Typical-year formats that pvlib reads: TMY3, TM2, EPW and PVGIS's TMY in CSV and JSON.

What a row's stamp means, and what is made of it:

| format | stamp | light | air and wind |
|---|---|---|---|
| TMY3, TM2, EPW | local standard time, hour ending | mean of the 60 min before | read at the stamp |
| PVGIS TMY | UTC, whole hour | one satellite or model moment: stamp + "irradiance time offset" | read at the stamp |

Sources: Wilcox & Marion, NREL/TP-581-43156 (TMY3); Marion & Urban, "User's Manual for TMY2s", NREL 1995;
the EnergyPlus auxiliary programs manual (EPW); PVGIS 5.3 answers, whose `irradiance_time_offset` is 0.18 h in
Europe (a satellite scan) and 0.5 h with ERA5 (the middle of the model's hour).
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from pvlib import iotools

from trackersim.arrays import BoolArray, FloatArray
from trackersim.errors import InputError, Notice
from trackersim.weather.cells import check_table
from trackersim.weather.head import check_light_offset, check_place_exists
from trackersim.weather.raw import RawTable, chosen, fault, note, typical_centres

_DAMAGED = 'Download the file again, or use file = "sample:typical-year" or clear_sky = true for a first answer.'
_EPW_CELLS = 35  # of a row: EnergyPlus auxiliary programs manual
HOUR_ENDING = "hour ending, local standard time"


def read_tmy3(text: str, path: Path, year: int) -> RawTable:
    """TMY3: minutes of the day from its own date and time columns, since pvlib would move 29 February."""
    check_table(text, head="Date (MM/DD/YYYY)")
    data, meta = _parsed("TMY3", path, lambda: iotools.read_tmy3(io.StringIO(_plain_header(text))))
    dates = data["Date (MM/DD/YYYY)"].astype(str).str.split("/", expand=True)
    clock = data["Time (HH:MM)"].astype(str).str.split(":", expand=True)
    names = {
        "ghi": "ghi", "dni": "dni", "dhi": "dhi",
        "air_c": "temp_air", "wind_m_s": "wind_speed", "wind_from_deg": "wind_direction",
        "rain_mm": "Lprecip depth (mm)",
    }  # fmt: skip
    columns = {name: _column(data, source, codes=(-9900, -9999, 9999)) for name, source in names.items()}
    # Headed mm, but the files hold tenths: their small values are clicks of a 0.01 in (0.254 mm) gauge.
    columns["rain_mm"] = columns["rain_mm"] / 10
    return _hour_ending(
        "TMY3",
        year,
        month=_whole(dates[0], "TMY3", path),
        day=_whole(dates[1], "TMY3", path),
        end_min=_whole(clock[0], "TMY3", path) * 60.0 + _whole(clock[1], "TMY3", path),
        columns=columns,
        meta=meta,
        years=_whole(dates[2], "TMY3", path),
    )


def read_tm2(text: str, path: Path, year: int) -> RawTable:
    """TM2: fixed columns, temperatures and wind in tenths."""
    data, meta = _parsed("TM2", path, lambda: iotools.read_tmy2(path))
    columns = {
        "ghi": _column(data, "GHI", codes=(9999,)),
        "dni": _column(data, "DNI", codes=(9999,)),
        "dhi": _column(data, "DHI", codes=(9999,)),
        "air_c": _column(data, "DryBulb", codes=(9999,)) / 10,
        "wind_m_s": _column(data, "Wspd", codes=(999,)) / 10,
        "wind_from_deg": _column(data, "Wdir", codes=(999,)),
    }
    return _hour_ending(
        "TM2",
        year,
        month=_whole(data["month"], "TM2", path),
        day=_whole(data["day"], "TM2", path),
        end_min=_whole(data["hour"], "TM2", path) * 60.0,
        columns=columns,
        meta=meta,
        years=1900 + _whole(data["year"], "TM2", path),
    )


def read_epw(text: str, path: Path, year: int) -> RawTable:
    """EPW: hour 1 is 00:00–01:00; files with several records an hour give the minute each ends at."""
    check_table(text, width=_EPW_CELLS)
    data, meta = _parsed("EPW", path, lambda: iotools.read_epw(io.StringIO(_plain_header(text))))
    names = {
        "ghi": ("ghi", 9999), "dni": ("dni", 9999), "dhi": ("dhi", 9999),
        "air_c": ("temp_air", 99.9), "wind_m_s": ("wind_speed", 999), "wind_from_deg": ("wind_direction", 999),
        "rain_mm": ("liquid_precipitation_depth", 999),
    }  # fmt: skip
    columns = {name: _column(data, source, codes=(code,)) for name, (source, code) in names.items()}
    hour, minute = _whole(data["hour"], "EPW", path), _whole(data["minute"], "EPW", path)
    step = _epw_step_min(text)
    # Hourly files write 0, 30 or 60 as minute without meaning anything by it.
    end = hour * 60.0 if step == 60 else (hour - 1) * 60.0 + np.where(minute == 0, 60, minute)
    return _hour_ending(
        "EPW",
        year,
        month=_whole(data["month"], "EPW", path),
        day=_whole(data["day"], "EPW", path),
        end_min=end,
        columns=columns,
        meta=meta,
        years=_whole(data["year"], "EPW", path),
        step_min=step,
    )


def read_pvgis_csv(text: str, path: Path, year: int) -> RawTable:
    """PVGIS TMY as CSV, in UTC."""
    check_table(text, head="time(UTC)")
    content = io.BytesIO(text.encode())

    def parse() -> tuple[pd.DataFrame, Any]:
        data, meta = iotools.read_pvgis_tmy(content, pvgis_format="csv")
        return _all_dated(data), _pvgis_place(meta["inputs"], "irradiance time offset")

    return _pvgis(*_parsed("PVGIS TMY", path, parse), year)


def read_pvgis_json(text: str, path: Path, year: int) -> RawTable:
    """PVGIS TMY as JSON, in UTC."""

    def parse() -> tuple[pd.DataFrame, Any]:
        data, meta = iotools.read_pvgis_tmy(io.StringIO(text), pvgis_format="json")
        return _all_dated(data), _pvgis_place(meta["inputs"]["location"], "irradiance_time_offset")

    return _pvgis(*_parsed("PVGIS TMY", path, parse), year)


def is_pvgis_tmy_json(text: str) -> bool:
    """Whether JSON text is a PVGIS TMY answer (and not a refusal or another JSON file)."""
    try:
        answer = json.loads(text)
    except (ValueError, RecursionError):
        return False
    outputs = answer.get("outputs") if isinstance(answer, dict) else None
    return isinstance(outputs, dict) and "tmy_hourly" in outputs


def _all_dated(data: pd.DataFrame) -> pd.DataFrame:
    """The rows, if each has its time: pvlib pads a CSV that was cut off with empty rows."""
    lacking = int(np.asarray(data.index.isna()).sum())
    if lacking:
        raise ValueError(f"{lacking} of {len(data)} rows are missing")
    return data


def _pvgis_place(place: dict[str, Any], offset_key: str) -> dict[str, float | None]:
    """Latitude, longitude, elevation and time offset of the light (h), the last two None when not given."""
    keys = {"elevation_m": "elevation", "light_h": offset_key}
    optional = {name: None if place.get(key) is None else float(place[key]) for name, key in keys.items()}
    return {"latitude_deg": float(place["latitude"]), "longitude_deg": float(place["longitude"]), **optional}


def _pvgis(data: pd.DataFrame, place: dict[str, float | None], year: int) -> RawTable:
    """PVGIS rows on the whole-hour standard clock of their longitude; the year is rolled to local midnight."""
    check_place_exists(place["latitude_deg"], place["longitude_deg"])
    check_light_offset(place["light_h"])
    clock_h = float(round((place["longitude_deg"] or 0.0) / 15))
    light_min = 60 * (place["light_h"] or 0.0)
    index = pd.DatetimeIndex(data.index)
    minute = index.hour.to_numpy() * 60.0 + index.minute.to_numpy() + clock_h * 60 + light_min
    centre_s, kept = typical_centres(index.month.to_numpy(), index.day.to_numpy(), minute, year=year)
    names = {
        "ghi": "ghi", "dni": "dni", "dhi": "dhi",
        "air_c": "temp_air", "wind_m_s": "wind_speed", "wind_from_deg": "wind_direction",
    }  # fmt: skip
    notices = [_stitched(index.year.to_numpy())]
    if place["light_h"] is None:
        text = "The file does not say how many minutes after the hour PVGIS took its light; the full hour is assumed."
        notices.append(note(text))
    table = RawTable(
        kind="PVGIS TMY",
        label=f"moment {light_min:.0f} min after the full hour UTC",
        centre_s=centre_s,
        columns={name: _column(data, source, codes=(-9999, 9999)) for name, source in names.items()},
        offset_h=clock_h,
        instant=True,
        air_delay_s=-light_min * 60,
        step_min=60,
        latitude_deg=place["latitude_deg"],
        longitude_deg=place["longitude_deg"],
        elevation_m=place["elevation_m"],
        typical=True,
        notices=tuple(each for each in notices if each),
    )
    return _without_leap_day(table, kept)


def _hour_ending(
    kind: str,
    year: int,
    *,
    month: npt.NDArray[np.int64],
    day: npt.NDArray[np.int64],
    end_min: npt.NDArray[np.floating[Any]],
    columns: dict[str, FloatArray],
    meta: dict[str, Any],
    years: npt.NDArray[np.int64],
    step_min: int = 60,
) -> RawTable:
    """Rows whose stamp ends the interval, on the calendar `year`."""
    in_range = (month >= 1) & (month <= 12) & (day >= 1) & (day <= 31) & (end_min >= 0) & (end_min <= 1440)
    if not in_range.all():
        row = int(np.flatnonzero(~in_range)[0])
        value = f"{kind} row {row + 1} of the data"
        raise fault(value, "has a date or an hour that does not exist.", _DAMAGED)
    centre_s, kept = typical_centres(month, day, np.asarray(end_min - step_min / 2, dtype=float), year=year)
    stitched = _stitched(years)
    table = RawTable(
        kind=kind,
        label=HOUR_ENDING if step_min == 60 else f"{step_min} min ending, local standard time",
        centre_s=centre_s,
        columns=columns,
        offset_h=_head_number(meta, "TZ"),
        air_delay_s=step_min * 30.0,
        step_min=step_min,
        latitude_deg=_head_number(meta, "latitude"),
        longitude_deg=_head_number(meta, "longitude"),
        elevation_m=_head_number(meta, "altitude"),
        typical=True,
        notices=(stitched,) if stitched else (),
    )
    return _without_leap_day(table, kept)


def _head_number(meta: dict[str, Any], name: str) -> float:
    """A figure of the file's head; `InputError` for a word in its place."""
    try:
        return float(meta[name])
    except (KeyError, TypeError, ValueError):
        shown = {"TZ": "UTC offset", "altitude": "elevation"}.get(name, name)
        raise fault(meta.get(name), f"is no number for the file's {shown}.", "Correct the first line.") from None


def _without_leap_day(table: RawTable, kept: BoolArray) -> RawTable:
    if kept.all():
        return table
    text = f"The typical year holds a 29 February ({int((~kept).sum())} rows), which was left out."
    return chosen(table, kept, note(text))


def _stitched(years: npt.NDArray[np.int64]) -> Notice | None:
    """A remark when the months come from different years."""
    found = np.unique(years)
    if len(found) < 2:
        return None
    return note(
        f"Typical year: its months come from {len(found)} different years between {found[0]} and {found[-1]}. "
        "It shows what to expect on average, not what happened in one year."
    )


def _column(data: pd.DataFrame, name: str, *, codes: tuple[float, ...]) -> FloatArray:
    """A column as floats, NaN for missing-data codes and for a column the file does not have."""
    if name not in data.columns:
        return np.full(len(data), np.nan)
    values = pd.to_numeric(data[name], errors="coerce").to_numpy(dtype=float, copy=True)
    values[np.isin(values, codes)] = np.nan
    return values


def _whole(values: pd.Series[Any], kind: str, path: Path) -> npt.NDArray[np.int64]:
    """Parts of dates as integers; `InputError` for anything else among them."""
    numbers = pd.to_numeric(values, errors="coerce").to_numpy(dtype=float)
    bad = np.flatnonzero(~np.isfinite(numbers))
    if bad.size:
        reason = f"looks like a {kind} file, but row {bad[0] + 1} of its data has no date."
        raise fault(str(path), reason, _DAMAGED)
    return numbers.astype(np.int64)


def _plain_header(text: str) -> str:
    """The text with commas inside quoted place names removed: pvlib splits the first line at every comma."""
    first, _, rest = text.partition("\n")
    fields = next(csv.reader([first]), [])
    return ",".join(field.replace(",", " ").strip() for field in fields) + "\n" + rest


def _epw_step_min(text: str) -> int:
    """Minutes per record, from the header line DATA PERIODS,count,records per hour."""
    for line in text.splitlines()[:12]:
        parts = line.split(",")
        if parts[0].strip().upper() == "DATA PERIODS" and len(parts) > 2 and parts[2].strip().isdigit():
            per_hour = int(parts[2])
            return 60 // per_hour if per_hour and 60 % per_hour == 0 else 60
    return 60


def _parsed(kind: str, path: Path, parse: Callable[[], tuple[pd.DataFrame, Any]]) -> tuple[pd.DataFrame, Any]:
    try:
        data, meta = parse()
    except InputError:
        raise
    except Exception as error:
        # pvlib meets damaged files with whatever its parsing happens to hit (KeyError, IndexError, ValueError,
        # UnicodeDecodeError, pandas' own); to the reader all of them mean the same.
        reason = f"looks like a {kind} file but cannot be read to its end ({type(error).__name__}: {error})."
        raise fault(str(path), reason[:300], _DAMAGED) from None
    if len(data) == 0:
        raise fault(str(path), f"looks like a {kind} file but holds no rows.", _DAMAGED)
    return data, meta
