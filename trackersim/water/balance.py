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

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from trackersim.arrays import BoolArray, FloatArray, check_array
from trackersim.constants import SECONDS_A_MINUTE
from trackersim.job.electrics import Controller
from trackersim.job.pump import Pump
from trackersim.job.water import Source, Store
from trackersim.water import balance_minutes as loop
from trackersim.water.unit_state import RUNNING, Standstill

IntArray = npt.NDArray[np.int64]


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

    `running`, `state` as places in `unit_state.STATES`, `flow_m3_s` actually pumped: (units, days, minutes). `store`:
    None if it is not followed.
    `sump_volume_m3`: for each unit (days, minutes), or None without a sump. `sump_overflow_m3`, `starts`, and every
    array in `stops` and `lost_min`: (units, days).

    start + inflow − pumped − overflow = end of a sump, to rounding.
    """

    running: BoolArray
    state: npt.NDArray[np.uint8]
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
        by_day: FloatArray = self.flow_m3_s.sum(axis=-1) * SECONDS_A_MINUTE
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

    The sections have been validated.

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

    Raises
    ------
    InputError
        For arrays of other shapes, or with power or flow below 0 or not finite.
    """
    check_array("available_w", available_w, (len(sources), "days", "minutes"), least=0)
    shape = available_w.shape
    check_array("flow_if_running_m3_s", flow_if_running_m3_s, shape, least=0)
    days, minutes = shape[1:]
    stands = np.concatenate([loop.unit_at_start(*each) for each in zip(controllers, pumps, sources, strict=True)])
    kept = loop.store_at_start(store)
    # Always of this type: for any other the loop would be compiled anew. What has its shape is not copied.
    available, offered, inflow, demand, evaporation = (
        np.require(values if np.shape(values) == to else np.broadcast_to(values, to), float, ["C", "W"])
        for values, to in (
            (available_w, shape),
            (flow_if_running_m3_s, shape),
            (inflow_m3_s, shape[:2]),
            (demand_m3_s, shape[1:]) if len(kept) else (0.0, (0, minutes)),
            (evaporation_m3_s, (days,)),
        )
    )
    found = loop.run_minutes(stands, available, offered, inflow, kept, demand, evaporation)
    return Balance(
        running=found.state == RUNNING,
        state=found.state,
        flow_m3_s=found.flow_m3_s,
        store=_store_days(found) if len(kept) else None,
        sump_volume_m3=tuple(
            None if source.volume_m3 is None else volume
            for source, volume in zip(sources, found.sump_volume_m3, strict=True)
        ),
        sump_overflow_m3=found.sump_overflow_m3,
        starts=found.starts,
        # A start delay stops no pump that runs, and without power no minute is lost.
        stops={cause: found.stops[..., n] for n, cause in enumerate(Standstill) if cause != Standstill.START_DELAY},
        lost_min={cause: found.lost_min[..., n] for n, cause in enumerate(Standstill) if cause != Standstill.NO_POWER},
    )


def _store_days(found: loop.UnitMinutes) -> StoreDays:
    sums_m3 = found.store_sums_m3
    return StoreDays(
        volume_m3=found.store_volume_m3,
        delivered_m3=sums_m3[loop.DELIVERED],
        overflow_m3=sums_m3[loop.OVERFLOW],
        shortfall_m3=sums_m3[loop.SHORTFALL],
        evaporated_m3=sums_m3[loop.EVAPORATED],
    )
