"""A pandas table with pvlib's names is weather: the same light as in a file, whatever its stamps mean."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from trackersim import InputError, Job, load_job, simulate
from trackersim.simulation.scene import make_scene
from trackersim.weather.calendar import days_between
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


@pytest.mark.parametrize("zone", ["-05:00", "UTC", "America/New_York", "America/Denver", "Asia/Kolkata"])
def test_the_zone_of_the_index_moves_neither_days_nor_clock(clear_day: Job, zone: str) -> None:
    """A table of summer alone shows no standard time of its zone: the site's counts, and nothing is to be warned of."""
    frame = table_of(clear_day, "end")
    own, other = (weather_from_frame(each, clear_day.site) for each in (frame, frame.tz_convert(zone)))
    assert other.times.equals(own.times)
    assert other.utc_offset_h == clear_day.site.standard_offset_h
    np.testing.assert_array_equal(other.ghi_w_m2, own.ghi_w_m2)
    assert other.notices == own.notices


def stamped(frame: pd.DataFrame, stamp: object) -> pd.DataFrame:
    frame.attrs["stamp"] = stamp
    return frame


def test_means_over_whole_hours_of_utc_are_not_cut_at_a_site_half_an_hour_off() -> None:
    site = load_job("demo", ["site.latitude=20", "site.longitude=78", "site.utc_offset=5.5", "site.timezone="]).site
    times = pd.date_range("2025-03-19 19:00", periods=24, freq="h", tz="UTC")
    light = np.maximum(0, np.sin((np.arange(24) - 5.3) / 24 * 2 * np.pi)) * 800
    frame = pd.DataFrame({"ghi": light * 0.9, "dni": light, "dhi": light / 10, "temp_air": 20.0}, index=times)
    weather = weather_from_frame(stamped(frame, "start"), site)
    assert weather.utc_offset_h == 5
    assert weather.dni_w_m2.max() == light.max()  # of no two hours the mean
    own = weather_from_frame(stamped(frame.tz_convert("Asia/Kolkata").shift(freq="30min"), "start"), site)
    assert own.utc_offset_h == 5.5


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
        (lambda frame: frame.set_index(frame.index.where(frame.index != frame.index[5])), "stands in place of a time"),
        (lambda frame: pd.concat([frame, frame[["ghi"]]], axis=1), "is the name of two columns"),
        (lambda frame: frame.assign(dni="clear"), "holds something that is no number"),
        (lambda frame: frame["ghi"], "is no table of pandas"),
    ],
)
def test_a_table_that_lacks_something_is_refused(clear_day: Job, spoil: object, told: str) -> None:
    frame = spoil(table_of(clear_day, "end"))  # type: ignore[operator]
    frame.attrs = {"stamp": "end"} if "row's time" not in told else {}
    with pytest.raises(InputError, match=told):
        weather_from_frame(frame, clear_day.site)


@pytest.mark.parametrize("stamp", ["center", ["end"], 0])
def test_a_stamp_that_means_nothing_is_refused(clear_day: Job, stamp: object) -> None:
    with pytest.raises(InputError, match="row's time"):
        weather_from_frame(stamped(table_of(clear_day, "end"), stamp), clear_day.site)


def test_a_typical_year_of_many_years_is_told_as_such(clear_day: Job) -> None:
    """As TMY3 files are read unless asked otherwise; it was called a log with a wrong stamp, or with gaps."""
    times = [pd.date_range(f"{2010 - m}-{m:02d}-01", periods=24 * 28, freq="h", tz="Etc/GMT+5") for m in range(1, 13)]
    frame = pd.DataFrame({"ghi": 0.0, "dni": 0.0, "dhi": 0.0, "temp_air": 9.0}, index=times[0].append(times[1:]))
    with pytest.raises(InputError, match=r"336 days.*spread over 3,711 days.*coerce_year"):
        weather_from_frame(stamped(frame.tz_convert("UTC"), "end"), clear_day.site)


def test_missing_values_of_every_type_of_column_are_gaps(clear_day: Job) -> None:
    frame = table_of(clear_day, "end").astype("Float64")
    frame.iloc[12, 0] = pd.NA
    assert "missing" in str(weather_from_frame(stamped(frame, "end"), clear_day.site).notices[0])


def test_of_a_day_with_a_time_of_day_the_date_counts(clear_day: Job) -> None:
    weather = make_scene(load_job("demo", ["weather.clear_sky=true", "weather.file="]), last_day=dt.date(2025, 1, 3))
    date = dt.date(2025, 1, 2)
    for day in (date, dt.datetime(2025, 1, 2, 9), pd.Timestamp(date), pd.Timestamp("2025-01-02", tz="UTC")):
        cut = days_between(weather.weather, day, day)
        assert (cut.times[0].date(), cut.days) == (date, 1)
    for none in ("2025-01-02", 2, pd.NaT):
        with pytest.raises(InputError, match="is no day"):
            days_between(weather.weather, none, None)  # type: ignore[arg-type]


@pytest.mark.parametrize("year", [1700, 1949, 2102, 2500])
def test_years_in_which_nobody_knows_the_sun_are_refused(clear_day: Job, year: int) -> None:
    """They were simulated, though the sun's place is known for 1950 to 2100, as everywhere else is asked."""
    frame = table_of(clear_day, "end")
    moved_s = np.datetime64(f"{year}-04-15", "s") - np.datetime64("2025-04-15", "s")
    times = frame.index.tz_convert("UTC").tz_localize(None).to_numpy().astype("datetime64[s]") + moved_s
    with pytest.raises(InputError, match="lies in no year for which the sun's place is known") as caught:
        weather_from_frame(frame.set_axis(pd.DatetimeIndex(times, tz="UTC")), clear_day.site)
    (fault,) = caught.value.faults
    assert str(fault.value).startswith(str(year))
    assert "1950 to 2100" in fault.remedy


@pytest.mark.parametrize("year", [1950, 2100])
def test_the_first_and_the_last_of_these_years_are_taken_whole(year: int) -> None:
    job = load_job("demo", ["weather.clear_sky=true", "weather.file=", f"weather.year={year}"])
    read = weather_from_frame(table_of(job, "end").tz_convert("UTC"), job.site)
    assert [str(read.times[n].date()) for n in (0, -1)] == [f"{year}-01-01", f"{year}-12-31"]
