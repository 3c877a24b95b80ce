"""The limits that weather is held against: each with its value, its unit and where it comes from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

_LONG = "Long & Shi, Open Atmospheric Science Journal 2 (2008) 23–37"
# Bundled samples, the TMY3 and TMY2 years that ship with pvlib, an IWEC year and PVGIS's CSV and JSON at 45 N 8 E.
_FILES = "in nine sound files the"
_SOUND = f"assumption; {_FILES} largest is"


@dataclass(frozen=True, kw_only=True)
class Limit:
    """A limit: `value` in `unit` ("1" for a ratio), and its source, or the word "assumption" with what it rests on."""

    value: float
    unit: str
    source: str


CLOSURE: Final = {
    "least_light": Limit(value=50.0, unit="W/m²", source=_LONG),
    "high_sun_cos": Limit(value=0.259, unit="1", source=f"{_LONG}: zenith of 75°"),
    "least_sun_cos": Limit(value=0.17, unit="1", source="assumption: 10° of height; lower, an hour's mean bends"),
    "slot_high_sun": Limit(value=0.08, unit="1", source=_LONG),
    "slot_low_sun": Limit(value=0.15, unit="1", source=_LONG),
    "day": Limit(value=0.08, unit="1", source=f"{_LONG}, for a moment; {_FILES} largest is 0.04"),
    "whole": Limit(value=0.02, unit="1", source=f"{_SOUND} 0.005; 0.02 is about 4 % of water"),
    "scatter": Limit(value=0.06, unit="1", source=f"{_SOUND} 0.02"),
    "least_day": Limit(value=0.5, unit="kWh/m²", source="assumption: darker days tell little"),
    "caution": Limit(value=0.01, unit="1", source="assumption: share of the light; about 2 % of water"),
    "danger": Limit(value=0.05, unit="1", source="assumption: share of the light; about 9 % of water"),
    "dead": Limit(value=0.01, unit="1", source="assumption: a sensor below this share of what the others leave"),
    "explained": Limit(value=0.35, unit="1", source="assumption: what must be left of the gap, at most, for a cause"),
}

DARK: Final = {
    "least_clear_day": Limit(value=1.0, unit="kWh/m²", source="assumption: shorter days may be this dark"),
    "no_light": Limit(value=0.02, unit="1", source=f"assumption; {_FILES} smallest is 0.15"),
    "dim": Limit(value=0.06, unit="1", source="assumption: with the next, a covered sensor"),
    "dim_of_neighbours": Limit(value=0.4, unit="1", source="assumption: of the dull days of the 30 days either way"),
    "neighbours": Limit(value=30.0, unit="days", source="assumption"),
    "zero_clear": Limit(value=200.0, unit="W/m²", source="assumption: no cloud makes an exact zero under such a sky"),
    "caution": Limit(value=0.005, unit="1", source="assumption: share of the light that is probably lacking"),
    "danger": Limit(value=0.05, unit="1", source="assumption: share of the light that is probably lacking"),
}

STUCK: Final = {
    "light": Limit(value=240.0, unit="min", source=f"{_SOUND} 180 min, 3 rows"),
    "light_rows": Limit(value=5.0, unit="rows", source="assumption: whole W/m² repeat by chance in hours"),
    "light_floor": Limit(value=20.0, unit="W/m²", source="assumption"),
    "sun_moves": Limit(value=0.2, unit="1", source="assumption: change of the clear sky over the same rows"),
    "air": Limit(value=72.0, unit="h", source=f"{_SOUND} 24 h"),
    "wind": Limit(value=72.0, unit="h", source=f"{_SOUND} 21 h, a calm"),
}

ENVELOPE: Final = {
    "lit_share": Limit(value=0.4, unit="1", source="assumption: slots with this share of the day's clearest noon"),
    "smooth": Limit(value=0.06, unit="1", source="assumption: a cloudless day's light over clear sky is this even"),
    "lowest": Limit(value=0.5, unit="1", source="assumption: lower, an even day is an overcast one"),
    "least_days": Limit(value=5.0, unit="days", source="assumption"),
    "season": Limit(value=60.0, unit="days", source="assumption: first and last days of a year are of one season"),
    "year": Limit(value=300.0, unit="days", source="assumption: in a shorter log the season looks like a drift"),
    "drift": Limit(value=0.12, unit="1", source="assumption: haze of one winter against another's"),
    "low_note": Limit(value=0.9, unit="1", source=f"assumption; {_FILES} lowest level is 0.96"),
    "high_note": Limit(value=1.15, unit="1", source=f"assumption; {_FILES} highest level is 1.09"),
    "low": Limit(value=0.85, unit="1", source=f"assumption; {_FILES} lowest level is 0.96"),
    "high": Limit(value=1.2, unit="1", source=f"assumption; {_FILES} highest level is 1.09"),
}

AIR: Final = {
    "seasons_latitude": Limit(value=30.0, unit="°", source="assumption: nearer the equator rain rules the warmth"),
    "season_lag": Limit(value=25.0, unit="days", source="common practice, no source: air follows the sun by 3–5 weeks"),
    "season": Limit(value=-2.0, unit="K", source="assumption: summer this much colder than winter is no summer"),
    "day": Limit(value=-1.0, unit="K", source="assumption: the smallest in the sound files is +1.8 K, on an island"),
    "least_days": Limit(value=10.0, unit="days", source="assumption: a front may turn a few days round"),
    "calm_days": Limit(value=10.0, unit="days", source="assumption"),
    "calm": Limit(value=0.2, unit="m/s", source="assumption: below what a cup starts at"),
    "gale": Limit(value=15.0, unit="m/s", source="assumption: no dwelt-in place has such a mean, at any height"),
}

HEAD: Final = {
    "lowest_place": Limit(value=-430.0, unit="m", source="shore of the Dead Sea, with room"),
    "highest_place": Limit(value=6000.0, unit="m", source="assumption: above every dwelling"),
    "first_clock": Limit(value=-12.0, unit="h", source="IANA time zone database: Etc/GMT+12"),
    "last_clock": Limit(value=14.0, unit="h", source="IANA time zone database: Pacific/Kiritimati"),
    "light_offset": Limit(value=1.0, unit="h", source="PVGIS 5.3: 0 to 1 h"),
    "clock_from_sun": Limit(value=2.0, unit="h", source="IANA: standard time is farther from the sun in western China"),
}
