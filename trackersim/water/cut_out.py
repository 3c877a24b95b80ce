"""The low-flow cut-out of a unit with neither sump nor float: from one cut-out to the next instead of each minute.

Between cut-outs such a unit runs exactly when power alone would have it run, so only cut-outs need a loop.
"""

from __future__ import annotations

import math

import numpy as np

from trackersim.arrays import BoolArray, IndexArray
from trackersim.water.balance_minutes import IDLE, NOTHING, PAUSED, RUNS, SECONDS, START, TRIPS, UnitTrace


def run_by_cut_outs(unit: UnitTrace, runs: BoolArray) -> None:
    """Write the state of a unit that nothing but power and its cut-out stops.

    Parameters
    ----------
    unit : UnitTrace
        A unit without a sump; its `state` is written, as `unit_minutes` would without a tank.
    runs : BoolArray
        Shape (days, minutes). When power alone would have it run.

    Returns
    -------
    None
        All is written into the trace.
    """
    pump = unit.pump
    days, minutes_a_day = runs.shape
    on, power = runs.ravel(), unit.power.ravel()
    state = np.where(on, np.uint8(RUNS), np.uint8(IDLE))
    low = on & (unit.want_m3.ravel() < pump.cutout_flow_m3_s * SECONDS)
    # A cut-out needs so many low minutes on end, a success so many good ones.
    low_min, good_min = max(1, math.ceil(pump.cutout_delay_min)), math.floor(pump.cutout_delay_min) + 1
    trips, starts = _minutes(_on_end(low, low_min)), _minutes(power == START)
    successes = _minutes(_on_end(on & ~low, good_min)) if pump.cutout_tries else None
    tries, start, end = 0, _next(starts, 0), on.size
    trip_day = -1
    while start < end and (trip := _next(trips, start + low_min - 1)) < end:
        day = trip // minutes_a_day
        if successes is not None:
            # Enough good minutes on end, run since the start, that end today and before the trip.
            first = max(start + good_min - 1, day * minutes_a_day)
            tries = 1 if day != trip_day or _next(successes, first) < trip else tries + 1
        free_at = trip + 1 + pump.cutout_retry_min
        if pump.cutout_tries and tries == pump.cutout_tries:
            free_at = max(free_at, (day + 1) * minutes_a_day)
        trip_day, free = day, min(math.ceil(free_at), end)
        start = _next(starts, free)
        state[trip] = TRIPS
        state[trip + 1 : free] = np.where(power[trip + 1 : free] != NOTHING, PAUSED, IDLE)
        state[free:start] = IDLE
    unit.state[:] = state.reshape(days, minutes_a_day)


def _on_end(happens: BoolArray, count: int) -> BoolArray:
    """Whether it happens in each minute and in the `count` − 1 minutes before it."""
    minute = np.arange(happens.size, dtype=np.int32)
    return minute - np.maximum.accumulate(np.where(happens, np.int32(-1), minute)) >= count


def _minutes(happens: BoolArray) -> IndexArray:
    """The minutes in which it happens, and the number of all minutes after the last."""
    return np.append(np.flatnonzero(happens), happens.size)


def _next(minutes: IndexArray, at: int) -> int:
    """The next of some minutes from one on; of `_minutes` the last if none follows."""
    return int(minutes[min(int(minutes.searchsorted(at)), len(minutes) - 1)])
