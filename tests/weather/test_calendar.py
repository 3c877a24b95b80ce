"""Days of a weather: those that it lacks are told, with those that are left."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from trackersim import load_job
from trackersim.analysis.uncertainty import spread
from trackersim.errors import InputError
from trackersim.job.model import Job
from trackersim.report.uncertainty import spread_answer
from trackersim.simulation.runner import simulate
from trackersim.weather.calendar import days_between
from trackersim.weather.load import native_weather
from trackersim.weather.weather import Weather

D = dt.date


@pytest.fixture(scope="module")
def demo() -> Job:
    return load_job("demo")


@pytest.fixture(scope="module")
def june(demo: Job) -> Weather:
    """Twenty days as if they had been measured."""
    cut = days_between(native_weather(demo), D(2025, 6, 1), D(2025, 6, 20))
    return replace(cut, typical=False, notices=())


def told(weather: Weather, first: dt.date | None, last: dt.date | None) -> str:
    return " ".join(str(notice) for notice in days_between(weather, first, last).notices)


def test_days_that_the_weather_lacks_are_told_with_those_it_has(june: Weather) -> None:
    cut = days_between(june, D(2025, 6, 10), D(2025, 7, 20))
    (notice,) = cut.notices
    assert (cut.days, notice.level) == (11, "caution")
    for words in ("asked for, 2025-06-10 to 2025-07-20", "are of 2025-06-10 to 2025-06-20, 11 days", "Take weather"):
        assert words in notice.text
    assert "asked for, 2025-05-30 to 2025-06-20" in told(june, D(2025, 5, 30), None)
    assert "2025-06-01 to 2025-06-02, 2 days" in told(june, D(2025, 5, 30), D(2025, 6, 2))


def test_days_that_are_there_say_nothing(june: Weather) -> None:
    for first, last in ((D(2025, 6, 1), D(2025, 6, 20)), (D(2025, 6, 3), None), (None, D(2025, 6, 3)), (None, None)):
        assert not told(june, first, last)


def test_days_wholly_outside_are_a_fault(june: Weather) -> None:
    with pytest.raises(InputError, match=r"holds no day of the weather.*2025-06-01 to 2025-06-20"):
        days_between(june, D(2025, 7, 1), D(2025, 7, 9))


def test_a_typical_year_stands_for_one_year_and_not_for_two(demo: Job) -> None:
    year = replace(native_weather(demo), notices=())
    assert not told(year, D(2031, 3, 1), D(2031, 4, 1))
    assert not told(year, D(2024, 6, 1), None)
    assert "asked for, 2024-06-01 to 2026-07-01: all figures are of 2025-06-01 to 2025-07-01, 31 days" in told(
        year, D(2024, 6, 1), D(2026, 7, 1)
    )


def test_a_result_tells_it(demo: Job, june: Weather) -> None:
    result = simulate(demo, weather=june, first_day=D(2025, 6, 20), last_day=D(2025, 6, 25))
    assert "lacks some of the days" in " ".join(str(notice) for notice in result.notices)


def test_the_spread_tells_what_its_weather_has_to_say(demo: Job) -> None:
    found = spread(demo, draws=1, seed=1, first_day=D(2024, 6, 1), last_day=D(2025, 6, 2), workers=1)
    words = [getattr(block, "text", "") for block in spread_answer(found, "us").blocks]
    assert any("lacks some of the days" in text for text in words)
    assert words[-1].startswith("trackersim ")  # the line that traces the figures comes last
