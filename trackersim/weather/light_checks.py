"""Can this light have been measured? One function a check, each over arrays, each giving a mask or a level."""

from __future__ import annotations

import numpy as np

from trackersim.arrays import BoolArray, FloatArray
from trackersim.weather.limits import DARK, ENVELOPE, STUCK
from trackersim.weather.spans import runs


def unlit_days(ghi_kwh_m2: FloatArray, clear_kwh_m2: FloatArray) -> BoolArray:
    """Days (days,) with less than a fiftieth of the clear sky's light; the dullest real days have several times that.

    `ghi_kwh_m2`, `clear_kwh_m2` (days,): each day's light and that of its cloudless sky.
    """
    bright = clear_kwh_m2 > DARK["least_clear_day"].value
    return np.asarray(bright & (ghi_kwh_m2 < DARK["no_light"].value * clear_kwh_m2))


def dim_days(ghi_kwh_m2: FloatArray, clear_kwh_m2: FloatArray) -> BoolArray:
    """Days (days,) darker than 6 % of the clear sky and than two fifths of the dull days within a month either way.

    A dull day is the tenth percentile of the days about it. Days without any light are `unlit_days` and no neighbours.
    """
    bright = clear_kwh_m2 > DARK["least_clear_day"].value
    share = np.divide(ghi_kwh_m2, clear_kwh_m2, out=np.ones_like(ghi_kwh_m2), where=bright)
    told = bright & ~unlit_days(ghi_kwh_m2, clear_kwh_m2)
    low = told & (share < DARK["dim"].value)
    reach = int(DARK["neighbours"].value)
    found = np.zeros(len(share), dtype=bool)
    for day in np.flatnonzero(low):
        about = slice(max(0, day - reach), day + reach + 1)
        others = share[about][told[about]]
        dull = float(np.quantile(others, 0.1)) if others.size >= 10 else 0.0
        found[day] = share[day] < DARK["dim_of_neighbours"].value * max(dull, float(np.median(others)) / 4)
    return found


def light_lacking(ghi_kwh_m2: FloatArray, clear_kwh_m2: FloatArray, days: BoolArray) -> float:
    """Share of the file's light (0…1) that `days` (days,) lack against the usual day of the file's other days."""
    rest = ~days & (clear_kwh_m2 > 0)
    usual = float(ghi_kwh_m2[rest].sum() / clear_kwh_m2[rest].sum()) if rest.any() else 1.0
    lacking = float(np.clip(usual * clear_kwh_m2[days] - ghi_kwh_m2[days], 0, None).sum())
    return lacking / max(float(ghi_kwh_m2.sum()) + lacking, 1e-9)


def zeros_by_day(ghi: FloatArray, clear_ghi: FloatArray, up_share: FloatArray) -> BoolArray:
    """Rows (n,) of exactly no light under a sun that gives over 200 W/m² when no cloud stands before it."""
    return np.asarray((ghi == 0) & (up_share >= 1) & (clear_ghi > DARK["zero_clear"].value))


def stuck_light(values: FloatArray, clear_ghi: FloatArray, up_share: FloatArray, *, step_min: int) -> BoolArray:
    """Rows (n,) of light [W/m²] that stay exactly the same for over four hours while the sun climbs or sinks."""
    least = max(STUCK["light"].value / step_min, STUCK["light_rows"].value)
    lit = (up_share >= 1) & (values > STUCK["light_floor"].value)
    found = np.zeros(len(values), dtype=bool)
    for start, end in same_runs(values, lit):
        clear = clear_ghi[start:end]
        if end - start >= least and np.ptp(clear) > STUCK["sun_moves"].value * clear.max():
            found[start:end] = True
    return found


def same_runs(values: FloatArray, among: BoolArray) -> list[tuple[int, int]]:
    """Start and end (exclusive) of every run of two or more equal neighbours (n,), all of them in `among`.

    >>> same_runs(np.array([1.0, 2, 2, 2, 3]), np.ones(5, dtype=bool))
    [(1, 4)]
    """
    again = np.concatenate([[False], (values[1:] == values[:-1]) & among[1:] & among[:-1]])
    return [(start - 1, end) for start, end in runs(again)]


def clear_levels(ghi: FloatArray, clear_ghi: FloatArray, *, per_day: int) -> FloatArray:
    """Light over the clear sky on each day (days,) that looks cloudless by its evenness; NaN on all others.

    A day is even when the ratio of GHI to the clear sky's varies by at most 6 % (standard deviation) over the slots
    that have 40 % of its brightest. It is not asked how bright it is, so that a sensor which reads low still has days
    that look cloudless; below half of the clear sky an even day is an overcast one.
    """
    light, clear = ghi.reshape(-1, per_day), clear_ghi.reshape(-1, per_day)
    top = clear.max(axis=1, keepdims=True)
    high = (clear > ENVELOPE["lit_share"].value * top) & (top > DARK["zero_clear"].value)
    ratio = np.divide(light, clear, out=np.zeros_like(light), where=high)
    count = np.maximum(high.sum(axis=1), 1)
    mean = ratio.sum(axis=1) / count
    spread = np.sqrt(np.where(high, (ratio - mean[:, None]) ** 2, 0).sum(axis=1) / count)
    even = (high.sum(axis=1) >= 4) & (spread <= ENVELOPE["smooth"].value * mean) & (mean > ENVELOPE["lowest"].value)
    return np.where(even, mean, np.nan)


def envelope_level(levels: FloatArray) -> float | None:
    """The usual level of the days that look cloudless (days,), NaN on others; None when they are too few to tell."""
    known = levels[~np.isnan(levels)]
    return float(np.median(known)) if known.size >= ENVELOPE["least_days"].value else None


def envelope_drift(levels: FloatArray) -> float | None:
    """By how much the clear days of a year's last two months stand above those of its first two, as a share.

    Both ends of a year are of one season, so that haze and sun cancel and a sensor's drift stays. None for a log that
    is no year, or with too few clear days (days,) at either end.
    """
    season, year = int(ENVELOPE["season"].value), int(ENVELOPE["year"].value)
    if not year <= len(levels) <= 365 + season:
        return None
    ends = [part[~np.isnan(part)] for part in (levels[:season], levels[-season:])]
    if min(end.size for end in ends) < ENVELOPE["least_days"].value:
        return None
    first, last = (float(np.median(end)) for end in ends)
    return last / first - 1
