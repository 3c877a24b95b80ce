"""Before and after the loop over minutes: what the power allows; starts, stops and minutes lost, by cause."""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from trackersim.arrays import BoolArray, FloatArray
from trackersim.job.electrics import Controller
from trackersim.water.balance_minutes import FULL, IDLE, LOW, NOTHING, PAUSED, RUN_ON, RUNS, START, TRIPS

IntArray = NDArray[np.int64]
StateArray = NDArray[np.uint8]


class Standstill(StrEnum):
    """Why a unit stops or stands still. Where several hold at once, the first in this order is named."""

    NO_POWER = "no power"
    TANK_FULL = "tank full"
    SOURCE_LOW = "source low"
    CUT_OUT = "low-flow cut-out"
    START_DELAY = "start delay"


_HELD = {
    Standstill.TANK_FULL: FULL,
    Standstill.SOURCE_LOW: LOW,
    Standstill.CUT_OUT: PAUSED,
    Standstill.START_DELAY: IDLE,
}


class Power(NamedTuple):
    """What power alone allows; arrays (days, minutes).

    `allows`: NOTHING, RUN_ON or START. `offered`: start power is there, whether the start delay is over or still runs.
    `runs`: the unit would run if nothing but power decided.
    """

    allows: StateArray
    offered: BoolArray
    runs: BoolArray


def power_of(available_w: FloatArray, controller: Controller) -> Power:
    """What power alone allows one unit through consecutive days.

    Parameters
    ----------
    available_w : FloatArray
        Shape (days, minutes). Power offered to its controller [W], finite, ≥ 0.
    controller : Controller
        Its start power, stop power and start delay are read.

    Returns
    -------
    Power
        Arrays (days, minutes).
    """
    watts = available_w.ravel()
    offered = (watts > 0) & (watts >= controller.start_w)
    may_run = (watts > 0) & (watts >= controller.stops_at_w)
    minute = np.arange(watts.size, dtype=np.int32)
    earlier_min = minute - _latest(~offered) - 1
    may_start = offered & may_run & (earlier_min >= controller.start_delay_min)
    runs = _latest(may_start) > _latest(~may_run)
    allows = np.where(may_start, np.uint8(START), np.where(may_run, np.uint8(RUN_ON), np.uint8(NOTHING)))
    shape = available_w.shape
    return Power(allows.reshape(shape), offered.reshape(shape), runs.reshape(shape))


def _latest(happens: BoolArray) -> NDArray[np.int32]:
    """Index of the latest minute up to each one in which it happens; −1 before the first."""
    return np.maximum.accumulate(np.where(happens, np.arange(happens.size, dtype=np.int32), np.int32(-1)))


def starts_of(running: BoolArray) -> IntArray:
    """Count the starts of each day: minutes run after one that is not.

    Parameters
    ----------
    running : BoolArray
        Shape (units, days, minutes). Whether each unit runs; nothing runs before the first minute.

    Returns
    -------
    IntArray
        Shape (units, days).
    """
    return _by_day(running & ~_before(running))


def stops_of(state: StateArray) -> dict[Standstill, IntArray]:
    """Count the stops of each day by cause.

    Parameters
    ----------
    state : StateArray
        Shape (units, days, minutes). What the units did: IDLE … TRIPS.

    Returns
    -------
    dict[Standstill, IntArray]
        Shape (units, days) each, for every cause that can stop a unit.
    """
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
    """Count the minutes of each day in which a cause held a unit that had power.

    Parameters
    ----------
    state : StateArray
        Shape (units, days, minutes). What the units did: IDLE … TRIPS.
    offered : BoolArray
        Shape (units, days, minutes). Whether start power is there.
    runs : BoolArray
        Shape (units, days, minutes). Whether the unit would run if nothing but power decided.

    Returns
    -------
    dict[Standstill, IntArray]
        Minutes, shape (units, days), for every cause but want of power.
    """
    powered = {cause: offered | runs for cause in _HELD} | {Standstill.START_DELAY: offered}
    return {cause: _by_day((state == held) & powered[cause]) for cause, held in _HELD.items()}


def _before(happens: BoolArray) -> BoolArray:
    """The same one minute later, midnight included; nothing happens before the first minute."""
    flat = happens.reshape(len(happens), -1)
    return np.concatenate([np.zeros((len(flat), 1), dtype=np.bool_), flat[:, :-1]], axis=1).reshape(happens.shape)


def _by_day(happens: BoolArray) -> IntArray:
    days: IntArray = happens.sum(axis=-1, dtype=np.int64)
    return days
