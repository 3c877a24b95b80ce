"""PVGIS's typical year as CSV or JSON: UTC, light at one moment of each hour (the table in `typical`).

Only the JSON says whether the terrain's hills were taken into account.
"""

from __future__ import annotations

import datetime as dt
import io
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd
from pvlib import iotools

from trackersim.weather.head import check_light_offset, check_place_exists
from trackersim.weather.raw import RawTable, fault, note, typical_centres
from trackersim.weather.shape import PVGIS_ROW, check_numbers, numbered, row_dates
from trackersim.weather.typical import DAMAGED, column, parsed, stitched, without_leap_day

HOURS = 8760
COLUMNS = ("T2m", "G(h)", "Gb(n)", "Gd(h)", "WS10m", "WD10m")
_MOST = 1e6  # no figure of the weather is larger; codes for missing data are smaller too
# What pvlib asks of an answer, by the words for it.
_PARTS: dict[str, tuple[str, ...]] = {
    "its place": ("inputs", "location"),
    "its description": ("meta", "inputs"),
    "the list of its months": ("outputs", "months_selected"),
}


def read_pvgis_csv(text: str, path: Path, year: int) -> RawTable:
    """PVGIS TMY as CSV, in UTC."""
    lines = numbered(text)
    at, head = next(((at, line) for at, line in lines if line.startswith("time(UTC)")), (0, ""))
    rows = lines[at : at + HOURS]
    _check_hours(sum(bool(row[:1].isdigit()) for _, row in rows), path)
    row_dates(rows, PVGIS_ROW)
    check_numbers(rows, cells=head.count(",") + 1)
    content = io.BytesIO(text.encode())

    def parse() -> tuple[pd.DataFrame, Any]:
        data, meta = iotools.read_pvgis_tmy(content, pvgis_format="csv")
        return data, _pvgis_place(meta["inputs"], "irradiance time offset")

    return _pvgis(*parsed("PVGIS TMY", path, HOURS, parse), year)


def read_pvgis_json(text: str, path: Path, year: int) -> RawTable:
    """PVGIS TMY as JSON, in UTC."""
    answer = json.loads(text)
    check_answer(answer)

    def parse() -> tuple[pd.DataFrame, Any]:
        data, meta = iotools.read_pvgis_tmy(io.StringIO(text), pvgis_format="json")
        return data, _pvgis_place(meta["inputs"]["location"], "irradiance_time_offset")

    cut = _within(answer, ("inputs", "meteo_data", "use_horizon")) is True
    hours = len(answer["outputs"]["tmy_hourly"])
    return replace(_pvgis(*parsed("PVGIS TMY", path, hours, parse), year), cut_by_hills=cut)


def is_pvgis_tmy_json(text: str) -> bool:
    """Whether JSON text is a PVGIS TMY answer (and not a refusal or another JSON file)."""
    try:
        answer = json.loads(text)
    except (ValueError, RecursionError):
        return False
    outputs = answer.get("outputs") if isinstance(answer, dict) else None
    return isinstance(outputs, dict) and "tmy_hourly" in outputs


def _check_hours(found: int, path: Path) -> None:
    if found < HOURS:
        reason = f"holds {found} of the {HOURS} hours of a year: it may have been cut off in a download."
        raise fault(str(path), reason, DAMAGED)


def check_answer(answer: dict[str, Any]) -> None:
    """`InputError` for a PVGIS answer that lacks its place or its hours, or holds what is no number among them."""
    lacking = [
        words
        for words, keys in _PARTS.items()
        if not isinstance(_within(answer, keys), dict if keys[-1] != "months_selected" else list)
    ]
    if lacking:
        raise fault(lacking[0], "is missing from the PVGIS answer.", DAMAGED)
    place = answer["inputs"]["location"]
    for key in ("latitude", "longitude", "elevation", "irradiance_time_offset"):
        if not _is_number(place.get(key)) and not (place.get(key) is None and key not in ("latitude", "longitude")):
            shown = "nothing" if place.get(key) is None else place[key]
            raise fault(shown, f"is no number for the PVGIS answer's {key.replace('_', ' ')}.", DAMAGED)
    rows = answer["outputs"]["tmy_hourly"]
    if not isinstance(rows, list) or not rows:
        raise fault("tmy_hourly", "holds no hours.", DAMAGED)
    for number, row in enumerate(rows, 1):
        if not isinstance(row, dict) or not _is_stamp(row.get("time(UTC)")):
            raise fault(f"hour {number}", "has no date and time that exist, in the PVGIS answer.", DAMAGED)
        odd = [key for key in COLUMNS if row.get(key) is not None and not _is_number(row[key])]
        if odd:
            raise fault(row[odd[0]], f"is no number for {odd[0]} in hour {number} of the PVGIS answer.", DAMAGED)


def _within(answer: object, keys: tuple[str, ...]) -> object:
    for key in keys:
        answer = answer.get(key) if isinstance(answer, dict) else None
    return answer


def _is_number(value: object) -> bool:
    """Whether JSON gave a number that can be a figure of the weather; it has whole numbers of thousands of digits."""
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < _MOST


def _is_stamp(value: object) -> bool:
    if not isinstance(value, str) or not PVGIS_ROW.fullmatch(f"{value},"):
        return False
    try:
        dt.datetime.strptime(value, "%Y%m%d:%H%M")
    except ValueError:
        return False
    return True


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
    notices = [stitched(index.year.to_numpy())]
    if place["light_h"] is None:
        text = "The file does not say how many minutes after the hour PVGIS took its light; the full hour is assumed."
        notices.append(note(text))
    table = RawTable(
        label=f"moment {light_min:.0f} min after the full hour UTC",
        centre_s=centre_s,
        columns={name: column(data, source, codes=(-9999, 9999)) for name, source in names.items()},
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
    return without_leap_day(table, kept)
