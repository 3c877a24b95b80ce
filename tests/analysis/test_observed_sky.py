"""Days of weather from what a person sees."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from trackersim import load_job
from trackersim.analysis.observed_sky import (
    Air,
    Days,
    Seen,
    air_range_k,
    day_weather,
    days_up_to,
    scene_under,
    wind_range_m_s,
    within,
)
from trackersim.analysis.sampled_mornings import RUNS, latin
from trackersim.analysis.typed_input import seen_of
from trackersim.clock import clock_name, moment_at, wall_time
from trackersim.errors import InputError

JOB = load_job("demo")
SPRING = dt.date(2025, 3, 21)


@pytest.fixture(scope="module")
def days() -> Days:
    return days_up_to(JOB, SPRING)


def last_day(values: np.ndarray) -> np.ndarray:
    return values[-1440:]


def test_a_clear_day_is_the_clear_sky_model_s(days: Days) -> None:
    weather = day_weather(days, Air())
    np.testing.assert_allclose(weather.ghi_w_m2, days.clear.ghi_w_m2)
    np.testing.assert_allclose(weather.dni_w_m2, days.clear.dni_w_m2)
    assert weather.days == 3
    assert weather.dni_w_m2.max() > 700


def test_haze_moves_light_from_the_beam_to_the_sky_and_loses_some(days: Days) -> None:
    clear, hazy = (day_weather(days, Air(haze=haze)) for haze in (0.0, 3.0))
    assert last_day(hazy.dni_w_m2).sum() < 0.75 * last_day(clear.dni_w_m2).sum()
    assert last_day(hazy.dhi_w_m2).sum() > 1.3 * last_day(clear.dhi_w_m2).sum()
    assert last_day(hazy.ghi_w_m2).sum() < last_day(clear.ghi_w_m2).sum()


def test_haze_is_the_published_exponential_of_added_turbidity(days: Days) -> None:
    # Ineichen & Perez (2002): beam falls with exp(-0.09 m ΔT); at noon here.
    noon = 2 * 1440 + int(np.argmax(last_day(days.sun.direction[2])))
    clear, hazy = (day_weather(days, Air(haze=haze)).dni_w_m2[noon] for haze in (0.0, 2.0))
    assert hazy / clear == pytest.approx(np.exp(-0.09 * days.mass[noon] * 2.0), rel=1e-9)
    assert 1.1 < days.mass[noon] < 1.3


@pytest.mark.parametrize(("cover", "share"), [(0.5, 1 - 0.75 * 0.5**3.4), (1.0, 0.25)])
def test_cloud_keeps_the_published_share_of_global_light(days: Days, cover: float, share: float) -> None:
    # Kasten & Czeplak (1980): global light under cover n is 1 - 0.75 n^3.4 of the cloudless.
    clear, cloudy = (last_day(day_weather(days, Air(cover=n)).ghi_w_m2).sum() for n in (0.0, cover))
    assert cloudy / clear == pytest.approx(share, rel=0.02)


def test_an_overcast_day_has_no_beam_and_a_broken_one_full_beam_by_turns(days: Days) -> None:
    assert not last_day(day_weather(days, Air(cover=1.0)).dni_w_m2).any()
    broken = last_day(day_weather(days, Air(cover=0.6)).dni_w_m2)[600:900]
    clear = last_day(days.clear.dni_w_m2)[600:900]
    part = broken / clear
    whole, none = np.isclose(part, 1), np.isclose(part, 0)
    assert (whole | none).mean() > 0.8  # the others are minutes in which a cloud comes or goes
    assert whole.any()
    assert none.any()
    assert part.mean() == pytest.approx((1 - 0.75 * 0.6**3.4) * (1 - 0.6**2), abs=0.01)


def test_light_closes_and_is_never_negative(days: Days) -> None:
    for air in (Air(), Air(haze=5), Air(cover=0.6), Air(haze=-0.7), Air(haze=5, cover=0.8)):
        weather = day_weather(days, air)
        sine = np.clip(days.sun.direction[2], 0, 1)
        np.testing.assert_allclose(weather.ghi_w_m2, weather.dhi_w_m2 + weather.dni_w_m2 * sine, atol=0.5)
        assert min(weather.dhi_w_m2.min(), weather.dni_w_m2.min()) >= 0
        assert (weather.dni_w_m2 <= days.clear.cleanest_dni_w_m2 + 1e-9).all()


def test_the_days_before_stay_clear(days: Days) -> None:
    weather = day_weather(days, Air(cover=1.0))
    assert weather.dni_w_m2[:1440].max() > 700


def test_air_seen_at_an_hour_is_the_air_at_that_hour(days: Days) -> None:
    least, likely, most = air_range_k(days.usual, Seen(air_c=5.0), 495)
    air = last_day(day_weather(days, Air(warmer_k=likely)).air_c)
    assert air[495] == pytest.approx(5.0)
    assert most - least == pytest.approx(3.0)
    assert air[900] > air[495] + 4  # the usual swing goes on


def test_unknown_air_and_wind_are_wider(days: Days) -> None:
    told, untold = (air_range_k(days.usual, seen, 495) for seen in (Seen(air_c=5.0), Seen()))
    assert untold[2] - untold[0] > told[2] - told[0]
    calm, unknown = (wind_range_m_s(days.usual, word) for word in ("calm", "unknown"))
    assert unknown[2] - unknown[0] > calm[2] - calm[0]


def test_the_scene_has_the_trees_of_the_job_it_is_given(days: Days) -> None:
    bare = load_job("demo", ["trees=[]"])
    weather = day_weather(days, Air())
    assert scene_under(JOB, days, weather).beam_share.min() < 0.6  # bare branches pass 54 %
    assert scene_under(bare, days, weather).beam_share.min() == 1.0


def test_draws_are_even_and_repeat() -> None:
    shares = latin(RUNS, 5)
    np.testing.assert_array_equal(shares, latin(RUNS, 5))
    np.testing.assert_allclose(np.sort(shares, axis=0)[:, 3], (np.arange(RUNS) + 0.5) / RUNS)
    assert within((1.0, 2.0, 10.0), 0.5) == 2.0
    assert within((1.0, 2.0, 10.0), 1.0) == 10.0


def test_the_clock_is_the_wall_s_with_daylight_saving() -> None:
    summer, winter = (moment_at(JOB.site, f"{day} 09:15") for day in ("2025-07-01", "2025-01-15"))
    assert (summer.minute, winter.minute) == (8 * 60 + 15, 9 * 60 + 15)
    assert clock_name(JOB.site, summer.date).endswith("EDT")
    assert clock_name(JOB.site, winter.date).endswith("EST")
    assert wall_time(JOB.site, summer.date, summer.minute) == summer.wall


def test_without_a_zone_the_clock_is_standard_time_and_says_so() -> None:
    job = load_job("demo", ["site.timezone="])
    assert moment_at(job.site, "2025-07-01 09:15").minute == 9 * 60 + 15
    assert clock_name(job.site, dt.date(2025, 7, 1)) == "standard time, UTC−5 h"


def test_just_after_midnight_in_summer_is_the_day_before_by_standard_time() -> None:
    moment = moment_at(JOB.site, "2025-07-01 00:15")
    assert (moment.date, moment.minute) == (dt.date(2025, 6, 30), 23 * 60 + 15)


@pytest.mark.parametrize("text", ["2025-03-09 02:30", "yesterday", "1812-06-01 09:00", "2025-13-01 09:00", ""])
def test_times_that_are_none_are_told(text: str) -> None:
    with pytest.raises(InputError) as told:
        moment_at(JOB.site, text)
    assert [fault.field for fault in told.value.faults] == ["at"]


def test_what_is_seen_is_read_with_every_fault_at_once() -> None:
    assert seen_of(sky="haze", wind="calm", air="41F").air_c == pytest.approx(5.0)
    with pytest.raises(InputError) as told:
        seen_of(sky="green", wind="gale", air="41")
    assert [fault.field for fault in told.value.faults] == ["sky", "wind", "air"]
