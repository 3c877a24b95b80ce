"""How much of an answer hangs on the minutes that were made from hours: without cloud, and with other clouds."""

from __future__ import annotations

from dataclasses import dataclass

from trackersim.job.files import with_overrides
from trackersim.simulation.runner import Runner


@dataclass(frozen=True, kw_only=True)
class MinutesMade:
    """Water a day [m³] on the job's own rack: minutes broken by the job's seed, by another, and joined smoothly."""

    broken_m3_per_day: float
    other_seed_m3_per_day: float
    smooth_m3_per_day: float

    @property
    def smooth_share(self) -> float:
        """Smooth water over broken, less 1: what smooth hours give too much where minutes are as they were drawn."""
        return _over(self.smooth_m3_per_day, self.broken_m3_per_day)

    @property
    def seed_share(self) -> float:
        """The other seed's water over the job's, less 1: what the draw of clouds changes."""
        return _over(self.other_seed_m3_per_day, self.broken_m3_per_day)


def minutes_made(runner: Runner) -> MinutesMade | None:
    """The runner's job on its own rack in broken, differently broken and smooth minutes.

    Parameters
    ----------
    runner
        Its job, over its days; three runs, of which the first is kept if the job says "broken".

    Returns
    -------
    MinutesMade or None
        None where nothing was made of the weather: the clear sky, logs shorter than a quarter of an hour.
    """
    smooth = runner.run(with_overrides(runner.job, {"weather.minutes": "smooth"}))
    if not any(notice.field == "weather.minutes" for notice in smooth.notices):  # which say what was made of intervals
        return None
    own = with_overrides(runner.job, {"weather.minutes": "broken"})
    other_seed = with_overrides(own, {"weather.seed": 0 if own.weather.seed else 1})
    broken, other = runner.run(own), runner.run(other_seed)
    return MinutesMade(
        broken_m3_per_day=broken.water_m3_per_day,
        other_seed_m3_per_day=other.water_m3_per_day,
        smooth_m3_per_day=smooth.water_m3_per_day,
    )


def _over(one: float, other: float) -> float:
    return one / other - 1 if other > 0 else 0.0
