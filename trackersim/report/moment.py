"""One minute of a simulated day in numbers and in a sentence: what the moving picture draws."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from trackersim.analysis.sky_seen import horizon_over, sun_over, trees_over, west_is_right
from trackersim.arrays import BoolArray, FloatArray
from trackersim.clock import hhmm, short_zone
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.model import Job
from trackersim.job.rack import PASSIVE
from trackersim.report.chart_series import wall_times
from trackersim.report.sun_path import sky_directions
from trackersim.report.words import first_rack_words
from trackersim.simulation.result import Result
from trackersim.units import System, show, shown_value, unit_label

_AZIMUTH_STEP_DEG, _ELEVATION_STEP_DEG = 1.0, 0.5
_SKY_TOP_DEG = 85.0
# So far to either side of its middle the sky reaches at least, and so far beyond the sun.
_LEAST_HALF_DEG, _MARGIN_DEG = 140.0, 5.0
_CLEAR, _DARK = 0.995, 0.005
_LEVEL_DEG = 0.5


@dataclass(frozen=True, kw_only=True)
class Outline:
    """One tree as the rack sees it: between `low_deg` and `high_deg` (n,) over the bearings of the day's sky.

    `low_deg` is NaN where it does not stand. `passes` is the share of the beam that comes through on this day.
    """

    low_deg: FloatArray
    high_deg: FloatArray
    passes: float


@dataclass(frozen=True, kw_only=True)
class DaySky:
    """The sky of one day from the rack: the sun at every minute, and trees and horizon over `bearing_deg` (n,).

    Bearings run from left to right of someone who looks along the axis toward its low end; `west_right` is +1 where
    that has west on the right.
    """

    job: Job
    west_right: float
    azimuth_deg: FloatArray
    elevation_deg: FloatArray
    up: BoolArray
    bearing_deg: FloatArray
    trees: tuple[Outline, ...]
    horizon_deg: FloatArray


@dataclass(frozen=True, kw_only=True)
class Canister:
    """One canister: its temperature [°C] and its share of all the liquid that moves."""

    temperature_c: float
    liquid_share: float

    def warmth(self, system: System) -> str:
        """Its temperature in words, to a tenth: near freezing three digits would say too much."""
        tenth = round(shown_value(self.temperature_c, "temperature", system), 1) + 0.0  # not "-0.0"
        return f"{tenth:.1f} {unit_label('temperature', system)}"


@dataclass(frozen=True, kw_only=True)
class RackMinute:
    """One minute of the rack (of several units, the first) and the flow of all units."""

    time: pd.Timestamp
    zone: str
    rack: str
    rotation_deg: float
    sun_rotation_deg: float
    azimuth_deg: float
    elevation_deg: float
    up: bool
    beam_share: float
    light_w_m2: float
    flow_m3_s: float
    west: Canister | None
    east: Canister | None

    @property
    def sun_words(self) -> str:
        """Where the sun stands: below the level horizon, clear, or behind trees."""
        if not self.up:
            return "The sun is down"
        if self.beam_share >= _CLEAR:
            return "Nothing stands before the sun"
        if self.beam_share <= _DARK:
            return "Trees or hills hide the sun"
        return f"Trees let {100 * self.beam_share:.0f} % of the beam through"

    @property
    def rack_faces(self) -> str:
        """Which way the rack faces."""
        return _side_words(self.rotation_deg)

    @property
    def clock(self) -> str:
        """The clock on the wall, with its zone."""
        return f"{hhmm(self.time)} {self.zone}"


def _side_words(rotation_deg: float) -> str:
    if abs(rotation_deg) < _LEVEL_DEG:
        return "centre"
    return f"{abs(rotation_deg):.0f}° {'west' if rotation_deg > 0 else 'east'}"


def ghost_words(now: RackMinute, system: System) -> str:
    """What a rack that had turned at once would do at that minute."""
    flow = f"lift {show(now.flow_m3_s, 'flow', system)}" if now.flow_m3_s > 0 else "lift no water"
    return f"Had it turned at once it would face {now.rack_faces} and {flow}."


def moment_of(result: Result, day: int, minute: int, sky: DaySky) -> RackMinute:
    """The minute `minute` of day `day` (both from 0) of a result."""
    if not (0 <= day < result.days and 0 <= minute < MINUTES_A_DAY):
        raise ValueError(f"day {day}, minute {minute} lies outside the result.")
    place = day * MINUTES_A_DAY + minute
    values = {name: float(result.minutes[name][place]) for name in _SERIES}
    west, east = _canisters(result, day, minute)
    return RackMinute(
        time=wall_times(result, slice(place, place + 1))[0].floor("min"),
        zone=short_zone(result.job.site, result.times[place]),
        rack=first_rack_words(result),
        azimuth_deg=float(sky.azimuth_deg[minute]),
        elevation_deg=float(sky.elevation_deg[minute]),
        up=bool(sky.up[minute]),
        west=west,
        east=east,
        **{_SERIES[name]: value for name, value in values.items()},
    )


_SERIES = {
    "rotation_deg": "rotation_deg",
    "sun_rotation_deg": "sun_rotation_deg",
    "beam_share": "beam_share",
    "plane_w_m2": "light_w_m2",
    "flow_m3_s": "flow_m3_s",
}


def _canisters(result: Result, day: int, minute: int) -> tuple[Canister | None, Canister | None]:
    history = result.canisters
    if history is None:
        return None, None
    thermal = result.job.units[0].rack.thermal
    whole = thermal.liquid_kg * thermal.charge
    share = float(np.clip(history.west_kg[day, minute] / whole, 0, 1)) if whole > 0 else 0.0
    west_c, east_c = history.canister_c[:, day, minute].tolist()
    return (
        Canister(temperature_c=west_c, liquid_share=share),
        Canister(temperature_c=east_c, liquid_share=1 - share if whole > 0 else 0.0),
    )


def day_sky(result: Result, day: int) -> DaySky:
    """Sun, trees and horizon of one day (from 0) of a result. Raises `ValueError` outside it."""
    if not 0 <= day < result.days:
        raise ValueError(f"day {day} lies outside the result.")
    job = result.job.units[0]
    times = result.times[day * MINUTES_A_DAY : (day + 1) * MINUTES_A_DAY]
    sun, west_right = sun_over(job, times), west_is_right(job)
    middle = 180.0 if west_right > 0 else 0.0
    azimuth = (sun.azimuth_deg - middle + 180) % 360 - 180 + middle
    # Within the tropics the sun may stand at noon behind whoever looks toward the low end.
    widest = float(np.abs(azimuth - middle)[sun.is_up].max(initial=0.0))
    half = min(max(_LEAST_HALF_DEG, np.ceil(widest) + _MARGIN_DEG), 180.0)
    bearing = np.arange(middle - half, middle + half + 1, _AZIMUTH_STEP_DEG)
    return DaySky(
        job=job,
        west_right=west_right,
        azimuth_deg=azimuth,
        elevation_deg=sun.elevation_deg,
        up=sun.is_up,
        bearing_deg=bearing,
        trees=tree_outlines(job, int(times[0].day_of_year), bearing),
        horizon_deg=horizon_over(job, bearing),
    )


def tree_outlines(job: Job, day_of_year: int, bearing_deg: FloatArray) -> tuple[Outline, ...]:
    """Every tree of the job over `bearing_deg` (n,), to half a degree of height."""
    elevation = np.arange(0, _SKY_TOP_DEG, _ELEVATION_STEP_DEG)
    outlines = []
    for seen in trees_over(job, sky_directions(bearing_deg, elevation), np.array([day_of_year])):
        covered = seen.covers.reshape(len(elevation), len(bearing_deg))
        stands = covered.any(axis=0)
        low = elevation[covered.argmax(axis=0)]
        high = elevation[len(elevation) - 1 - covered[::-1].argmax(axis=0)] + _ELEVATION_STEP_DEG
        blank = np.full(len(bearing_deg), np.nan)
        outlines.append(
            Outline(
                low_deg=np.where(stands, low, blank),
                high_deg=np.where(stands, high, blank),
                passes=float(seen.passes_by_day[0]),
            )
        )
    return tuple(outlines)


def moment_words(now: RackMinute, kind: str, system: System) -> str:
    """A minute of a rack of this kind in sentences."""
    parts = [f"{now.clock}, {now.time.day} {now.time:%B %Y}"]
    if now.up:
        parts[0] += f": the sun is {max(now.elevation_deg, 0):.0f}° high at a bearing of {now.azimuth_deg % 360:.0f}°"
    parts.append(now.sun_words)
    faces = "its centre" if now.rack_faces == "centre" else f"{now.rack_faces} of its centre"
    rack = f"{now.rack}," if "," in now.rack else now.rack
    parts.append(f"The {rack} faces {faces}; {show(now.light_w_m2, 'light', system)} falls on its modules")
    if now.west is not None and now.east is not None:
        for side, canister in (("West", now.west), ("East", now.east)):
            parts.append(
                f"{side} canister: {canister.warmth(system)}, {100 * canister.liquid_share:.0f} % of the liquid"
            )
    elif kind in PASSIVE:
        parts.append("Its canisters are not part of a rack as watched")
    flow = show(now.flow_m3_s, "flow", system)
    parts.append(f"{flow} flows from the pipe" if now.flow_m3_s > 0 else "No water flows from the pipe")
    return ". ".join(parts) + "."
