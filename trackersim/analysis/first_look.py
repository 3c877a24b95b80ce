"""What is seen of a job first: what the late flip and the trees cost, what can be won back, and every day's loss.

It holds no minutes, so that a page can keep it for many jobs.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from trackersim.analysis.losses import LATE, SiteWater, rack_cause, site_jobs
from trackersim.arrays import BoolArray, FloatArray
from trackersim.errors import Notice
from trackersim.job.model import Job
from trackersim.simulation.result import Result
from trackersim.simulation.runner import Progress, Runner

# Light of a dull day at most, and of a clear one at least, as a share of that of the brightest day near it, on a rack
# that follows the sun.
DULL, CLEAR = 0.5, 0.9
_NEAR_DAYS = 15


@dataclass(frozen=True, kw_only=True)
class FirstLook:
    """Figures of one job, means over its days [m³/day].

    `lost_m3` (by rack and trees), `rack_lost_m3` (by the rack behind the trees that there are), `dull`, `clear` and
    `turned` (days,) tell of each day. Open and prompt less late and trees is the job as it stands.
    `repaired_m3_per_day` is what the job repaired lifts, and `open_sky_m3_per_day` the job without its trees, None
    where there is nothing to repair or no tree. `turned` is None for racks without a flip.
    """

    job: Job
    own_m3_per_day: float
    late_m3_per_day: float
    trees_m3_per_day: float
    repaired_m3_per_day: float | None
    open_sky_m3_per_day: float | None
    first_day: dt.date
    lost_m3: FloatArray
    rack_lost_m3: FloatArray
    dull: BoolArray
    clear: BoolArray
    turned: BoolArray | None

    @property
    def days(self) -> int:
        """Days simulated."""
        return len(self.lost_m3)

    @property
    def last_day(self) -> dt.date:
        """The last day simulated."""
        return self.first_day + dt.timedelta(days=self.days - 1)

    @property
    def telling_day(self) -> dt.date:
        """A day that explains the loss: a clear one on which the rack loses about as much as on the median of those on
        which it does.

        Where it loses nothing on a clear day, the day that lost most; by trees, where it never loses anything.
        """
        lost = self.rack_lost_m3 if self.rack_loses else self.lost_m3
        telling = self.clear & (lost > 0)
        if not telling.any():
            return self.first_day + dt.timedelta(days=int(lost.argmax()))
        off = np.abs(lost - np.median(lost[telling]))
        return self.first_day + dt.timedelta(days=int(np.where(telling, off, np.inf).argmin()))

    def day_shown(self, chosen: dt.date | None) -> dt.date:
        """The day chosen, if it is simulated, else the telling one."""
        return chosen if chosen is not None and self.first_day <= chosen <= self.last_day else self.telling_day

    @property
    def rack_loses(self) -> bool:
        """Whether there is a day on which the rack loses water."""
        return bool((self.rack_lost_m3 > 0).any())

    @property
    def waits(self) -> bool:
        """Whether what the rack loses is a late flip, and not that it stands still."""
        return rack_cause(self.job) == LATE

    @property
    def not_turned_share(self) -> float | None:
        """Share of the year's loss that lies on days on which the rack did not turn; None where it has no flip."""
        whole = float(self.lost_m3.sum())
        return None if self.turned is None or whole <= 0 else float(self.lost_m3[~self.turned].sum()) / whole


@dataclass(frozen=True, kw_only=True)
class DaysOf:
    """What one run gave on each of its days (days,): water [m³], light on the plane [kWh/m²], whether the rack flipped.

    `turned` is None for racks without a flip.
    """

    water_m3: FloatArray
    light_kwh_m2: FloatArray
    turned: BoolArray | None
    first_day: dt.date
    notices: tuple[Notice, ...]

    @property
    def m3_per_day(self) -> float:
        """Mean water a day [m³]."""
        return float(self.water_m3.sum()) / len(self.water_m3)

    @property
    def last_day(self) -> dt.date:
        """The last day."""
        return self.first_day + dt.timedelta(days=len(self.water_m3) - 1)


def days_of(result: Result) -> DaysOf:
    """A result without its minutes."""
    return DaysOf(
        water_m3=result.daily_water_m3,
        light_kwh_m2=result.daily_light_kwh_m2,
        turned=None if result.events is None else result.events.flip >= 0,
        first_day=result.times[0].date(),
        notices=result.notices,
    )


def first_look(job: Job, run: Callable[[Sequence[Job]], Sequence[DaysOf]]) -> FirstLook:
    """The figures of a job; `run` gives the days of each of some jobs.

    Raises `InputError` as `simulate` does.
    """
    jobs = site_jobs(job)
    runs = run([each for each in jobs if each is not None])
    own, prompt, open_prompt = runs[0], runs[1], runs[3]
    water = [each.m3_per_day for each in runs]
    site = SiteWater(water[0], water[1], water[2], water[3], water[4] if len(water) > 4 else None)
    bright = brightness(open_prompt.light_kwh_m2)
    return FirstLook(
        job=job,
        own_m3_per_day=site.own,
        late_m3_per_day=site.late,
        trees_m3_per_day=site.trees,
        repaired_m3_per_day=site.repaired,
        open_sky_m3_per_day=site.open_sky if job.trees else None,
        first_day=own.first_day,
        lost_m3=open_prompt.water_m3 - own.water_m3,
        rack_lost_m3=prompt.water_m3 - own.water_m3,
        dull=bright < DULL,
        clear=bright > CLEAR,
        turned=own.turned,
    )


def look_at(job: Job, *, progress: Progress | None = None) -> FirstLook:
    """The figures of a job, worked out here and now.

    Raises `InputError` as `simulate` does.
    """
    tell = progress or (lambda words, share: None)
    tell("every day of its weather", 0.0)
    return first_look(job, lambda jobs: [days_of(result) for result in Runner(job).run_all(jobs)])


def brightness(light: FloatArray) -> FloatArray:
    """Light of each day (days,) as a share of that of the brightest day within 15 days, by the light (days,)."""
    padded = np.pad(light, _NEAR_DAYS, mode="wrap") if len(light) > 2 * _NEAR_DAYS else np.pad(light, _NEAR_DAYS)
    brightest = np.lib.stride_tricks.sliding_window_view(padded, 2 * _NEAR_DAYS + 1).max(axis=1)
    return np.asarray(np.divide(light, brightest, out=np.zeros_like(light), where=brightest > 0))
