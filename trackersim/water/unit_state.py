"""What one pump unit does in a minute, in the words of the field: it runs, it waits for something, or it is off."""

from __future__ import annotations

from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from trackersim.arrays import FloatArray
from trackersim.water.balance_minutes import FULL, IDLE, LOW, PAUSED, RUNS, TRIPS


class UnitState(StrEnum):
    """States of a unit; every one that begins with "waiting" has power and is held by what follows."""

    RUNNING = "running"
    SOURCE_LOW = "waiting: source low"
    STORE_FULL = "waiting: store full"
    CUT_OUT = "waiting: low-flow cut-out"
    START_POWER = "waiting: start power"
    OFF = "off"


STATES: tuple[UnitState, ...] = tuple(UnitState)

_OF_CODE = {
    IDLE: UnitState.START_POWER,
    FULL: UnitState.STORE_FULL,
    LOW: UnitState.SOURCE_LOW,
    PAUSED: UnitState.CUT_OUT,
    RUNS: UnitState.RUNNING,
    TRIPS: UnitState.RUNNING,
}


def unit_states(codes: NDArray[np.uint8], available_w: FloatArray) -> NDArray[np.uint8]:
    """States as places in `STATES`.

    Parameters
    ----------
    codes : NDArray[np.uint8]
        Any shape. What the balance says of each minute: IDLE, FULL, LOW, PAUSED, RUNS or TRIPS of `balance_minutes`.
    available_w : FloatArray
        Same shape. Power at the controller's input [W], ≥ 0; 0 where it gives the motor nothing.

    Returns
    -------
    NDArray[np.uint8]
        Same shape. A unit without any power is off; one with some, but too little or not yet for long enough to start,
        waits for start power.
    """
    place = np.array([STATES.index(_OF_CODE[code]) for code in range(len(_OF_CODE))], dtype=np.uint8)
    found = place[codes]
    found[(codes == IDLE) & ~(available_w > 0)] = STATES.index(UnitState.OFF)
    return found


def minutes_in(states: NDArray[np.uint8]) -> dict[UnitState, int]:
    """Minutes spent in each state.

    Parameters
    ----------
    states : NDArray[np.uint8]
        Any shape, places in `STATES`, one a minute.

    Returns
    -------
    dict[UnitState, int]
        All states, in their order.
    """
    counts = np.bincount(states.ravel(), minlength=len(STATES))
    return {state: int(count) for state, count in zip(STATES, counts, strict=True)}
