"""How much of an answer hangs on the minutes that were made."""

from __future__ import annotations

import datetime as dt

import pytest

from trackersim import load_job, simulate
from trackersim.analysis.minutes_made import minutes_made
from trackersim.simulation.runner import Runner

JUNE = {"first_day": dt.date(2025, 6, 5), "last_day": dt.date(2025, 6, 14)}


def test_smooth_hours_give_too_much_and_another_seed_gives_others() -> None:
    found = minutes_made(Runner(load_job("demo"), **JUNE))
    assert found is not None
    by_hand = [
        simulate(load_job("demo", changes), **JUNE).water_m3_per_day
        for changes in ([], ["weather.seed=1"], ["weather.minutes=smooth"])
    ]
    assert [found.broken_m3_per_day, found.other_seed_m3_per_day, found.smooth_m3_per_day] == by_hand
    assert found.smooth_share == pytest.approx(by_hand[2] / by_hand[0] - 1)
    # Where minutes were measured it was 5 to 9 % (README).
    assert 0.03 < found.smooth_share < 0.12
    assert 0 < abs(found.seed_share) < 0.05


def test_of_a_smooth_job_the_same_is_told() -> None:
    runner = Runner(load_job("demo", ["weather.minutes=smooth", "weather.seed=1"]), **JUNE)
    found = minutes_made(runner)
    assert found is not None
    assert found.smooth_m3_per_day == runner.run().water_m3_per_day
    assert found.smooth_share > 0.03


@pytest.mark.parametrize(
    "weather", [["weather.file=", "weather.clear_sky=true"], ["weather.file=sample:broken-cloud-day"]]
)
def test_minutes_that_nobody_made_tell_nothing(weather: list[str]) -> None:
    days = JUNE if "clear_sky" in weather[-1] else {}
    assert minutes_made(Runner(load_job("demo", weather), **days)) is None
