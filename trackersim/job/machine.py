"""What turns light into watts: rack, array, wire and controller."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, field_validator, model_validator

from trackersim.job.fields import (
    Amperes,
    Angle,
    Area,
    Count,
    Length,
    Minutes,
    Number,
    Section,
    Share,
    Temperature,
    Volts,
    Watts,
    refuse,
)
from trackersim.job.thermal import Thermal
from trackersim.power.wire import AWG_AREA_MM2

RackKind = Literal["fixed", "ideal", "delayed", "thermal"]


class Rack(Section):
    """The rack. Rotation: + is west of centre, − is east, 0 is centre."""

    kind: RackKind = Field("delayed", description='"fixed", "ideal", "delayed" or "thermal"')
    axis_tilt_deg: Angle = Field(
        0.0, ge=0, le=75, description="tilt of the north–south axis toward the equator", examples=[20]
    )
    axis_azimuth_deg: Angle | None = Field(
        None,
        ge=0,
        lt=360,
        description="true compass direction of the axis's low end; default: the equator",
        examples=[180],
    )
    max_rotation_deg: Angle = Field(50.0, gt=0, le=85, description="stop on either side of centre", examples=[50])
    height_m: Length = Field(2.0, ge=0.1, le=30, description="axis above the ground", examples=["7 ft"])
    fixed_tilt_deg: Angle | None = Field(None, ge=0, le=90, description="fixed only: tilt; default axis_tilt")
    fixed_azimuth_deg: Angle | None = Field(
        None, ge=0, lt=360, description="fixed only: true compass direction faced; default axis_azimuth"
    )
    fixed_rotation_deg: Angle = Field(
        0.0, ge=-85, le=85, description="fixed only: angle at which it is stuck, west positive"
    )
    flip_delay_min: Minutes = Field(
        60.0,
        ge=0,
        le=720,
        description="delayed only: minutes of sun on the rack until it swings east",
        examples=[60],
    )
    turning_min: Minutes = Field(
        20.0, ge=1, le=360, description="delayed only: minutes from stop to stop", examples=[20]
    )
    lag_deg: Angle = Field(
        3.0, ge=0, le=45, description="delayed only: degrees it points east of the sun's place", examples=[3]
    )

    thermal: Thermal = Field(default_factory=Thermal, description="thermal only: canisters, weight and condition")

    @model_validator(mode="after")
    def _one_way_of_standing(self) -> Rack:
        if self.fixed_rotation_deg and (self.fixed_tilt_deg is not None or self.fixed_azimuth_deg is not None):
            raise refuse("fixed_rotation", "give fixed_rotation, or fixed_tilt and fixed_azimuth, not both.")
        if abs(self.fixed_rotation_deg) > self.max_rotation_deg:
            raise refuse("fixed_rotation", "lies beyond max_rotation.")
        if abs(self.thermal.stuck_at_deg) > self.max_rotation_deg and self.thermal.stuck:
            raise refuse("thermal", "stuck_at lies beyond max_rotation.")
        azimuth = self.axis_azimuth_deg
        if azimuth is not None and min(abs(azimuth - 90), abs(azimuth - 270)) < 30:
            raise refuse(
                "axis_azimuth",
                "must lie within 60° of north or south, else east and west lose their meaning.",
            )
        return self


class Array(Section):
    """Modules, described by the label of one of them, and how they are strung."""

    in_series: Count = Field(1, ge=1, le=60, description="modules in one string")
    in_parallel: Count = Field(1, ge=1, le=200, description="strings side by side")
    cells: Count = Field(36, ge=4, le=300, description="cells in series in one module")
    vmp_v: Volts = Field(gt=0, le=300, description="label: voltage at maximum power", examples=["17.6 V"])
    imp_a: Amperes = Field(gt=0, le=40, description="label: current at maximum power", examples=["6.8 A"])
    voc_v: Volts = Field(gt=0, le=400, description="label: open-circuit voltage", examples=["22 V"])
    isc_a: Amperes = Field(gt=0, le=45, description="label: short-circuit current", examples=["7.4 A"])
    isc_per_k: Share = Field(
        0.0005, ge=-0.002, le=0.003, description="label: Isc change per kelvin", examples=["0.05 %"]
    )
    voc_per_k: Share = Field(
        -0.0033, ge=-0.008, le=-0.0005, description="label: Voc change per kelvin", examples=["-0.33 %"]
    )
    age_years: Number = Field(0.0, ge=0, le=60, description="years in the sun", examples=[12])
    loss_per_year: Share = Field(0.006, ge=0, le=0.05, description="power lost per year of age", examples=["0.6 %"])
    soiling: Share = Field(0.03, ge=0, le=0.9, description="light lost to dirt", examples=["3 %"])
    mismatch: Share = Field(0.02, ge=0, le=0.5, description="power lost to unequal modules", examples=["2 %"])
    faiman_u0: Number = Field(25.0, ge=5, le=60, description="heat loss factor, W/m²K (Faiman)")
    faiman_u1: Number = Field(6.84, ge=0, le=20, description="heat loss factor with wind, W/m²K per m/s (Faiman)")

    @model_validator(mode="after")
    def _label_order(self) -> Array:
        if not self.vmp_v < self.voc_v or not self.imp_a < self.isc_a:
            raise refuse("vmp", "a label has vmp below voc and imp below isc.")
        if not 0.45 < self.vmp_v * self.imp_a / (self.voc_v * self.isc_a) < 0.90:
            raise refuse("vmp", "vmp·imp/(voc·isc) is no module's (0.45 to 0.90): check the label.")
        if not 0.4 < self.voc_v / self.cells < 0.85:
            raise refuse("voc", "voc per cell is no silicon cell's (0.4 to 0.85 V): check cells and voc.")
        return self

    @property
    def module_count(self) -> int:
        """Modules in all."""
        return self.in_series * self.in_parallel

    @property
    def rated_w(self) -> float:
        """Power of all modules by their labels, new, at 1000 W/m² and 25 °C."""
        return self.module_count * self.vmp_v * self.imp_a

    @property
    def age_share(self) -> float:
        """Share of the label power left after age: the yearly loss compounded."""
        return float((1 - self.loss_per_year) ** self.age_years)


class Wire(Section):
    """The run from the array to the controller (direct current, out and back)."""

    length_m: Length = Field(0.0, ge=0, le=3000, description="one way", examples=["150 ft"])
    gauge: str = Field("", description="American wire gauge", examples=["10 AWG"])
    area_mm2: Area | None = Field(None, ge=0.3, le=1000, description="conductor area, instead of gauge", examples=[6])
    material: Literal["copper", "aluminium"] = Field("copper", description='"copper" or "aluminium"')
    temperature_c: Temperature = Field(40.0, ge=-40, le=90, description="of the conductor at work", examples=["104 F"])

    @field_validator("gauge", mode="before")
    @classmethod
    def _known_gauge(cls, value: object) -> str:
        text = str(value).upper().replace("AWG", "").replace("#", "").strip()
        if text and text not in AWG_AREA_MM2:
            raise ValueError(f"is not a wire gauge on file ({', '.join(AWG_AREA_MM2)}).")
        return text

    @model_validator(mode="after")
    def _some_size(self) -> Wire:
        if self.gauge and self.area_mm2 is not None:
            raise refuse("gauge", "give gauge or area, not both.")
        if self.length_m > 0 and not self.gauge and self.area_mm2 is None:
            raise refuse("gauge", "a wire with a length needs a gauge or an area.")
        return self


class Controller(Section):
    """Drive between array and pump; it holds the array at its maximum power."""

    rated_w: Watts = Field(gt=0, le=100_000, description="largest output to the motor", examples=["1100 W"])
    start_w: Watts = Field(
        0.0, ge=0, le=50_000, description="array power needed before it starts the pump", examples=["120 W"]
    )
    efficiency: Share = Field(0.95, gt=0.3, le=1, description="output over input", examples=["95 %"])
    max_input_v: Volts | None = Field(
        None, gt=0, le=2000, description="largest input voltage on its label", examples=["150 V"]
    )
    own_use_w: Watts = Field(0.0, ge=0, le=500, description="its own consumption while running", examples=["6 W"])

    @model_validator(mode="after")
    def _starts_below_rating(self) -> Controller:
        if self.start_w >= self.rated_w:
            raise refuse("start", "must be below rated.")
        return self
