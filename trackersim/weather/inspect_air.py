"""The checks of air, wind and clock over a whole file: each gives a `Finding`, None, or "unable"."""

from __future__ import annotations

import numpy as np

from trackersim.arrays import BoolArray
from trackersim.clock import offset_words
from trackersim.errors import counted
from trackersim.quantity_writing import in_both
from trackersim.weather import air_checks
from trackersim.weather.file_rows import FileRows
from trackersim.weather.findings import Check, Finding, Outcome, throughout
from trackersim.weather.limits import AIR, HEAD, STUCK
from trackersim.weather.spans import span_words, spans_of

# Light that comes with the sun to this many minutes proves the clock, however odd its offset.
_PROVEN_MIN = 20.0


def check_air_season(rows: FileRows) -> Outcome:
    """Summer colder than winter: a sign, or another hemisphere's air."""
    daily = rows.by_day(rows.air_c).mean(axis=1)
    found = air_checks.summer_less_winter_k(daily, rows.clear_kwh_m2, latitude_deg=rows.latitude_deg)
    if found is None:
        return "unable"
    if found >= AIR["season"].value:
        return None
    text = (
        f"The air is {abs(found):.0f} K colder in the sunny quarter of the year than in the dark one: the sign of the "
        "air temperature is turned round, or the air is from the other hemisphere. Cells come out too cold in the sun, "
        "water too high. The file was used as it is."
    )
    return throughout(rows, "air_season", text, level="danger")


def check_air_day(rows: FileRows) -> Outcome:
    """Afternoons colder than the hours before dawn: a sign, or a clock half a day off."""
    solar_hour = (rows.slots.centres_s / 3600 - rows.slots.offset_h + rows.longitude_deg / 15) % 24
    found = air_checks.day_less_night_k(rows.air_c, solar_hour, per_day=rows.slots.per_day)
    if found is None:
        return "unable"
    if found >= AIR["day"].value:
        return None
    text = (
        f"The air is {abs(found):.1f} K colder from 12 to 16 h than from 2 to 6 h: the sign of the air temperature is "
        "turned round, or its clock is half a day off. The file was used as it is."
    )
    return throughout(rows, "air_day", text, level="danger")


def check_stuck_air(rows: FileRows) -> Outcome:
    """Air that stays exactly the same for days."""
    stuck = air_checks.stuck(rows.slots.columns["air_c"], step_min=rows.slots.step_min, kind="air")
    return _stuck(rows, "stuck_air", stuck, "air temperature", STUCK["air"].value)


def check_stuck_wind(rows: FileRows) -> Outcome:
    """Wind that stays exactly the same for days, calm included."""
    stuck = air_checks.stuck(rows.slots.columns["wind_m_s"], step_min=rows.slots.step_min, kind="wind")
    return _stuck(rows, "stuck_wind", stuck, "wind", STUCK["wind"].value)


def check_calm(rows: FileRows) -> Outcome:
    """Wind that never blows."""
    wind = rows.slots.columns["wind_m_s"]
    if np.isnan(wind).all():
        return "unable"
    if not air_checks.never_blows(rows.wind_m_s, per_day=rows.slots.per_day):
        return None
    text = (
        f"The wind's mean is {rows.wind_m_s.mean():.2f} m/s: the anemometer did not turn, or the column is another. "
        "Without wind cells run hotter and a late rack turns earlier. The file was used as it is; without the column "
        "an ordinary wind is assumed."
    )
    return throughout(rows, "calm", text, level="caution")


def check_gale(rows: FileRows) -> Outcome:
    """Wind whose mean is a gale."""
    if np.isnan(rows.slots.columns["wind_m_s"]).all():
        return "unable"
    if not air_checks.never_rests(rows.wind_m_s, per_day=rows.slots.per_day):
        return None
    mean = float(rows.wind_m_s.mean())
    text = (
        f"The wind's mean is {in_both(round(mean), 'm/s')}, a gale that never rests: another column, or another unit. "
        "Cells come out too cold, water too high. The file was used as it is; without the column an ordinary wind is "
        "assumed."
    )
    return throughout(rows, "gale", text, level="danger")


def check_clock(rows: FileRows) -> Outcome:
    """A UTC offset far from the longitude's, unless the light itself proves it."""
    away = rows.slots.offset_h - rows.longitude_deg / 15
    away -= 24 * round(away / 24)
    if abs(away) <= HEAD["clock_from_sun"].value:
        return None
    if rows.late_min is not None and abs(rows.late_min) < _PROVEN_MIN:
        return None
    text = (
        f"The file's clock, {offset_words(rows.slots.offset_h)}, is {abs(away):.1f} h from the sun's at longitude "
        f"{rows.longitude_deg:.1f}: hardly any place keeps such a time. Check the sign of both."
    )
    return throughout(rows, "clock", text, level="caution")


def _stuck(rows: FileRows, check: Check, stuck: BoolArray, name: str, least_h: float) -> Outcome:
    if np.isnan(rows.slots.columns["air_c" if check == "stuck_air" else "wind_m_s"]).all():
        return "unable"
    if not stuck.any():
        return None
    days = rows.days_with(stuck)
    spans = spans_of(days, rows.first_day)
    text = (
        f"The {name} stays exactly the same for over {least_h:.0f} h, {counted(int(days.sum()), 'day')} in all "
        f"({span_words(spans)}): a sensor that hangs or froze, or a column that is none. It was used as it is."
    )
    return Finding(check=check, level="caution", days=int(days.sum()), spans=spans, text=text)
