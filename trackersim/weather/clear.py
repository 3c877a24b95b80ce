"""Weather of cloudless days, for a first answer without any file."""

from __future__ import annotations

import hashlib
import json

import numpy as np
import pandas as pd

from trackersim.arrays import FloatArray
from trackersim.clock import standard_zone
from trackersim.errors import Notice
from trackersim.job.place import Site, WeatherChoice
from trackersim.sky.sun import sun_at
from trackersim.units import show_both
from trackersim.weather.clearsky import clear_sky
from trackersim.weather.usual_air import PLATEAU_M, usual_air
from trackersim.weather.weather import Weather

# Air lags the sun by about a month: the usual coldest day of the northern year, and the usual warmest hour.
_COLDEST_DAY = 20.0
_WARMEST_SOLAR_HOUR = 15.0


def clear_weather(site: Site, choice: WeatherChoice) -> Weather:
    """A calendar year of cloudless minutes at the site (`step_min` 1, 525,600 or 527,040 samples).

    Light: Ineichen–Perez with pvlib's monthly Linke turbidity. Air: the daily mean swings once a year between the
    coldest day (20 January; half a year later south of the equator) and the warmest, the hour of day once a day by
    `daily_swing_c`, warmest at 15:00 mean solar time; so the coldest month's mean low is `coldest_c` and the warmest
    month's mean high `warmest_c` to within half a kelvin. A job that gives neither has the `usual_air` of its place,
    and the swing is then that of lowlands inland: wider on high ground, narrower by the sea. Wind constant, without
    direction. `sha256` is the hash of the parameters.
    """
    zone = standard_zone(site)
    start = pd.Timestamp(year=choice.year, month=1, day=1, second=30, tz=zone)
    days = 366 if start.is_leap_year else 365
    times = pd.date_range(start, periods=days * 1440, freq="min")
    height_m = site.elevation_m or 0.0
    place = {"latitude_deg": site.latitude_deg, "longitude_deg": site.longitude_deg, "elevation_m": height_m}
    light = clear_sky(times, sun_at(times, **place), **place)
    coldest, warmest, swing = _daily_air(site, choice)
    within = "7 °F (4 K)" if height_m > PLATEAU_M else "5 °F (3 K)"
    text = (
        "The sky is taken as cloudless on every day: this is the most a site can give, not what to expect. Air from "
        f"{show_both(coldest - swing / 2, 'temperature', digits=2)} on winter mornings to "
        f"{show_both(warmest + swing / 2, 'temperature', digits=2)} on summer afternoons is "
        f"{f'assumed from the place, rightly to about {within}' if choice.coldest_c is None else 'as given'}."
    )
    return Weather(
        times=times,
        step_min=1,
        ghi_w_m2=light.ghi_w_m2,
        dni_w_m2=light.dni_w_m2,
        dhi_w_m2=light.dhi_w_m2,
        air_c=_air_c(site, coldest, warmest, swing, days=days),
        wind_m_s=np.full(len(times), choice.wind_m_s),
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
        elevation_m=height_m,
        typical=True,
        label="minute centre",
        name="clear sky",
        sha256=_hash(
            {**place, "elevation_m": site.elevation_m, "utc_offset_h": site.standard_offset_h, **choice.model_dump()}
        ),
        notices=(Notice(text=text, field="weather.clear_sky", level="caution"), *_height_notices(site)),
    )


def _height_notices(site: Site) -> tuple[Notice, ...]:
    if site.elevation_m is not None:
        return ()
    text = "The job does not say how high the site lies: it is taken to lie at the sea. Give site.elevation."
    return (Notice(text=text, field="site.elevation"),)


def _daily_air(site: Site, choice: WeatherChoice) -> tuple[float, float, float]:
    """Mean of the coldest and of the warmest month and the daily swing [°C, K]: as given, else what is usual there."""
    swing = choice.daily_swing_c
    if choice.coldest_c is not None and choice.warmest_c is not None:
        return choice.coldest_c + swing / 2, choice.warmest_c - swing / 2, swing
    height_m = site.elevation_m or 0.0
    usual = usual_air(latitude_deg=site.latitude_deg, longitude_deg=site.longitude_deg, elevation_m=height_m)
    return usual.coldest_mean_c, usual.warmest_mean_c, swing * usual.swing_share


def _air_c(site: Site, low: float, high: float, swing: float, *, days: int) -> FloatArray:
    """Air temperature at every minute of the year, daily means from `low` to `high`."""
    coldest = _COLDEST_DAY + (days / 2 if site.latitude_deg < 0 else 0.0)
    hour = (np.arange(days * 1440) + 0.5) / 60
    season = 2 * np.pi * (hour / 24 - coldest) / days
    solar_hour = hour + site.longitude_deg / 15 - site.standard_offset_h
    day = 2 * np.pi * (solar_hour - _WARMEST_SOLAR_HOUR) / 24
    return np.asarray((low + high) / 2 - (high - low) / 2 * np.cos(season) + swing / 2 * np.cos(day))


def _hash(parameters: dict[str, object]) -> str:
    return hashlib.sha256(json.dumps(parameters, sort_keys=True).encode()).hexdigest()
