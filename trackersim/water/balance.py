"""What pumps deliver in the end: sump, store, floats, cut-outs and start delays, minute by minute through many days.

One minute, for every unit:

1. Who runs is decided from what stands at the start of the minute. Without `stop_w` (and more than 0 W) a unit stands.
   With it, it is held if the tank is full, else if its source is low, else if a cut-out's pause is on. Else it runs on
   if it ran through the minute before, and starts if `start_w` is there and was there in the `start_delay_min` minutes
   before, whatever held the unit meanwhile. Before the first minute no unit runs and there is no power.
2. A running unit pumps its flow, at most what its sump holds plus the inflow of the minute. What the sump then holds
   above its volume flows over.
3. Into the store goes what all units pumped; demand takes its share of what is there, evaporation takes its own of what
   is left, and what is then above the capacity flows over. Demand that is not met is shortfall.
4. At the end of the minute the levels decide for the next: the tank becomes full at or above the high float and
   ceases to be at or below the low one; the source becomes low at or below its low stop, and ceases to be
   `restart_delay_min` minutes after the end of the first minute that leaves it at or above restart. At the very start a
   store at or above the high float is full; a sump is full of water.
5. Cut-out: `cutout_delay_min` minutes on end run with less than `cutout_flow_m3_s` actually pumped (one if the delay is
   0) stop the unit after the last of them; it stands for the next `cutout_retry_min` minutes, through midnight too. Any
   stop ends the count. More minutes on end of enough flow than the delay make a success: tries count from 0 again, as
   they do at midnight. With the `cutout_tries`-th try failed the pause lasts at least until midnight.

Stops are counted by cause: a cut-out in its last minute, any other in the first minute not run: no power if there is
not enough, else the cause that holds. Starts equal stops plus units that run at the end.

A minute is lost to a cause if it held a unit that had power: start power is offered, or the unit would be running if
power alone, with its start delay, had decided all along. Lost to the start delay are minutes with start power in
which nothing else holds an idle unit.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from trackersim.arrays import BoolArray, FloatArray
from trackersim.job.electrics import Controller
from trackersim.job.pump import Pump
from trackersim.job.water import Source, Store
from trackersim.water.balance_counts import (
    IntArray,
    Standstill,
    StateArray,
    lost_minutes,
    power_of,
    starts_of,
    stops_of,
)
from trackersim.water.balance_minutes import (
    RUNS,
    SECONDS,
    StoreTrace,
    UnitTrace,
    run_together,
    store_minutes,
    unit_minutes,
)
from trackersim.water.cut_out import run_by_cut_outs


@dataclass(frozen=True, kw_only=True, eq=False)
class StoreDays:
    """The store through the days: volume at the end of each minute (days, minutes), the rest sums of each day (days,).

    start + pumped − delivered − overflow − evaporated = end, and delivered + shortfall = demand; both to rounding.
    """

    volume_m3: FloatArray
    delivered_m3: FloatArray
    overflow_m3: FloatArray
    shortfall_m3: FloatArray
    evaporated_m3: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class Balance:
    """Where the water went.

    `running`, `state` by the codes of `balance_minutes`, `flow_m3_s` actually pumped: (units, days, minutes). `store`:
    None if it is not followed.
    `sump_volume_m3`: for each unit (days, minutes), or None without a sump. `sump_overflow_m3`, `starts`, and every
    array in `stops` and `lost_min`: (units, days).

    start + inflow − pumped − overflow = end of a sump, to rounding.
    """

    running: BoolArray
    state: StateArray
    flow_m3_s: FloatArray
    store: StoreDays | None
    sump_volume_m3: tuple[FloatArray | None, ...]
    sump_overflow_m3: FloatArray
    starts: IntArray
    stops: Mapping[Standstill, IntArray]
    lost_min: Mapping[Standstill, IntArray]

    @property
    def pumped_m3(self) -> FloatArray:
        """Water each unit pumped each day (units, days)."""
        by_day: FloatArray = self.flow_m3_s.sum(axis=-1) * SECONDS
        return by_day


def balance(
    *,
    available_w: FloatArray,
    flow_if_running_m3_s: FloatArray,
    controllers: Sequence[Controller],
    pumps: Sequence[Pump],
    sources: Sequence[Source],
    inflow_m3_s: FloatArray | float = 0.0,
    store: Store | None = None,
    demand_m3_s: FloatArray | float = 0.0,
    evaporation_m3_s: FloatArray | float = 0.0,
) -> Balance:
    """Run 1…8 units through consecutive days of one-minute steps, by the rules above.

    Only a sump and the floats of a tank make it loop over minutes. The sections have been validated.

    Parameters
    ----------
    available_w : FloatArray
        Shape (units, days, minutes). Power offered to each controller [W], finite, ≥ 0.
    flow_if_running_m3_s : FloatArray
        Shape (units, days, minutes). What each unit would give with that power if it ran [m³/s], finite, ≥ 0.
    controllers : Sequence[Controller]
        One a unit: start power, stop power and start delay are read.
    pumps : Sequence[Pump]
        One a unit: the four fields of its cut-out are read.
    sources : Sequence[Source]
        One a unit: of a sump its volume, shares and delay; a well never runs dry here.
    inflow_m3_s : FloatArray | float
        Broadcastable to (units, days). What runs into each sump [m³/s], ≥ 0.
    store : Store | None
        Its kind, capacity, start and floats are read. None, or without a capacity: not followed, and stops no pump.
    demand_m3_s : FloatArray | float
        Broadcastable to (days, minutes). What is asked of the store [m³/s], ≥ 0.
    evaporation_m3_s : FloatArray | float
        Broadcastable to (days,). What it loses to the air [m³/s], ≥ 0.

    Returns
    -------
    Balance
        What ran when, what it pumped, and where the water went.
    """
    power = [power_of(*unit) for unit in zip(available_w, controllers, strict=True)]
    days, minutes = available_w.shape[1:]
    inflow = np.broadcast_to(inflow_m3_s, (len(power), days))
    units = [
        UnitTrace.of(each.allows, *unit)
        for each, *unit in zip(power, flow_if_running_m3_s, pumps, sources, inflow, strict=True)
    ]
    runs = np.stack([each.runs for each in power])
    trace = None if store is None else StoreTrace.of(store, demand_m3_s, evaporation_m3_s, (days, minutes))
    if trace is not None and trace.has_floats:
        run_together(units, trace)
    else:
        for unit, unit_runs in zip(units, runs, strict=True):
            _run_alone(unit, unit_runs)
    water = [_pumped_m3(unit) for unit in units]
    pumped_m3 = np.stack([pumped for pumped, _ in water])
    state = np.stack([unit.state for unit in units])
    running = state >= RUNS
    return Balance(
        running=running,
        state=state,
        flow_m3_s=pumped_m3 / SECONDS,
        store=None if trace is None else _stored(trace, pumped_m3.sum(axis=0)),
        sump_volume_m3=tuple(unit.volume_m3 for unit in units),
        sump_overflow_m3=np.stack([over for _, over in water]),
        starts=starts_of(running),
        stops=stops_of(state),
        lost_min=lost_minutes(state, offered=np.stack([each.offered for each in power]), runs=runs),
    )


def _run_alone(unit: UnitTrace, runs: BoolArray) -> None:
    """One unit that no float stops; `runs` (days, minutes) is what power alone would have run."""
    if unit.volume_m3 is not None:
        deque(unit_minutes(unit), maxlen=0)
    elif unit.pump.cutout_flow_m3_s > 0:
        run_by_cut_outs(unit, runs)
    else:
        unit.state[runs] = RUNS


def _pumped_m3(unit: UnitTrace) -> tuple[FloatArray, FloatArray]:
    """Pumped by one unit [m³] (days, minutes), and what flowed over its sump [m³] (days,).

    By the arithmetic of the loop over minutes, so that its sump balances.
    """
    running, capacity_m3 = unit.state >= RUNS, unit.source.volume_m3
    if unit.volume_m3 is None or capacity_m3 is None:
        return np.where(running, unit.want_m3, 0.0), np.zeros(len(running))
    held_m3 = _before(unit.volume_m3, first=capacity_m3) + unit.inflow_m3[:, None]
    pumped_m3 = np.where(running, np.minimum(unit.want_m3, held_m3), 0.0)
    return pumped_m3, np.maximum(held_m3 - pumped_m3 - capacity_m3, 0.0).sum(axis=-1)


def _stored(trace: StoreTrace, pumped_m3: FloatArray) -> StoreDays:
    """What became of the water all units pumped (days, minutes)."""
    if not trace.has_floats:
        filling = store_minutes(trace)
        next(filling)
        for pumped in pumped_m3.ravel().tolist():
            filling.send(pumped)
    there_m3 = _before(trace.volume_m3, first=trace.start_m3) + pumped_m3
    delivered_m3 = np.minimum(there_m3, trace.demand_m3)
    left_m3 = there_m3 - delivered_m3
    evaporated_m3 = np.minimum(left_m3, trace.evaporation_m3[:, None])
    over_m3 = np.maximum(left_m3 - evaporated_m3 - trace.capacity_m3, 0.0)
    return StoreDays(
        volume_m3=trace.volume_m3,
        delivered_m3=delivered_m3.sum(axis=-1),
        overflow_m3=over_m3.sum(axis=-1),
        shortfall_m3=(trace.demand_m3 - delivered_m3).sum(axis=-1),
        evaporated_m3=evaporated_m3.sum(axis=-1),
    )


def _before(volume_m3: FloatArray, *, first: float) -> FloatArray:
    """Volume at the start of each minute, from that at the ends of minutes (days, minutes)."""
    return np.concatenate([[first], volume_m3.ravel()[:-1]]).reshape(volume_m3.shape)
