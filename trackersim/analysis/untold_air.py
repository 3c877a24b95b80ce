"""How flips and arrivals seen in air that nobody told may lie about those in the job's air.

Where the job's weather is not that of the days observed, a clear morning's haze, air and wind are drawn within the
ranges from which `flip` and `tomorrow` draw them, and the job's rack turns in each. In the mean it turns later than in
the likely air, since the wind blows more often well above its likely speed than below it. Flip and arrival of one
morning had the same air; mornings are taken to have had air of their own.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from trackersim.analysis.forward_model import at_moment, rack_minutes
from trackersim.analysis.observations import MOMENTS, Observation
from trackersim.analysis.observed_sky import Air, Days, clear_ranges, day_weather, days_up_to, scene_under
from trackersim.analysis.sampled_mornings import latin, within
from trackersim.arrays import FloatArray
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.job.ranges import clipped
from trackersim.simulation.racks_side_by_side import turned_side_by_side
from trackersim.simulation.reuse import StageCache
from trackersim.simulation.tracking import track
from trackersim.weather.load import native_weather
from trackersim.weather.weather import Weather

DRAWS = 24
_FEWEST = 3  # turns from which a scatter is told


class Untold(NamedTuple):
    """What the air adds to turns as the job expects them: minutes later in the mean (n,), covariance (n, n) [min²]."""

    later_min: FloatArray
    covariance: FloatArray


@dataclass(frozen=True, kw_only=True)
class _Morning:
    """One date: its light as it may have been, and the observations with their place among all."""

    days: Days
    weather: tuple[Weather, ...]
    seen: tuple[tuple[int, Observation], ...]


@dataclass(frozen=True, kw_only=True)
class UntoldAir:
    """Turns in drawn air as a function of the values of `keys`, one row of them a draw."""

    job: Job
    keys: tuple[str, ...]
    mornings: tuple[_Morning, ...]
    count: int

    def __call__(self, values: FloatArray) -> FloatArray:
        """Minutes of the day (draws, n): of what is no turn 0, where there is none the end of the day."""
        changes = [{key: clipped(key, one) for key, one in zip(self.keys, row, strict=True)} for row in values]
        units = [with_overrides(self.job, each).units[0] for each in changes]
        cache, found = StageCache(), np.zeros((len(values), self.count))
        for morning in self.mornings:
            scenes = [
                scene_under(unit, morning.days, weather) for unit, weather in zip(units, morning.weather, strict=True)
            ]
            marched = self.job.units[0].rack.kind == "thermal"
            rotations = turned_side_by_side(units, scenes) if marched else [None] * len(units)
            for draw, (unit, scene, rotation_deg) in enumerate(zip(units, scenes, rotations, strict=True)):
                tracking = track(unit, scene, rotation_deg=rotation_deg, reuse=cache.get)
                minutes = rack_minutes(tracking, unit.rack.max_rotation_deg)
                for place, seen in morning.seen:
                    found[draw, place] = at_moment(minutes, morning.days.count - 1, seen)
        return found


def untold_air(job: Job, keys: Sequence[str], observations: Sequence[Observation]) -> UntoldAir | None:
    """The air that nobody told of the mornings observed; None where the weather was measured on them, or no turn seen."""
    dates = sorted({seen.moment.date for seen in observations if seen.what in MOMENTS})
    unit = job.units[0]
    if not dates or not unit.rack.waits or not native_weather(job).typical:
        return None
    shares = latin(DRAWS, 3 * len(dates)).reshape(DRAWS, len(dates), 3)
    mornings = []
    for number, date in enumerate(dates):
        days = days_up_to(unit, date, before=2 if unit.rack.kind == "thermal" else 0)
        drawn = [
            [within(one, share) for one, share in zip(clear_ranges(days.usual), row, strict=True)]
            for row in shares[:, number]
        ]
        weather = [day_weather(days, Air(haze=haze, warmer_k=warmer, wind_m_s=wind)) for haze, warmer, wind in drawn]
        seen = [
            (place, one) for place, one in enumerate(observations) if one.moment.date == date and one.what in MOMENTS
        ]
        mornings.append(_Morning(days=days, weather=tuple(weather), seen=tuple(seen)))
    return UntoldAir(job=job, keys=tuple(keys), mornings=tuple(mornings), count=len(observations))


def untold_about(
    air: Callable[[FloatArray], FloatArray],
    expected: Callable[[FloatArray], FloatArray],
    points: FloatArray,
    observations: Sequence[Observation],
) -> Untold:
    """What the air adds in the mean of the values `points` (p, k), against what is expected in the job's air.

    Turns were seen: air in which the rack makes none was not that of the morning.
    """
    which = np.arange(DRAWS) % len(points)
    turns, likely = air(points[which]), np.array([expected(point) for point in points])[which]
    turned = (turns < MINUTES_A_DAY) & (likely < MINUTES_A_DAY)
    turned &= np.array([seen.what in MOMENTS for seen in observations]) & (turned.sum(axis=0) >= _FEWEST)
    count = np.maximum(turned.sum(axis=0), 1)
    later = np.where(turned, turns - likely, 0.0)
    mean = later.sum(axis=0) / count
    about = np.where(turned, later - mean, 0.0)
    dates = np.array([seen.moment.date.toordinal() for seen in observations])
    together = np.maximum(turned.T.astype(float) @ turned - 1, 1.0)
    return Untold(mean, np.where(dates[:, None] == dates, about.T @ about / together, 0.0))
