"""Water that is asked for: demand and evaporation by the calendar, how well they were met, and what a backup must pump.

Tables have one entry a month, January first; `month_of_day` (days,) holds 1…12 for each day simulated. Values are
finite and not negative.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from trackersim.arrays import FloatArray
from trackersim.constants import MINUTES_A_DAY

MonthArray = NDArray[np.integer]

_HOURS = 24
_HOUR_S = 3600.0
_DAY_S = 86400.0
_MM_A_M = 1000.0
_W_A_KW = 1000.0
# A day is met in spite of the last digits lost in a sum of 1440 minutes.
_ROUNDING = 1e-9


def demand_m3_s(*, per_day_m3: ArrayLike, month_of_day: MonthArray, hour_shares: ArrayLike | None = None) -> FloatArray:
    """Demand of every minute [m³/s] (days, 1440).

    `per_day_m3` (12,): water a day in each month. `hour_shares` (24,): how the day divides over its hours, midnight
    first, in any scale but not all 0; None is even. Within an hour it is even. Every day sums to its `per_day_m3`.
    """
    shares = np.ones(_HOURS) if hour_shares is None else np.asarray(hour_shares, dtype=np.float64)
    by_minute = np.repeat(shares / shares.sum() / _HOUR_S, MINUTES_A_DAY // _HOURS)
    demand: FloatArray = _by_day(per_day_m3, month_of_day)[:, None] * by_minute
    return demand


def evaporation_m3_s(*, mm_per_day: ArrayLike, area_m2: float, month_of_day: MonthArray) -> FloatArray:
    """Evaporation of a pond [m³/s] (days,), from open-water evaporation `mm_per_day` (12,), by month.

    The surface is taken as `area_m2` however full the pond is, so a pond with sloping banks loses less when low.
    """
    return _by_day(mm_per_day, month_of_day) / _MM_A_M * area_m2 / _DAY_S


def days_below(volume_m3: FloatArray, *, reserve_m3: float) -> int:
    """Days on which the store (days, minutes) holds less than `reserve_m3` in any minute."""
    return int(np.count_nonzero((volume_m3 < reserve_m3).any(axis=-1)))


def longest_dry_spell(*, delivered_m3: FloatArray, demand_m3: FloatArray) -> int:
    """Most days on end on which less was delivered than asked for; both (days,). A day without demand is no dry day."""
    dry = delivered_m3 < demand_m3 * (1.0 - _ROUNDING)
    day = np.arange(len(dry))
    last_met = np.maximum.accumulate(np.where(dry, -1, day))
    return int(np.max(day - last_met, initial=0))


@dataclass(frozen=True, kw_only=True, eq=False)
class Backup:
    """What a backup must pump in each month so that demand is met; arrays (12,), January first."""

    volume_m3: FloatArray
    hours: FloatArray
    energy_kwh: FloatArray


def backup(
    *,
    shortfall_m3: FloatArray,
    month_of_day: MonthArray,
    rated_flow_m3_s: float,
    rated_power_w: float,
) -> Backup:
    """Hours and energy of a pump on the grid or a generator that makes good the shortfall of each day (days,).

    It runs at its rated flow (> 0) and power; the water goes to whoever lacked it, so the store stays as simulated.
    Months of several years add up. Whether a day has hours enough for it is not asked.
    """
    volume_m3 = np.zeros(12)
    np.add.at(volume_m3, month_of_day - 1, shortfall_m3)
    hours = volume_m3 / rated_flow_m3_s / _HOUR_S
    return Backup(volume_m3=volume_m3, hours=hours, energy_kwh=hours * rated_power_w / _W_A_KW)


def _by_day(table: ArrayLike, month_of_day: MonthArray) -> FloatArray:
    by_month: FloatArray = np.asarray(table, dtype=np.float64)
    return by_month[month_of_day - 1]
