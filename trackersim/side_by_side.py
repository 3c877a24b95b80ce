"""March all days of a year side by side, although each day begins where the evening before ended.

Most nights forget the day: a resting rack starts every morning alike. So every day is first run from a guess; then each
day's start is held against the evening before, and only the days that differ run again, until none does. The answer is
that of a plain loop from day to day.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from trackersim.arrays import BoolArray, FloatArray, IndexArray

States = FloatArray
RunDays = Callable[[IndexArray, States], States]


@dataclass(frozen=True, kw_only=True, eq=False)
class March:
    """The states in which all days began and ended, shaped (days, k), and how often days were run.

    `settled` is False if `max_rounds` ended the march before every start agreed with the evening before.
    """

    start_state: States
    end_state: States
    rounds: int
    settled: bool = True


def march_days(
    run_days: RunDays,
    *,
    guess: States,
    tolerance: ArrayLike = 0.0,
    max_rounds: int | None = None,
    days_in_a_row: int | None = None,
) -> March:
    """Run every day so that it starts in the state the evening before left.

    `guess` (days, k): k numbers that say everything one day hands to the next, finite, one row per day. Row 0 is the
    true start of the first day; the other rows are only first tries, and a good one saves work. Where several years or
    racks stand one below the other, `days_in_a_row` is the number of days of each: every one of them begins as row 0
    does.

    `run_days(days, start)` takes the indices (n,) of the days to run and their start states (n, k), and returns their
    end states (n, k). They must follow from the two alone, each day by itself; it must not write into `start`. What
    else it finds it keeps itself: the last time that it is asked for a day is the one that holds.

    `tolerance`, one number or one per state: a start this close to the evening before counts as equal. With 0 the
    answer equals the sequential loop exactly. After round r the first r days are right, so it ends after at most as
    many rounds as there are days (two or three unless a state lives on through many nights), or after `max_rounds`.
    """
    start = np.array(guess, dtype=np.float64)
    if start.ndim != 2 or len(start) == 0:
        raise ValueError("guess must be shaped (days, states) with at least one day.")
    end = np.array(run_days(np.arange(len(start)), start.copy()), dtype=np.float64)
    rounds = 1
    follows = np.arange(len(start)) % (days_in_a_row or len(start)) > 0
    while (days := _disagreeing(start, end, tolerance, follows)).size and rounds != max_rounds:
        start[days] = end[days - 1]
        end[days] = run_days(days, start[days])
        rounds += 1
        if rounds > len(start):
            raise RuntimeError("run_days is no pure function of its arguments, or its states are not finite.")
    return March(start_state=start, end_state=end, rounds=rounds, settled=not days.size)


def _disagreeing(start: States, end: States, tolerance: ArrayLike, follows: BoolArray) -> IndexArray:
    # `not (… <= …)` rather than `>`: a NaN must count as disagreement, never as agreement.
    agree = np.abs(start[1:] - end[:-1]) <= tolerance
    return np.flatnonzero(~agree.all(axis=1) & follows[1:]) + 1
