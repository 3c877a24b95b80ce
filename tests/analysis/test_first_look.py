"""The first look of a job: the day that explains its loss."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from trackersim import load_job
from trackersim.analysis.first_look import FirstLook

FIRST = dt.date(2025, 1, 1)


def look(lost_m3: list[float], clear: list[bool]) -> FirstLook:
    return FirstLook(
        job=load_job("demo"),
        own_m3_per_day=1.0,
        open_prompt_m3_per_day=2.0,
        late_m3_per_day=0.5,
        trees_m3_per_day=0.5,
        repair_m3_per_day=None,
        open_sky_m3_per_day=None,
        first_day=FIRST,
        lost_m3=np.array(lost_m3),
        dull=np.zeros(len(lost_m3), dtype=bool),
        clear=np.array(clear),
        turned=None,
        notices=(),
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
