"""When the pump runs: the controller's start and the low-flow cut-out, minute by minute."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trackersim.arrays import BoolArray, FloatArray, IndexArray
from trackersim.side_by_side import Outputs, States, march_days

# What one day hands to the next: runs (0 or 1), minutes of low flow so far, minutes until it may start again.
_STATES = 3
_STOP_SHARE = 0.8


@dataclass(frozen=True, kw_only=True, eq=False)
class Operation:
    """`running` (days, minutes); `starts` and `cutouts` (days,), counted in the day in which they happen."""

    running: BoolArray
    starts: NDArray[np.int64]
    cutouts: NDArray[np.int64]


@dataclass(frozen=True, kw_only=True, eq=False)
class _Minutes:
    """Answers that need no state, shaped (minutes, days) so that one minute of all days lies together."""

    may_start: BoolArray
    may_run: BoolArray
    is_low: BoolArray
    walked: IndexArray


def operate(
    *,
    available_w: FloatArray,
    flow_if_running_m3_s: FloatArray,
    start_w: float = 0.0,
    stop_w: float | None = None,
    start_delay_min: float = 0.0,
    cutout_flow_m3_s: float = 0.0,
    cutout_delay_min: float = 2.0,
    cutout_retry_min: float = 20.0,
) -> Operation:
    """Run a pump through consecutive days of one-minute steps; both arrays are shaped (days, minutes), no NaN.

    An idle pump starts once `start_w` or more has been there for `start_delay_min` minutes on end (at once if 0), and
    runs until less than `stop_w` is available; without power it never runs. The gap keeps a passing cloud from
    switching it on and off; `stop_w` is 80 % of `start_w` if not given, an assumption, since sheets seldom print it.

    A running pump that gives less than `cutout_flow_m3_s` for `cutout_delay_min` minutes on end stops after the last
    of them (at once after the first if the delay is 0) and may start again `cutout_retry_min` ≥ 1 minutes later.
    A flow of 0 switches the cut-out off. The pause runs on through the night; stopping for want of power ends the
    count of low minutes.

    The first day begins with the pump idle; every other day begins as the day before ended.
    """
    has_power = available_w > 0
    cutout_set = cutout_flow_m3_s > 0
    stop_w = _STOP_SHARE * start_w if stop_w is None else stop_w
    if start_w <= 0 and start_delay_min <= 0 and not cutout_set:
        return _operation(has_power, np.zeros(len(has_power), dtype=np.int64))
    lit = has_power.any(axis=0)
    # The minute after a lit one must be walked too: there the last pump stops. Minute 0 follows the last minute.
    minutes = _Minutes(
        may_start=_by_minute(_on_end(has_power & (available_w >= start_w), start_delay_min)),
        may_run=_by_minute(has_power & (available_w >= stop_w)),
        is_low=_by_minute(has_power & (flow_if_running_m3_s < cutout_flow_m3_s)),
        walked=np.flatnonzero(lit | np.roll(lit, 1)),
    )

    def run_days(days: IndexArray, start: States) -> tuple[States, Outputs]:
        return _run_days(minutes, days, start, delay_min=cutout_delay_min, retry_min=cutout_retry_min)

    march = march_days(run_days, guess=np.zeros((len(available_w), _STATES)))
    return _operation(march.outputs["running"], march.outputs["cutouts"])


def _on_end(enough: BoolArray, delay_min: float) -> BoolArray:
    """Whether there was enough in each minute and in the `delay_min` minutes before it, midnight included."""
    in_a_row = enough.ravel()
    count = np.arange(1, in_a_row.size + 1)
    last_lacking = np.maximum.accumulate(np.where(in_a_row, 0, count))
    return np.asarray((count - last_lacking > np.ceil(delay_min)).reshape(enough.shape) & enough)


def _by_minute(values: BoolArray) -> BoolArray:
    return np.ascontiguousarray(values.T)


def _run_days(
    minutes: _Minutes, days: IndexArray, start: States, *, delay_min: float, retry_min: float
) -> tuple[States, Outputs]:
    """The chosen days side by side: a loop over the minutes of a day, arrays over days."""
    every = len(days) == minutes.may_run.shape[1]
    pick = slice(None) if every else days
    may_start, may_run, is_low = minutes.may_start[:, pick], minutes.may_run[:, pick], minutes.is_low[:, pick]
    running, low_min, free_at = start[:, 0] > 0, start[:, 1].copy(), start[:, 2].copy()
    history = np.zeros(may_run.shape, dtype=np.bool_)
    cutouts = np.zeros(len(days), dtype=np.int64)
    for minute in minutes.walked.tolist():
        running = may_run[minute] & (running | (may_start[minute] & (free_at <= minute)))
        history[minute] = running
        low = running & is_low[minute]
        low_min = np.where(low, low_min + 1, 0)
        if low.any():
            cut = low & (low_min >= delay_min)
            cutouts += cut
            running = running & ~cut
            free_at[cut] = minute + 1 + retry_min
    pause_min = np.maximum(free_at - len(may_run), 0)
    end = np.column_stack([running.astype(np.float64), low_min, pause_min])
    return end, {"running": np.ascontiguousarray(history.T), "cutouts": cutouts}


def _operation(running: BoolArray, cutouts: NDArray[np.int64]) -> Operation:
    """Counts the starts: minutes that run after one that does not, midnight included."""
    in_a_row = running.ravel()
    before = np.concatenate([[False], in_a_row[:-1]])
    starts = (in_a_row & ~before).reshape(running.shape).sum(axis=1, dtype=np.int64)
    return Operation(running=running, starts=starts, cutouts=cutouts)
