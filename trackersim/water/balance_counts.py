"""What is worked out before and after the loop over minutes: what the power allows, starts, stops and minutes lost."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from trackersim.arrays import BoolArray, FloatArray, IndexArray
from trackersim.water.balance_minutes import FULL, IDLE, LOW, NOTHING, PAUSED, RUN_ON, RUNS, START, TRIPS
from trackersim.water.balance_parts import Standstill, UnitControl

IntArray = NDArray[np.int64]
StateArray = NDArray[np.uint8]

_HELD = {
    Standstill.TANK_FULL: FULL,
    Standstill.SOURCE_LOW: LOW,
    Standstill.CUT_OUT: PAUSED,
    Standstill.START_DELAY: IDLE,
}


class Power(NamedTuple):
    """What power alone allows; arrays (days, minutes).

    `allows`: NOTHING, RUN_ON or START. `offered`: start power is there, be the delay over or not. `runs`: the unit
    would run if nothing but power decided.
    """

    allows: StateArray
    offered: BoolArray
    runs: BoolArray


def power_of(available_w: FloatArray, control: UnitControl) -> Power:
    """Power of one unit through consecutive days (days, minutes)."""
    watts = available_w.ravel()
    offered = (watts > 0) & (watts >= control.start_w)
    may_run = (watts > 0) & (watts >= control.stop_w)
    minute = np.arange(watts.size)
    earlier_min = minute - _latest(~offered) - 1
    may_start = offered & may_run & (earlier_min >= control.start_delay_min)
    runs = _latest(may_start) > _latest(~may_run)
    allows = np.where(may_start, START, np.where(may_run, RUN_ON, NOTHING)).astype(np.uint8)
    shape = available_w.shape
    return Power(allows.reshape(shape), offered.reshape(shape), runs.reshape(shape))


def _latest(happens: BoolArray) -> IndexArray:
    """Index of the latest minute up to each one in which it happens; −1 before the first."""
    return np.maximum.accumulate(np.where(happens, np.arange(happens.size), -1))


def starts_of(running: BoolArray) -> IntArray:
    """Starts a day (units, days) of `running` (units, days, minutes): a minute run after one that is not."""
    return _by_day(running & ~_before(running))


def stops_of(state: StateArray) -> dict[Standstill, IntArray]:
    """Stops a day (units, days) by cause, from what the units did, (units, days, minutes)."""
    running, trips = state >= RUNS, state == TRIPS
    ends = _before(running) & ~running & ~_before(trips)
    full, low = ends & (state == FULL), ends & (state == LOW)
    return {
        Standstill.NO_POWER: _by_day(ends & ~full & ~low),
        Standstill.TANK_FULL: _by_day(full),
        Standstill.SOURCE_LOW: _by_day(low),
        Standstill.CUT_OUT: _by_day(trips),
    }


def lost_minutes(state: StateArray, *, offered: BoolArray, runs: BoolArray) -> dict[Standstill, IntArray]:
    """Minutes a day (units, days) by the cause that held a unit with power; all arrays (units, days, minutes)."""
    powered = {cause: offered | runs for cause in _HELD} | {Standstill.START_DELAY: offered}
    return {cause: _by_day((state == held) & powered[cause]) for cause, held in _HELD.items()}


def _before(happens: BoolArray) -> BoolArray:
    """The same one minute later, midnight included; nothing happens before the first minute."""
    flat = happens.reshape(len(happens), -1)
    return np.concatenate([np.zeros((len(flat), 1), dtype=np.bool_), flat[:, :-1]], axis=1).reshape(happens.shape)


def _by_day(happens: BoolArray) -> IntArray:
    days: IntArray = happens.sum(axis=-1, dtype=np.int64)
    return days
