"""The low-flow cut-out of a unit with neither sump nor float: from one cut-out to the next instead of each minute.

Between cut-outs such a unit runs exactly when power alone would have it run, so only cut-outs need a loop.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from trackersim.arrays import BoolArray
from trackersim.water.balance_minutes import IDLE, NOTHING, PAUSED, RUNS, SECONDS, START, TRIPS, UnitTrace

MinuteArray = NDArray[np.int32]


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
    state = np.where(on, RUNS, IDLE).astype(np.uint8)
    low = on & (unit.want_m3.ravel() < pump.cutout_flow_m3_s * SECONDS)
    # A cut-out needs so many low minutes on end, a success so many good ones.
    low_min, good_min = max(1, math.ceil(pump.cutout_delay_min)), math.floor(pump.cutout_delay_min) + 1
    next_trip = _next(_on_end(low, low_min))
    next_success = _next(_on_end(on & ~low, good_min)) if pump.cutout_tries else None
    next_start = _next(power == START)
    tries, start, end = 0, int(next_start[0]), on.size
    trip_day = -1
    while start < end and (trip := int(next_trip[min(start + low_min - 1, end)])) < end:
        day = trip // minutes_a_day
        if next_success is not None:
            first = max(start, day * minutes_a_day)
            succeeded = _succeeds(next_success, start, first, good_min, trip)
            tries = 1 if day != trip_day or succeeded else tries + 1
        free_at = trip + 1 + pump.cutout_retry_min
        if pump.cutout_tries and tries == pump.cutout_tries:
            free_at = max(free_at, (day + 1) * minutes_a_day)
        trip_day, free = day, min(math.ceil(free_at), end)
        start = int(next_start[free])
        state[trip] = TRIPS
        state[trip + 1 : free] = np.where(power[trip + 1 : free] != NOTHING, PAUSED, IDLE)
        state[free:start] = IDLE
    unit.state[:] = state.reshape(days, minutes_a_day)


def _succeeds(next_success: MinuteArray, start: int, first: int, good_min: int, trip: int) -> bool:
    """Whether enough good minutes on end, run since `start`, end in a minute from `first` on and before `trip`."""
    return int(next_success[min(max(start + good_min - 1, first), trip)]) < trip


def _on_end(happens: BoolArray, count: int) -> BoolArray:
    """Whether it happens in each minute and in the `count` − 1 minutes before it."""
    minute = np.arange(happens.size, dtype=np.int32)
    return minute - np.maximum.accumulate(np.where(happens, np.int32(-1), minute)) >= count


def _next(happens: BoolArray) -> MinuteArray:
    """Index of the next minute from each one on in which it happens, the number of minutes if none does; one longer."""
    count = happens.size
    index = np.arange(count + 1, dtype=np.int32)
    index[:-1][~happens] = count
    return np.minimum.accumulate(index[::-1])[::-1]
