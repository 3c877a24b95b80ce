"""[source], [store] and [main]: where the water comes from and where it goes."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, field_validator, model_validator

from trackersim.job.fields import (
    DailyVolume,
    DailyVolumes,
    Length,
    Lengths,
    Minutes,
    OneOrMany,
    Section,
    Share,
    Shares,
    SpecificCapacity,
    SquareMetres,
    Temperature,
    Volume,
    refuse,
)
from trackersim.job.pipework import Pipe

_MONTHS, _HOURS = 12, 24


def _twelve(name: str, values: tuple[float, ...] | None) -> None:
    if values is not None and len(values) != _MONTHS:
        raise refuse(name, f"needs twelve values, January to December; it has {len(values)}.")
    if values is not None and min(values) < 0:
        raise refuse(name, "must not be negative.")


class Source(Section):
    """A well, or a sump that fills by itself; and how far the water is lifted."""

    kind: Literal["well", "sump"] = Field("well", description='"well" or "sump" (a collecting tank that fills slowly)')
    lift_m: Length = Field(
        ge=0,
        le=600,
        description="height from standing water up to the outlet, or to the main it shares; drawdown comes on top",
        examples=["70 ft"],
    )
    lift_by_month_m: Lengths | None = Field(
        None, description="instead of lift, for each month", examples=["96 95 94 94 95 97 99 101 102 101 99 97 ft"]
    )
    specific_capacity_m3_s_per_m: SpecificCapacity | None = Field(
        None,
        gt=0,
        le=1,
        description="yield per metre or foot of drawdown; none: no drawdown is counted",
        examples=["0.5 gpm/ft"],
    )
    max_drawdown_m: Length | None = Field(
        None, gt=0, le=300, description="drawdown at which the pump would draw air", examples=["40 ft"]
    )
    suction_m: Length = Field(
        0.0, ge=0, le=12, description="height of a surface pump above the water; 0: under water", examples=["10 ft"]
    )
    quality: Literal["clean", "sandy", "dirty"] = Field("clean", description='"clean", "sandy" or "dirty" water')
    temperature_c: Temperature = Field(12.0, ge=0, le=60, description="of the water", examples=["55 F"])
    volume_m3: Volume | None = Field(None, gt=0, le=1e6, description="sump: usable volume", examples=["1000 gal"])
    inflow_m3_per_day: DailyVolume = Field(
        0.0, ge=0, le=1e6, description="sump: what runs in a day", examples=["4000 gal/day"]
    )
    inflow_by_month_m3_per_day: DailyVolumes | None = Field(
        None, description="instead of inflow, for each month", examples=["5 5 5 5 4 3 2 2 2 3 4 5 m**3/day"]
    )
    low_stop: Share = Field(0.1, ge=0, lt=1, description="sump: share of volume at which the pump stops")
    restart: Share = Field(0.4, gt=0, le=1, description="sump: share of volume at which it may start again")
    restart_delay_min: Minutes = Field(0.0, ge=0, le=1440, description="sump: minutes to wait after that")

    @model_validator(mode="before")
    @classmethod
    def _lift_from_months(cls, data: Any) -> Any:
        """With a lift for each month, `lift` need not be given."""
        if isinstance(data, dict) and "lift_by_month" in data and "lift" not in data and "lift_m" not in data:
            return {**data, "lift": 0}
        return data

    @model_validator(mode="after")
    def _whole(self) -> Source:
        _twelve("lift_by_month", self.lift_by_month_m)
        _twelve("inflow_by_month", self.inflow_by_month_m3_per_day)
        if self.kind == "sump" and self.volume_m3 is None:
            raise refuse("volume", "is needed for a sump.")
        if self.kind == "well" and self.volume_m3 is not None:
            raise refuse("volume", 'belongs to a sump: give kind = "sump" with it.')
        if self.restart <= self.low_stop:
            raise refuse("restart", "must be above low_stop.")
        return self

    @property
    def yield_m3_s_per_m(self) -> float | None:
        """The specific capacity where it counts: a sump has none, whatever its job says of a well it once was."""
        return self.specific_capacity_m3_s_per_m if self.kind == "well" else None

    @property
    def lifts_m(self) -> tuple[float, ...]:
        """Lift of each month (12)."""
        return self.lift_by_month_m or (self.lift_m,) * _MONTHS

    @property
    def highest_lift_m(self) -> float:
        """The largest lift of any month."""
        return max(self.lifts_m)

    @property
    def inflows_m3_per_day(self) -> tuple[float, ...]:
        """Inflow to a sump in each month (12); none to a well, whatever its job says of a sump it once was."""
        if self.kind == "well":
            return (0.0,) * _MONTHS
        return self.inflow_by_month_m3_per_day or (self.inflow_m3_per_day,) * _MONTHS


class Store(Section):
    """Where the water goes and how much of it is wanted."""

    kind: Literal["tank", "pond", "field"] = Field("tank", description='"tank", "pond" or "field"')
    demand_m3_per_day: DailyVolume = Field(
        0.0, ge=0, le=100_000, description="water wanted a day", examples=["1500 gal/day"]
    )
    demand_by_month_m3_per_day: DailyVolumes | None = Field(
        None, description="instead of demand, for each month", examples=["2 2 3 4 6 8 9 9 6 4 3 2 m**3/day"]
    )
    demand_by_hour: Shares | None = Field(
        None, description="24 weights, midnight to midnight: when of the day it is wanted; default: evenly"
    )
    capacity_m3: Volume | None = Field(
        None, gt=0, le=1e7, description="what it holds; none: it is not followed", examples=["6000 gal"]
    )
    start: Share = Field(0.5, ge=0, le=1, description="how full it is on the first day")
    high_float: Share = Field(0.95, gt=0, le=1, description="tank: share of capacity at which the pump stops")
    low_float: Share = Field(0.85, ge=0, lt=1, description="tank: share of capacity at which it may start again")
    area_m2: SquareMetres | None = Field(None, gt=0, le=1e7, description="pond: water surface", examples=["2000 ft**2"])
    evaporation_by_month_m: Lengths | None = Field(
        None, description="pond: water lost a day in each month", examples=["1 1 2 4 5 6 7 6 5 3 2 1 mm"]
    )
    reserve_m3: Volume = Field(0.0, ge=0, le=1e7, description="volume you do not want to fall below")

    @field_validator("demand_by_hour")
    @classmethod
    def _twenty_four(cls, value: tuple[float, ...] | None) -> tuple[float, ...] | None:
        if value is not None and (len(value) != _HOURS or min(value) < 0 or sum(value) <= 0):
            raise ValueError("needs 24 weights of 0 or more, some of them above 0.")
        return value

    @model_validator(mode="after")
    def _whole(self) -> Store:
        _twelve("demand_by_month", self.demand_by_month_m3_per_day)
        _twelve("evaporation_by_month", self.evaporation_by_month_m)
        if self.low_float >= self.high_float:
            raise refuse("low_float", "must be below high_float: the pump stops at the high one.")
        if (self.area_m2 is None) != (self.evaporation_by_month_m is None):
            raise refuse("area", "give area and evaporation_by_month together or neither.")
        if self.area_m2 is not None and self.kind != "pond":
            raise refuse("area", "only a pond loses water to the air.")
        if self.capacity_m3 is not None and self.capacity_m3 < max(self.demands_m3_per_day) * self._busiest_hour:
            raise refuse("capacity", "is less than an hour's demand.")
        return self

    @property
    def _busiest_hour(self) -> float:
        hours = self.demand_by_hour
        return 1 / _HOURS if hours is None else max(hours) / sum(hours)

    @property
    def demands_m3_per_day(self) -> tuple[float, ...]:
        """Demand a day in each month (12)."""
        return self.demand_by_month_m3_per_day or (self.demand_m3_per_day,) * _MONTHS


class Main(Section):
    """The pipe that several units share, from where they join to the outlet."""

    lift_m: Length = Field(
        0.0,
        ge=0,
        le=600,
        description="height from where the pumps' pipes join up to the outlet, on top of their lifts",
        examples=["20 ft"],
    )
    pipes: Annotated[tuple[Pipe, ...], OneOrMany] = Field(
        (), max_length=20, description="pipe from the junction to the outlet"
    )
