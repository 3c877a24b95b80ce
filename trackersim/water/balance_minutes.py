"""The plain loop over minutes behind `balance`: each thing with a memory is a coroutine, sent one minute at a time.

Why a loop: a level that neither fills nor empties lives on for weeks, and a pump that overshoots its float by part of a
minute hands that remainder on, so days marched side by side run up to once for every day (a tank of four days' demand:
365 rounds, 3 s). Plain floats in the local variables of a coroutine do a minute in a fraction of a microsecond; NumPy
makes everything that needs no memory before and after. That is also why the body of `unit_minutes` is longer than the
house likes.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Generator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from trackersim.arrays import FloatArray
from trackersim.water.balance_parts import StoreBounds, Sump, UnitControl

SECONDS = 60.0

# What a unit does in a minute. TRIPS runs, and cuts out at the end of the minute.
IDLE, FULL, LOW, PAUSED, RUNS, TRIPS = range(6)
# What its power allows in a minute.
NOTHING, RUN_ON, START = range(3)

# Stands in for a sump where there is none.
_ENDLESS = Sump(volume_m3=math.inf, start_volume_m3=math.inf, low_stop_m3=0.0, restart_m3=0.0, inflow_m3_s=0.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class UnitTrace:
    """What one unit could do, and room for what it did; all arrays (days, minutes).

    `power`: NOTHING, RUN_ON or START. `want_m3`: water of the minute if it runs and the sump gives it. `inflow_m3`
    (days,): into the sump each minute. `unit_minutes` writes `state` and, with a sump, `volume_m3` at the ends of
    minutes.
    """

    control: UnitControl
    sump: Sump | None
    power: NDArray[np.uint8]
    want_m3: FloatArray
    inflow_m3: FloatArray
    state: NDArray[np.uint8]
    volume_m3: FloatArray | None

    @classmethod
    def of(cls, power: NDArray[np.uint8], flow_m3_s: FloatArray, control: UnitControl, sump: Sump | None) -> UnitTrace:
        """With `flow_m3_s` (days, minutes), what it gives when it runs."""
        return cls(
            control=control,
            sump=sump,
            power=power,
            want_m3=flow_m3_s * SECONDS,
            inflow_m3=np.broadcast_to(0.0 if sump is None else sump.inflow_m3_s, len(power)) * SECONDS,
            state=np.zeros(power.shape, dtype=np.uint8),
            volume_m3=None if sump is None else np.zeros(power.shape),
        )


class StoreTrace(NamedTuple):
    """A store with its demand (days, minutes) and evaporation (days,) per minute [m³], and room for its volume."""

    store: StoreBounds
    demand_m3: FloatArray
    evaporation_m3: FloatArray
    volume_m3: FloatArray

    @classmethod
    def of(cls, store: StoreBounds, shape: tuple[int, int]) -> StoreTrace:
        """For `shape` days and minutes."""
        demand_m3 = np.broadcast_to(store.demand_m3_s, shape) * SECONDS
        return cls(store, demand_m3, np.broadcast_to(store.evaporation_m3_s, shape[:1]) * SECONDS, np.zeros(shape))


def unit_minutes(unit: UnitTrace) -> Generator[float, bool | None, None]:
    """Is sent whether the tank is full at the start of a minute; yields the water pumped in it [m³].

    The first value yielded, before any minute, means nothing. All days are written when the last minute is out.
    """
    sump = unit.sump or _ENDLESS
    trips = _cut_out(unit.control, minutes_a_day=unit.power.shape[1])
    free_at = next(trips)
    may_cut_out = unit.control.cutout_flow_m3_s > 0
    capacity, restart, low_stop = sump.volume_m3, sump.restart_m3, sump.low_stop_m3
    restart_delay_min = sump.restart_delay_min
    volume, is_low, risen_min = sump.start_volume_m3, sump.start_volume_m3 <= low_stop, 0
    running, pumped, minute = False, 0.0, 0
    for day, inflow in enumerate(unit.inflow_m3.tolist()):
        states: list[int] = []
        volumes: list[float] = []
        for power, want in zip(unit.power[day].tolist(), unit.want_m3[day].tolist(), strict=True):
            is_full = yield pumped
            held, pumped, state = volume + inflow, 0.0, IDLE
            if power:
                if is_full:
                    state = FULL
                elif is_low:
                    state = LOW
                elif free_at > minute:
                    state = PAUSED
                elif running or power == START:
                    state = RUNS
                    pumped = want if want < held else held
                    if may_cut_out and (free_at := trips.send((minute, pumped))) > minute:
                        state = TRIPS
            running = state == RUNS
            volume = held - pumped
            if volume > capacity:
                volume = capacity
            if is_low:
                risen_min = risen_min + 1 if volume >= restart else 0
                is_low = risen_min < 1 + restart_delay_min
            elif volume <= low_stop:
                is_low, risen_min = True, 0
            states.append(state)
            volumes.append(volume)
            minute += 1
        unit.state[day] = states
        if unit.volume_m3 is not None:
            unit.volume_m3[day] = volumes
    yield pumped


def _cut_out(control: UnitControl, *, minutes_a_day: int) -> Generator[float, tuple[int, float], None]:
    """Is sent each minute the unit runs and its water [m³]; yields the first minute in which it may run again."""
    limit_m3 = control.cutout_flow_m3_s * SECONDS
    low_min = good_min = tries = day = 0
    last, free_at = -2, 0.0
    while True:
        minute, pumped = yield free_at
        if minute != last + 1:
            low_min = good_min = 0
        last = minute
        if minute // minutes_a_day != day:
            day, tries = minute // minutes_a_day, 0
        if pumped >= limit_m3:
            low_min, good_min = 0, good_min + 1
            tries = 0 if good_min > control.cutout_delay_min else tries
            continue
        low_min, good_min = low_min + 1, 0
        if low_min >= control.cutout_delay_min:
            low_min, tries, free_at = 0, tries + 1, minute + 1 + control.cutout_retry_min
            if tries == control.cutout_tries:
                free_at = max(free_at, (day + 1) * minutes_a_day)


def store_minutes(trace: StoreTrace) -> Generator[bool, float, None]:
    """Is sent the water pumped in a minute [m³]; yields whether the tank is full for the next.

    The first value yielded is for the first minute. All days are written when the last minute is in.
    """
    store = trace.store
    high = math.inf if store.high_float_m3 is None else store.high_float_m3
    low = math.inf if store.low_float_m3 is None else store.low_float_m3
    capacity, volume = store.capacity_m3, store.start_m3
    is_full = volume >= high
    for day, evaporation in enumerate(trace.evaporation_m3.tolist()):
        volumes: list[float] = []
        for demand in trace.demand_m3[day].tolist():
            pumped = yield is_full
            volume += pumped
            volume = volume - demand if volume > demand else 0.0
            volume = volume - evaporation if volume > evaporation else 0.0
            if volume > capacity:
                volume = capacity
            is_full = volume > low if is_full else volume >= high
            volumes.append(volume)
        trace.volume_m3[day] = volumes
    yield is_full


def run_together(units: Sequence[UnitTrace], store: StoreTrace) -> None:
    """All units on one tank with floats, minute by minute."""
    coroutines = [unit_minutes(unit) for unit in units]
    for coroutine in coroutines:
        next(coroutine)
    sends = [coroutine.send for coroutine in coroutines]
    filling = store_minutes(store)
    fill, is_full = filling.send, next(filling)
    for _ in range(store.volume_m3.size):
        pumped = 0.0
        for send in sends:
            pumped += send(is_full)
        is_full = fill(pumped)


def run_alone(unit: UnitTrace) -> None:
    """One unit that no float stops, through all its minutes."""
    deque(unit_minutes(unit), maxlen=0)
