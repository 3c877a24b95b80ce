"""How much of an answer hangs on the minutes that were made of a weather's hours."""

from __future__ import annotations

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


def made_minutes(runner: Runner, own: Result) -> MadeMinutes | None:
    """What another draw of the clouds, and none at all, would give in place of `own`, a result of `runner`.

    None where no clouds were drawn: the weather has minutes of its own, no cloud, or is joined smoothly.
    """
    job: Job = own.job
    if not runner.scene(job).place.broken:
        return None
    changes = ({"weather.seed": job.weather.seed + 1}, {"weather.minutes": "smooth"})
    other, smooth = runner.run_all([with_overrides(job, change) for change in changes])
    return MadeMinutes(
        own_m3_per_day=own.water_m3_per_day,
        other_m3_per_day=other.water_m3_per_day,
        smooth_m3_per_day=smooth.water_m3_per_day,
    )
