"""The loop over minutes behind `balance`, whose rules it follows: compiled.

Why a loop: a level that neither fills nor empties lives on for weeks, and a pump that overshoots its float by part of a
minute hands that remainder on, so days cannot be marched side by side.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from trackersim.arrays import FloatArray
from trackersim.compiled import compiled, kept
from trackersim.constants import SECONDS_A_MINUTE
from trackersim.job.electrics import Controller
from trackersim.job.pump import Pump
from trackersim.job.water import Source, Store
from trackersim.water.unit_state import CUT_OUT, OFF, RUNNING, SOURCE_LOW, START_POWER, STORE_FULL, Standstill

# Columns of stops and of minutes lost: the causes, in the order of `Standstill`.
_CAUSES = len(Standstill)
NO_POWER, FULL, LOW, CUT, START_DELAY = range(_CAUSES)
# Rows of what became of the store's water on each day.
_STORE_SUMS = 4
DELIVERED, OVERFLOW, SHORTFALL, EVAPORATED = range(_STORE_SUMS)

# A unit: first its settings, then what it remembers from minute to minute. A well is a sump without end, and a pump
# without cut-out has one at no flow. The `…_min` that count are minutes on end up to the last one; `by_power` is
# whether it would run if power alone decided; `free_at_min`, when a cut-out's pause ends, counts from the first minute.
_UNIT = np.dtype(
    [(name, np.float64) for name in (
        "start_w", "stop_w", "start_delay_min",
        "low_flow_m3", "cutout_delay_min", "cutout_retry_min", "cutout_tries",
        "capacity_m3", "low_stop_m3", "restart_m3", "restart_delay_min",
        "volume_m3", "offered_min", "low_flow_min", "good_flow_min", "tries", "free_at_min", "risen_min",
    )]
    + [(name, np.bool_) for name in ("runs", "by_power", "is_low")]
)  # fmt: skip
# A store likewise; without floats it is never full.
_STORE = np.dtype(
    [(name, np.float64) for name in ("capacity_m3", "high_float_m3", "low_float_m3", "volume_m3")]
    + [("is_full", np.bool_)]
)


def unit_at_start(controller: Controller, pump: Pump, source: Source) -> NDArray[np.void]:
    """A unit before the first minute: it stands, and its sump is full.

    Parameters
    ----------
    controller : Controller
        Start power, stop power and start delay are read.
    pump : Pump
        The four fields of its cut-out are read.
    source : Source
        Of a sump its volume, shares and delay are read.

    Returns
    -------
    NDArray[np.void]
        Shape (1,): the settings and memory of one unit.
    """
    unit = np.zeros(1, dtype=_UNIT)
    unit["start_w"], unit["stop_w"] = controller.start_w, controller.stops_at_w
    unit["start_delay_min"] = controller.start_delay_min
    unit["low_flow_m3"] = pump.cutout_flow_m3_s * SECONDS_A_MINUTE
    unit["cutout_delay_min"], unit["cutout_retry_min"] = pump.cutout_delay_min, pump.cutout_retry_min
    unit["cutout_tries"] = pump.cutout_tries
    unit["capacity_m3"] = unit["volume_m3"] = math.inf if source.volume_m3 is None else source.volume_m3
    if source.volume_m3 is not None:
        unit["low_stop_m3"], unit["restart_m3"] = source.low_stop * source.volume_m3, source.restart * source.volume_m3
    unit["restart_delay_min"] = source.restart_delay_min
    return unit


def store_at_start(store: Store | None) -> NDArray[np.void]:
    """A store before the first minute.

    Parameters
    ----------
    store : Store | None
        Kind, capacity, start and floats are read; None for none.

    Returns
    -------
    NDArray[np.void]
        Shape (1,), or (0,) for a store that is not followed: none, or one whose capacity nobody gave.
    """
    if store is None or store.capacity_m3 is None:
        return np.zeros(0, dtype=_STORE)
    found = np.zeros(1, dtype=_STORE)
    floats = (store.high_float, store.low_float) if store.kind == "tank" else (math.inf, math.inf)
    found["capacity_m3"], found["volume_m3"] = store.capacity_m3, store.start * store.capacity_m3
    found["high_float_m3"], found["low_float_m3"] = (share * store.capacity_m3 for share in floats)
    found["is_full"] = found["volume_m3"] >= found["high_float_m3"]
    return found


class UnitMinutes(NamedTuple):
    """What units did in their minutes, and with them the store.

    `state`, a place in `unit_state.STATES`, `flow_m3_s` pumped and `sump_volume_m3` at the end of each minute: (units,
    days, minutes); the last without days where no unit has a sump. `starts` and `sump_overflow_m3`: (units, days);
    `stops` and `lost_min`, minutes in which a cause held a unit that had power: (units, days, causes).
    `store_volume_m3` at the end of each minute: (days, minutes), without days where there is none; `store_sums_m3`:
    what became of its water on each day, (4, days).
    """

    state: NDArray[np.uint8]
    flow_m3_s: FloatArray
    starts: NDArray[np.int64]
    stops: NDArray[np.int64]
    lost_min: NDArray[np.int64]
    sump_volume_m3: FloatArray
    sump_overflow_m3: FloatArray
    store_volume_m3: FloatArray
    store_sums_m3: FloatArray


@kept
def run_minutes(
    units: NDArray[np.void],
    available_w: FloatArray,
    flow_if_running_m3_s: FloatArray,
    inflow_m3_s: FloatArray,
    store: NDArray[np.void],
    demand_m3_s: FloatArray,
    evaporation_m3_s: FloatArray,
) -> UnitMinutes:
    """Run units through their days, from where they and the store stand, which is written into.

    Parameters
    ----------
    units : NDArray[np.void]
        Shape (units,), as `unit_at_start` gives each.
    available_w : FloatArray
        Shape (units, days, minutes). Power offered to each controller [W].
    flow_if_running_m3_s : FloatArray
        Of that shape. What each unit would give with it if it ran [m³/s].
    inflow_m3_s : FloatArray
        Shape (units, days). What runs into each sump [m³/s].
    store : NDArray[np.void]
        Shape (1,) or (0,), as `store_at_start` gives it.
    demand_m3_s : FloatArray
        Shape (days, minutes). What is asked of the store [m³/s].
    evaporation_m3_s : FloatArray
        Shape (days,). What it loses to the air [m³/s].

    Returns
    -------
    UnitMinutes
        What they and the store did.
    """
    shape = available_w.shape
    days, minutes = shape[1:]
    state, flow_m3_s = np.empty(shape, np.uint8), np.empty(shape)
    starts = np.zeros(shape[:2], np.int64)
    stops, lost_min = np.zeros((*shape[:2], _CAUSES), np.int64), np.zeros((*shape[:2], _CAUSES), np.int64)
    has_sump = np.any(units["capacity_m3"] < math.inf)
    sump_volume_m3, sump_overflow_m3 = np.empty((shape[0], days if has_sump else 0, minutes)), np.zeros(shape[:2])
    store_volume_m3, store_sums_m3 = np.empty((days if len(store) > 0 else 0, minutes)), np.zeros((_STORE_SUMS, days))
    for day in range(days):
        for unit in units:
            unit.tries = 0
        for minute in range(minutes):
            pumped_m3 = 0.0
            for at in range(len(units)):
                unit, ran = units[at], units[at].runs
                is_full = len(store) > 0 and store[0].is_full
                watts = available_w[at, day, minute]
                offered = _offer(unit, watts)
                now = _decided(unit, watts, is_full, day * minutes + minute)
                unit.runs = now == RUNNING
                held_m3 = unit.volume_m3 + inflow_m3_s[at, day] * SECONDS_A_MINUTE
                own_m3 = 0.0
                if unit.runs:
                    own_m3 = min(flow_if_running_m3_s[at, day, minute] * SECONDS_A_MINUTE, held_m3)
                over_m3 = _level(unit, held_m3 - own_m3)
                starts[at, day] += unit.runs and not ran
                if not unit.runs:
                    _count(stops[at, day], lost_min[at, day], now, ran, offered, offered or unit.by_power)
                if _cuts_out(unit, own_m3, day, minute, minutes):
                    unit.runs = False
                    stops[at, day, CUT] += 1
                state[at, day, minute] = now
                flow_m3_s[at, day, minute] = own_m3 / SECONDS_A_MINUTE
                sump_overflow_m3[at, day] += over_m3
                if has_sump:
                    sump_volume_m3[at, day, minute] = unit.volume_m3
                pumped_m3 += own_m3
            if len(store) > 0:
                _fill(store[0], pumped_m3, demand_m3_s[day, minute], evaporation_m3_s[day], store_sums_m3[:, day])
                store_volume_m3[day, minute] = store[0].volume_m3
    return UnitMinutes(
        state, flow_m3_s, starts, stops, lost_min, sump_volume_m3, sump_overflow_m3, store_volume_m3, store_sums_m3
    )


@compiled
def _offer(unit: Any, watts: float) -> bool:
    """Whether start power is offered, which is remembered; and whether power alone would run the unit."""
    offered: bool = watts > 0 and watts >= unit.start_w
    may_run = watts > 0 and watts >= unit.stop_w
    unit.offered_min = unit.offered_min + 1 if offered else 0
    unit.by_power = may_run and (unit.by_power or _may_start(unit))
    return offered


@compiled
def _may_start(unit: Any) -> bool:
    """Whether start power is there and was there throughout the start delay before."""
    return bool(unit.offered_min > 0 and unit.offered_min - 1 >= unit.start_delay_min)


@compiled
def _decided(unit: Any, watts: float, is_full: bool, minute: int) -> int:
    """What the unit does in a minute, from what stands at its start; `minute` counts from the first of all."""
    if not (watts > 0 and watts >= unit.stop_w):
        return START_POWER if watts > 0 else OFF
    if is_full:
        return STORE_FULL
    if unit.is_low:
        return SOURCE_LOW
    if unit.free_at_min > minute:
        return CUT_OUT
    return RUNNING if unit.runs or _may_start(unit) else START_POWER


@compiled
def _level(unit: Any, volume_m3: float) -> float:
    """Leave the source with this volume: what flows over [m³], and whether it is low in the next minute."""
    over_m3 = max(volume_m3 - unit.capacity_m3, 0.0) if volume_m3 < math.inf else 0.0
    unit.volume_m3 = min(volume_m3, unit.capacity_m3)
    if unit.is_low:
        unit.risen_min = unit.risen_min + 1 if unit.volume_m3 >= unit.restart_m3 else 0
        unit.is_low = unit.risen_min < 1 + unit.restart_delay_min
    elif unit.volume_m3 <= unit.low_stop_m3:
        unit.is_low, unit.risen_min = True, 0
    return over_m3


@compiled
def _cuts_out(unit: Any, pumped_m3: float, day: int, minute: int, minutes_a_day: int) -> bool:
    """Whether a minute's flow [m³] makes the low-flow cut-out stop the unit at its end; then its pause begins."""
    if not unit.runs:
        unit.low_flow_min = unit.good_flow_min = 0
        return False
    if pumped_m3 >= unit.low_flow_m3:
        unit.low_flow_min = 0
        unit.good_flow_min += 1
        if unit.good_flow_min > unit.cutout_delay_min:
            unit.tries = 0
        return False
    unit.good_flow_min = 0
    unit.low_flow_min += 1
    if unit.low_flow_min < unit.cutout_delay_min:
        return False
    unit.low_flow_min = 0
    unit.tries += 1
    unit.free_at_min = day * minutes_a_day + minute + 1 + unit.cutout_retry_min
    if unit.tries == unit.cutout_tries:
        unit.free_at_min = max(unit.free_at_min, (day + 1) * minutes_a_day)
    return True


