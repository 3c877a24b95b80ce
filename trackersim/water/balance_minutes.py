"""The plain loop over minutes behind `balance`: each thing with a memory is a coroutine, sent one minute at a time.

Why a loop: a level that neither fills nor empties lives on for weeks, and a pump that overshoots its float by part of a
minute hands that remainder on, so days marched side by side run up to once for every day (a tank of four days' demand:
365 rounds, 3 s). Plain floats in the local variables of a coroutine do a minute in a fraction of a microsecond; NumPy
makes everything that needs no memory before and after. That is also why the body of `unit_minutes` is longer than the
house likes.
"""

from __future__ import annotations

import math
from collections.abc import Generator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trackersim.arrays import FloatArray
from trackersim.job.pump import Pump
from trackersim.job.water import Source, Store

SECONDS = 60.0

# What a unit does in a minute. TRIPS runs, and cuts out at the end of the minute.
IDLE, FULL, LOW, PAUSED, RUNS, TRIPS = range(6)
# What its power allows in a minute.
NOTHING, RUN_ON, START = range(3)


@dataclass(frozen=True, kw_only=True, eq=False)
class UnitTrace:
    """What one unit could do, and room for what it did; all arrays (days, minutes).

    Computed: `power`, NOTHING, RUN_ON or START; `want_m3`, water of the minute if it runs and its source gives it;
    `inflow_m3` (days,), into the sump each minute. `unit_minutes` writes `state` and, with a sump, `volume_m3` at the
    ends of minutes. `pump` holds the cut-out's settings, `source` the sump, which is full at the very start.
    """

    pump: Pump
    source: Source
    power: NDArray[np.uint8]
    want_m3: FloatArray
    inflow_m3: FloatArray
    state: NDArray[np.uint8]
    volume_m3: FloatArray | None

    @classmethod
    def of(
        cls,
        power: NDArray[np.uint8],
        flow_m3_s: FloatArray,
        pump: Pump,
        source: Source,
        inflow_m3_s: FloatArray,
    ) -> UnitTrace:
        """With `flow_m3_s` (days, minutes), what it gives when it runs, and `inflow_m3_s` (days,) into its sump."""
        return cls(
            pump=pump,
            source=source,
            power=power,
            want_m3=flow_m3_s * SECONDS,
            inflow_m3=inflow_m3_s * SECONDS,
            state=np.zeros(power.shape, dtype=np.uint8),
            volume_m3=None if source.volume_m3 is None else np.zeros(power.shape),
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class StoreTrace:
    """A store through its days: its section's shares as volumes, what each minute takes, and room for its volume.

    All in m³. Without floats (a pond or field) both are inf: it never counts as full. `demand_m3` (days, minutes) and
    `evaporation_m3` (days,) are per minute; `store_minutes` writes `volume_m3` (days, minutes) at the ends of minutes.
    """

    capacity_m3: float
    start_m3: float
    high_float_m3: float
    low_float_m3: float
    demand_m3: FloatArray
    evaporation_m3: FloatArray
    volume_m3: FloatArray

    @classmethod
    def of(
        cls, store: Store, demand_m3_s: FloatArray | float, evaporation_m3_s: FloatArray | float, shape: tuple[int, int]
    ) -> StoreTrace | None:
        """For `shape` days and minutes; None for a store that is not followed, whose capacity nobody gave."""
        if store.capacity_m3 is None:
            return None
        has_floats = store.kind == "tank"
        return cls(
            capacity_m3=store.capacity_m3,
            start_m3=store.start * store.capacity_m3,
            high_float_m3=store.high_float * store.capacity_m3 if has_floats else math.inf,
            low_float_m3=store.low_float * store.capacity_m3 if has_floats else math.inf,
            demand_m3=np.broadcast_to(demand_m3_s, shape) * SECONDS,
            evaporation_m3=np.broadcast_to(evaporation_m3_s, shape[:1]) * SECONDS,
            volume_m3=np.zeros(shape),
        )

    @property
    def has_floats(self) -> bool:
        """Whether it stops the pumps when it is full."""
        return self.high_float_m3 < math.inf


def unit_minutes(unit: UnitTrace) -> Generator[float, bool | None, None]:
    """Follow one unit: is sent whether the tank is full at the start of a minute, yields the water pumped in it.

    The first value yielded, before any minute, means nothing. All days are written when the last minute is out.

    Parameters
    ----------
    unit : UnitTrace
        What it could do; its `state` and `volume_m3` are written.

    Returns
    -------
    Generator[float, bool | None, None]
        Water of each minute [m³].
    """
    source = unit.source
    trips = _cut_out(unit.pump, minutes_a_day=unit.power.shape[1])
    free_at = next(trips)
    may_cut_out = unit.pump.cutout_flow_m3_s > 0
    # A well stands for a sump without end.
    capacity = math.inf if source.volume_m3 is None else source.volume_m3
    restart, low_stop = (
        (0.0, 0.0) if source.volume_m3 is None else (source.restart * capacity, source.low_stop * capacity)
    )
    restart_delay_min = source.restart_delay_min
    volume, is_low, risen_min = capacity, False, 0
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


def _cut_out(pump: Pump, *, minutes_a_day: int) -> Generator[float, tuple[int, float], None]:
    """Is sent each minute the unit runs and its water [m³]; yields the first minute in which it may run again."""
    limit_m3 = pump.cutout_flow_m3_s * SECONDS
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
            tries = 0 if good_min > pump.cutout_delay_min else tries
            continue
        low_min, good_min = low_min + 1, 0
        if low_min >= pump.cutout_delay_min:
            low_min, tries, free_at = 0, tries + 1, minute + 1 + pump.cutout_retry_min
            if tries == pump.cutout_tries:
                free_at = max(free_at, (day + 1) * minutes_a_day)


def store_minutes(trace: StoreTrace) -> Generator[bool, float, None]:
    """Follow the store: is sent the water pumped in a minute [m³], yields whether the tank is full for the next.

    The first value yielded is for the first minute. All days are written when the last minute is in.

    Parameters
    ----------
    trace : StoreTrace
        The store and what is asked of it; its `volume_m3` is written.

    Returns
    -------
    Generator[bool, float, None]
        Whether the tank is full.
    """
    high, low = trace.high_float_m3, trace.low_float_m3
    capacity, volume = trace.capacity_m3, trace.start_m3
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
    """Run all units on one tank with floats, minute by minute, and write what they and the tank do.

    Parameters
    ----------
    units : Sequence[UnitTrace]
        The units.
    store : StoreTrace
        The tank that they all fill.

    Returns
    -------
    None
        All is written into the traces.
    """
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
