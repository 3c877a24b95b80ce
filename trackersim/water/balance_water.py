"""The water of every minute, once it is known who ran and how full everything was at the end of each minute."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from trackersim.arrays import FloatArray
from trackersim.water.balance_minutes import RUNS, StoreTrace, UnitTrace, store_minutes


class PumpedWater(NamedTuple):
    """Pumped by one unit [m³] (days, minutes), and what flowed over its sump [m³] (days,)."""

    pumped_m3: FloatArray
    sump_overflow_m3: FloatArray


class StoredWater(NamedTuple):
    """What became of the water pumped [m³] (days,), and the store's volume [m³] (days, minutes), None without one."""

    delivered_m3: FloatArray
    overflow_m3: FloatArray
    shortfall_m3: FloatArray
    evaporated_m3: FloatArray
    store_volume_m3: FloatArray | None


def pumped_water(unit: UnitTrace) -> PumpedWater:
    """What a unit pumped, by the arithmetic of the loop over minutes, so that its sump balances."""
    running = unit.state >= RUNS
    if unit.sump is None or unit.volume_m3 is None:
        return PumpedWater(np.where(running, unit.want_m3, 0.0), np.zeros(len(running)))
    held_m3 = _before(unit.volume_m3, first=unit.sump.start_volume_m3) + unit.inflow_m3[:, None]
    pumped_m3 = np.where(running, np.minimum(unit.want_m3, held_m3), 0.0)
    over_m3 = np.maximum(held_m3 - pumped_m3 - unit.sump.volume_m3, 0.0)
    return PumpedWater(pumped_m3, over_m3.sum(axis=-1))


def fill(trace: StoreTrace, pumped_m3: FloatArray) -> None:
    """The store of `trace` through all minutes with this water (days, minutes), whatever its floats say."""
    filling = store_minutes(trace)
    next(filling)
    for pumped in pumped_m3.ravel().tolist():
        filling.send(pumped)


def stored_water(trace: StoreTrace | None, pumped_m3: FloatArray) -> StoredWater:
    """What became of the water all units pumped (days, minutes); without a store all of it is delivered."""
    if trace is None:
        nothing = np.zeros(len(pumped_m3))
        return StoredWater(pumped_m3.sum(axis=-1), nothing, nothing, nothing, None)
    there_m3 = _before(trace.volume_m3, first=trace.store.start_m3) + pumped_m3
    delivered_m3 = np.minimum(there_m3, trace.demand_m3)
    left_m3 = there_m3 - delivered_m3
    evaporated_m3 = np.minimum(left_m3, trace.evaporation_m3[:, None])
    over_m3 = np.maximum(left_m3 - evaporated_m3 - trace.store.capacity_m3, 0.0)
    missing_m3 = trace.demand_m3 - delivered_m3
    return StoredWater(
        delivered_m3=delivered_m3.sum(axis=-1),
        overflow_m3=over_m3.sum(axis=-1),
        shortfall_m3=missing_m3.sum(axis=-1),
        evaporated_m3=evaporated_m3.sum(axis=-1),
        store_volume_m3=trace.volume_m3,
    )


def _before(volume_m3: FloatArray, *, first: float) -> FloatArray:
    """Volume at the start of each minute, from that at the ends of minutes (days, minutes)."""
    return np.concatenate([[first], volume_m3.ravel()[:-1]]).reshape(volume_m3.shape)
