"""The parallel march equals the plain loop, does no needless work, and notices a broken contract."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from trackersim.side_by_side import March, States, march_days

RNG = np.random.default_rng(4)
RAIN = RNG.uniform(0, 1, (80, 24))


class LeakyBucket:
    """Two coupled states whose memory fades, clipped so that some days forget everything; `level` (days, hours)."""

    def __init__(self) -> None:
        self.level = np.empty(RAIN.shape)

    def __call__(self, days: NDArray[np.intp], start: States) -> States:
        level, damp = start[:, 0].copy(), start[:, 1].copy()
        for hour in range(RAIN.shape[1]):
            level = np.clip(0.97 * level + RAIN[days, hour] - 0.4 - 0.1 * damp, 0, 5)
            damp = 0.9 * damp + 0.1 * (level > 2)
            self.level[days, hour] = level
        return np.column_stack([level, damp])


def marched(guess: States) -> tuple[March, NDArray[np.float64]]:
    bucket = LeakyBucket()
    return march_days(bucket, guess=guess), bucket.level


def plain_loop(state: States) -> tuple[States, NDArray[np.float64]]:
    bucket = LeakyBucket()
    for day in range(len(RAIN)):
        state = bucket(np.array([day]), state)
    return state, bucket.level


@pytest.mark.parametrize("first", [[0.0, 0.0], [4.0, 0.7]])
def test_equals_the_plain_loop_exactly(first: list[float]) -> None:
    guess = np.tile(first, (len(RAIN), 1))
    march, levels = marched(guess)
    end, one_by_one = plain_loop(guess[:1])
    np.testing.assert_array_equal(levels, one_by_one)
    np.testing.assert_array_equal(march.end_state[-1], end[0])
    np.testing.assert_array_equal(march.start_state[1:], march.end_state[:-1])
    assert 1 < march.rounds <= len(RAIN)


def test_only_the_first_row_of_the_guess_matters() -> None:
    guess = np.zeros((len(RAIN), 2))
    wild = guess.copy()
    wild[1:] = RNG.uniform(0, 5, wild[1:].shape)
    (_, calm), (_, other) = marched(guess), marched(wild)
    np.testing.assert_array_equal(calm, other)


def test_days_that_agree_run_once() -> None:
    seen: list[list[int]] = []

    def forgets_but_for_day_two(days: NDArray[np.intp], start: States) -> States:
        seen.append(days.tolist())
        return np.where(days[:, None] == 2, 1.0, 0.0)

    march = march_days(forgets_but_for_day_two, guess=np.zeros((6, 1)))
    assert seen == [[0, 1, 2, 3, 4, 5], [3]]
    assert march.start_state[:, 0].tolist() == [0, 0, 0, 1, 0, 0]


def test_a_state_that_never_fades_takes_one_round_a_day() -> None:
    march = march_days(lambda days, start: start + 1, guess=np.zeros((9, 1)))
    assert march.start_state[:, 0].tolist() == list(range(9))
    assert march.rounds == 9


def test_tolerance_accepts_close_starts_per_state() -> None:
    def drifts(days: NDArray[np.intp], start: States) -> States:
        return np.column_stack([np.full(len(days), 0.01), np.full(len(days), 0.01)])

    guess = np.zeros((5, 2))
    assert march_days(drifts, guess=guess, tolerance=0.02).rounds == 1
    assert march_days(drifts, guess=guess, tolerance=[0.02, 0.0]).rounds == 2


def test_one_day_runs_once() -> None:
    assert march_days(lambda days, start: start, guess=np.ones((1, 3))).rounds == 1


def test_the_guess_is_left_alone() -> None:
    guess = np.zeros((4, 1))
    march_days(lambda days, start: start + 1, guess=guess)
    assert not guess.any()


def test_a_state_that_is_no_number_is_a_bug_and_says_so() -> None:
    with pytest.raises(RuntimeError, match="not finite"):
        march_days(lambda days, start: start * np.nan, guess=np.zeros((4, 1)))


def test_an_unshaped_guess_is_refused() -> None:
    with pytest.raises(ValueError, match="days, states"):
        march_days(lambda days, start: start, guess=np.zeros(4))
