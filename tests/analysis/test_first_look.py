"""The first look of a job: the day that explains its loss."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from trackersim import load_job
from trackersim.analysis.first_look import FirstLook, look_at
from trackersim.analysis.morning import explain_morning
from trackersim.report.morning import chosen_words

FIRST = dt.date(2025, 1, 1)


def look(rack_lost_m3: list[float], clear: list[bool], trees_m3: float = 0.0) -> FirstLook:
    return FirstLook(
        job=load_job("demo"),
        own_m3_per_day=1.0,
        late_m3_per_day=0.5,
        trees_m3_per_day=0.5,
        repaired_m3_per_day=None,
        open_sky_m3_per_day=None,
        first_day=FIRST,
        lost_m3=np.array(rack_lost_m3) + trees_m3 * np.arange(len(rack_lost_m3)),
        rack_lost_m3=np.array(rack_lost_m3),
        dull=np.zeros(len(rack_lost_m3), dtype=bool),
        clear=np.array(clear),
        turned=None,
    )


@pytest.mark.parametrize(
    ("lost_m3", "clear", "day"),
    [
        ([9.0, 1.0, 2.0, 3.0], [False, True, True, True], 2),  # the median of the clear ones, not the dull one's nine
        ([0.0, 0.0, 0.0, 4.0], [True, True, True, True], 3),  # most clear days lose none: never one of those
        ([-1.0, 0.0, 0.0, 5.0], [True, True, True, False], 3),  # no clear day loses any: the one that lost most
        ([1.0, 3.0], [False, False], 1),
    ],
)
def test_the_telling_day_is_clear_and_loses_what_is_usual_but_never_nothing(
    lost_m3: list[float], clear: list[bool], day: int
) -> None:
    found = look(lost_m3, clear)
    assert found.telling_day == FIRST + dt.timedelta(days=day)
    assert found.day_shown(None) == found.telling_day
    assert found.day_shown(FIRST) == FIRST
    assert found.day_shown(FIRST - dt.timedelta(days=1)) == found.telling_day


def test_a_usual_loss_is_that_of_the_rack_which_the_morning_tells_and_not_that_of_the_trees() -> None:
    """With trees that take 0, 10 and 20 the days lose 5, 19 and 22: the second would be the median, and is not."""
    found = look([5.0, 9.0, 2.0], [True] * 3, trees_m3=10.0)
    assert found.telling_day == FIRST
    assert "a clear day with a usual loss by the rack" in chosen_words(found)


def test_a_rack_that_loses_nothing_is_not_said_to_lose_what_is_usual() -> None:
    found = look([0.0, 0.0, 0.0], [True] * 3, trees_m3=1.0)
    assert found.telling_day == FIRST + dt.timedelta(days=1)
    assert chosen_words(found) == "2 January: the rack loses nothing on any day."


def test_what_the_rack_loses_a_day_is_what_the_morning_tells_of_that_day() -> None:
    """Behind the demo's trees: a morning's loss, less what is made good, is that of the day but for the evening."""
    job = load_job("demo", ["weather.clear_sky=true", "weather.file="])
    found = look_at(job)
    told = explain_morning(job, found.telling_day).water_lost_m3
    day = (found.telling_day - found.first_day).days
    assert found.rack_lost_m3[day] == pytest.approx(told, rel=0.1)
    assert found.lost_m3[day] > 1.3 * told