@compiled
def _count(
    stops: NDArray[np.int64], lost_min: NDArray[np.int64], now: int, ran: bool, offered: bool, powered: bool
) -> None:
    """Add a minute that is not run to a day's counts: whether it is a stop, and whether it is lost."""
    if now == STORE_FULL:
        stops[FULL] += ran
        lost_min[FULL] += powered
    elif now == SOURCE_LOW:
        stops[LOW] += ran
        lost_min[LOW] += powered
    else:
        stops[NO_POWER] += ran
        lost_min[CUT] += now == CUT_OUT and powered
        lost_min[START_DELAY] += now == START_POWER and offered


@compiled
def _fill(store: Any, pumped_m3: float, demand_m3_s: float, evaporation_m3_s: float, sums_m3: FloatArray) -> None:
    """Take a minute's water into the store: demand, evaporation and overflow in their turn, then its floats."""
    there_m3, demand_m3 = store.volume_m3 + pumped_m3, demand_m3_s * SECONDS_A_MINUTE
    delivered_m3 = min(there_m3, demand_m3)
    left_m3 = there_m3 - delivered_m3
    evaporated_m3 = min(left_m3, evaporation_m3_s * SECONDS_A_MINUTE)
    left_m3 -= evaporated_m3
    store.volume_m3 = min(left_m3, store.capacity_m3)
    store.is_full = store.volume_m3 > store.low_float_m3 if store.is_full else store.volume_m3 >= store.high_float_m3
    sums_m3[DELIVERED] += delivered_m3
    sums_m3[OVERFLOW] += left_m3 - store.volume_m3
    sums_m3[SHORTFALL] += demand_m3 - delivered_m3
    sums_m3[EVAPORATED] += evaporated_m3
