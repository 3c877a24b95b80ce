"""[pump]: centrifugal or helical-rotor, from its sheet, from its best point, or from a class of its size."""

from __future__ import annotations

from functools import cache
from itertools import pairwise
from typing import Any, Literal

from pydantic import Field, model_validator

from trackersim.data import rows_of
from trackersim.job.fields import Count, Flow, Flows, Length, Lengths, Minutes, Powers, Section, Share, Shares, refuse

_WATER_N_M3 = 9790.0  # weight of water at 20 °C
_BEST_EFFICIENCY = 0.9  # of pump and motor together; no pump of this size comes near
# Measured on a standard motor of 18.5 kW: 0.36 (source in tests/published/test_motor_losses.py). Pumps' motors turn in
# water, which rubs more than air; how much more is an assumption. The common range is 0.3–0.5 (no source).
NO_LOAD_SHARE = 0.4
_CURVE = ("curve_flow", "curve_head", "curve_power")


@cache
def pump_classes() -> dict[str, dict[str, str]]:
    """Generic pumps by class name, as the bundled table has them (invented curves)."""
    return {row["class"]: row for row in rows_of("pump_classes.csv")}


class Pump(Section):
    """The pump's sheet at rated speed, or its best point alone if the sheet is lost."""

    name: str = Field("", description="what you call it")
    kind: Literal["centrifugal", "helical"] = Field(
        "centrifugal", description='"centrifugal" or "helical" (helical rotor, positive displacement)'
    )
    pump_class: str = Field("", description="generic pump instead of a sheet that is lost", examples=["10gpm-150ft"])
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
    motor_efficiency: Share = Field(
        0.80, gt=0.2, le=1, description="motor output over input at the pump's best point", examples=["80 %"]
    )
    no_load_share: Share = Field(
        NO_LOAD_SHARE,
        ge=0,
        le=1,
        description="share of the motor's loss there that is iron and friction, which go with speed; rest with torque²",
        examples=["40 %"],
    )
    head_lost: Share = Field(
        0.0, ge=0, le=0.9, description="wear, centrifugal: share of its head lost since new", examples=["8 %"]
    )
    flow_lost: Share = Field(0.0, ge=0, le=0.9, description="wear: share of its flow lost since new", examples=["5 %"])
    max_speed: Share = Field(1.0, gt=0.1, le=1.5, description="largest speed the drive allows, share of rated speed")
    min_speed: Share = Field(0.0, ge=0, lt=1.5, description="least speed at which the drive runs it, share of rated")
    cutout_flow_m3_s: Flow = Field(
        0.0, ge=0, le=1, description="stops below this flow (0: no cut-out)", examples=["2 gpm"]
    )
    cutout_delay_min: Minutes = Field(
        2.0, ge=0, le=120, description="minutes of low flow before it stops", examples=[2]
    )
    cutout_retry_min: Minutes = Field(20.0, ge=1, le=720, description="minutes until it tries again", examples=[20])
    cutout_tries: Count = Field(
        0, ge=0, le=100, description="cut-outs in a row after which it stays off until the next day; 0: no limit"
    )

    @model_validator(mode="before")
    @classmethod
    def _curve_of_class(cls, data: Any) -> Any:
        """Take the curve of the pump's class where the job names one."""
        name = data.get("pump_class") if isinstance(data, dict) else None
        if not name or not isinstance(name, str):
            return data
        row = pump_classes().get(name.strip())
        if row is None:
            raise refuse("pump_class", f"is no class on file ({', '.join(pump_classes())}).")
        given = {key for key in data for curve in _CURVE if key.startswith(curve)}
        known = {} if given else {key: row[key] for key in _CURVE}
        return {**data, **known, "kind": data.get("kind", row["kind"])}

    @model_validator(mode="after")
    def _curve_makes_sense(self) -> Pump:
        if self.curve_flow_m3_s is None and self.curve_head_m is None:
            self._best_point_given()
        else:
            if self.rated_flow_m3_s is not None or self.rated_head_m is not None:
                raise refuse("rated_flow", "give the curve or the best point, not both.")
            self._curve_given()
        if self.min_speed >= self.max_speed:
            raise refuse("min_speed", "min_speed must be below max_speed.")
        return self

    def _best_point_given(self) -> None:
        if self.rated_flow_m3_s is None or self.rated_head_m is None:
            raise refuse("curve_flow", "needs curve_flow with curve_head, or rated_flow with rated_head.")
        if self.curve_power_w is not None or self.curve_efficiency is not None:
            raise refuse("curve_flow", "is missing beside curve_power or curve_efficiency.")
        if self.kind == "helical":
            raise refuse("curve_flow", "a helical pump needs flow and power at two heads or more.")

    def _curve_given(self) -> None:
        flow, head = self.curve_flow_m3_s, self.curve_head_m
        if flow is None or head is None or len(flow) != len(head):
            raise refuse("curve_flow", "curve_flow and curve_head must hold the same number of points.")
        if max(flow) > 1 or max(head) > 1000 or min(head) < 0:
            raise refuse("curve_head", "curve heads must be 0…1000 m, flows at most 1 m³/s.")
        if self.kind == "helical":
            self._helical_curve(flow, head)
        else:
            self._centrifugal_curve(flow, head)
        self._power_given(flow, head)

    def _helical_curve(self, flow: tuple[float, ...], head: tuple[float, ...]) -> None:
        if not 2 <= len(flow) <= 60:
            raise refuse("curve_flow", "a helical pump needs 2 to 60 points.")
        if any(b <= a for a, b in pairwise(head)):
            raise refuse("curve_head", "of a helical pump must rise, from the least head of its sheet.")
        if min(flow) <= 0 or any(b > a for a, b in pairwise(flow)):
            raise refuse("curve_flow", "of a helical pump must be above 0 and not rise with head.")
        if self.curve_power_w is None:
            raise refuse("curve_power", "is needed for a helical pump.")

    def _centrifugal_curve(self, flow: tuple[float, ...], head: tuple[float, ...]) -> None:
        if not 3 <= len(flow) <= 60:
            raise refuse("curve_flow", "a pump curve needs 3 to 60 points.")
        if flow[0] != 0 or any(b <= a for a, b in pairwise(flow)):
            raise refuse("curve_flow", "must begin at 0 and rise.")
        if head[0] <= 0:
            raise refuse("curve_head", "must have a shut-off head above 0.")
        if head[-1] >= 0.98 * head[0] or any(
            head[i + 1] >= head[i] for i in range(head.index(max(head)), len(head) - 1)
        ):
            raise refuse("curve_head", "must fall as flow rises (a small hump at the start is allowed).")
        if max(head) > 1.1 * head[0]:
            raise refuse("curve_head", "humps more than 10 % above shut-off.")

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
        if power is not None and self.kind == "centrifugal":
            best_w = max(zip(flow, head, power, strict=True), key=lambda point: point[0] * point[1] / point[2])[2]
            if min(power) <= self.no_load_share * (1 - self.motor_efficiency) * best_w:
                reason = "is less at some flow than the motor alone loses: check motor_efficiency and no_load_share."
                raise refuse("curve_power", reason)
        if efficiency is not None and (len(efficiency) != points or not all(0 <= value < 0.95 for value in efficiency)):
            raise refuse("curve_efficiency", "needs one value from 0 to below 0.95 for each flow.")
        if efficiency is not None and min(efficiency[1:]) <= 0.01:
            raise refuse("curve_efficiency", "must be above 1 % at every flow but the first.")
