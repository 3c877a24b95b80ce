"""`FileRows`: the rows of one weather file as the checks see them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from trackersim.arrays import BoolArray, FloatArray
from trackersim.weather.slots import SkyOver, Slots


@dataclass(frozen=True, kw_only=True)
class FileRows:
    """Whole days of n rows, cleaned and as measured.

    `slots.columns` hold what the file says (NaN where nothing); `light` holds GHI, DNI and DHI in W/m² without gaps;
    `air_c` and `wind_m_s` are without gaps. `late_min` is how much the light of clear days comes after the sun, None
    where no day can tell.
    """

    slots: Slots
    sky: SkyOver
    light: Mapping[str, FloatArray]
    air_c: FloatArray
    wind_m_s: FloatArray
    latitude_deg: float
    longitude_deg: float
    late_min: float | None

    @property
    def first_day(self) -> dt.date:
        """The local date of the first row."""
        return self.slots.first_day

    @property
    def ghi_kwh_m2(self) -> FloatArray:
        """Global light of each day, kWh/m² (days,)."""
        return self.daily(self.light["ghi"])

    @property
    def clear_kwh_m2(self) -> FloatArray:
        """Global light of each day under the cloudless sky, kWh/m² (days,)."""
        return self.daily(self.sky.clear["ghi"])

    def daily(self, light: FloatArray) -> FloatArray:
        """Light of rows [W/m²] (n,) summed over each day, kWh/m² (days,)."""
        return np.asarray(self.by_day(light).sum(axis=1) * self.slots.step_min / 60_000)

    def by_day(self, rows: FloatArray) -> FloatArray:
        """Rows (n,) as (days, rows a day)."""
        return rows.reshape(-1, self.slots.per_day)

    def days_with(self, rows: BoolArray) -> BoolArray:
        """Days (days,) with any true row (n,)."""
        return np.asarray(rows.reshape(-1, self.slots.per_day).any(axis=1))

    def rows_of(self, days: BoolArray) -> BoolArray:
        """Rows (n,) of the true days (days,)."""
        return np.repeat(days, self.slots.per_day)
