"""Minutes from coarser samples: means kept, no light at night, nothing impossible at the horizon."""

from __future__ import annotations

import dataclasses
import subprocess
import sys
from functools import cache

import makers
import numpy as np
import pytest

from trackersim.sky.sun import Sun
from trackersim.weather.clearsky import clear_sky
from trackersim.weather.minutes import minute_times, to_minutes
from trackersim.weather.readers import read_weather
from trackersim.weather.series import Weather

LIGHT = ("ghi_w_m2", "dni_w_m2", "dhi_w_m2")


@cache
def typical() -> tuple[Weather, Sun, Weather]:
    """The real hourly file, the sun over its minutes, and its minutes."""
    path = makers.PVLIB_DATA / "723170TYA.CSV"
    weather = read_weather(path, year=2025, latitude_deg=36.1, longitude_deg=-79.95)
    sun = makers.sun_over(weather)
    return weather, sun, to_minutes(weather, sun=sun, **makers.PLACE)


def clear_weather_of(step: int) -> Weather:
    """Means of the clear sky over `step` minutes."""
    weather, _, _ = typical()
    ghi, dni, dhi = makers.clear_means(step)
    times = minute_times(weather)[::step]
    count = len(ghi)
    return dataclasses.replace(
        weather, times=times, step_min=step, ghi_w_m2=ghi, dni_w_m2=dni, dhi_w_m2=dhi,
        air_c=np.zeros(count), wind_m_s=np.ones(count), wind_from_deg=None, notices=(),
    )  # fmt: skip


def test_minute_times_are_centres() -> None:
    weather, _, minutes = typical()
    times = minute_times(weather)
    assert (len(times), str(times[0]), str(times[-1])) == (
        525600,
        "2025-01-01 00:00:30-05:00",
        "2025-12-31 23:59:30-05:00",
    )
    assert minutes.times.equals(times)
    assert minutes.step_min == 1


@pytest.mark.parametrize("name", LIGHT)
def test_every_hour_keeps_its_light(name: str) -> None:
    weather, sun, minutes = typical()
    hourly = getattr(minutes, name).reshape(-1, 60).mean(axis=1)
    up = sun.is_up.reshape(-1, 60).any(axis=1)
    assert hourly[up] == pytest.approx(getattr(weather, name)[up], rel=0.005, abs=0.01)
    assert hourly.sum() == pytest.approx(getattr(weather, name).sum(), rel=1e-4)


def test_no_light_by_night_and_none_negative() -> None:
    _, sun, minutes = typical()
    for name in LIGHT:
        light = getattr(minutes, name)
        assert np.isfinite(light).all()
        assert light.min() == 0
        assert light[~sun.is_up].max() == 0


def test_hourly_means_of_a_clear_sky_give_the_clear_sky_back() -> None:
    weather = clear_weather_of(60)
    _, sun, _ = typical()
    minutes = to_minutes(weather, sun=sun, **makers.PLACE)
    for name, exact in zip(LIGHT, makers.clear_minutes(), strict=True):
        np.testing.assert_allclose(getattr(minutes, name), exact, atol=0.05)


@pytest.mark.parametrize("step", [30, 15, 5])
def test_shorter_steps_are_spread_too(step: int) -> None:
    weather = clear_weather_of(step)
    _, sun, _ = typical()
    minutes = to_minutes(weather, sun=sun, **makers.PLACE)
    for name in LIGHT:
        means = getattr(minutes, name).reshape(-1, step).mean(axis=1)
        np.testing.assert_allclose(means, getattr(weather, name), rtol=0.005, atol=0.01)


def test_beam_stays_below_the_cleanest_air() -> None:
    weather, sun, _ = typical()
    # Four times the beam in every hour in which the sun rises or sets: some of it can have no room.
    up = sun.is_up.reshape(-1, 60)
    edge = up.any(axis=1) & ~up.all(axis=1)
    heavy = dataclasses.replace(weather, dni_w_m2=np.where(edge, 400.0, weather.dni_w_m2))
    minutes = to_minutes(heavy, sun=sun, **makers.PLACE)
    sky = clear_sky(minutes.times, sun, **makers.PLACE)
    assert (minutes.dni_w_m2 <= sky.cleanest_dni_w_m2 + 1e-9).all()
    hourly = minutes.dni_w_m2.reshape(-1, 60).mean(axis=1)
    assert (hourly <= heavy.dni_w_m2 + 1e-6).all()
    lost = (heavy.dni_w_m2 - hourly).sum() / 1000
    assert lost > 10
    assert f"{lost:.2f} kWh/m²" in makers.said(minutes, "more direct light than clean air").text
    # What has room in its own hour is kept: the hours between the edges lose nothing.
    np.testing.assert_allclose(hourly[~edge], heavy.dni_w_m2[~edge], rtol=1e-6, atol=1e-6)


def test_light_in_hours_without_sun_is_told() -> None:
    weather, sun, _ = typical()
    night = ~sun.is_up.reshape(-1, 60).any(axis=1)
    lit = dataclasses.replace(weather, ghi_w_m2=np.where(night, 5.0, weather.ghi_w_m2))
    minutes = to_minutes(lit, sun=sun, **makers.PLACE)
    assert minutes.ghi_w_m2[~sun.is_up].max() == 0
    told = makers.said(minutes, "below the level horizon at the site").text
    assert told.startswith(f"{night.sum()} intervals of 60 min")


def test_one_minute_weather_passes_through() -> None:
    weather = clear_weather_of(1)
    _, sun, _ = typical()
    spoiled = dataclasses.replace(weather, ghi_w_m2=weather.ghi_w_m2 + np.where(sun.is_up, 7.0, 100.0))
    minutes = to_minutes(spoiled, sun=sun, **makers.PLACE)
    np.testing.assert_array_equal(minutes.dni_w_m2, weather.dni_w_m2)
    np.testing.assert_array_equal(minutes.ghi_w_m2[sun.is_up], spoiled.ghi_w_m2[sun.is_up])
    assert minutes.ghi_w_m2[~sun.is_up].max() == 0
    makers.said(minutes, "below the level horizon")


def test_air_and_wind_are_linear_between_centres() -> None:
    weather, _, minutes = typical()
    centres = minutes.air_c.reshape(-1, 60)[:, 29:31].mean(axis=1)
    np.testing.assert_allclose(centres[1:-1], weather.air_c[1:-1], atol=0.2)
    # Half way between two centres stands their mean.
    between = minutes.air_c[59:-60:60] / 2 + minutes.air_c[60:-59:60] / 2
    np.testing.assert_allclose(between, (weather.air_c[:-1] + weather.air_c[1:]) / 2, atol=1e-9)
    assert minutes.wind_m_s.min() >= 0
    assert minutes.wind_from_deg is not None
    assert set(np.unique(minutes.wind_from_deg)) <= set(np.unique(weather.wind_from_deg))


def test_deterministic() -> None:
    weather, sun, minutes = typical()
    again = to_minutes(weather, sun=sun, **makers.PLACE)
    for name in (*LIGHT, "air_c", "wind_m_s"):
        np.testing.assert_array_equal(getattr(again, name), getattr(minutes, name))


def test_sun_of_other_days_is_a_bug() -> None:
    weather, sun, _ = typical()
    with pytest.raises(ValueError, match="sun has 1440 instants"):
        to_minutes(weather, sun=sun.at(np.arange(1440)), **makers.PLACE)


def test_import_stays_light() -> None:
    code = (
        "import sys, trackersim.weather.load, trackersim.weather.minutes, trackersim.weather.fetch;"
        "print([m for m in ('matplotlib', 'streamlit') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
