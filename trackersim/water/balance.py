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
   store at or above the high float is full, a sump at or below the low stop is low.
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

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from trackersim.arrays import BoolArray, FloatArray
from trackersim.water.balance_counts import IntArray, StateArray, lost_minutes, power_of, starts_of, stops_of
from trackersim.water.balance_minutes import RUNS, SECONDS, StoreTrace, UnitTrace, run_alone, run_together
from trackersim.water.balance_parts import Standstill, StoreBounds, Sump, UnitControl
from trackersim.water.balance_water import PumpedWater, fill, pumped_water, stored_water
from trackersim.water.cut_out import run_by_cut_outs

__all__ = ["Balance", "Standstill", "StoreBounds", "Sump", "UnitControl", "balance"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Balance:
    """Where the water went.

    `running`, `state` by the codes of `balance_minutes`, `flow_m3_s` actually pumped: (units, days, minutes).
    `store_volume_m3` (days, minutes) at the ends of minutes, None without a store; then all water pumped counts as
    delivered. `delivered_m3`, `overflow_m3`, `shortfall_m3`, `evaporated_m3`: (days,). `sump_volume_m3`: for each unit
    (days, minutes), or None without a sump. `sump_overflow_m3`, `starts`, and every array in `stops` and `lost_min`:
    (units, days).

    start + pumped − delivered − overflow − evaporated = end of the store, and delivered + shortfall = demand;
    start + inflow − pumped − overflow = end of a sump; all to rounding.
    """

    running: BoolArray
    state: StateArray
    flow_m3_s: FloatArray
    store_volume_m3: FloatArray | None
    delivered_m3: FloatArray
    overflow_m3: FloatArray
    shortfall_m3: FloatArray
    evaporated_m3: FloatArray
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
    controls: Sequence[UnitControl],
    sumps: Sequence[Sump | None],
    store: StoreBounds | None,
) -> Balance:
    """Run 1…8 units through consecutive days of one-minute steps, by the rules above.

    `available_w` and `flow_if_running_m3_s`: (units, days, minutes), finite, ≥ 0; flow is what the unit would give
    with that power if it ran. One control and one sump per unit; None stands for a well that never runs dry here.
    `store` None: a pond without limits, of which nothing is counted. Values are taken as valid (see `balance_parts`).

    Only a sump and the floats of a tank make it loop over minutes.
    """
    power = [power_of(*unit) for unit in zip(available_w, controls, strict=True)]
    flows = zip(power, flow_if_running_m3_s, controls, sumps, strict=True)
    units = [UnitTrace.of(p.allows, flow, control, sump) for p, flow, control, sump in flows]
    runs = np.stack([p.runs for p in power])
    trace = None if store is None else StoreTrace.of(store, runs.shape[1:])
    water = _run(units, runs, trace)
    pumped_m3 = np.stack([unit_water.pumped_m3 for unit_water in water])
    state = np.stack([unit.state for unit in units])
    running = state >= RUNS
    return Balance(
        running=running,
        state=state,
        flow_m3_s=pumped_m3 / SECONDS,
        **stored_water(trace, pumped_m3.sum(axis=0))._asdict(),
        sump_volume_m3=tuple(unit.volume_m3 for unit in units),
        sump_overflow_m3=np.stack([unit_water.sump_overflow_m3 for unit_water in water]),
        starts=starts_of(running),
        stops=stops_of(state),
        lost_min=lost_minutes(state, offered=np.stack([p.offered for p in power]), runs=runs),
    )


def _run(units: Sequence[UnitTrace], runs: BoolArray, store: StoreTrace | None) -> list[PumpedWater]:
    """All units and the store through all minutes; `runs` (units, days, minutes) is what power alone would have run."""
    if store is not None and store.store.high_float_m3 is not None:
        run_together(units, store)
        return [pumped_water(unit) for unit in units]
    for unit, unit_runs in zip(units, runs, strict=True):
        if unit.sump is not None:
            run_alone(unit)
        elif unit.control.cutout_flow_m3_s > 0:
            run_by_cut_outs(unit, unit_runs)
        else:
            unit.state[unit_runs] = RUNS
    water = [pumped_water(unit) for unit in units]
    if store is not None:
        fill(store, np.sum([unit_water.pumped_m3 for unit_water in water], axis=0))
    return water
