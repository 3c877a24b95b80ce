"""Where the rack stands: site, weather, horizon and trees."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from functools import cache
from typing import Any, Literal

from pydantic import Field, field_validator, model_validator

from trackersim.job.fields import (
    Angle,
    Count,
    Hours,
    Length,
    MonthDay,
    Section,
    Share,
    Speed,
    Temperature,
    TemperatureSpan,
    refuse,
)
from trackersim.job.former_names import current_tree
from trackersim.job.species import SPECIES, TYPICAL

BearingFrom = Literal["true", "magnetic"]
_ZONE_YEAR = 2025  # the year whose rules a zone's standard time is taken from


@cache
def zone_offset_h(timezone: str) -> float:
    """Hours from UTC of a zone's standard time: the smaller offset of one with daylight saving."""
    zone = zoneinfo.ZoneInfo(timezone)
    offsets = [dt.datetime(_ZONE_YEAR, month, 1, tzinfo=zone).utcoffset() or dt.timedelta() for month in (1, 7)]
    return min(offsets) / dt.timedelta(hours=1)


class Site(Section):
    """The place and its clock."""

    name: str = Field("unnamed site", description="a name for the site")
    latitude_deg: Angle = Field(ge=-90, le=90, description="latitude, north positive", examples=[36.10])
    longitude_deg: Angle = Field(ge=-180, le=180, description="longitude, east positive", examples=[-79.95])
    elevation_m: Length | None = Field(
        None,
        ge=-450,
        le=6000,
        description="height above sea level; default: that of the weather file",
        examples=["890 ft"],
    )
    utc_offset_h: Hours | None = Field(
        None,
        ge=-14,
        le=14,
        description="standard time's hours from UTC, without daylight saving; default: those of the zone, else the "
        "longitude's whole hour",
        examples=[-5],
    )
    timezone: str = Field(
        "", description="zone of the clock on the wall, for printed times", examples=["America/New_York"]
    )
    design_low_c: Temperature | None = Field(
        None, ge=-70, le=40, description="coldest air on record for the array's voltage", examples=["-5 F"]
    )
    ground_albedo: Share = Field(0.2, ge=0, le=0.95, description="share of light the ground reflects", examples=[0.2])
    slope_deg: Angle = Field(0.0, ge=0, le=60, description="slope of the ground around the rack", examples=[8])
    downhill_deg: Angle = Field(
        180.0, ge=0, le=360, description="true compass direction in which the ground falls", examples=[200]
    )
    magnetic_declination_deg: Angle = Field(
        0.0, ge=-60, le=60, description="how far a compass points east of true north", examples=[-8.5]
    )

    @field_validator("timezone")
    @classmethod
    def _known_zone(cls, value: str) -> str:
        if value:
            try:
                zoneinfo.ZoneInfo(value)
            except Exception:
                raise ValueError("is not a time zone name such as America/New_York.") from None
        return value

    def to_true_deg(self, bearing_from: BearingFrom) -> float:
        """What makes a bearing from this north one from true north, when added."""
        return self.magnetic_declination_deg if bearing_from == "magnetic" else 0.0

    @property
    def standard_offset_h(self) -> float:
        """Standard UTC offset in hours: as given, else that of the zone named, else the longitude's whole hour."""
        if self.utc_offset_h is not None:
            return self.utc_offset_h
        return zone_offset_h(self.timezone) if self.timezone else float(round(self.longitude_deg / 15))


class WeatherChoice(Section):
    """Which weather: a file, a bundled sample ("sample:NAME"), or the clear sky."""

    file: str = Field("", description="path of a weather file, or sample:NAME", examples=["sample:typical-year"])
    clear_sky: bool = Field(False, description="true for cloudless days, which need no file")
    year: Count = Field(2025, ge=1950, le=2100, description="calendar year put on typical years and clear skies")
    coldest_c: Temperature | None = Field(
        None,
        ge=-60,
        le=45,
        description="clear sky only: usual low of the coldest month",
        examples=["25 F"],
    )
    warmest_c: Temperature | None = Field(
        None,
        ge=-40,
        le=55,
        description="clear sky only: usual high of the warmest month",
        examples=["86 F"],
    )
    daily_swing_c: TemperatureSpan = Field(
        12.0,
        ge=0,
        le=30,
        description="clear sky only: a day's high less its low; without coldest and warmest that of lowlands inland",
    )
    wind_m_s: Speed = Field(2.0, ge=0, le=30, description="clear sky only: wind, as at 10 m", examples=["5 mph"])
    minutes: Literal["broken", "smooth"] = Field(
        "broken",
        description='hours of a file as minutes: "broken" by passing cloud, or "smooth", which gives too much water',
    )
    seed: Count = Field(
        0, ge=0, le=2**31 - 1, description="which of the likely minutes: another whole number draws other clouds"
    )

    @model_validator(mode="after")
    def _one_choice(self) -> WeatherChoice:
        if bool(self.file) == self.clear_sky:
            raise refuse("file", "give either a file or clear_sky = true, not both and not neither.")
        if (self.coldest_c is None) != (self.warmest_c is None):
            raise refuse("coldest", "give coldest and warmest together or neither.")
        low, high = self.coldest_c, self.warmest_c
        if low is not None and high is not None and high - low < self.daily_swing_c:
            raise refuse("warmest", "warmest less coldest must be at least daily_swing.")
        return self


