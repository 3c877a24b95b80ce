"""A pandas table with pvlib's column names as weather: for those who bring their own."""

from __future__ import annotations

import hashlib

import numpy as np
import pandas as pd

from trackersim.arrays import FloatArray
from trackersim.errors import InputError
from trackersim.job.place import Site
from trackersim.sky.sun import unix_seconds
from trackersim.weather.clean import cleaned
from trackersim.weather.csv_table import native_step_min
from trackersim.weather.raw import COLUMNS, RawTable
from trackersim.weather.weather import Weather

# Column names of pvlib's weather tables, and what they are here.
_PVLIB = {
    "ghi": "ghi",
    "dni": "dni",
    "dhi": "dhi",
    "temp_air": "air_c",
    "wind_speed": "wind_m_s",
    "wind_direction": "wind_from_deg",
}
_SHIFT: dict[str, float] = {"start": 0.5, "centre": 0.0, "end": -0.5, "instant": 0.0}
_YEAR_DAYS = 366 + 12  # on another clock each month begins or ends on a day of its neighbour
_NEEDED = ("ghi", "dni", "dhi", "temp_air")


def weather_from_frame(frame: pd.DataFrame, site: Site) -> Weather:
    """Weather from a table; it passes the same checks and cleaning as a file.

    Parameters
    ----------
    frame
        Index (n,): a time-zone-aware `DatetimeIndex`. `frame.attrs["stamp"]` says what a row's time is to its interval:
        "start", "centre", "end", or "instant" for readings of that moment. It has no default, since half an hour of
        error costs a rack several per cent. Columns `ghi`, `dni`, `dhi` [W/m²], `temp_air` [°C] and, if
        known, `wind_speed` [m/s] and `wind_direction` [° from north]. NaN where a value is missing. Rows 1 to 60 min
        apart, of one day at least.
    site
        Place that the light is held against; at the sea where it has no height.

    Returns
    -------
    Weather
        Whole days at interval centres, on the site's standard time whatever the index's zone. Only where rows would
        have to be cut (whole hours of UTC, a site half an hour off) on the nearest offset that leaves them whole.

    Raises
    ------
    InputError
        For a table that lacks any of this, or has days before 1950 or after 2100, and as a weather file does.
    """
    label = _checked_stamp(frame)
    seconds = unix_seconds(frame.index, field="weather")
    _check_columns(frame)
    step_min = native_step_min(seconds)
    offset_h = site.standard_offset_h
    if label != "instant":  # a mean over the row's interval
        step_s = 60.0 * step_min
        offset_h = _offset_h(site, start_s=seconds[0] + (_SHIFT[label] - 0.5) * step_s, step_s=step_s)
    seconds += 3600 * offset_h
    _check_one_year(seconds)
    columns = {name: np.full(len(frame), np.nan) for name in COLUMNS}
    for theirs, ours in _PVLIB.items():
        if theirs in frame.columns:
            columns[ours] = _numbers(frame, theirs)
    table = RawTable(
        label=label,
        centre_s=seconds + _SHIFT[label] * step_min * 60,
        columns=columns,
        offset_h=offset_h,
        instant=label == "instant",
        step_min=step_min,
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
        elevation_m=site.elevation_m,
    )
    digest = hashlib.sha256(f"{label} {offset_h}".encode())
    for values in (seconds, *columns.values()):
        digest.update(np.ascontiguousarray(values).tobytes())
    return cleaned(
        table,
        site_latitude_deg=site.latitude_deg,
        site_longitude_deg=site.longitude_deg,
        site_elevation_m=site.elevation_m,
        name="table",
        sha256=digest.hexdigest(),
    )


def _checked_stamp(frame: pd.DataFrame) -> str:
    """What the rows' times mean; `InputError` for what is no table, or does not say it."""
    if not isinstance(frame, pd.DataFrame):
        remedy = "Give a DataFrame; a file is named in the job, as weather.file."
        raise InputError.of("weather", type(frame).__name__, "is no table of pandas.", remedy)
    label = frame.attrs.get("stamp")
    if isinstance(label, str) and label in _SHIFT:
        return label
    remedy = 'Set frame.attrs["stamp"] to "start", "centre", "end" or "instant".'
    raise InputError.of("weather", label, "does not say what a row's time is to its interval.", remedy)


def _check_one_year(seconds: FloatArray) -> None:
    """`InputError` for a typical year whose months keep the years that they were measured in."""
    held, spread = len(np.unique(seconds // 86400)), int(np.ptp(seconds) // 86400)
    if held <= _YEAR_DAYS < spread:
        reason = f"with rows are spread over {spread:,} days."
        remedy = (
            "Put a typical year's months on one year (pvlib's readers: coerce_year=2025); cut a log to its whole days."
        )
        raise InputError.of("weather", f"{held} days", reason, remedy)


def _check_columns(frame: pd.DataFrame) -> None:
    lacking = [name for name in _NEEDED if name not in frame.columns]
    if lacking:
        reason = f"lacks {', '.join(lacking)}."
        raise InputError.of("weather", list(frame.columns), reason, f"Columns are named {', '.join(_PVLIB)}.")
    for name in _PVLIB:
        if (frame.columns == name).sum() > 1:
            raise InputError.of("weather", name, "is the name of two columns.", "Give each column a name of its own.")


def _numbers(frame: pd.DataFrame, name: str) -> FloatArray:
    """A column as numbers, NaN where it holds none."""
    try:
        return frame[name].to_numpy(dtype=float, na_value=np.nan, copy=True)
    except (ValueError, TypeError):
        remedy = f'frame["{name}"] = pd.to_numeric(frame["{name}"], errors="coerce") makes gaps of what is none.'
        raise InputError.of("weather", name, "is a column that holds something that is no number.", remedy) from None


def _offset_h(site: Site, *, start_s: float, step_s: float) -> float:
    """Hours from UTC of the site's standard time, or the nearest at which rows of so many seconds stay whole.

    `start_s` is when one of them begins, in seconds of UTC. Zones lie quarters of an hour apart; rows that begin at no
    such time are cut in any case.
    """
    local_s = start_s + 3600 * site.standard_offset_h
    cut_s = local_s - round(local_s / step_s) * step_s
    return site.standard_offset_h - (cut_s / 3600 if cut_s % 900 == 0 else 0.0)
