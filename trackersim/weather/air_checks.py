"""Can this air and wind have been measured? One function a check."""

from __future__ import annotations

import numpy as np

from trackersim.arrays import BoolArray, FloatArray
from trackersim.weather.light_checks import same_runs
from trackersim.weather.limits import AIR, STUCK


def summer_less_winter_k(air_c: FloatArray, clear_kwh_m2: FloatArray, *, latitude_deg: float) -> float | None:
    """How much warmer [K] the sunniest quarter of the year is than the darkest, air lagging the sun by 25 days.

    `air_c` and `clear_kwh_m2` are a day's means and the clear sky's daily light (days,). None for less than 300 days
    and within 30° of the equator, where rain may rule the warmth.
    """
    if len(air_c) < 300 or abs(latitude_deg) < AIR["seasons_latitude"].value:
        return None
    sun = np.roll(clear_kwh_m2, int(AIR["season_lag"].value))
    low, high = np.quantile(sun, [0.25, 0.75])
    return float(air_c[sun >= high].mean() - air_c[sun <= low].mean())


def day_less_night_k(air_c: FloatArray, solar_hour: FloatArray, *, per_day: int) -> float | None:
    """How much warmer [K] it is from 12 to 16 h of sun time than from 2 to 6 h, in the mean; None below 10 days.

    `air_c` (n,) and `solar_hour` (n,), 0…24, are rows.
    """
    if len(air_c) < AIR["least_days"].value * per_day:
        return None
    warm, cold = (solar_hour >= 12) & (solar_hour < 16), (solar_hour >= 2) & (solar_hour < 6)
    if not (warm.any() and cold.any()):
        return None
    return float(air_c[warm].mean() - air_c[cold].mean())


def stuck(values: FloatArray, *, step_min: int, kind: str) -> BoolArray:
    """Rows (n,) of air or wind (`kind`: "air", "wind") that are exactly the same for three days or more."""
    found = np.zeros(len(values), dtype=bool)
    for start, end in same_runs(values, np.isfinite(values)):
        if (end - start) * step_min > STUCK[kind].value * 60:
            found[start:end] = True
    return found


def never_rests(wind_m_s: FloatArray, *, per_day: int) -> bool:
    """Whether the mean wind of at least ten days (n,) is a gale: another column, or another unit."""
    long = len(wind_m_s) >= AIR["calm_days"].value * per_day
    return long and float(wind_m_s.mean()) > AIR["gale"].value


def never_blows(wind_m_s: FloatArray, *, per_day: int) -> bool:
    """Whether the mean wind of at least ten days (n,) is below what a cup anemometer starts at."""
    long = len(wind_m_s) >= AIR["calm_days"].value * per_day
    return long and float(wind_m_s.mean()) < AIR["calm"].value
