"""Dirt that settles on dry days and is washed off by rain."""

from __future__ import annotations

import numpy as np
import pandas as pd
from pvlib import soiling

from trackersim.arrays import FloatArray, check_array

# Rain of a day that washes modules, and the most they ever lose (Kimber et al., IEEE WCPEC 2006, as in pvlib).
_WASHING_MM, _MOST_LOST = 6.0, 0.3
# Days for which damp ground keeps dust down; the model's own fortnight is of one dry region (Kimber et al.).
_GRACE_DAYS = 3


def soiling_by_day(rain_mm_by_day: FloatArray, *, lost_per_dry_day: float) -> FloatArray:
    """Share of light lost to dirt on each day (days,), by the Kimber model of pvlib.

    `rain_mm_by_day` (days,). The record is run through twice, so that it begins as dirty as it ends.

    Parameters
    ----------
    rain_mm_by_day : FloatArray
        Shape (days,). Rain [mm].
    lost_per_dry_day : float
        Share of light lost to the dirt of one dry day.

    Returns
    -------
    FloatArray
        Shape (days,); 0…0.3.

    Raises
    ------
    InputError
        For an array of another shape, or with what is no rain.
    """
    check_array("rain_mm_by_day", rain_mm_by_day, ("days",), least=0)
    days = len(rain_mm_by_day)
    twice = pd.Series(np.tile(rain_mm_by_day, 2), pd.date_range("2001-01-01", periods=2 * days, freq="D"))
    lost = soiling.kimber(
        twice,
        cleaning_threshold=_WASHING_MM,
        soiling_loss_rate=lost_per_dry_day,
        grace_period=_GRACE_DAYS,
        max_soiling=_MOST_LOST,
        rain_accum_period=24,
    )
    return np.asarray(lost.to_numpy()[days:], dtype=float)
