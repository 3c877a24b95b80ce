"""A pandas table with pvlib's names is weather: the same light as in a file, whatever its stamps mean."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from trackersim import InputError, Job, load_job, simulate
from trackersim.simulation.scene import make_scene
from trackersim.weather.frame import weather_from_frame


@pytest.fixture(scope="module")
def clear_day() -> Job:
    return load_job("demo", ["weather.file=sample:clear-spring-day"])


def table_of(job: Job, stamp: str, step_min: int = 60) -> pd.DataFrame:
    """Means of the day's light over so many minutes, at stamps of the given meaning."""
    weather = make_scene(job).weather
    frame = pd.DataFrame(
        {"ghi": weather.ghi_w_m2, "dni": weather.dni_w_m2, "dhi": weather.dhi_w_m2, "temp_air": weather.air_c,
         "wind_speed": weather.wind_m_s},
        index=weather.times.floor("min"),
    ).resample(f"{step_min}min").mean()  # fmt: skip
    frame.index = frame.index + pd.Timedelta(minutes={"start": 0.0, "centre": 0.5, "end": 1.0}[stamp] * step_min)
    frame.attrs["stamp"] = stamp
    return frame


@pytest.mark.parametrize("stamp", ["start", "centre", "end"])
def test_light_is_where_the_stamps_say(clear_day: Job, stamp: str) -> None:
    """Half an hour of error would move the light's middle by half an hour; a minute is what hours leave open."""
    real = make_scene(clear_day).weather
    read = make_scene(clear_day, table_of(clear_day, stamp)).weather
    middle = [float((np.arange(1440) * w.ghi_w_m2).sum() / w.ghi_w_m2.sum()) for w in (real, read)]
    assert middle[1] == pytest.approx(middle[0], abs=1)
    assert read.ghi_w_m2.sum() == pytest.approx(real.ghi_w_m2.sum(), rel=2e-3)


def test_water_from_a_table_is_water_from_the_file(clear_day: Job) -> None:
    own = simulate(clear_day).water_m3
    assert simulate(clear_day, weather=table_of(clear_day, "end")).water_m3 == pytest.approx(own, rel=0.02)
    minutes = table_of(clear_day, "start", step_min=1)
    assert simulate(clear_day, weather=minutes).water_m3 == pytest.approx(own, rel=1e-3)


def test_a_zone_with_daylight_saving_and_utc_are_the_same(clear_day: Job) -> None:
    frame = table_of(clear_day, "end")
    waters = {simulate(clear_day, weather=frame.tz_convert(zone)).water_m3 for zone in ("Etc/GMT+5", "-05:00")}
    assert len(waters) == 1


def test_it_can_be_traced(clear_day: Job) -> None:
    one, other = table_of(clear_day, "end"), table_of(clear_day, "end")
    other.iloc[12, 0] += 1
    hashes = [weather_from_frame(frame, clear_day.site).sha256 for frame in (one, one, other)]
    assert hashes[0] == hashes[1] != hashes[2]


def _without_stamp(frame: pd.DataFrame) -> pd.DataFrame:
    frame.attrs.clear()
    return frame


@pytest.mark.parametrize(
    ("spoil", "told"),
    [
        (lambda frame: frame.tz_localize(None), "no index of times with a zone"),
        (lambda frame: frame.drop(columns=["dhi", "temp_air"]), "lacks dhi, temp_air"),
        (_without_stamp, "does not say what a row's time is"),
        (lambda frame: frame.iloc[::7], "does not divide an hour"),
        (lambda frame: frame.reset_index(drop=True), "no index of times with a zone"),
    ],
)
def test_a_table_that_lacks_something_is_refused(clear_day: Job, spoil: object, told: str) -> None:
    frame = spoil(table_of(clear_day, "end"))  # type: ignore[operator]
    frame.attrs = {"stamp": "end"} if "row's time" not in told else {}
    with pytest.raises(InputError, match=told):
        weather_from_frame(frame, clear_day.site)
