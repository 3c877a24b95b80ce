"""Skies for the tests: pvlib's clear sky under clouds that are drawn. All of it is invented.

The cloud model: each day has a cloudiness c (0…1), a first-order autoregression from day to day about a mean that the
caller gives by day, cloudless below a fifth; each ten minutes has its own about the day's. Global light is the clear
sky's times 1 − 0.8 c (Kasten & Czeplak 1980, from memory, have 1 − 0.75 c^3.4; this is coarser), direct light the clear
sky's times (1 − c)^1.5, and diffuse light what is left, so that the three close.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import pandas as pd

from trackersim.sky.sun import sun_at
from trackersim.weather.clearsky import clear_sky

_STEP_MIN = 10
_CLEAR = 0.2  # cloudiness below which a day is cloudless, as some are everywhere


@dataclass(frozen=True, kw_only=True)
class Hours:
    """Hours of some days: the end of each, light [W/m²], air [°C] and wind [m/s], all (n,)."""

    ends: pd.DatetimeIndex
    ghi: np.ndarray
    dni: np.ndarray
    dhi: np.ndarray
    air_c: np.ndarray
    wind_m_s: np.ndarray


def cloudy_hours(
    first: str,
    days: int,
    *,
    latitude: float,
    longitude: float,
    offset_h: float,
    cloudiness: np.ndarray | float = 0.45,
    mean_air_c: float = 15.0,
    swing_c: float = 10.0,
    seed: int = 1,
    elevation: float = 100.0,
) -> Hours:
    """`days` days of hours from the date `first`; `cloudiness` (days,) is the mean of each day."""
    chance = np.random.default_rng(seed)
    per_day = 1440 // _STEP_MIN
    zone = dt.timezone(dt.timedelta(hours=offset_h))
    start = pd.Timestamp(first, tz=zone)
    times = start + pd.to_timedelta((np.arange(days * per_day) + 0.5) * _STEP_MIN, unit="min")
    place = {"latitude_deg": latitude, "longitude_deg": longitude, "elevation_m": elevation}
    sun = sun_at(times, **place)
    clear = clear_sky(times, sun, **place)
    drift, clouds = 0.0, np.empty(days)
    for day, mean in enumerate(np.broadcast_to(cloudiness, days)):
        drift = 0.5 * drift + chance.normal(0, 0.25)
        clouds[day] = np.clip((mean + drift - _CLEAR) / (1 - _CLEAR), 0, 1)
    # Half-cloudy days are the restless ones.
    spread = 0.9 * clouds * (1 - clouds) + 0.02
    cover = np.clip(np.repeat(clouds, per_day) + np.repeat(spread, per_day) * chance.normal(size=len(times)), 0, 1)
    ghi = clear.ghi_w_m2 * (1 - 0.8 * cover)
    level = np.maximum(sun.direction[2], 0.0)
    dni = np.minimum(clear.dni_w_m2 * (1 - cover) ** 1.5, np.divide(ghi, level, where=level > 0.01, out=0 * ghi))
    dhi = ghi - dni * level
    hour = np.arange(days * 24) % 24 + 1.0
    year_day = np.asarray(times.day_of_year)[::6]
    season = -np.cos(2 * np.pi * (year_day - 20) / 365) * (1 if latitude >= 0 else -1)
    air = mean_air_c + swing_c * season * min(abs(latitude) / 45, 1.5) + 4 * np.sin(2 * np.pi * (hour - 9) / 24)
    air += np.repeat(chance.normal(0, 1.5, days), 24) + chance.normal(0, 0.2, len(hour))
    wind = np.clip(2.5 + np.repeat(chance.normal(0, 1, days), 24) + chance.normal(0, 0.7, len(hour)), 0.1, None)
    means = [part.reshape(-1, 6).mean(axis=1).round(1) for part in (ghi, dni, dhi)]
    ends = start + pd.to_timedelta(np.arange(1, days * 24 + 1), unit="h")
    return Hours(ends=ends, ghi=means[0], dni=means[1], dhi=means[2], air_c=air.round(1), wind_m_s=wind.round(1))


def as_log(hours: Hours, *, latitude: float, longitude: float, offset_h: float, elevation: float = 100.0) -> str:
    """The hours as the program's own plain CSV."""
    head = [
        "# invented", "# label = interval ending", f"# utc_offset = {offset_h:g}", f"# latitude = {latitude}",
        f"# longitude = {longitude}", f"# elevation = {elevation:g}", "time,ghi,dni,dhi,air_c,wind_m_s",
    ]  # fmt: skip
    columns = zip(hours.ends, hours.ghi, hours.dni, hours.dhi, hours.air_c, hours.wind_m_s, strict=True)
    rows = [f"{end:%Y-%m-%d %H:%M}," + ",".join(str(value) for value in row) for end, *row in columns]
    return "\n".join([*head, *rows]) + "\n"
