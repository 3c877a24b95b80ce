"""A delayed rack as it flipped on watched mornings: its threshold, and the dose that goes with it.

One number is sought, the threshold; dose over threshold stays as the job has it. On each morning light and air are the
likely ones for what was seen, and the wind is the usual one, as it is where `learn` works in the job's weather: near
the latest flip that a morning allows, one word for the wind would move the delay by hours. Flips that were only missed
("not by 11:00") bound a threshold and do not tell it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from trackersim.analysis.observed_sky import day_weather, days_up_to, likely_air, scene_under
from trackersim.analysis.watched_mornings import SeenMorning
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.rack.dose import DOSE_PER_THRESHOLD_MIN, KJ_PER_W_MIN, dose_kj_m2, reached_min
from trackersim.simulation.orientation import orientation_of
from trackersim.simulation.watched import FlipDose, flip_dose, ordinary_delay_min, rising_light

# Thresholds tried [W/m²], 0.7 % apart: less than a minute on a clear morning.
_TRIED = np.geomspace(1.0, 1500.0, 1000)


class AsWatched(NamedTuple):
    """What flips the rack as on the mornings; that rack's delay and the job's [min], on the job's watched morning.

    A rack that such a morning does not turn has `LONGEST_DELAY_MIN`.
    """

    flips: FlipDose[float]
    delay_min: float
    job_delay_min: float


def rack_as_watched(unit: Job, mornings: Sequence[SeenMorning]) -> AsWatched | None:
    """The rack of a job with one unit as it flipped, in the middle of the mornings.

    None for a rack of another kind, or where no flip was timed.
    """
    timed = [morning for morning in mornings if morning.flip is not None and not morning.flip.not_yet]
    if unit.rack.kind != "delayed" or not timed:
        return None
    own = flip_dose(unit)
    ratio = own.dose_kj_m2 / own.threshold_w_m2 if own.threshold_w_m2 else DOSE_PER_THRESHOLD_MIN * KJ_PER_W_MIN
    threshold = float(np.median([_threshold_w_m2(unit, morning, ratio) for morning in timed]))
    flips = FlipDose(threshold, ratio * threshold)
    return AsWatched(
        flips=flips,
        delay_min=ordinary_delay_min(with_overrides(unit, _changes(flips))),
        job_delay_min=ordinary_delay_min(unit),
    )


def job_as_watched(job: Job, place: int, watched: AsWatched | None) -> Job:
    """The job with the rack of its unit number `place` as watched; the job itself where that is not known."""
    if watched is None:
        return job
    section = f"unit.{place}." if job.unit else ""
    return with_overrides(job, {section + key: value for key, value in _changes(watched.flips).items()})


def _changes(flips: FlipDose[float]) -> dict[str, float]:
    return {"rack.flip_threshold": flips.threshold_w_m2, "rack.flip_dose": flips.dose_kj_m2}


def _threshold_w_m2(unit: Job, morning: SeenMorning, ratio: float) -> float:
    """The largest of those tried at which the rack flips by the minute of the morning."""
    assert morning.flip is not None
    minute = morning.flip.minute
    days = days_up_to(unit, morning.date, before=0)
    air = likely_air(days, replace(morning.seen, wind="unknown"), min(int(minute), MINUTES_A_DAY - 1))
    scene = scene_under(unit, days, day_weather(days, air))
    seen = orientation_of(unit, scene)
    light = rising_light(unit, scene, seen)
    one_sided = np.broadcast_to(light.one_sided_w_m2, (len(_TRIED), MINUTES_A_DAY))
    dose = dose_kj_m2(one_sided, _TRIED[:, None] * light.threshold)
    flip = reached_min(dose, ratio * _TRIED[:, None] * light.dose)
    return float(_TRIED[max(int(np.searchsorted(flip, minute, side="right")) - 1, 0)])
