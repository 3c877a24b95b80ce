"""Does the file belong to this place, and do its hours mean what they say?"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from trackersim.arrays import FloatArray
from trackersim.clock import offset_words
from trackersim.errors import Notice
from trackersim.units import show_both
from trackersim.weather.raw import RawTable, Remark, Row, fault, note
from trackersim.weather.slots import SkyOver, Slots

# The way on that fits every place; a bundled sample does not.
WITHOUT_FILE = "put clear_sky = true in place of the file: no cloud, the most the place can give"
_OTHERWISE = f"take a file of this place (`trackersim weather` fetches one), or {WITHOUT_FILE}."
_FAR_KM = 150.0
_TOO_FAR_KM = 1500.0
# Assumption. 300 m of height are 2 K of air at 6.5 K/km, and 1 to 2.5 % of the beam of this program's clear year.
_FAR_M = 300.0
# On both sides of the equator the seasons change places only beyond about this latitude.
_SEASONLESS_DEG = 5.0
_LATE_MIN = 20.0
# One clear morning and one cloudy afternoon look like a wrong clock: so few days must show a larger error.
_FEW_DAYS = 5
_LATE_OF_FEW_MIN = 45.0
# The most by which official time departs from the sun's (western China); beyond it the file contradicts itself.
_WIDEST_CLOCK_H = 4.0


def check_place(table: RawTable, *, latitude_deg: float, longitude_deg: float) -> list[Notice]:
    """Remarks on a distant file; `InputError` for the wrong hemisphere or another part of the world."""
    if table.latitude_deg is None or table.longitude_deg is None:
        return []
    file_place = f"{table.latitude_deg:.2f}, {table.longitude_deg:.2f}"
    site_place = f"{latitude_deg:.2f}, {longitude_deg:.2f}"
    both = min(abs(table.latitude_deg), abs(latitude_deg))
    if table.latitude_deg * latitude_deg < 0 and both > _SEASONLESS_DEG:
        reason = f"is the file's place, on the other side of the equator from the site at {site_place}."
        raise fault(file_place, reason, f"Check the sign of the latitude (south is negative), {_OTHERWISE}")
    distance = distance_km(table.latitude_deg, table.longitude_deg, latitude_deg, longitude_deg)
    if distance > _TOO_FAR_KM:
        reason = f"is the file's place, {distance:,.0f} km from the site at {site_place}."
        raise fault(file_place, reason, f"Check the sign of the longitude (west is negative), {_OTHERWISE}")
    if distance <= _FAR_KM:
        return []
    noon = 4 * abs(table.longitude_deg - longitude_deg)
    text = (
        f"The weather file is from {file_place}, {distance:,.0f} km from the site; its noon differs by {noon:.0f} "
        "minutes, which is not corrected. Take a nearer file."
    )
    row = Row(what="the file's place", many=f"{distance:,.0f} km away", done="not corrected")
    return [note(text, caution=True, row=row)]


def check_height(table: RawTable, *, elevation_m: float | None) -> list[Notice]:
    """Which height above the sea is used where the site's is not given, and a caution where the file's is another."""
    told = table.elevation_m
    if elevation_m is None and told is None:
        text = (
            "Neither the job nor the weather file says how high the site lies: it is taken to lie at the sea. On high "
            "ground light is stronger and air thinner: give site.elevation."
        )
        return [Remark(text=text, field="site.elevation", level="caution")]
    if elevation_m is None or told is None:
        if told is None:
            return []
        text = f"The job does not say how high the site lies: the weather file's {show_both(told, 'length')} are used."
        return [Remark(text=text, field="site.elevation")]
    if abs(told - elevation_m) <= _FAR_M:
        return []
    apart = show_both(abs(told - elevation_m), "length")
    text = (
        f"The weather file is from {show_both(told, 'length')} above the sea, the site lies at "
        f"{show_both(elevation_m, 'length')}; its air and light are not corrected. Check site.elevation, or take a "
        "file from nearer the site's height."
    )
    return [note(text, caution=True, row=Row(what="the file's height", many=f"{apart} off", done="not corrected"))]


def on_local_clock(table: RawTable, *, longitude_deg: float) -> RawTable:
    """The table on a clock whose midnight is night: a log kept in UTC or far from its zone is moved by whole hours.

    Raises `InputError` when a typical year's clock cannot be that of its longitude.
    """
    away = table.offset_h - longitude_deg / 15
    away -= 24 * round(away / 24)
    if abs(away) <= _WIDEST_CLOCK_H:
        return table
    if table.typical or not -14 <= table.offset_h <= 14:
        reason = f"is the file's clock (hours from UTC), which cannot be at longitude {longitude_deg:.1f}."
        raise fault(table.offset_h, reason, "Correct the UTC offset or the longitude in the file's first lines.")
    local_h = float(round(longitude_deg / 15))
    clocks = f"{offset_words(table.offset_h)} was moved to {offset_words(local_h)}"
    text = f"The log's clock of {clocks}, so that days start at local midnight."
    row = Row(what="a clock far from the sun's", many="all rows", done=f"moved to {offset_words(local_h)}")
    remark = note(text, row=row)
    moved = table.centre_s + (local_h - table.offset_h) * 3600
    return replace(table, offset_h=local_h, centre_s=moved, notices=(*table.notices, remark))


def distance_km(latitude_1: float, longitude_1: float, latitude_2: float, longitude_2: float) -> float:
    """Great-circle distance of two places in degrees on a sphere of 6371 km.

    >>> round(distance_km(0, 0, 0, 90))
    10008
    """
    phi_1, phi_2 = math.radians(latitude_1), math.radians(latitude_2)
    half_lat = math.sin((phi_2 - phi_1) / 2) ** 2
    half_lon = math.sin(math.radians(longitude_2 - longitude_1) / 2) ** 2
    return 2 * 6371 * math.asin(min(1.0, math.sqrt(half_lat + math.cos(phi_1) * math.cos(phi_2) * half_lon)))


def light_lag_min(ghi: FloatArray, sky: SkyOver, slots: Slots) -> tuple[float, int]:
    """How many minutes the light of the clearest days comes after the sun, and how many days told it.

    The centre of gravity of a day's light against that of the clear sky; the median over the days with at least
    85 % of the clearest days' share. Zero days when none is clear enough to tell.
    """
    if not (sky.clear["ghi"] > 0).any():
        return 0.0, 0
    shape = (-1, slots.per_day)
    light, clear = ghi.reshape(shape), sky.clear["ghi"].reshape(shape)
    minute = (np.arange(slots.per_day) + 0.5) * slots.step_min
    daily, possible = light.sum(axis=1), clear.sum(axis=1)
    bright = possible > 0.2 * possible.max()
    share = np.divide(daily, possible, out=np.zeros_like(daily), where=bright)
    floor = 0.6 if len(daily) >= _FEW_DAYS else 0.85
    chosen = bright & (share > max(floor, 0.85 * float(np.quantile(share[bright], 0.95)))) & (daily > 0)
    if not chosen.any():
        return 0.0, 0
    centre = (light[chosen] * minute).sum(axis=1) / daily[chosen]
    late = centre - (clear[chosen] * minute).sum(axis=1) / possible[chosen]
    return float(np.median(late)), int(chosen.sum())


def check_label(late: float, days: int) -> list[Notice]:
    """A remark when the light of clear days stands well before or after the sun, as `light_lag_min` tells."""
    if days == 0 or abs(late) < (_LATE_MIN if days >= _FEW_DAYS else _LATE_OF_FEW_MIN):
        return []
    word = "after" if late > 0 else "before"
    text = (
        f"On the {days} clearest days the light comes {abs(late):.0f} minutes {word} the sun: the file's time label, "
        "UTC offset, daylight saving or longitude is probably wrong. Half an hour costs a stuck rack about 7 % a year."
    )
    row = Row(what="light against the sun's clock", many=f"{abs(late):.0f} min {word}", done="used as it is")
    return [note(text, caution=True, row=row)]
