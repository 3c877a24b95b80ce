"""What a backup must pump so that demand is met, as far as the sources have the water."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trackersim.arrays import FloatArray
from trackersim.job.water import Source

_HOUR_S = 3600.0
_W_A_KW = 1000.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Backup:
    """What a backup must pump in each month so that demand is met; arrays (12,), January first.

    `missing_m3` is wanted and not pumped, because no source has it.
    """

    volume_m3: FloatArray
    hours: FloatArray
    energy_kwh: FloatArray
    missing_m3: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class SumpDays:
    """What the sun leaves in a sump on each day (days,) [m³].

    `over_m3` runs over; `left_m3` is the most by which the sump may stand lower at the end of the day without taking
    any water from the sun's pump later, since what would have run over fills it again.
    """

    over_m3: FloatArray
    left_m3: FloatArray

    @classmethod
    def of(cls, source: Source, *, held_m3: FloatArray, over_m3: FloatArray) -> SumpDays:
        """Of a sump that holds `held_m3` (days, minutes) and runs over by `over_m3` (days,)."""
        assert source.volume_m3 is not None
        left_m3 = np.maximum(held_m3.min(axis=1) - source.low_stop * source.volume_m3, 0.0)
        for day in range(len(left_m3) - 2, -1, -1):
            left_m3[day] = min(left_m3[day], left_m3[day + 1] + over_m3[day + 1])
        return cls(over_m3=over_m3, left_m3=left_m3)


def backup(
    *,
    shortfall_m3: FloatArray,
    month_of_day: NDArray[np.integer],
    flow_m3_s: FloatArray,
    power_w: FloatArray,
    sumps: Sequence[SumpDays | None],
) -> Backup:
    """Hours and energy of pumps on the grid or a generator that make good the shortfall of each day.

    They run at their full flow and power, all from the same minute on, each until its source has no more or nothing is
    wanted; the water goes to whoever lacked it, so the store stays as simulated. Months of several years add up.
    Whether a day has hours enough for it is not asked.

    Parameters
    ----------
    shortfall_m3 : FloatArray
        Shape (days,). Water that was asked for and not delivered [m³].
    month_of_day : NDArray[np.integer]
        Shape (days,). Month of each day, 1…12.
    flow_m3_s : FloatArray
        Shape (units, 12). Flow of each unit in each month, January first [m³/s], ≥ 0.
    power_w : FloatArray
        Shape (units, 12). What each takes of the backup [W].
    sumps : Sequence[SumpDays | None]
        Of each unit what the sun leaves; None for a well, whose yield its flow keeps to.

    Returns
    -------
    Backup
        Volume, hours of the unit that runs longest, energy, and what is missing all the same, by month (12,).
    """
    lower_m3 = np.zeros(len(flow_m3_s))  # how much lower than simulated the backup leaves each sump
    by_month = np.zeros((4, 12))
    for day, wanted_m3 in enumerate(shortfall_m3.tolist()):
        month = int(month_of_day[day]) - 1
        flow, power = flow_m3_s[:, month], power_w[:, month]
        over_m3 = np.array([0.0 if sump is None else sump.over_m3[day] for sump in sumps])
        left_m3 = np.array([np.inf if sump is None else sump.left_m3[day] for sump in sumps])
        ran_s = _run_s(flow, np.maximum(left_m3 + over_m3 - lower_m3, 0.0), wanted_m3)
        pumped_m3 = flow * ran_s
        lower_m3 = np.maximum(lower_m3 + pumped_m3 - over_m3, 0.0)
        volume_m3 = float(pumped_m3.sum())
        by_month[:, month] += (
            volume_m3,
            ran_s.max() / _HOUR_S,
            (ran_s * power).sum() / _HOUR_S / _W_A_KW,
            wanted_m3 - volume_m3,
        )
    return Backup(
        volume_m3=by_month[0], hours=by_month[1], energy_kwh=by_month[2], missing_m3=np.maximum(by_month[3], 0.0)
    )


def _run_s(flow_m3_s: FloatArray, spare_m3: FloatArray, wanted_m3: float) -> FloatArray:
    """How long each unit runs [s] when all begin together: until its spare is gone, or what is wanted is there."""
    ends_s = np.divide(spare_m3, flow_m3_s, out=np.zeros_like(spare_m3), where=flow_m3_s > 0)
    now_s, lacks_m3 = 0.0, wanted_m3
    for end_s in np.unique(ends_s):
        runs_m3_s = float(flow_m3_s[ends_s > now_s].sum())
        if runs_m3_s * (end_s - now_s) >= lacks_m3:
            return np.minimum(ends_s, now_s + (lacks_m3 / runs_m3_s if lacks_m3 > 0 else 0.0))
        lacks_m3 -= runs_m3_s * (end_s - now_s)
        now_s = end_s
    return ends_s
