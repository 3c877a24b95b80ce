"""Some days of a weather: cut out by date, in whatever year a typical year stands."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from trackersim.constants import MINUTES_A_DAY
from trackersim.errors import InputError, Notice, counted
from trackersim.weather.weather import Weather

DAYS_FIELD = "from/to"  # the field a fault about days names


def days_between(weather: Weather, first_day: dt.date | None, last_day: dt.date | None) -> Weather:
    """The whole days of `weather` from `first_day` to `last_day`, both included.

    Of a day that has a time of day, such as a `pandas.Timestamp`, the date counts. Where the weather lacks some of the
    days, a notice says which there are. Raises `InputError` for what is no day, and where no day is left.
    """
    if first_day is None and last_day is None:
        return weather
    dates = weather.times[:: MINUTES_A_DAY // weather.step_min].date
    first = asked_first = dates[0] if first_day is None else date_of(first_day)
    last = asked_last = dates[-1] if last_day is None else date_of(last_day)
    if weather.typical:  # it stands for every year
        first, last = (in_year(day, dates[0].year) for day in (first, last))
    chosen = (first <= dates) & (dates <= last)
    if not chosen.any():
        remedy = f"The weather covers {dates[0]} to {dates[-1]}; the first day asked for must not lie after the last"
        remedy += ", nor in the year before: run two ranges." if weather.typical else "."
        raise InputError.of(DAYS_FIELD, f"{first} to {last}", "holds no day of the weather.", remedy)
    notices = weather.notices
    several_years = None not in (first_day, last_day) and asked_first.year != asked_last.year
    if first < dates[0] or last > dates[-1] or (weather.typical and several_years):
        notices = (*notices, _lacking_days((asked_first, asked_last), list(dates), list(dates[chosen])))
    keep = np.repeat(chosen, MINUTES_A_DAY // weather.step_min)
    names = ("ghi_w_m2", "dni_w_m2", "dhi_w_m2", "air_c", "wind_m_s", "wind_from_deg")
    parts = {name: getattr(weather, name) for name in names}
    return replace(
        weather,
        times=weather.times[keep],
        days_before=weather.days_before + int(np.argmax(chosen)),
        notices=notices,
        **{name: part[keep] for name, part in parts.items() if part is not None},
    )


def _lacking_days(asked: Sequence[dt.date], dates: Sequence[dt.date], given: Sequence[dt.date]) -> Notice:
    """What to say where fewer days are given than were asked for."""
    text = (
        f"The weather, {dates[0]} to {dates[-1]}, lacks some of the days asked for, {asked[0]} to {asked[-1]}: all "
        f"figures are of {given[0]} to {given[-1]}, {counted(len(given), 'day')}. Take weather that covers them all, "
        "or ask for fewer days."
    )
    return Notice(text=text, field=DAYS_FIELD, level="caution")


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
