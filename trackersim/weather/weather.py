"""`Weather`: evenly spaced samples of light, air and wind, as every later room receives them."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from trackersim.arrays import FloatArray
from trackersim.errors import Notice
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
