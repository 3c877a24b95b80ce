"""A pandas table with pvlib's column names as weather: for those who bring their own."""

from __future__ import annotations

import hashlib

import numpy as np
import pandas as pd

from trackersim.errors import InputError
from trackersim.job.place import Site
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
        Whole days at interval centres, on the index's standard time.

    Raises
    ------
    InputError
        For a table that lacks any of this, and as a weather file does.
    """
    label = frame.attrs.get("stamp")
    if label not in _SHIFT:
        remedy = 'Set frame.attrs["stamp"] to "start", "centre", "end" or "instant".'
        raise InputError.of("weather", label, "does not say what a row's time is to its interval.", remedy)
    index = frame.index
    if not isinstance(index, pd.DatetimeIndex) or index.tz is None:
        remedy = "Give a DatetimeIndex with a time zone (tz_localize)."
        raise InputError.of("weather", type(index).__name__, "is no index of times with a zone.", remedy)
    lacking = [name for name in _NEEDED if name not in frame.columns]
    if lacking:
        reason = f"lacks {', '.join(lacking)}."
        raise InputError.of("weather", list(frame.columns), reason, f"Columns are named {', '.join(_PVLIB)}.")
    offset_h = _standard_offset_h(index)
    seconds = np.asarray((index - pd.Timestamp(0, tz="UTC")) / pd.Timedelta(seconds=1), dtype=float) + 3600 * offset_h
    step_min = native_step_min(seconds)
    columns = {name: np.full(len(frame), np.nan) for name in COLUMNS}
    for theirs, ours in _PVLIB.items():
        if theirs in frame.columns:
            columns[ours] = frame[theirs].to_numpy(dtype=float, copy=True)
    table = RawTable(
        kind="table",
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


def _standard_offset_h(index: pd.DatetimeIndex) -> float:
    """Hours from UTC of the index's standard time: the smaller offset of a zone with daylight saving."""
    some = index[:: max(len(index) // 24, 1)]
    ahead = some.tz_localize(None) - some.tz_convert("UTC").tz_localize(None)
    return float(ahead.min() / pd.Timedelta(hours=1))
