"""What a simulation says of whole days, months and all of its time, with the inputs that it can be traced to.

A `Result` works them out of its minutes; `DaysAlone` holds no minutes, and takes a hundredth of the room.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, NamedTuple, Self

import numpy as np
import pandas as pd

from trackersim.arrays import FloatArray
from trackersim.errors import Notice
from trackersim.job.model import Job
from trackersim.rack.events import MorningEvents
from trackersim.water.demand import demand_each_day_m3, short_days
from trackersim.water.unit_state import UnitState

# What a month's days are summed to.
_SUMMED = ["days", "water_m3", "array_kwh", "input_kwh", "used_kwh", "plane_kwh_m2"]


@dataclass(frozen=True, kw_only=True)
class Provenance:
    """What a printed figure can be traced to."""

    version: str
    job_sha256: str
    weather_name: str
    weather_sha256: str
    first_day: str
    last_day: str


class Sums(NamedTuple):
    """What is told beside the days: water that could be lifted and that each unit lifted, means a day; minutes of each
    unit by state; energy from the backup, None without one.
    """

    could_m3_per_day: float
    unit_water_m3_per_day: tuple[float, ...]
    unit_state_minutes: tuple[Mapping[UnitState, int], ...]
    bought_kwh: float | None


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class DayFigures(ABC):
    """One job on one rack, by whole days. Figures equal only themselves.

    `morning` holds the moments of each day; its flips mean something only for racks that rest west overnight
    (`events`). `coldest_c` is the site's design low, or the coldest air of the whole weather.
    """

    job: Job
    rack: str
    morning: MorningEvents
    notices: tuple[Notice, ...]
    provenance: Provenance
    coldest_c: float

    def __repr__(self) -> str:
        """In short: a notebook would print thousands of minutes otherwise."""
        days = f"{self.provenance.first_day} to {self.provenance.last_day}"
        water = f"{self.water_m3_per_day:.3g} m³ a day"
        return f"<{type(self).__name__} {self.job.site.name!r}, {self.rack} rack, {days}: {water}>"

    @property
    @abstractmethod
    def _days(self) -> pd.DataFrame:
        """What `daily` gives a copy of."""

    @property
    def daily(self) -> pd.DataFrame:
        """One row a day: water, energy of the array, plane light, minutes of flow, starts and cut-outs, the flip.

        `array_kwh` is the best at the array's terminals, `input_kwh` the best at the controller, `used_kwh` what that
        draws. A followed store adds what it delivered, spilled, lacked and held at midnight, a backup what was bought,
        and racks with a morning flip the minutes to it, NaN on days without. A table of its own each time: what is
        written into it changes no figure.
        """
        return self._days.copy()

    @property
    @abstractmethod
    def daily_water_m3(self) -> FloatArray:
        """Water lifted on each day (days,)."""

    @property
    @abstractmethod
    def dates(self) -> pd.DatetimeIndex:
        """The days, without a time zone."""

    @property
    @abstractmethod
    def shortfall_m3(self) -> FloatArray | None:
        """Water that the store lacked on each day (days,); None where it is not followed."""

    @property
    @abstractmethod
    def sums(self) -> Sums:
        """What is told beside the days."""

    def of_job(self, job: Job) -> Self:
        """The same figures as those of a job that differs in nothing that moves water (`Job.of_water`)."""
        return replace(self, job=job, provenance=replace(self.provenance, job_sha256=job.sha256()))

    @property
    def events(self) -> MorningEvents | None:
        """The moments of each morning, None for racks that have no morning flip."""
        return None if self.rack in ("fixed", "ideal") else self.morning

    @property
    def days(self) -> int:
        """Whole days simulated."""
        return len(self.morning.sunrise)

    @property
    def monthly(self) -> pd.DataFrame:
        """Twelve rows, months 1…12: days simulated and sums; 0 for months without a simulated day.

        A table of its own each time, as `daily` is.
        """
        return self._months.copy()

    @cached_property
    def _months(self) -> pd.DataFrame:
        """What `monthly` gives a copy of."""
        sums = self._days.assign(days=1).groupby(self.dates.month)[_SUMMED].sum()
        return sums.reindex(range(1, 13), fill_value=0).rename_axis("month")

    @property
    def monthly_means(self) -> pd.DataFrame:
        """The sums of `monthly` divided by its days: means a day, for the months simulated only."""
        simulated = self._months[self._months["days"] > 0]
        return simulated.div(simulated["days"], axis=0)

    @property
    def bought_kwh(self) -> float | None:
        """What the controllers drew from the backup in all the days simulated; None without one."""
        return self.sums.bought_kwh

    @property
    def water_m3(self) -> float:
        """Water lifted in all the days simulated."""
        return float(pd.Series(self.daily_water_m3).sum())

    @property
    def could_m3_per_day(self) -> float:
        """Mean water a day that would be lifted if the store were never full."""
        return self.sums.could_m3_per_day

    @property
    def water_m3_per_day(self) -> float:
        """Mean water a day."""
        return self.water_m3 / self.days

    @property
    def unit_water_m3_per_day(self) -> tuple[float, ...]:
        """Mean water a day of each unit."""
        return self.sums.unit_water_m3_per_day

    @property
    def unit_state_minutes(self) -> tuple[Mapping[UnitState, int], ...]:
        """Minutes that each unit spends running, waiting for each thing, and off, over all the days simulated."""
        return self.sums.unit_state_minutes

    def unit_summaries(self) -> list[dict[str, Any]]:
        """The units as plain data."""
        units = zip(self.job.unit_names, self.unit_water_m3_per_day, self.unit_state_minutes, strict=True)
        return [
            {"name": name, "water_m3_per_day": water, "minutes": {str(state): n for state, n in minutes.items()}}
            for name, water, minutes in units
        ]

    @cached_property
    def demand_m3(self) -> FloatArray:
        """Water wanted on each day (days,)."""
        return demand_each_day_m3(self.job.store, np.asarray(self.dates.month))

    @property
    def days_meeting_demand(self) -> int | None:
        """Days on which the store gave all that was wanted, or, where it is not followed, that much was lifted.

        None without a demand.
        """
        if not self.demand_m3.any():
            return None
        lacking_m3 = self.shortfall_m3
        given_m3 = self.daily_water_m3 if lacking_m3 is None else self.demand_m3 - lacking_m3
        return self.days - int(short_days(delivered_m3=given_m3, demand_m3=self.demand_m3).sum())

    def flip_summary(self) -> dict[str, float | int | None]:
        """Days on which the rack flipped, and the median minutes to it; None where the rack has no flip."""
        if self.events is None:
            return {"days_flipped": None, "median_min_after_sunrise": None, "median_min_after_first_beam": None}
        return {
            "days_flipped": int((self.events.flip >= 0).sum()),
            "median_min_after_sunrise": _median(self._days["flip_after_sunrise_min"]),
            "median_min_after_first_beam": _median(self._days["flip_after_first_beam_min"]),
        }

    def summary(self) -> dict[str, Any]:
        """The whole answer as plain data, as `run --json` prints it (SI units)."""
        monthly = [
            {"month": int(month), "days": int(row[0]), **dict(zip(_SUMMED[1:], map(float, row[1:]), strict=True))}
            for month, row in zip(self._months.index, self._months[_SUMMED].itertuples(index=False), strict=True)
        ]
        return {
            "job": self.job.site.name,
            "rack": self.rack,
            "days": self.days,
            "water_m3": self.water_m3,
            "water_m3_per_day": self.water_m3_per_day,
            "could_m3_per_day": self.could_m3_per_day,
            **{name: float(self._days[name].sum()) for name in _SUMMED[2:]},
            "monthly": monthly,
            "units": self.unit_summaries(),
            "flip": self.flip_summary(),
            "days_meeting_demand": self.days_meeting_demand,
            **({} if self.bought_kwh is None else {"bought_kwh": self.bought_kwh}),
            "notices": [str(notice) for notice in self.notices],
            "provenance": dict(vars(self.provenance)),
        }


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class DaysAlone(DayFigures):
    """DayFigures whose minutes were let go."""

    table: pd.DataFrame
    told: Sums

    @property
    def _days(self) -> pd.DataFrame:
        return self.table

    @property
    def daily_water_m3(self) -> FloatArray:
        """Water lifted on each day (days,)."""
        return self.table["water_m3"].to_numpy()

    @property
    def dates(self) -> pd.DatetimeIndex:
        """The days, without a time zone."""
        return pd.DatetimeIndex(self.table.index)

    @property
    def shortfall_m3(self) -> FloatArray | None:
        """Water that the store lacked on each day (days,); None where it is not followed."""
        return self.table["shortfall_m3"].to_numpy() if "shortfall_m3" in self.table else None

    @property
    def sums(self) -> Sums:
        """What is told beside the days."""
        return self.told


def days_alone(figures: DayFigures) -> DaysAlone:
    """The figures without the minutes behind them.

    Parameters
    ----------
    figures : DayFigures
        Such as a `Result`.

    Returns
    -------
    DaysAlone
        The same figures.
    """
    names = ("job", "rack", "morning", "notices", "provenance", "coldest_c")
    common = {name: getattr(figures, name) for name in names}
    return DaysAlone(**common, table=figures.daily, told=figures.sums)


def _median(minutes: pd.Series[float]) -> float | None:
    value = float(minutes.median())
    return None if math.isnan(value) else value
