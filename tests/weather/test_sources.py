"""The clear sky, the bundled samples and the choice a job makes between them."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import makers
import numpy as np
import pandas as pd
import pytest

from trackersim.errors import InputError
from trackersim.job.place import Site, WeatherChoice
from trackersim.sky.sun import sun_at
from trackersim.weather import invent, load, samples
from trackersim.weather.clear import clear_weather
from trackersim.weather.clearsky import clear_sky
from trackersim.weather.formats import RawFile, raw_of, read_weather
from trackersim.weather.load import native_weather
from trackersim.weather.samples import SAMPLES, sample_path

SITE = Site(latitude_deg=36.10, longitude_deg=-79.95, elevation_m=273)
CLEAR = WeatherChoice(clear_sky=True, coldest_c=-3, warmest_c=31, daily_swing_c=11, wind_m_s=2.5)


def monthly(weather_air: np.ndarray, times: pd.DatetimeIndex, pick: str) -> pd.Series:
    daily = pd.Series(weather_air, times).resample("D").agg(pick)
    return daily.groupby(daily.index.month).mean()


def test_clear_year() -> None:
    weather = clear_weather(SITE, CLEAR)
    assert (weather.days, weather.step_min, weather.utc_offset_h) == (365, 1, -5)
    assert str(weather.times[0]) == "2025-01-01 00:00:30-05:00"
    assert monthly(weather.air_c, weather.times, "min").min() == pytest.approx(-3, abs=0.5)
    assert monthly(weather.air_c, weather.times, "max").max() == pytest.approx(31, abs=0.5)
    assert monthly(weather.air_c, weather.times, "min").idxmin() == 1
    assert (weather.wind_m_s == 2.5).all()
    assert weather.name == "clear sky"
    # Warmest at 15:00 mean solar time: 15:20 on the clock at 79.95 W, UTC−5.
    day = weather.air_c[180 * 1440 : 181 * 1440]
    assert day.argmax() / 60 == pytest.approx(15 + 20 / 60, abs=0.1)
    # A clear day is symmetric but for the drift of the declination and of the turbidity.
    assert abs(makers.centre_lag_min(weather, latitude=36.1, longitude=-79.95)) < 1.0


def test_clear_year_in_the_south_has_its_winter_in_july() -> None:
    weather = clear_weather(Site(latitude_deg=-25, longitude_deg=140), CLEAR)
    lows = monthly(weather.air_c, weather.times, "min")
    assert lows.idxmin() == 7
    assert lows.min() == pytest.approx(-3, abs=0.5)
    light = pd.Series(weather.ghi_w_m2, weather.times).resample("ME").mean()
    assert light.iloc[5] < 0.65 * light.iloc[11]


def test_clear_year_names_its_parameters() -> None:
    first = clear_weather(SITE, CLEAR)
    assert first.sha256 == clear_weather(SITE, CLEAR).sha256
    other = CLEAR.model_copy(update={"wind_m_s": 3.0})
    assert first.sha256 != clear_weather(SITE, other).sha256
    leap = CLEAR.model_copy(update={"year": 2024})
    assert clear_weather(SITE, leap).days == 366


def test_clear_sky_at_noon_is_plausible() -> None:
    # Clear summer noon at mid latitude, low altitude: 900–1050 W/m² global, 750–950 direct. Common experience;
    # TMY3 station 723170 itself has 1013 and 984 as the year's highest hours.
    times = pd.date_range("2025-06-21 12:20", periods=3, freq="min", tz="Etc/GMT+5")
    sky = clear_sky(times, sun_at(times, **makers.PLACE), **makers.PLACE)
    assert 900 < sky.ghi_w_m2[1] < 1050
    assert 750 < sky.dni_w_m2[1] < 950
    assert sky.dni_w_m2[1] < sky.cleanest_dni_w_m2[1] < 1120


@pytest.mark.parametrize("latitude", [-90.0, -66.0, 0.0, 78.0, 90.0])
def test_clear_sky_everywhere_is_finite(latitude: float) -> None:
    times = pd.date_range("2025-06-01", periods=30 * 144, freq="10min", tz="UTC")
    place = {"latitude_deg": latitude, "longitude_deg": 180.0, "elevation_m": 0.0}
    sun = sun_at(times, **place)
    sky = clear_sky(times, sun, **place)
    for light in (sky.ghi_w_m2, sky.dni_w_m2, sky.dhi_w_m2, sky.cleanest_dni_w_m2):
        assert np.isfinite(light).all()
        assert light.min() >= 0
        assert light[~sun.is_up].sum() == 0


@pytest.mark.parametrize("name", SAMPLES)
def test_samples_are_found_and_read_without_caution(name: str) -> None:
    path = sample_path(f"sample:{name}")
    assert path == sample_path(name)
    weather = read_weather(path, year=2025, latitude_deg=36.10, longitude_deg=-79.95)
    assert {"typical-year": (365, 60)}.get(name, (1, 1)) == (weather.days, weather.step_min)
    assert [notice for notice in weather.notices if notice.level != "note"] == []
    assert path.stat().st_size < 1_500_000


def test_typical_year_sample_equals_the_public_file() -> None:
    ours = read_weather(sample_path("typical-year"), year=2025, latitude_deg=36.1, longitude_deg=-79.95)
    theirs = read_weather(makers.PVLIB_DATA / "723170TYA.CSV", year=2025, latitude_deg=36.1, longitude_deg=-79.95)
    for name in ("ghi_w_m2", "dni_w_m2", "dhi_w_m2", "air_c", "wind_m_s", "wind_from_deg"):
        np.testing.assert_array_equal(getattr(ours, name), getattr(theirs, name))


def test_samples_in_an_installed_package(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    # As a wheel lays them out: trackersim/weather/samples.py beside trackersim/weather_samples/.
    module = tmp_path / "trackersim" / "weather" / "samples.py"
    inside = tmp_path / "trackersim" / "weather_samples"
    module.parent.mkdir(parents=True)
    inside.mkdir()
    (inside / "typical-year.csv").write_text("here")
    monkeypatch.setattr(samples, "__file__", str(module))
    assert sample_path("typical-year") == inside / "typical-year.csv"
    with pytest.raises(InputError, match="is missing from this installation"):
        sample_path("clear-spring-day")


def test_unknown_sample_lists_the_known() -> None:
    with pytest.raises(InputError, match="sample:typical-year, sample:clear-spring-day"):
        sample_path("sample:rainy-day")


@pytest.mark.parametrize(
    ("name", "make"), [("clear-spring-day", invent.clear_spring_day), ("broken-cloud-day", invent.broken_cloud_day)]
)
def test_invented_days_are_made_again_alike(name: str, make: Any) -> None:
    made, kept = make().splitlines(), sample_path(name).read_text(encoding="utf-8").splitlines()
    assert len(made) == len(kept) == 1447
    assert made[:7] == kept[:7]
    assert "invented, not measured" in kept[0]
    for new, old in zip(made[7:], kept[7:], strict=True):
        assert new.partition(",")[0] == old.partition(",")[0]
        # Another version of a library may round the last digit otherwise.
        ours, theirs = ([float(part) for part in row.split(",")[1:]] for row in (new, old))
        assert ours == pytest.approx(theirs, abs=0.11)


def test_broken_cloud_day_has_passages_and_bright_edges() -> None:
    cloudy = read_weather(sample_path("broken-cloud-day"), year=2025, latitude_deg=36.1, longitude_deg=-79.95)
    sun = makers.sun_over(cloudy)
    clear = clear_sky(cloudy.times, sun, **makers.PLACE)
    noon = slice(10 * 60, 16 * 60)
    ratio = cloudy.ghi_w_m2[noon] / clear.ghi_w_m2[noon]
    assert ratio.max() > 1.08
    assert ratio.min() < 0.35
    shaded = cloudy.dni_w_m2[noon] < 0.5 * clear.dni_w_m2[noon]
    assert 10 < np.count_nonzero(np.diff(shaded.astype(int)) == 1) < 50
    closure = cloudy.dni_w_m2 * np.maximum(sun.direction[2], 0) + cloudy.dhi_w_m2
    np.testing.assert_allclose(cloudy.ghi_w_m2, closure, atol=0.5)


def job(folder: Path, **choice: object) -> Any:
    return SimpleNamespace(site=SITE, weather=WeatherChoice(**choice), folder=folder)


def test_job_chooses_its_weather(tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text(makers.log())
    assert native_weather(job(tmp_path, file="log.csv")).name == "log.csv"
    assert native_weather(job(Path("/nowhere"), file=str(tmp_path / "log.csv"))).name == "log.csv"
    assert native_weather(job(tmp_path, file="sample:clear-spring-day")).days == 1
    assert native_weather(job(tmp_path, clear_sky=True)).name == "clear sky"
    assert native_weather(job(tmp_path, file="sample:typical-year", year=2023)).times[0].year == 2023
    for missing in ("other.csv", "~nobody-here/x.csv"):
        with pytest.raises(InputError, match="cannot be opened"):
            native_weather(job(tmp_path, file=missing))


def test_weather_is_kept_and_no_one_can_write_to_it(tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text(makers.log())
    for choice in ({"file": "log.csv"}, {"clear_sky": True}):
        first = native_weather(job(tmp_path, **choice))
        assert native_weather(job(tmp_path, **choice)) is first
        for name in ("ghi_w_m2", "air_c", "wind_m_s"):
            with pytest.raises(ValueError, match="read-only"):
                getattr(first, name)[0] = 0.0


def test_sites_with_one_file_read_it_once_and_each_for_itself(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "log.csv").write_text(makers.log())
    read: list[Path] = []

    def noted(path: Path, *, year: int) -> RawFile:
        read.append(path)
        return raw_of(path, year=year)

    monkeypatch.setattr(load, "raw_of", noted)
    found = job(tmp_path, file="log.csv")
    for height_m in (100.0, 2500.0):
        found.site = SITE.model_copy(update={"elevation_m": height_m})
        weather = native_weather(found)
        where = {"latitude_deg": SITE.latitude_deg, "longitude_deg": SITE.longitude_deg}
        alone = read_weather(tmp_path / "log.csv", year=2025, **where, elevation_m=height_m)
        np.testing.assert_array_equal(weather.dni_w_m2, alone.dni_w_m2)
        assert weather.notices == alone.notices
    assert len(read) == 1


def test_a_file_that_changed_is_read_again(tmp_path: Path) -> None:
    for first, later in (("2025-04-15", "2025-04-16"), ("2025-04-15", "2025-04-17")):  # dates alone: the same size
        (tmp_path / "log.csv").write_text(makers.log(day=first))
        before = native_weather(job(tmp_path, file="log.csv"))
        (tmp_path / "log.csv").write_text(makers.log(day=later))
        after = native_weather(job(tmp_path, file="log.csv"))
        assert [str(weather.times[0].date()) for weather in (before, after)] == [first, later]
