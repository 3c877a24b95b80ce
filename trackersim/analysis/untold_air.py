"""How flips and arrivals seen in air that nobody told may lie about those in the job's air.

Where the job's weather is not that of the days observed, each clear morning's haze, air and wind are drawn within the
ranges from which `flip` and `tomorrow` draw them, and the job's rack turns in each. In the mean it turns later than in
the likely air, since the wind blows more often well above its likely speed than below it. Flip and arrival of one
morning had the same air; every morning is taken to have had air of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import pandas as pd

from trackersim.analysis.forward_model import at_moment, rack_minutes
from trackersim.analysis.observations import MOMENTS, Observation
from trackersim.analysis.observed_sky import (
    Air,
    Days,
    clear_ranges,
    day_weather,
    days_at,
    days_up_to,
    scene_under,
    within,
)
from trackersim.analysis.sampled_mornings import latin
from trackersim.arrays import FloatArray
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.job.ranges import clipped
from trackersim.simulation.tracking import track
from trackersim.weather.load import native_weather
from trackersim.weather.weather import Weather

# Of each morning; fewer of many, whose errors count for less.
_MOST_DRAWS, _FEWEST_DRAWS, _MOST_DAYS = 48, 4, 480
_FEWEST = 3  # turns from which a scatter is told


class Untold(NamedTuple):
    """What the air adds to turns as the job expects them: minutes later in the mean (n,), covariance (n, n) [min²]."""

    later_min: FloatArray
    covariance: FloatArray


@dataclass(frozen=True, kw_only=True)
class UntoldAir:
    """Turns in drawn air as a function of the values of `keys`, fields of the job.

    `days` and their `weather` are so many `draws` of each date, one after the other: a rack begins each as the evening
    before left it. `seen` is what was seen to turn, with its place among all `count` and its date's number.
    """

    job: Job
    keys: tuple[str, ...]
    days: Days
    weather: Weather
    draws: int
    seen: tuple[tuple[int, int, Observation], ...]
    count: int

    def __call__(self, values: FloatArray) -> FloatArray:
        """Minutes of the day (draws, n); of what is no turn 0."""
        changes = {key: clipped(key, float(value)) for key, value in zip(self.keys, values, strict=True)}
        unit = with_overrides(self.job, changes).units[0]
        scene = scene_under(unit, self.days, self.weather)
        minutes = rack_minutes(track(unit, scene), unit.rack.max_rotation_deg)
        found = np.zeros((self.draws, self.count))
        for place, date, seen in self.seen:
            found[:, place] = [at_moment(minutes, date * self.draws + draw, seen) for draw in range(self.draws)]
        return found


def untold_air(job: Job, keys: Sequence[str], observations: Sequence[Observation]) -> UntoldAir | None:
    """The air on the mornings observed; None where the weather was measured on those days, or no turn was seen."""
    dates = sorted({seen.moment.date for seen in observations if seen.what in MOMENTS})
    unit = job.units[0]
    if not dates or not unit.rack.waits or not native_weather(job).typical:
        return None
    draws = max(_FEWEST_DRAWS, min(_MOST_DRAWS, _MOST_DAYS // len(dates)))
    shares = latin(draws, 3 * len(dates)).reshape(draws, len(dates), 3)
    drawn = []
    for number, date in enumerate(dates):
        days = days_up_to(unit, date, before=0)
        ranges = clear_ranges(days.usual)
        for row in shares[:, number]:
            haze, warmer, wind = (within(one, share) for one, share in zip(ranges, row, strict=True))
            drawn.append(day_weather(days, Air(haze=haze, warmer_k=warmer, wind_m_s=wind)))
    seen = [(place, dates.index(one.moment.date), one) for place, one in enumerate(observations) if one.what in MOMENTS]
    times = pd.DatetimeIndex(drawn[0].times.append([each.times for each in drawn[1:]]))
    return UntoldAir(
        job=job,
        keys=tuple(keys),
        days=days_at(unit, dates[0], times),
        weather=replace(
            drawn[0],
            times=times,
            ghi_w_m2=np.concatenate([each.ghi_w_m2 for each in drawn]),
            dni_w_m2=np.concatenate([each.dni_w_m2 for each in drawn]),
            dhi_w_m2=np.concatenate([each.dhi_w_m2 for each in drawn]),
            air_c=np.concatenate([each.air_c for each in drawn]),
            wind_m_s=np.concatenate([each.wind_m_s for each in drawn]),
        ),
        draws=draws,
        seen=tuple(seen),
        count=len(observations),
    )


def untold_about(
    air: Callable[[FloatArray], FloatArray],
    expected: Callable[[FloatArray], FloatArray],
    points: Iterable[FloatArray],
    observations: Sequence[Observation],
) -> Untold:
    """What the air adds in the mean of the values `points`, against what is expected in the job's air.

    Turns were seen: air in which the rack makes none was not that of the morning.
    """
    pairs = [np.broadcast_arrays(air(point), expected(point)) for point in points]
    turns, likely = (np.concatenate(each) for each in zip(*pairs, strict=True))
    moments = np.array([seen.what in MOMENTS for seen in observations])
    turned = moments & (turns < MINUTES_A_DAY) & (likely < MINUTES_A_DAY)
    turned &= turned.sum(axis=0) >= _FEWEST
    apart = np.where(turned, turns - likely, 0.0)
    mean = apart.sum(axis=0) / np.maximum(turned.sum(axis=0), 1)
    about = np.where(turned, apart - mean, 0.0)
    dates = np.array([seen.moment.date.toordinal() for seen in observations])
    both = np.maximum(turned.T.astype(float) @ turned, 1.0)
    return Untold(mean, np.where(dates[:, None] == dates, about.T @ about / both, 0.0))
