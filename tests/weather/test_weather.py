"""Weather that somebody made by hand is what its class promises, or is refused."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from trackersim import InputError, load_job, simulate
from trackersim.simulation.reuse import StageCache
from trackersim.simulation.runner import Runner
from trackersim.simulation.scene import native_of
from trackersim.weather.weather import Weather, check_weather

JOB = load_job("demo", ["weather.file=sample:clear-spring-day"])


@pytest.fixture(scope="module")
def made() -> Weather:
    return native_of(JOB)


@pytest.mark.parametrize(
    ("name", "spoil"),
    [
        ("times", lambda times: times.tz_localize(None)),
        ("times", lambda times: times + pd.Timedelta(hours=3)),
        ("times", lambda times: times.tz_convert("America/New_York")),  # its midnight is another
        ("times", lambda times: times.insert(5, pd.NaT).delete(6)),
        ("times", lambda times: times[::-1]),
        ("times", lambda times: times - pd.Timedelta(days=100 * 365)),
        ("step_min", lambda step: step * 2),
        ("step_min", lambda step: 7),
        ("ghi_w_m2", lambda light: light[:-1]),
        ("ghi_w_m2", lambda light: light.tolist()),
        ("dni_w_m2", lambda light: light - 50),
        ("dhi_w_m2", lambda light: light * np.nan),
        ("air_c", lambda air: air * np.inf),
        ("wind_m_s", lambda wind: -wind - 1),
    ],
)
def test_weather_that_breaks_its_promise_is_refused(made: Weather, name: str, spoil: Any) -> None:
    """NaN air ended in an IndexError, and times three hours off gave twice the water."""
    with pytest.raises(InputError) as caught:
        simulate(JOB, weather=replace(made, **{name: spoil(getattr(made, name))}))
    assert {fault.field for fault in caught.value.faults} == {
        "weather.times" if name == "step_min" else f"weather.{name}"
    }


def test_a_clock_that_is_moved_twice_a_year_is_not_fixed() -> None:
    """Its first and its last hour stand at one offset."""
    times = pd.date_range("2025-01-01 00:30", periods=8760, freq="h", tz="Etc/GMT+5")
    light = np.zeros(8760)
    year = Weather(
        times=times, step_min=60, ghi_w_m2=light, dni_w_m2=light, dhi_w_m2=light, air_c=light, wind_m_s=light
    )
    check_weather(year)
    with pytest.raises(InputError, match="no even steps"):
        check_weather(replace(year, times=times.tz_convert("America/New_York")))


def test_weather_as_it_was_read_is_sound(made: Weather) -> None:
    check_weather(made)
    assert simulate(JOB, weather=made).water_m3 == simulate(JOB).water_m3


def test_weather_that_was_changed_is_not_taken_for_what_it_was(made: Weather) -> None:
    """Runners that share their stages gave half the beam the water of all of it, under the hash of the file."""
    stages = StageCache()
    half = replace(made, dni_w_m2=made.dni_w_m2 / 2)
    results = [Runner(JOB, weather=each, cache=stages).run() for each in (made, half, replace(made))]
    assert results[1].water_m3 == simulate(JOB, weather=half).water_m3 < results[0].water_m3 == results[2].water_m3
    assert len({result.provenance.weather_sha256 for result in results}) == 2
    assert stages.made["scene"] == 2
