"""What turns watts into water: pump, pipes, source and store."""

from __future__ import annotations

from itertools import pairwise
from typing import Literal

from pydantic import Field, model_validator

from trackersim.job.fields import (
    DailyVolume,
    Flow,
    Flows,
    Length,
    Lengths,
    Minutes,
    Number,
    Powers,
    Section,
    Share,
    Shares,
    SpecificCapacity,
    refuse,
)

_WATER_N_M3 = 9790.0  # weight of water at 20 °C
_BEST_EFFICIENCY = 0.9  # of pump and motor together; no pump of this size comes near


class Pump(Section):
    """A centrifugal pump: its sheet's curve at rated speed, or its best point alone if the sheet is lost."""

    name: str = Field("", description="what you call it")
    curve_flow_m3_s: Flows | None = Field(None, description="flows of the sheet", examples=["0 5 10 15 20 gpm"])
    curve_head_m: Lengths | None = Field(None, description="heads at those flows", examples=["200 195 180 150 105 ft"])
    curve_power_w: Powers | None = Field(
        None, description="motor input at those flows and rated speed", examples=["350 430 520 590 640 W"]
    )
    curve_efficiency: Shares | None = Field(
        None,
        description="pump efficiency at those flows, instead of curve_power",
        examples=["0 30 45 50 44 %"],
    )
    rated_flow_m3_s: Flow | None = Field(None, gt=0, le=1, description="flow at its best point", examples=["22 gpm"])
    rated_head_m: Length | None = Field(None, gt=0, le=1000, description="head at its best point", examples=["90 ft"])
    rated_efficiency: Share = Field(
        0.45, gt=0.05, le=0.9, description="pump efficiency at its best point", examples=["45 %"]
    )
    motor_efficiency: Share = Field(0.80, gt=0.2, le=1, description="motor output over input", examples=["80 %"])
    max_speed: Share = Field(1.0, gt=0.1, le=1.5, description="largest speed the drive allows, share of rated speed")
    min_speed: Share = Field(0.0, ge=0, lt=1.5, description="least speed at which the drive runs it, share of rated")
    cutout_flow_m3_s: Flow = Field(
        0.0, ge=0, le=1, description="stops below this flow (0: no cut-out)", examples=["2 gpm"]
    )
    cutout_delay_min: Minutes = Field(
        2.0, ge=0, le=120, description="minutes of low flow before it stops", examples=[2]
    )
    cutout_retry_min: Minutes = Field(20.0, ge=1, le=720, description="minutes until it tries again", examples=[20])

    @model_validator(mode="after")
    def _curve_makes_sense(self) -> Pump:
        if self.curve_flow_m3_s is None and self.curve_head_m is None:
            self._best_point_given()
        else:
            self._curve_given()
            if self.rated_flow_m3_s is not None or self.rated_head_m is not None:
                raise refuse("rated_flow", "give the curve or the best point, not both.")
        if self.min_speed >= self.max_speed:
            raise refuse("min_speed", "min_speed must be below max_speed.")
        return self

    def _best_point_given(self) -> None:
        if self.rated_flow_m3_s is None or self.rated_head_m is None:
            raise refuse("curve_flow", "needs curve_flow with curve_head, or rated_flow with rated_head.")
        if self.curve_power_w is not None or self.curve_efficiency is not None:
            raise refuse("curve_flow", "is missing beside curve_power or curve_efficiency.")

    def _curve_given(self) -> None:
        flow, head = self.curve_flow_m3_s, self.curve_head_m
        if flow is None or head is None or len(flow) != len(head):
            raise refuse("curve_flow", "curve_flow and curve_head must hold the same number of points.")
        if not 3 <= len(flow) <= 60:
            raise refuse("curve_flow", "a pump curve needs 3 to 60 points.")
        if flow[0] != 0 or any(b <= a for a, b in pairwise(flow)):
            raise refuse("curve_flow", "must begin at 0 and rise.")
        if flow[-1] > 1 or max(head) > 1000 or min(head) < 0 or head[0] <= 0:
            raise refuse("curve_head", "curve heads must be 0…1000 m with shut-off above 0, flows at most 1 m³/s.")
        if head[-1] >= 0.98 * head[0] or any(
            head[i + 1] >= head[i] for i in range(head.index(max(head)), len(head) - 1)
        ):
            raise refuse("curve_head", "must fall as flow rises (a small hump at the start is allowed).")
        if max(head) > 1.1 * head[0]:
            raise refuse("curve_head", "humps more than 10 % above shut-off.")
        self._power_given(flow, head)

    def _power_given(self, flow: tuple[float, ...], head: tuple[float, ...]) -> None:
        power, efficiency = self.curve_power_w, self.curve_efficiency
        if (power is None) == (efficiency is None):
            raise refuse("curve_power", "give curve_power or curve_efficiency, one of the two.")
        points = len(flow)
        if power is not None and (len(power) != points or not all(1 <= value <= 200_000 for value in power)):
            raise refuse("curve_power", "needs one value from 1 W to 200 kW for each flow.")
        if power is not None and any(
            _WATER_N_M3 * q * h > _BEST_EFFICIENCY * w for q, h, w in zip(flow, head, power, strict=True)
        ):
            raise refuse("curve_power", "is less than the water itself gains at some flow: check its unit.")
        if efficiency is not None and (len(efficiency) != points or not all(0 <= value < 0.95 for value in efficiency)):
            raise refuse("curve_efficiency", "needs one value from 0 to below 0.95 for each flow.")
        if efficiency is not None and min(efficiency[1:]) <= 0.01:
            raise refuse("curve_efficiency", "must be above 1 % at every flow but the first.")


class Pipes(Section):
    """The pipe from the pump to the outlet."""

    length_m: Length = Field(ge=0, le=20_000, description="from pump to outlet", examples=["600 ft"])
    bore_m: Length = Field(gt=0.004, le=2, description="inside diameter", examples=["1.25 in"])
    c_value: Number = Field(
        140.0, ge=40, le=160, description="Hazen–Williams C: 150 new plastic, 100 old steel", examples=[140]
    )
    fittings: Number = Field(
        0.0, ge=0, le=300, description="sum of the fittings' loss factors K (velocity heads)", examples=[6]
    )


class Source(Section):
    """The well and how far the water is lifted."""

    lift_m: Length = Field(ge=0, le=600, description="height from standing water up to the outlet", examples=["70 ft"])
    specific_capacity_m3_s_per_m: SpecificCapacity | None = Field(
        None,
        gt=0,
        le=1,
        description="yield per metre or foot of drawdown; none: the level stays",
        examples=["0.5 gpm/ft"],
    )
    max_drawdown_m: Length | None = Field(
        None, gt=0, le=300, description="drawdown at which the pump would draw air", examples=["40 ft"]
    )


class Store(Section):
    """Where the water goes and how much of it is wanted."""

    kind: Literal["tank", "pond", "field"] = Field("tank", description='"tank", "pond" or "field"')
    demand_m3_per_day: DailyVolume = Field(
        0.0, ge=0, le=100_000, description="water wanted a day", examples=["1500 gal/day"]
    )
