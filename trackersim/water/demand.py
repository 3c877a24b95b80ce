"""Demand, evaporation and inflow by the calendar, and how well demand was met.

Tables have one entry a month, January first; `month_of_day` (days,) holds 1…12 for each day simulated. Values are
finite and not negative.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from trackersim.arrays import BoolArray, FloatArray, check_array
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.water import Source, Store

MonthArray = NDArray[np.integer]

_HOURS, _MONTHS = 24, 12
_HOUR_S = 3600.0
_DAY_S = 86400.0
# A day is met in spite of the last digits lost in a sum of 1440 minutes.
_ROUNDING = 1e-9


def demand_each_day_m3(store: Store, month_of_day: MonthArray) -> FloatArray:
    """Demand of every day: that of its month.

    Parameters
    ----------
    store : Store
        Its demand by month is read.
    month_of_day : MonthArray
        Shape (days,). Month of each day, 1…12.

    Returns
    -------
    FloatArray
        Shape (days,) [m³]; 0 where no demand is given.

    Raises
    ------
    InputError
        For a month outside 1…12.
    """
    return _by_day(store.demands_m3_per_day, month_of_day)


def demand_m3_s(store: Store, month_of_day: MonthArray) -> FloatArray:
    """Demand of every minute: that of the month, divided over its hours; within an hour it is even.

    Parameters
    ----------
    store : Store
        Its demand by month and by hour are read.
    month_of_day : MonthArray
        Shape (days,). Month of each day, 1…12.

    Returns
    -------
    FloatArray
        Shape (days, 1440) [m³/s]; every day sums to the demand of its month.

    Raises
    ------
    InputError
        For a month outside 1…12.
    """
    shares = np.asarray(store.demand_by_hour or (1.0,) * _HOURS)
    by_minute = np.repeat(shares / shares.sum() / _HOUR_S, MINUTES_A_DAY // _HOURS)
    return np.asarray(demand_each_day_m3(store, month_of_day)[:, None] * by_minute)


def evaporation_m3_s(store: Store, month_of_day: MonthArray) -> FloatArray:
    """Water that a pond loses to the air.

    Its surface is taken as `area_m2` however full it is, so a pond with sloping banks loses less when low.

    Parameters
    ----------
    store : Store
        Its area and open-water evaporation by month are read.
    month_of_day : MonthArray
        Shape (days,). Month of each day, 1…12.

    Returns
    -------
    FloatArray
        Shape (days,) [m³/s]; 0 where the job gives no area.

    Raises
    ------
    InputError
        For a month outside 1…12.
    """
    if store.area_m2 is None or store.evaporation_by_month_m is None:
        return np.zeros(len(month_of_day))
    return _by_day(store.evaporation_by_month_m, month_of_day) * store.area_m2 / _DAY_S


def inflow_m3_s(source: Source, month_of_day: MonthArray) -> FloatArray:
    """Water that runs into a sump.

    Parameters
    ----------
    source : Source
        Its inflow by month is read.
    month_of_day : MonthArray
        Shape (days,). Month of each day, 1…12.

    Returns
    -------
    FloatArray
        Shape (days,) [m³/s]; 0 for a well.

    Raises
    ------
    InputError
        For a month outside 1…12.
    """
    return _by_day(source.inflows_m3_per_day, month_of_day) / _DAY_S


def days_below(volume_m3: FloatArray, *, reserve_m3: float) -> int:
    """Count the days on which the store holds less than a reserve in any minute.

    Parameters
    ----------
    volume_m3 : FloatArray
        Shape (days, minutes). What it holds [m³].
    reserve_m3 : float
        Volume not to fall below [m³].

    Returns
    -------
    int
        Days.
    """
    return int(np.count_nonzero((volume_m3 < reserve_m3).any(axis=-1)))


def short_days(*, delivered_m3: FloatArray, demand_m3: FloatArray) -> BoolArray:
    """The days on which less was delivered than asked for. A day without demand is never short.

    Parameters
    ----------
    delivered_m3 : FloatArray
        Shape (days,). Water delivered [m³].
    demand_m3 : FloatArray
        Shape (days,). Water asked for [m³].

    Returns
    -------
    BoolArray
        Shape (days,).
    """
    return np.asarray(delivered_m3 < demand_m3 * (1.0 - _ROUNDING))


def longest_dry_spell(*, delivered_m3: FloatArray, demand_m3: FloatArray) -> int:
    """Count the most `short_days` on end.

    Parameters
    ----------
    delivered_m3 : FloatArray
        Shape (days,). Water delivered [m³].
    demand_m3 : FloatArray
        Shape (days,). Water asked for [m³].

    Returns
    -------
    int
        Days.
    """
    dry = short_days(delivered_m3=delivered_m3, demand_m3=demand_m3)
    day = np.arange(len(dry))
    last_met = np.maximum.accumulate(np.where(dry, -1, day))
    return int(np.max(day - last_met, initial=0))


def _by_day(table: ArrayLike, month_of_day: MonthArray) -> FloatArray:
    check_array("month_of_day", month_of_day, ("days",), least=1, most=_MONTHS)
    by_month: FloatArray = np.asarray(table, dtype=np.float64)
    return by_month[month_of_day - 1]
