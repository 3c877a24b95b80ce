"""How much of an answer hangs on the minutes that were made of a weather's hours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.simulation.result import Result
from trackersim.simulation.runner import Runner


@dataclass(frozen=True, kw_only=True)
class MadeMinutes:
    """Water a day [m³] of a job with its minutes as drawn, as drawn from another seed, and without passing cloud."""

    own_m3_per_day: float
    other_m3_per_day: float
    smooth_m3_per_day: float

    def summary(self) -> dict[str, float]:
        """Plain data (SI)."""
        return dict(vars(self))


def drawn_otherwise(runner: Runner, job: Job) -> list[Job]:
    """The job with another draw of the clouds, and with none.

    Empty where no clouds were drawn: the weather has minutes of its own, no cloud, or is joined smoothly.
    """
    if not runner.scene(job).place.broken:
        return []
    changes = ({"weather.seed": job.weather.seed + 1}, {"weather.minutes": "smooth"})
    return [with_overrides(job, change) for change in changes]


def made_minutes_of(own: Result, otherwise: Sequence[Result]) -> MadeMinutes | None:
    """How far the results of `drawn_otherwise` lie from a job's own; None without any."""
    if not otherwise:
        return None
    other, smooth = otherwise
    return MadeMinutes(
        own_m3_per_day=own.water_m3_per_day,
        other_m3_per_day=other.water_m3_per_day,
        smooth_m3_per_day=smooth.water_m3_per_day,
    )
