"""What a water balance is made of: a unit's control, its sump, the shared store, and why a unit stands still.

Nothing here checks its values; the job does. Every number is finite and not negative, but for `Store.capacity_m3`,
which may be inf.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from trackersim.arrays import FloatArray


class Standstill(StrEnum):
    """Why a unit stops or stands still. Where several hold at once, the first in this order is named."""

    NO_POWER = "no power"
    TANK_FULL = "tank full"
    SOURCE_LOW = "source low"
    CUT_OUT = "low-flow cut-out"
    START_DELAY = "start delay"


@dataclass(frozen=True, kw_only=True)
class UnitControl:
    """When the controller of one unit starts and stops it; by default whenever there is power.

    `start_w` ≥ `stop_w`: starts at or above the one, runs on at or above the other, never without power. It starts in a
    minute only if the `start_delay_min` minutes before it had `start_w` or more as well.

    `cutout_flow_m3_s`: cuts out after `cutout_delay_min` minutes on end with less (0: never), for `cutout_retry_min`
    ≥ 1 minutes. After `cutout_tries` cut-outs in a row it stays off until the next day (0: tries for ever).
    """

    start_w: float = 0.0
    stop_w: float = 0.0
    start_delay_min: float = 0.0
    cutout_flow_m3_s: float = 0.0
    cutout_delay_min: float = 2.0
    cutout_retry_min: float = 20.0
    cutout_tries: int = 0


@dataclass(frozen=True, kw_only=True, eq=False)
class Sump:
    """The source of one unit that can be pumped dry: 0 ≤ `low_stop_m3` ≤ `restart_m3` ≤ `volume_m3`, its usable water.

    The unit stops when it holds `low_stop_m3` or less, and may start again `restart_delay_min` minutes after it has
    come up to `restart_m3`. `inflow_m3_s`: broadcastable to (days,); what does not fit flows over.
    """

    volume_m3: float
    start_volume_m3: float
    low_stop_m3: float
    restart_m3: float
    inflow_m3_s: FloatArray | float
    restart_delay_min: float = 0.0


@dataclass(frozen=True, kw_only=True, eq=False)
class StoreBounds:
    """The tank or pond all units fill.

    A tank has floats, `low_float_m3` < `high_float_m3` ≤ `capacity_m3`: all units stop when it holds the high one or
    more and may start again when it holds the low one or less. Without floats (None) units pump on, and what is above
    `capacity_m3` flows over. `demand_m3_s`: broadcastable to (days, minutes). `evaporation_m3_s`: to (days,).
    """

    capacity_m3: float
    start_m3: float
    demand_m3_s: FloatArray | float
    evaporation_m3_s: FloatArray | float = 0.0
    high_float_m3: float | None = None
    low_float_m3: float | None = None
