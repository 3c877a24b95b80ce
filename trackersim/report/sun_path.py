"""The sun's way over one day as lines of a picture: in order of time, cut where it leaves one side for the other.

Within the tropics the noon sun stands in the south on some days and in the north on others, so that no middle of the
picture keeps every path in one piece, nor is there one height to each bearing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from trackersim.analysis.sky_seen import sun_over
from trackersim.arrays import BoolArray, FloatArray
from trackersim.clock import standard_zone
from trackersim.job.model import Job

LEAST_HALF_WIDTH_DEG = 130.0
_MARGIN_DEG = 5.0
# Room of a path's name to either side: shares of the picture's width, and of the highest path.
_NAME_WIDTH, _NAME_HEIGHT = 0.065, 0.045
_COMPASS = {0: "N", 45: "NE", 90: "E", 135: "SE", 180: "S", 225: "SW", 270: "W", 315: "NW"}


@dataclass(frozen=True, kw_only=True)
class SunPath:
    """The sun at `times` (n,) of one day; bearings lie within 180° of the middle of the picture.

    `pieces` are lines (m, 2) of bearing and height while the sun is above the level, each unbroken.
    """

    times: pd.DatetimeIndex
    bearing_deg: FloatArray
    height_deg: FloatArray
    pieces: tuple[FloatArray, ...]

    @property
    def up(self) -> BoolArray:
        """Whether the sun is above the level (n,)."""
        return np.asarray(self.height_deg > 0)


def compass_words(bearing_deg: int) -> str:
    """ "N", "NE" and so on for the eight points of the compass, "30°" for any other bearing."""
    around = bearing_deg % 360
    return _COMPASS.get(around, f"{around}°")


def sky_directions(bearing_deg: FloatArray, height_deg: FloatArray) -> FloatArray:
    """Directions (3, m · n) to every place of a grid of bearings (n,) and heights (m,), one height after the other."""
    azimuth, height = (np.radians(grid.ravel()) for grid in np.meshgrid(bearing_deg, height_deg))
    return np.stack([np.cos(height) * np.sin(azimuth), np.cos(height) * np.cos(azimuth), np.sin(height)])


def middle_deg(job: Job) -> float:
    """The bearing in the middle of the picture: where the noon sun stands on most days."""
    return 180.0 if job.site.latitude_deg >= 0 else 0.0


def sun_path(job: Job, month: int, *, step_min: int = 5) -> SunPath:
    """The sun's way on the 21st of a month, a point every `step_min` minutes."""
    start = pd.Timestamp(job.weather.year, month, 21, tz=standard_zone(job.site))
    times = pd.date_range(start, periods=1440 // step_min, freq=f"{step_min}min")
    east, north, up = sun_over(job, times).direction
    height = np.degrees(np.arcsin(np.clip(up, -1, 1)))
    middle = middle_deg(job)
    bearing = middle + (np.degrees(np.arctan2(east, north)) - middle + 180) % 360 - 180
    return SunPath(times=times, bearing_deg=bearing, height_deg=height, pieces=_pieces(bearing, height, middle))


def _pieces(bearing: FloatArray, height: FloatArray, middle: float) -> tuple[FloatArray, ...]:
    """The points above the level in order of time; a piece that crosses the seam ends on it, the next begins there."""
    pieces: list[list[tuple[float, float]]] = [[]]
    before: tuple[float, float] | None = None
    for point in zip(bearing.tolist(), height.tolist(), strict=True):
        if point[1] <= 0:
            pieces.append([])
            before = None
            continue
        if before is not None and abs(point[0] - before[0]) > 180:
            side = 180.0 if before[0] > middle else -180.0
            left = middle + side - before[0]
            share = left / (left + point[0] - (middle - side))
            seam = before[1] + share * (point[1] - before[1])
            pieces[-1].append((middle + side, seam))
            pieces.append([(middle - side, seam)])
        pieces[-1].append(point)
        before = point
    return tuple(np.array(piece) for piece in pieces if len(piece) > 1)


def half_width_deg(paths: Sequence[SunPath], job: Job) -> float:
    """How far the picture reaches to either side of its middle for all of these to be seen."""
    middle = middle_deg(job)
    seen = [float(np.abs(piece[:, 0] - middle).max()) for path in paths for piece in path.pieces]
    return min(max([LEAST_HALF_WIDTH_DEG, *(widest + _MARGIN_DEG for widest in seen)]), 180.0)


def name_places(paths: Sequence[SunPath], job: Job) -> list[tuple[float, float] | None]:
    """Where the name of each path stands: its highest place with room in the picture and clear of the names before.

    None for a path that is never above the level.
    """
    middle, widest = middle_deg(job), half_width_deg(paths, job)
    room = _NAME_WIDTH * 2 * widest
    above = _NAME_HEIGHT * max(float(path.height_deg.max()) for path in paths)
    taken: list[tuple[float, float]] = []
    places: list[tuple[float, float] | None] = []
    for path in paths:
        points = [
            (float(path.bearing_deg[each]), float(path.height_deg[each]))
            for each in np.argsort(-path.height_deg, kind="stable")
            if path.height_deg[each] > 0
        ]
        within = [point for point in points if abs(point[0] - middle) <= widest - room / 2]
        clear = (
            point for point in within
            if all(abs(point[0] - x) > room or abs(point[1] - y) > above for x, y in taken)
        )  # fmt: skip
        place = next(clear, next(iter(within or points), None))
        if place is not None:
            taken.append(place)
        places.append(place)
    return places