class Horizon(Section):
    """Far horizon as measured with compass and clinometer: pairs of bearing and elevation, in degrees."""

    points: tuple[tuple[Angle, Angle], ...] = Field(
        (),
        max_length=720,
        description="pairs [bearing, elevation] in degrees",
        examples=[[[80, 5], [120, 9]]],
    )
    bearing_from: BearingFrom = Field("true", description='"true" or "magnetic" north')

    @field_validator("points")
    @classmethod
    def _in_range(cls, value: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        for bearing, elevation in value:
            if not -360 <= bearing <= 720 or not 0 <= elevation < 90:
                raise ValueError("needs bearings of −360…720° and elevations of 0 to below 90°.")
        if len({round(bearing % 360, 6) for bearing, _ in value}) != len(value):
            raise ValueError("has one bearing twice.")
        return value


class Tree(Section):
    """One tree (a rounded crown) or one row of trees (a hedge with a flat top), facing the rack."""

    name: str = Field("", description="what you call it")
    kind: Literal["tree", "row"] = Field("tree", description='"tree" (round crown) or "row" (flat top)')
    bearing_deg: Angle = Field(ge=-360, le=720, description="compass direction from the rack to it", examples=[95])
    bearing_from: BearingFrom = Field("true", description='"true" or "magnetic" north')
    distance_m: Length = Field(
        gt=0, le=5000, description="from the rack to the trunk, or to the row", examples=["60 ft"]
    )
    height_m: Length = Field(gt=0, le=120, description="top above the ground it stands on", examples=["35 ft"])
    ground_m: Length | None = Field(
        None,
        ge=-500,
        le=500,
        description="its ground above the rack's ground; default: from the slope of the site",
        examples=["-3 ft"],
    )
    width_m: Length = Field(gt=0, le=5000, description="width seen from the rack", examples=["20 ft"])
    crown_base_m: Length = Field(0.0, ge=0, le=110, description="lowest leaves above its ground", examples=["6 ft"])
    leaf: Literal["leafy", "evergreen"] = Field("leafy", description='"leafy" (drops its leaves) or "evergreen"')
    leaf_on: MonthDay | None = Field(None, description="first day in full leaf", examples=["04-20"])
    leaf_off: MonthDay | None = Field(None, description="first day bare", examples=["11-05"])
    runs_deg: Angle | None = Field(
        None,
        ge=-360,
        le=720,
        description="row only: compass direction in which it runs; default: at right angles to its bearing",
        examples=[10],
    )
    yearly_growth_m: Length = Field(
        0.0, ge=0, le=5, description="height gained a year; the width grows in proportion", examples=["1 ft"]
    )
    species: str = Field(
        "", description="what it is, for the light it passes, where that is not given", examples=["oak"]
    )
    transmittance_leaf_on: Share = Field(
        TYPICAL.leaf_on,
        ge=0,
        le=1,
        description="share of direct light that passes in leaf, mean over the crown; default: the median of 15 species",
    )
    transmittance_leaf_off: Share = Field(
        TYPICAL.leaf_off,
        ge=0,
        le=1,
        description="share of direct light that passes when bare; default: the median of 15 species",
    )

    @model_validator(mode="before")
    @classmethod
    def _former_keys(cls, data: Any) -> Any:
        """Older files say beam_in_leaf and beam_bare."""
        return _with_species(current_tree(data))

    @model_validator(mode="after")
    def _crown_above_base(self) -> Tree:
        if self.crown_base_m >= self.height_m:
            raise refuse("crown_base", "crown_base must be below height.")
        if self.runs_deg is not None and self.kind != "row":
            raise refuse("runs", "only a row runs in a direction.")
        if (self.leaf_on is None) != (self.leaf_off is None):
            raise refuse("leaf_on", "give leaf_on and leaf_off together or neither.")
        if self.leaf_on and self.leaf_off and not 30 <= _days_between(self.leaf_on, self.leaf_off) <= 335:
            raise refuse("leaf_on", "leaf_on to leaf_off must be 30 to 335 days.")
        return self


def _with_species(tree: Any) -> Any:
    """A tree's plain data with what its species brings, where the job leaves it out."""
    name = tree.get("species") if isinstance(tree, dict) else None
    if not name or not isinstance(name, str):
        return tree
    crown = SPECIES.get(name.strip().lower())
    if crown is None:
        raise refuse("species", f"is no species on file ({', '.join(SPECIES)}).")
    known: dict[str, Any] = {"transmittance_leaf_on": crown.leaf_on, "transmittance_leaf_off": crown.leaf_off}
    if crown.evergreen:
        known["leaf"] = "evergreen"
    return {**known, **tree, "species": name.strip().lower()}


def _days_between(first: str, last: str) -> int:
    days = dt.date.fromisoformat(f"2025-{last}") - dt.date.fromisoformat(f"2025-{first}")
    return days.days % 365
