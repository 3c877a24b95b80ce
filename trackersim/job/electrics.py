"""[[wire]] and [controller]: what lies between array and motor."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from trackersim.job.fields import (
    Amperes,
    Area,
    Length,
    Minutes,
    OneOrMany,
    Section,
    Share,
    Shares,
    Temperature,
    Volts,
    Watts,
    refuse,
    text_of,
)
from trackersim.job.gauges import AWG_AREA_MM2

# An assumption: a gap of this size keeps a passing cloud from switching the pump on and off.
_STOP_SHARE = 0.8


class Wire(Section):
    """One run: direct current from the array toward the controller, or from the controller to the motor."""

    name: str = Field("", description="what you call it", examples=["array to disconnect"])
    side: Literal["array", "motor"] = Field("array", description='"array" (before the controller) or "motor" (after)')
    current: Literal["dc", "three-phase"] = Field("dc", description='"dc" (two wires) or "three-phase" (motor side)')
    length_m: Length = Field(gt=0, le=3000, description="one way", examples=["150 ft"])
    gauge: str = Field("", description="American wire gauge", examples=["10 AWG"])
    area_mm2: Area | None = Field(None, ge=0.3, le=1000, description="conductor area, instead of gauge", examples=[6])
    material: Literal["copper", "aluminium"] = Field("copper", description='"copper" or "aluminium"')
    temperature_c: Temperature = Field(40.0, ge=-40, le=90, description="of the conductor at work", examples=["104 F"])

    @field_validator("gauge", mode="before")
    @classmethod
    def _known_gauge(cls, value: object) -> str:
        text = text_of(value).upper()
        for word in ("AWG", "GAUGE", "GA.", "GA", "NO.", "#"):
            text = text.replace(word, " ")
        text = text.strip()
        if text and text not in AWG_AREA_MM2:
            raise ValueError(f"is not a wire gauge on file ({', '.join(AWG_AREA_MM2)}); write mm² as area instead.")
        return text

    @model_validator(mode="after")
    def _some_size(self) -> Wire:
        if self.gauge and self.area_mm2 is not None:
            raise refuse("gauge", "give gauge or area, not both.")
        if not self.gauge and self.area_mm2 is None:
            raise refuse("gauge", "a wire with a length needs a gauge or an area.")
        if self.current == "three-phase" and self.side == "array":
            raise refuse("current", "an array gives direct current: three-phase runs lie on the motor's side.")
        return self

    @property
    def conductor_mm2(self) -> float:
        """Area of one conductor."""
        return self.area_mm2 if self.area_mm2 is not None else AWG_AREA_MM2[self.gauge]


Wires = Annotated[tuple[Wire, ...], OneOrMany]


class Controller(Section):
    """Drive between array and pump; it holds the array at its maximum power as far as its limits allow."""

    rated_w: Watts = Field(gt=0, le=100_000, description="largest output to the motor", examples=["1100 W"])
    start_w: Watts = Field(
        0.0, ge=0, le=50_000, description="array power needed before it starts the pump", examples=["120 W"]
    )
    stop_w: Watts | None = Field(
        None, ge=0, le=50_000, description="array power below which it stops; default 80 % of start", examples=["90 W"]
    )
    start_delay_min: Minutes = Field(
        0.0, ge=0, le=240, description="minutes of enough power before it starts", examples=["2 min"]
    )
    efficiency: Share = Field(0.95, gt=0.3, le=1, description="output over input", examples=["95 %"])
    efficiency_load: Shares | None = Field(
        None, description="loads of a curve, shares of rated, rising", examples=["10 25 50 100 %"]
    )
    efficiency_curve: Shares | None = Field(
        None, description="efficiency at each of those loads, instead of efficiency", examples=["80 90 94 95 %"]
    )
    min_input_v: Volts | None = Field(
        None, gt=0, le=2000, description="input voltage below which it does not run", examples=["45 V"]
    )
    track_low_v: Volts | None = Field(
        None, gt=0, le=2000, description="lowest voltage at which it holds the array", examples=["50 V"]
    )
    track_high_v: Volts | None = Field(
        None, gt=0, le=2000, description="highest voltage at which it holds the array", examples=["130 V"]
    )
    max_input_v: Volts | None = Field(
        None, gt=0, le=2000, description="largest input voltage on its label", examples=["150 V"]
    )
    max_input_current_a: Amperes | None = Field(
        None, gt=0, le=500, description="largest input current", examples=["18 A"]
    )
    own_use_w: Watts = Field(0.0, ge=0, le=500, description="its own consumption while running", examples=["6 W"])
    motor_voltage_v: Volts | None = Field(
        None,
        gt=0,
        le=1000,
        description="motor voltage at rated speed (between lines if three-phase); needed for wire on the motor's side",
        examples=["46 V"],
    )
    motor_power_factor: Share = Field(
        0.9, ge=0.3, le=1, description="of a three-phase motor behind this drive", examples=[0.85]
    )

    @model_validator(mode="after")
    def _in_order(self) -> Controller:
        if self.start_w >= self.rated_w:
            raise refuse("start", "must be below rated.")
        if self.stop_w is not None and self.stop_w > self.start_w:
            raise refuse("stop", "must not exceed start.")
        rising = [("min_input", self.min_input_v), ("track_low", self.track_low_v), ("track_high", self.track_high_v)]
        given = [(name, volts) for name, volts in [*rising, ("max_input", self.max_input_v)] if volts is not None]
        for (lower, low_v), (upper, high_v) in pairwise(given):
            if low_v > high_v or (low_v == high_v and (lower, upper) != ("min_input", "track_low")):
                raise refuse(upper, f"must be above {lower}.")
        self._check_curve()
        return self

    def _check_curve(self) -> None:
        loads, values = self.efficiency_load, self.efficiency_curve
        if (loads is None) != (values is None):
            raise refuse("efficiency_curve", "give efficiency_load and efficiency_curve together or neither.")
        if loads is None or values is None:
            return
        if len(loads) != len(values) or len(loads) < 2:
            raise refuse("efficiency_curve", "needs as many values as efficiency_load, at least two.")
        if any(later <= earlier for earlier, later in pairwise(loads)) or not loads[0] > 0:
            raise refuse("efficiency_load", "must rise from above 0.")
        if not all(0.3 < value <= 1 for value in values):
            raise refuse("efficiency_curve", "must lie between 30 and 100 %.")

    @property
    def stops_at_w(self) -> float:
        """Array power below which it stops the pump: `stop_w`, or 80 % of `start_w` (sheets seldom print it)."""
        return _STOP_SHARE * self.start_w if self.stop_w is None else self.stop_w

    @property
    def lowest_v(self) -> float:
        """Lowest input voltage at which it can work the array; 0 if none is given."""
        return self.track_low_v or self.min_input_v or 0.0

    @property
    def highest_v(self) -> float | None:
        """Highest input voltage at which it can work the array; None if none is given."""
        return self.track_high_v or self.max_input_v
