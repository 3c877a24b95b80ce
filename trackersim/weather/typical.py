"""Typical years: TMY3 and EPW, and what they share with TM2 (`tm2`) and PVGIS's TMY in CSV and JSON (`pvgis_table`).

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
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from pvlib import iotools

from trackersim.arrays import BoolArray, FloatArray
from trackersim.constants import MINUTES_A_DAY
from trackersim.errors import InputError, Notice, counted
from trackersim.weather.cells import check_table
from trackersim.weather.raw import HeadPlace, IntArray, RawTable, Row, as_numbers, chosen, fault, note, typical_centres
from trackersim.weather.shape import EPW_ROW, TMY3_ROW, first_line_place, numbered, row_dates

DAMAGED = 'Download the file again, or use file = "sample:typical-year" or clear_sky = true for a first answer.'
_TMY3_HEAD = "station, name, state, UTC offset, latitude, longitude and elevation, with commas between"
_EPW_HEAD = "LOCATION, place, state, country, source, number, latitude, longitude, UTC offset and elevation"
_EPW_CELLS = 35  # of a row: EnergyPlus auxiliary programs manual
HOUR_ENDING = "hour ending, local standard time"


def read_tmy3(text: str, path: Path, year: int) -> RawTable:
    """TMY3: hour 1 is 00:00–01:00."""
    place = first_line_place(first_cells(text), (4, 5, 3, 6), layout=_TMY3_HEAD)
    dates = row_dates(numbered(text)[2:], TMY3_ROW)
    check_table(text, head="Date (MM/DD/YYYY)")
    data, _ = parsed("TMY3", path, len(dates["month"]), lambda: (_table_below(text), None))
    names = {
        "ghi": "GHI (W/m^2)", "dni": "DNI (W/m^2)", "dhi": "DHI (W/m^2)",
        "air_c": "Dry-bulb (C)", "wind_m_s": "Wspd (m/s)", "wind_from_deg": "Wdir (degrees)",
        "rain_mm": "Lprecip depth (mm)",
    }  # fmt: skip
    columns = {name: column(data, source, codes=(-9900, -9999, 9999)) for name, source in names.items()}
    # Headed mm, but the files hold tenths: their small values are clicks of a 0.01 in (0.254 mm) gauge.
    columns["rain_mm"] = columns["rain_mm"] / 10
    end_min = dates["hour"] * 60 + dates["minute"]
    return hour_ending("TMY3", year, dates, end_min=end_min, columns=columns, place=place)


def read_epw(text: str, path: Path, year: int) -> RawTable:
    """EPW: hour 1 is 00:00–01:00; files with several records an hour give the minute each ends at."""
    place = first_line_place(first_cells(text), (6, 7, 8, 9), layout=_EPW_HEAD)
    dates = row_dates(numbered(text)[8:], EPW_ROW)
    check_table(text, width=_EPW_CELLS)
    data, _ = parsed("EPW", path, len(dates["month"]), lambda: iotools.read_epw(io.StringIO(_plain_header(text))))
    names = {
        "ghi": ("ghi", 9999), "dni": ("dni", 9999), "dhi": ("dhi", 9999),
        "air_c": ("temp_air", 99.9), "wind_m_s": ("wind_speed", 999), "wind_from_deg": ("wind_direction", 999),
        "rain_mm": ("liquid_precipitation_depth", 999),
    }  # fmt: skip
    columns = {name: column(data, source, codes=(code,)) for name, (source, code) in names.items()}
    hour, minute = dates["hour"], dates["minute"]
    step = _epw_step_min(text)
    # Hourly files write 0, 30 or 60 as minute without meaning anything by it.
    end = hour * 60 if step == 60 else (hour - 1) * 60 + np.where(minute == 0, 60, minute)
    return hour_ending("EPW", year, dates, end_min=end, columns=columns, place=place, step_min=step)


def hour_ending(
    kind: str,
    year: int,
    dates: dict[str, IntArray],
    *,
    end_min: IntArray,
    columns: dict[str, FloatArray],
    place: HeadPlace,
    step_min: int = 60,
) -> RawTable:
    """Rows whose stamp ends the interval, on the calendar `year`."""
    beyond = np.flatnonzero(end_min > MINUTES_A_DAY)
    if beyond.size:
        value = f"{kind} row {beyond[0] + 1} of the data"
        raise fault(value, "has a date or an hour that does not exist.", DAMAGED)
    centre_s, kept = typical_centres(
        dates["month"], dates["day"], np.asarray(end_min - step_min / 2, dtype=float), year=year
    )
    remark = stitched(dates["year"])
    table = RawTable(
        label=HOUR_ENDING if step_min == 60 else f"{step_min} min ending, local standard time",
        centre_s=centre_s,
        columns=columns,
        air_delay_s=step_min * 30.0,
        step_min=step_min,
        typical=True,
        notices=(remark,) if remark else (),
        **place,
    )
    return without_leap_day(table, kept)


def without_leap_day(table: RawTable, kept: BoolArray) -> RawTable:
    if kept.all():
        return table
    text = f"The typical year holds a 29 February ({int((~kept).sum())} rows), which was left out."
    row = Row(what="29 February", many=counted(int((~kept).sum()), "row"), when="29 February", done="left out")
    return chosen(table, kept, note(text, row=row))


def stitched(years: IntArray) -> Notice | None:
    """A remark when the months come from different years."""
    found = np.unique(years)
    if len(found) < 2:
        return None
    return note(
        f"Typical year: its months come from {len(found)} different years between {found[0]} and {found[-1]}. "
        "It shows what to expect on average, not what happened in one year."
    )


def column(data: pd.DataFrame, name: str, *, codes: tuple[float, ...]) -> FloatArray:
    """A column as floats, NaN for missing-data codes and for a column the file does not have."""
    if name not in data.columns:
        return np.full(len(data), np.nan)
    values = as_numbers(data[name])
    values[np.isin(values, codes)] = np.nan
    return values


def first_cells(text: str) -> list[str]:
    """The cells of the first line, without the commas inside quoted place names."""
    cells = next(csv.reader([text.partition("\n")[0]]), [])
    return [cell.replace(",", " ").strip() for cell in cells]


def _table_below(text: str) -> pd.DataFrame:
    """The table below the first line. (pvlib's `read_tmy3` works out an index too, which would move 29 February.)"""
    return pd.read_csv(io.StringIO(text.partition("\n")[2]))


def _plain_header(text: str) -> str:
    """The text with commas inside quoted place names removed: pvlib splits the first line at every comma."""
    return ",".join(first_cells(text)) + "\n" + text.partition("\n")[2]


def _epw_step_min(text: str) -> int:
    """Minutes per record, from the header line DATA PERIODS,count,records per hour."""
    for line in text.splitlines()[:12]:
        parts = line.split(",")
        if parts[0].strip().upper() == "DATA PERIODS" and len(parts) > 2 and parts[2].strip().isdecimal():
            per_hour = int(parts[2])
            return 60 // per_hour if per_hour and 60 % per_hour == 0 else 60
    return 60


def parsed(kind: str, path: Path, rows: int, parse: Callable[[], tuple[pd.DataFrame, Any]]) -> tuple[pd.DataFrame, Any]:
    """What a library reads; `InputError` where it meets what no check before has found, or not so many rows."""
    if not rows:
        raise fault(str(path), f"looks like a {kind} file but holds no rows.", DAMAGED)
    try:
        data, meta = parse()
    except InputError:
        raise
    except Exception:
        # Damaged files are met with whatever the parsing happens to hit (KeyError, IndexError, ValueError,
        # UnicodeDecodeError, pandas' own); to the reader all of them mean the same.
        data, meta = pd.DataFrame(), None
    if len(data) != rows:
        reason = f"looks like a {kind} file, but its lines are not those of one."
        raise fault(str(path), reason, DAMAGED)
    return data, meta
