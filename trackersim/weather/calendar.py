"""Some days of a weather: cut out by date, in whatever year a typical year stands."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pandas as pd

from trackersim.constants import MINUTES_A_DAY
from trackersim.errors import InputError
from trackersim.weather.weather import Weather

DAYS_FIELD = "from/to"  # the field a fault about days names


def days_between(weather: Weather, first_day: dt.date | None, last_day: dt.date | None) -> Weather:
    """The whole days of `weather` from `first_day` to `last_day`, both included.

    Of a day that has a time of day, such as a `pandas.Timestamp`, the date counts. Raises `InputError` for what is no
    day, and where no day is left.
    """
    if first_day is None and last_day is None:
        return weather
    first_day, last_day = (None if day is None else date_of(day) for day in (first_day, last_day))
    dates = weather.times[:: MINUTES_A_DAY // weather.step_min].date
    if weather.typical:  # it stands for every year
        first_day, last_day = (day and in_year(day, dates[0].year) for day in (first_day, last_day))
    chosen = np.array([(first_day or day) <= day <= (last_day or day) for day in dates])
    if not chosen.any():
        asked = f"{first_day or dates[0]} to {last_day or dates[-1]}"
        remedy = f"The weather covers {dates[0]} to {dates[-1]}; the first day asked for must not lie after the last"
        remedy += ", nor in the year before: run two ranges." if weather.typical else "."
        raise InputError.of(DAYS_FIELD, asked, "holds no day of the weather.", remedy)
    keep = np.repeat(chosen, MINUTES_A_DAY // weather.step_min)
    names = ("ghi_w_m2", "dni_w_m2", "dhi_w_m2", "air_c", "wind_m_s", "wind_from_deg")
    parts = {name: getattr(weather, name) for name in names}
    return replace(
        weather,
        times=weather.times[keep],
        days_before=weather.days_before + int(np.argmax(chosen)),
        **{name: part[keep] for name, part in parts.items() if part is not None},
    )


def date_of(day: dt.date, field: str = DAYS_FIELD) -> dt.date:
    """The date of a day that may have a time of day: neither Python nor pandas compares the two.

    Parameters
    ----------
    day : dt.date
        A date, or a time of Python or pandas.
    field : str
        What a fault names.

    Returns
    -------
    dt.date
        Without a time of day. Raises `InputError` for what is no day.
    """
    if not isinstance(day, dt.date) or pd.isna(day):
        raise InputError.of(field, day, "is no day.", "Give a datetime.date, such as date(2025, 6, 1).")
    return day.date() if isinstance(day, dt.datetime) else day


def in_year(day: dt.date, year: int) -> dt.date:
    """The same day of another year; 28 February for a leap day that year does not have."""
    try:
        return day.replace(year=year)
    except ValueError:
        return day.replace(year=year, day=28)
