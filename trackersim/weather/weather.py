"""`Weather`: evenly spaced samples of light, air and wind, as every later room receives them."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, fields, replace

import numpy as np
import pandas as pd

from trackersim.arrays import FloatArray
from trackersim.clock import check_year
from trackersim.errors import Fault, InputError, Notice
from trackersim.weather.inspection import Inspection


@dataclass(frozen=True, kw_only=True)
class Weather:
    """Samples at interval centres.

    `times` is tz-aware at one fixed UTC offset, evenly spaced by `step_min`, and covers whole days from local
    standard midnight to midnight without a gap; its length is days · 1440 / step_min. Every array has that length, is
    finite, and light is never negative. `rain_mm_by_day` is of the whole record which these days are of, since dirt
    is of days before; `days_before` of its days lie before the first of these. `label` says what the source's stamps
    meant ("hour ending"). `typical` is true when the year was stitched from several and its calendar year is only a
    convention. `cut_by_hills` says that the source took away the sun that the terrain hides. `inspection` is what the
    checks of a file found; a sky that was made has none.
    """

    times: pd.DatetimeIndex
    step_min: int
    ghi_w_m2: FloatArray
    dni_w_m2: FloatArray
    dhi_w_m2: FloatArray
    air_c: FloatArray
    wind_m_s: FloatArray
    wind_from_deg: FloatArray | None = None
    rain_mm_by_day: FloatArray | None = None
    days_before: int = 0
    latitude_deg: float | None = None
    longitude_deg: float | None = None
    elevation_m: float | None = None
    typical: bool = False
    cut_by_hills: bool = False
    label: str = "interval centre"
    name: str = ""
    sha256: str = ""
    inspection: Inspection | None = None
    notices: tuple[Notice, ...] = ()

    @property
    def days(self) -> int:
        """Number of whole days."""
        return len(self.times) * self.step_min // 1440

    @property
    def utc_offset_h(self) -> float:
        """Hours from UTC of the clock that `times` is written in."""
        offset = self.times[0].utcoffset()
        return offset.total_seconds() / 3600 if offset is not None else 0.0


_LIGHT = ("ghi_w_m2", "dni_w_m2", "dhi_w_m2")
_SAMPLES = (*_LIGHT, "air_c", "wind_m_s", "wind_from_deg")


def check_weather(weather: Weather) -> None:
    """`InputError` for a `Weather` that somebody made and that is not what the class says.

    Parameters
    ----------
    weather : Weather
        Made by hand, or changed.
    """
    faults = []
    if not _evenly_over_days(weather.times, weather.step_min):
        remedy = "One fixed UTC offset, centres of the intervals, from a midnight to a midnight, step_min a part of 60."
        told = f"{weather.times[0]} to {weather.times[-1]}" if len(weather.times) else "no times"
        reason = f"are no even steps of {weather.step_min} min over whole days."
        faults.append(Fault(field="weather.times", value=told, reason=reason, remedy=remedy))
    for name in _SAMPLES:
        values = getattr(weather, name)
        if values is None and name == "wind_from_deg":
            continue
        sound = isinstance(values, np.ndarray) and values.shape == (len(weather.times),) and np.isfinite(values).all()
        if not sound or (name in (*_LIGHT, "wind_m_s") and (values < 0).any()):
            reason = f"is no array of {len(weather.times)} finite values, of light and wind none below 0."
            remedy = "A table with gaps is read by simulate(job, weather=frame)."
            faults.append(Fault(field=f"weather.{name}", value=None, reason=reason, remedy=remedy))
    if faults:
        raise InputError(faults)
    for end in (0, -1):
        check_year("weather.times", weather.times[end].date())


def named_by_content(weather: Weather) -> Weather:
    """The same weather with a `sha256` of what it holds.

    A `Weather` that was changed still has that of the file it was read from.

    Parameters
    ----------
    weather : Weather
        Made by hand, or changed.

    Returns
    -------
    Weather
        Equal hashes are equal weather.
    """
    digest = hashlib.sha256()
    for each in fields(weather):
        value = getattr(weather, each.name)
        if isinstance(value, np.ndarray | pd.DatetimeIndex):
            digest.update(f"{each.name} {value.dtype} {value.shape}".encode())
            digest.update(np.ascontiguousarray(value.asi8 if isinstance(value, pd.DatetimeIndex) else value).tobytes())
        elif each.name not in {"sha256", "inspection", "notices"}:
            digest.update(f"{each.name} {value}".encode())
    return replace(weather, sha256=digest.hexdigest())


def _evenly_over_days(times: pd.DatetimeIndex, step_min: int) -> bool:
    """Whether times are centres of steps over whole days of one offset."""
    if not isinstance(times, pd.DatetimeIndex) or times.tz is None or not len(times) or times.hasnans:
        return False
    if step_min < 1 or 60 % step_min or len(times) * step_min % 1440:
        return False
    step = pd.Timedelta(minutes=step_min)
    local = times.tz_localize(None)
    # Where the clock is moved once a year, either its own steps or those of the instants are uneven.
    even = all(bool((each == pd.date_range(each[0], periods=len(each), freq=step)).all()) for each in (times, local))
    return even and local[0] - local[0].normalize() == step / 2
