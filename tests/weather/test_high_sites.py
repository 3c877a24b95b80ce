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
from trackersim.job.place import Site, WeatherChoice
from trackersim.simulation.scene import native_of, place_of
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


def job_at(
    folder: Path, log: str, *, latitude: float, longitude: float, offset_h: int, elevation_m: float | None = None
) -> Job:
    """The demo, without trees, at a place whose weather is `log`; the job says how high it lies, or does not."""
    (folder / "log.csv").write_text(log)
    height = {} if elevation_m is None else {"elevation_m": elevation_m}
    site = Site(latitude_deg=latitude, longitude_deg=longitude, utc_offset_h=offset_h, **height)
    moved = {"site": site, "trees": (), "weather": WeatherChoice(file="log.csv")}
    return load_job("demo").model_copy(update=moved).in_folder(folder)


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


ATACAMA = {"latitude": -22.9, "longitude": -68.2, "offset_h": -4}
LEH = {"latitude": 34.15, "longitude": 77.6, "offset_h": 5}


def heard(job: Job, words: str) -> list[tuple[str, str, str]]:
    """Level, field and text of what is said of the weather with these words in it."""
    told = place_of(job, native_of(job)).weather.notices
    return [(notice.level, notice.field, notice.text) for notice in told if words in notice.text]


def test_a_job_without_a_height_lies_where_its_file_does(tmp_path: Path) -> None:
    """At the sea, as such a job lay before, the air of such a winter lets through less, and the rest was left out."""
    log = clear_log(**LEH, elevation_m=3500.0, first="2025-01-05", in_head=True)
    silent = job_at(tmp_path, log, **LEH)
    told = job_at(tmp_path, log, **LEH, elevation_m=3500.0)
    ours, theirs = (place_of(job, native_of(job)).weather for job in (silent, told))
    assert (ours.dni_w_m2 == theirs.dni_w_m2).all()
    assert (ours.ghi_w_m2 == theirs.ghi_w_m2).all()
    assert [line[:2] for line in heard(silent, "does not say how high")] == [("note", "site.elevation")]
    assert not heard(told, "how high")
    # The answer is another than that of a job at the sea, and so is the job's hash.
    at_the_sea = job_at(tmp_path, log, **LEH, elevation_m=0.0)
    assert len({job.sha256() for job in (silent, told, at_the_sea)}) == 3


def test_a_height_that_nobody_gives_is_told(tmp_path: Path) -> None:
    job = job_at(tmp_path, clear_log(**ATACAMA, elevation_m=500.0, first="2025-06-20"), **ATACAMA)
    assert [line[:2] for line in heard(job, "at the sea")] == [("caution", "site.elevation")]


@pytest.mark.parametrize(("elevation_m", "cautions"), [(2400.0, 0), (2120.0, 0), (2680.0, 0), (2080.0, 1), (271.0, 1)])
def test_a_file_from_another_height_is_told(tmp_path: Path, elevation_m: float, cautions: int) -> None:
    log = clear_log(**ATACAMA, elevation_m=2400.0, first="2025-06-20", in_head=True)
    found = heard(job_at(tmp_path, log, **ATACAMA, elevation_m=elevation_m), "not corrected")
    assert [line[0] for line in found] == ["caution"] * cautions


def test_light_that_low_air_would_not_let_through_is_not_laid_on_the_horizon(tmp_path: Path) -> None:
    log = clear_log(**LEH, elevation_m=3500.0, first="2025-01-05", in_head=True)
    ((level, _, text),) = heard(job_at(tmp_path, log, **LEH, elevation_m=0.0), "than clean air lets through")
    assert level == "caution"
    assert "wrong height" in text
