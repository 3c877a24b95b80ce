"""TM2: a typical year in fixed columns (Marion & Urban, "User's Manual for TMY2s", NREL 1995, tables 3-1 and 3-2)."""

from __future__ import annotations

import re
from pathlib import Path

import pandas as pd

from trackersim.weather.raw import HeadPlace, RawTable, fault
from trackersim.weather.shape import TM2_ROW, numbered, row_dates
from trackersim.weather.typical import DAMAGED, column, hour_ending, parsed

HEAD = re.compile(
    r" ?\d{5} [^\n]{1,60}? (?P<clock>-?\d+) +(?P<north>[NS]) +(?P<lat>\d+) +(?P<lat_min>\d+) +(?P<east>[EW]) "
    r"+(?P<lon>\d+) +(?P<lon_min>\d+) +(?P<altitude>-?\d+)\s*$"
)
LEAST_LETTERS = 98  # of a row, up to the wind
# Places of the letters that are read, from 0.
_FIELDS = {
    "ghi": (17, 21), "dni": (23, 27), "dhi": (29, 33), "air": (67, 71), "from": (90, 93), "wind": (95, 98),
}  # fmt: skip


def read_tm2(text: str, path: Path, year: int) -> RawTable:
    """TM2: light in Wh/m² of the hour, temperatures and wind in tenths."""
    lines = [each for each in numbered(text) if each[1].strip()]
    place = HEAD.match(lines[0][1])
    if place is None:
        raise fault(lines[0][1][:80], "is no first line of a TM2.", DAMAGED)
    dates = row_dates(lines[1:], TM2_ROW)
    dates["year"] += 1900

    def parse() -> tuple[pd.DataFrame, None]:
        cells = {name: [line[start:end] for _, line in lines[1:]] for name, (start, end) in _FIELDS.items()}
        return pd.DataFrame(cells), None

    data, _ = parsed("TM2", path, len(dates["month"]), parse)
    columns = {name: column(data, name, codes=(9999,)) for name in ("ghi", "dni", "dhi")}
    columns["air_c"] = column(data, "air", codes=(9999,)) / 10
    columns["wind_m_s"] = column(data, "wind", codes=(999,)) / 10
    columns["wind_from_deg"] = column(data, "from", codes=(999,))
    return hour_ending("TM2", year, dates, end_min=dates["hour"] * 60, columns=columns, place=_place(place))


def _place(head: re.Match[str]) -> HeadPlace:
    north, east = 1 if head["north"] == "N" else -1, 1 if head["east"] == "E" else -1
    return {
        "offset_h": float(head["clock"]),
        "latitude_deg": north * (float(head["lat"]) + float(head["lat_min"]) / 60),
        "longitude_deg": east * (float(head["lon"]) + float(head["lon_min"]) / 60),
        "elevation_m": float(head["altitude"]),
    }
