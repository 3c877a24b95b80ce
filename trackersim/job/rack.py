"""[rack]: what turns the modules."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from trackersim.job.fields import (
    Angle,
    Count,
    Dose,
    Irradiance,
    Length,
    Minutes,
    MonthDay,
    Section,
    Speed,
    Temperature,
    refuse,
)
from trackersim.job.thermal import Thermal

RackKind = Literal["fixed", "ideal", "delayed", "thermal", "logged"]
_MOST_AXIS_TILT_DEG = 75.0
# Racks that rest west overnight and wait for the sun to turn them east.
PASSIVE: tuple[RackKind, ...] = ("delayed", "thermal")
# What turns a rack of each kind, beside its axis; numbers of another kind are in the job but not read.
_COMMON = ("kind", "max_rotation_deg", "height_m")
_TURNED_BY: dict[RackKind, tuple[str, ...]] = {
    "fixed": (*_COMMON, "fixed_rotation_deg"),
    "ideal": _COMMON,
    "delayed": (
        *_COMMON, "flip_delay_min", "watched", "flip_threshold_w_m2", "flip_dose_kj_m2", "turning_min", "lag_deg",
        "thermal",
    ),
    "thermal": (*_COMMON, "thermal"),
    "logged": (*_COMMON, "log"),
}  # fmt: skip


class WatchedMorning(Section):
    """The clear morning on which `flip_delay` was watched; one that nobody describes was ordinary."""

    on: MonthDay = Field("03-21", description='day of the year, "MM-DD"', examples=["03-21"])
    sun_from: str = Field(
        "",
        pattern=r"^(([01]?[0-9]|2[0-3]):[0-5][0-9])?$",
        description="when the sun came over trees onto the rack, clock time; none: an open horizon",
        examples=["08:05"],
    )
    air_c: Temperature = Field(10.0, ge=-40, le=50, description="air while it waited", examples=["50 F"])
    wind_m_s: Speed = Field(2.0, ge=0, le=30, description="wind at the rack while it waited", examples=["4 mph"])
    sky: Literal["clear", "haze"] = Field("clear", description='"clear" or "haze"')


class Rack(Section):
    """The rack. Rotation: + is west of centre, − is east, 0 is centre."""

    kind: RackKind = Field("delayed", description='"fixed", "ideal", "delayed", "thermal" or "logged"')
    axis_tilt_deg: Angle | None = Field(
        None,
        ge=0,
        le=_MOST_AXIS_TILT_DEG,
        description="tilt of the north–south axis toward the equator; default fixed_tilt, else level",
        examples=[20],
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
        description="delayed only: minutes of sun on the rack until it swings east, on the morning that was watched",
        examples=[60],
    )
    watched: WatchedMorning = Field(default_factory=WatchedMorning, description="delayed only: that morning")
    flip_threshold_w_m2: Irradiance | None = Field(
        None,
        ge=0,
        le=3000,
        description="delayed only: beam on its canister that just does not turn it, at 10 °C and 2 m/s; with "
        "flip_dose in place of flip_delay",
        examples=["110 W/m**2"],
    )
    flip_dose_kj_m2: Dose | None = Field(
        None,
        ge=0,
        le=5000,
        description="delayed only: what it must get beyond that",
        examples=["140 kJ/m**2"],
    )
    flip_mornings: Count | None = Field(
        None,
        ge=1,
        le=365,
        description="delayed only: mornings from which learn has flip_delay, or flip_threshold and flip_dose",
        examples=[3],
    )
    turning_min: Minutes = Field(
        20.0, ge=1, le=360, description="delayed only: minutes from stop to stop", examples=[20]
    )
    lag_deg: Angle = Field(
        3.0, ge=0, le=45, description="delayed only: degrees it points east of the sun's place", examples=[3]
    )

    log: str = Field(
        "", description="logged only: CSV file of its angle, columns time and rotation", examples=["angles.csv"]
    )
    thermal: Thermal = Field(
        default_factory=Thermal,
        description="thermal: canisters, weight and condition; delayed: of it the refrigerant, canister and plates",
    )

    @property
    def axis_tilt_taken_deg(self) -> float:
        """Tilt the axis is taken to have: as given, else that of the plane there now, as far as an axis may lean."""
        if self.axis_tilt_deg is not None:
            return self.axis_tilt_deg
        return min(self.fixed_tilt_deg or 0.0, _MOST_AXIS_TILT_DEG)

    @property
    def turned_by(self) -> tuple[object, ...]:
        """What of it decides how it turns on its axis: two racks that agree in this turn alike."""
        return tuple(getattr(self, name) for name in _TURNED_BY[self.kind])

    @property
    def stands_by_intent(self) -> bool:
        """Whether it is fixed, and not a rack that turned once and is stuck."""
        return self.kind == "fixed" and self.fixed_rotation_deg == 0

    @property
    def waits(self) -> bool:
        """Whether it waits for the morning sun: a passive rack, unless it is stuck."""
        return self.kind in PASSIVE and not (self.kind == "thermal" and self.thermal.stuck)

    @model_validator(mode="after")
    def _one_way_of_standing(self) -> Rack:
        if (self.flip_threshold_w_m2 is None) != (self.flip_dose_kj_m2 is None):
            lacking = "flip_dose" if self.flip_dose_kj_m2 is None else "flip_threshold"
            raise refuse(lacking, "is needed: give flip_threshold and flip_dose both, or flip_delay alone.")
        if self.kind == "logged" and not self.log:
            raise refuse("log", "is needed for a logged rack.")
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
