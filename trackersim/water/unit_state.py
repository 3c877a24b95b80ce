"""What one pump unit does in a minute, in the words of the field: it runs, waits for something, or is off; and why."""

from __future__ import annotations

from enum import StrEnum

import numpy as np
from numpy.typing import NDArray


class UnitState(StrEnum):
    """States of a unit; every one that begins with "waiting" has power and is held by what follows.

    A unit without any power is off; one with some, but too little or not yet for long enough to start, waits for start
    power.
    """

    RUNNING = "running"
    SOURCE_LOW = "waiting: source low"
    STORE_FULL = "waiting: store full"
    CUT_OUT = "waiting: low-flow cut-out"
    START_POWER = "waiting: start power"
    OFF = "off"


class Standstill(StrEnum):
    """Why a unit stops or stands still. Where several hold at once, the first in this order is named."""

    NO_POWER = "no power"
    TANK_FULL = "tank full"
    SOURCE_LOW = "source low"
    CUT_OUT = "low-flow cut-out"
    START_DELAY = "start delay"


STATES: tuple[UnitState, ...] = tuple(UnitState)
# Arrays hold a state as its place in `STATES`.
RUNNING, SOURCE_LOW, STORE_FULL, CUT_OUT, START_POWER, OFF = range(len(STATES))


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
