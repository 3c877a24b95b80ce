"""Weather files of high ground: read at the right height, and held against the site's."""

from __future__ import annotations

import datetime as dt
import os
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest

from trackersim import Job, load_job
from trackersim.job.place import WeatherChoice
from trackersim.sky.sun import sun_at
from trackersim.weather.clearsky import clear_sky
from trackersim.weather.load import native_weather

ALAMOSA = Path(os.environ.get("PVLIB_OLDER_DATA", "/nowhere")) / "surfrad-slv16001.dat"


def as_log(ends: pd.DatetimeIndex, light: np.ndarray, *, latitude: float, longitude: float, elevation: str = "") -> str:
    """Rows of `light` (3, n) at the ends of their intervals, with a height in the head or without."""
    offset_h = ends[0].utcoffset().total_seconds() / 3600
    head = [
        "# label = interval ending", f"# utc_offset = {offset_h:g}", f"# latitude = {latitude}",
        f"# longitude = {longitude}", *([f"# elevation = {elevation}"] if elevation else []),
        "time,ghi,dni,dhi,air_c,wind_m_s",
    ]  # fmt: skip
    rows = [
        f"{end:%Y-%m-%d %H:%M},{ghi:.1f},{dni:.1f},{dhi:.1f},{10 + row % 7 / 10:.1f},{2 + row % 5 / 10:.1f}"
        for row, (end, ghi, dni, dhi) in enumerate(zip(ends, *light, strict=True))
    ]
    return "\n".join([*head, *rows]) + "\n"


def clear_log(
    *, latitude: float, longitude: float, elevation_m: float, offset_h: int, first: str, in_head: bool = False
) -> str:
    """Ten days of hours of the program's own cloudless sky."""
    place = {"latitude_deg": latitude, "longitude_deg": longitude, "elevation_m": elevation_m}
    zone = dt.timezone(dt.timedelta(hours=offset_h))
    minutes = pd.date_range(f"{first} 00:00:30", periods=10 * 1440, freq="min", tz=zone)
    sky = clear_sky(minutes, sun_at(minutes, **place), **place)
    light = np.array([each.reshape(-1, 60).mean(axis=1) for each in (sky.ghi_w_m2, sky.dni_w_m2, sky.dhi_w_m2)])
    ends = minutes[::60].floor("min") + pd.Timedelta(hours=1)
    height = f"{elevation_m:g}" if in_head else ""
    return as_log(ends, light, latitude=latitude, longitude=longitude, elevation=height)


def job_at(folder: Path, log: str, *, latitude: float, longitude: float, offset_h: int, elevation_m: float) -> Job:
    """The demo, without trees, at a place whose weather is `log`."""
    (folder / "log.csv").write_text(log)
    demo = load_job("demo")
    place = {
        "latitude_deg": latitude, "longitude_deg": longitude, "elevation_m": elevation_m, "timezone": "",
        "utc_offset_h": float(offset_h),
    }  # fmt: skip
    moved = {"site": demo.site.model_copy(update=place), "trees": (), "weather": WeatherChoice(file="log.csv")}
    return demo.model_copy(update=moved).in_folder(folder)


@pytest.mark.parametrize("in_head", [True, False])
@pytest.mark.parametrize(
    ("latitude", "longitude", "elevation_m", "offset_h", "first"),
    [
        (34.15, 77.6, 3500.0, 5, "2025-01-05"),
        (-13.5, -71.9, 3400.0, -5, "2025-07-01"),
        (-16.5, -68.2, 4060.0, -5, "2025-12-18"),
        (38.5, -106.0, 3000.0, -7, "2025-01-05"),
    ],
)
def test_a_clear_sky_of_high_ground_is_read_whole(
    tmp_path: Path, latitude: float, longitude: float, elevation_m: float, offset_h: int, first: str, in_head: bool
) -> None:
    """Read as at the sea, its beam was more than the sun can give: refused, or clipped."""
    where = {"latitude": latitude, "longitude": longitude, "elevation_m": elevation_m, "offset_h": offset_h}
    weather = native_weather(job_at(tmp_path, clear_log(**where, first=first, in_head=in_head), **where))
    assert not [notice.text for notice in weather.notices if "possible" in notice.text]


@pytest.mark.skipif(not ALAMOSA.is_file(), reason="no pvlib 0.11.0 at hand: PVLIB_OLDER_DATA names its folder data")
def test_a_measured_day_at_2317_m_without_its_height_is_read_whole(tmp_path: Path) -> None:
    """Alamosa, Colorado, 1 January 2016 (SURFRAD): a cloudless day with up to 1,076 W/m² of beam."""
    minutes, about = pvlib.iotools.read_surfrad(ALAMOSA)
    place = {"latitude": about["latitude"], "longitude": -about["longitude"]}
    # The file begins at midnight UTC, five in the afternoon there: what is left of that evening is of the day before.
    local = minutes.index.tz_convert(dt.timezone(dt.timedelta(hours=-7)))
    light = np.zeros((3, 1440))
    light[:, local.hour * 60 + local.minute] = minutes[["ghi", "dni", "dhi"]].clip(lower=0).to_numpy().T
    ends = pd.date_range("2016-01-01 00:01", periods=1440, freq="min", tz=local.tz)
    job = job_at(tmp_path, as_log(ends, light, **place), **place, offset_h=-7, elevation_m=about["elevation"])
    weather = native_weather(job)
    assert weather.dni_w_m2.max() == pytest.approx(light[1].max(), abs=0.1)
    assert not [notice.text for notice in weather.notices if "direct light lie above" in notice.text]
