"""Weather files for the tests, written in each format from one clear-sky year. All of it is invented."""

from __future__ import annotations

import datetime as dt
import json
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib

from trackersim.errors import InputError, Notice
from trackersim.sky.sun import Sun, sun_at
from trackersim.weather.clearsky import clear_sky
from trackersim.weather.downscale import minute_times
from trackersim.weather.formats import read_weather
from trackersim.weather.weather import Weather

PVLIB_DATA = Path(pvlib.__file__).parent / "data"
LATITUDE, LONGITUDE, ELEVATION = 36.10, -79.95, 273.0
PLACE = {"latitude_deg": LATITUDE, "longitude_deg": LONGITUDE, "elevation_m": ELEVATION}


@cache
def clear_minutes(
    year: int = 2025, offset_h: float = -5, latitude: float = LATITUDE, longitude: float = LONGITUDE
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """GHI, DNI, DHI of every minute of a clear year."""
    zone = dt.timezone(dt.timedelta(hours=offset_h))
    times = pd.date_range(pd.Timestamp(year, 1, 1, tz=zone) + pd.Timedelta(seconds=30), periods=525600, freq="min")
    place = {"latitude_deg": latitude, "longitude_deg": longitude, "elevation_m": ELEVATION}
    sky = clear_sky(times, sun_at(times, **place), **place)
    return sky.ghi_w_m2, sky.dni_w_m2, sky.dhi_w_m2


def clear_means(step: int = 60, **where: float) -> np.ndarray:
    """Means of GHI, DNI, DHI over each step of the clear year, shape (3, n)."""
    return np.array([light.reshape(-1, step).mean(axis=1) for light in clear_minutes(**where)])


def typical_rows(step: int = 60) -> list[tuple[int, int, float]]:
    """Month, day and minute at which each interval of a 365-day year ends (24:00 as minute 1440)."""
    ends = []
    for k in range(525600 // step):
        day = dt.date(2025, 1, 1) + dt.timedelta(days=k * step // 1440)
        ends.append((day.month, day.day, k * step % 1440 + step))
    return ends


def epw_head(
    *, latitude: float, longitude: float, offset_h: float, elevation: float = ELEVATION, per_hour: int = 1
) -> list[str]:
    """The eight lines above the rows of an EPW."""
    return [
        f"LOCATION,Invented Place,XX,XXX,invented,000000,{latitude},{longitude},{offset_h},{elevation}",
        "DESIGN CONDITIONS,0",
        "TYPICAL/EXTREME PERIODS,0",
        "GROUND TEMPERATURES,0",
        "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
        "COMMENTS 1,invented",
        "COMMENTS 2,invented",
        f"DATA PERIODS,1,{per_hour},Data,Sunday, 1/ 1,12/31",
    ]


def epw(*, step: int = 60, offset_h: float = -5, **where: float) -> str:
    """A clear year as EPW."""
    latitude, longitude = where.get("latitude", LATITUDE), where.get("longitude", LONGITUDE)
    head = epw_head(latitude=latitude, longitude=longitude, offset_h=offset_h, per_hour=60 // step)
    light = clear_means(step, offset_h=offset_h, **where)
    rows = []
    for (month, day, end), ghi, dni, dhi in zip(typical_rows(step), *light, strict=True):
        hour, minute = int((end - 1) // 60) + 1, int((end - 1) % 60) + 1
        year = 1999 if month % 2 else 2001
        rows.append(
            f"{year},{month},{day},{hour},{minute if step < 60 else 0},?9,{10 + hour / 10},5.0,50,98000,"
            f"0,0,300,{ghi:.1f},{dni:.1f},{dhi:.1f},0,0,0,0,270,2.5,5,5,20.0,7777,9,999999999,0,0.1,0,88,0.2,0,1"
        )
    return "\n".join([*head, *rows]) + "\n"


def pvgis_rows(*, time_offset_h: float, latitude: float, longitude: float) -> list[dict[str, object]]:
    """A clear year as PVGIS gives it: UTC hours, light at the moment hour + offset."""
    light = clear_minutes(offset_h=0, latitude=latitude, longitude=longitude)
    rows: list[dict[str, object]] = []
    for k in range(8760):
        at = dt.datetime(2025, 1, 1) + dt.timedelta(hours=k)
        year = 2007 if at.month % 2 else 2012
        moment = min(int(k * 60 + time_offset_h * 60), 525599)
        ghi, dni, dhi = (round(float(part[moment]), 2) for part in light)
        rows.append(
            {
                "time(UTC)": f"{year}{at:%m%d:%H%M}", "T2m": 10.0 + at.hour, "RH": 50.0, "G(h)": ghi, "Gb(n)": dni,
                "Gd(h)": dhi, "IR(h)": 300.0, "WS10m": 2.5, "WD10m": 270.0, "SP": 98000.0,
            }
        )  # fmt: skip
    return rows


@cache
def pvgis_json(*, time_offset_h: float | None = 0.1761, latitude: float = 45.0, longitude: float = 8.0) -> str:
    """A PVGIS 5.3 TMY answer (its keys as in pvlib's test data tmy_45.000_8.000_2005_2023.json)."""
    rows = pvgis_rows(time_offset_h=time_offset_h or 0.0, latitude=latitude, longitude=longitude)
    location: dict[str, object] = {"latitude": latitude, "longitude": longitude, "elevation": ELEVATION}
    if time_offset_h is not None:
        location["irradiance_time_offset"] = time_offset_h
    months = [{"month": month, "year": 2007 if month % 2 else 2012} for month in range(1, 13)]
    answer = {
        "inputs": {"location": location, "meteo_data": {"radiation_db": "invented", "meteo_db": "invented"}},
        "outputs": {"months_selected": months, "tmy_hourly": rows},
        "meta": {"inputs": {"location": {"description": "Selected location"}}, "outputs": {}},
    }
    return json.dumps(answer)


def pvgis_csv(*, time_offset_h: float = 0.1761, latitude: float = 45.0, longitude: float = 8.0) -> str:
    """The same as CSV."""
    rows = pvgis_rows(time_offset_h=time_offset_h, latitude=latitude, longitude=longitude)
    head = [
        f"Latitude (decimal degrees): {latitude:.3f}",
        f"Longitude (decimal degrees): {longitude:.3f}",
        f"Elevation (m): {ELEVATION}",
        f"Irradiance Time Offset (h): {time_offset_h}",
        "month,year",
        *[f"{month},{2007 if month % 2 else 2012}" for month in range(1, 13)],
        ",".join(rows[0]),
    ]
    body = [",".join(str(value) for value in row.values()) for row in rows]
    return "\r\n".join([*head, *body, "T2m: 2-m air temperature (degree Celsius)", ""])


def log(
    *,
    day: str = "2025-04-15",
    days: int = 1,
    step: int = 10,
    label: str = "interval ending",
    columns: tuple[str, ...] = ("ghi", "dni", "dhi"),
    keys: str = "",
    edit: dict[tuple[str, int], object] | None = None,
    keep: slice = slice(None),
    offset_text: str = "",
) -> str:
    """A clear-sky log in the plain CSV. `edit` overwrites (column, row) with any text; `keep` cuts rows."""
    start = pd.Timestamp(day)
    first = (start.day_of_year - 1) * 1440 // step
    light = dict(zip(("ghi", "dni", "dhi"), clear_means(step), strict=True))
    shift = {"end": step, "start": 0, "cent": step / 2}[next(w for w in ("end", "start", "cent") if w in label)]
    rows = []
    for k in range(days * 1440 // step):
        stamp = start + pd.Timedelta(minutes=k * step + shift)
        values: dict[str, object] = {name: f"{light[name][first + k]:.2f}" for name in columns}
        values |= {"air_c": f"{10 + 5 * np.sin(k * step / 1440 * 6.283):.2f}", "wind_m_s": "2.0"}
        for (name, row), value in (edit or {}).items():
            if row == k:
                values[name] = value
        rows.append(f"{stamp:%Y-%m-%d %H:%M:%S}{offset_text}," + ",".join(str(value) for value in values.values()))
    clock = "" if offset_text else "# utc_offset = -5\n"
    head = f"# label = {label}\n{clock}{keys}time,{','.join(columns)},air_c,wind_m_s"
    return "\n".join([head, *rows[keep]]) + "\n"


def read(folder: Path, content: str | bytes, *, name: str = "weather.dat", **where: float) -> Weather:
    """`content` written to a file whose name says nothing, and read back."""
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    year = int(where.pop("year", 2025))
    return read_weather(path, year=year, **{**PLACE, **where})


def said(weather: Weather, words: str) -> Notice:
    """The notice that holds `words`; fails with all notices when there is none."""
    found = [notice for notice in weather.notices if words in notice.text]
    assert found, f"no notice says {words!r}: {[notice.text for notice in weather.notices]}"
    return found[0]


def refused(error: InputError) -> str:
    """The text of a refusal that is one fault about the weather file with a reason and a remedy."""
    assert [fault.field for fault in error.faults] == ["weather.file"] * len(error.faults)
    assert all(fault.reason and fault.remedy for fault in error.faults)
    return str(error)


def sun_over(weather: Weather, *, latitude: float = LATITUDE, longitude: float = LONGITUDE) -> Sun:
    """The sun at the weather's minutes."""
    return sun_at(minute_times(weather), latitude_deg=latitude, longitude_deg=longitude, elevation_m=ELEVATION)


def centre_lag_min(weather: Weather, *, latitude: float, longitude: float) -> float:
    """Median distance of the light's centre of gravity from solar noon on the clearest days, minutes (+ late).

    Solar noon is found from the sun's own highest moment, independent of the reader's checks.
    """
    sun = sun_over(weather, latitude=latitude, longitude=longitude)
    noon = sun.direction[2].reshape(-1, 1440).argmax(axis=1) + 0.5
    per_day = 1440 // weather.step_min
    light = weather.ghi_w_m2.reshape(-1, per_day)
    sums = light.sum(axis=1)
    month = weather.times.month.to_numpy()[::per_day]
    # The brightest fifth of each month's days: a dull winter day and a bright summer day do not compare.
    clear = np.zeros(len(sums), dtype=bool)
    for each in np.unique(month):
        of_month = month == each
        clear |= of_month & (sums >= np.quantile(sums[of_month], 0.8)) & (sums > 0)
    minute = (np.arange(per_day) + 0.5) * weather.step_min
    centre = (light[clear] * minute).sum(axis=1) / sums[clear]
    return float(np.median(centre - noon[clear]))
