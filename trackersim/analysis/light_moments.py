"""Two words for the morning's light, with the same instants in every answer: first light, and full sun.

Both are the place's own: of a cloudless sky, with trees and hills as the job has them and the rack as it stands before
its turn, whatever weather the day has.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from trackersim.arrays import BoolArray, FloatArray
from trackersim.clock import standard_zone
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.model import Job
from trackersim.job.rack import PASSIVE
from trackersim.rack.delayed import SUNSHINE_W_M2
from trackersim.rack.events import solar_midnight_min
from trackersim.rack.fixed import ideal_rotation
from trackersim.rack.geometry import sun_on_axis
from trackersim.simulation.array_shade import array_places
from trackersim.simulation.obstacles import crowns_of, horizon_of
from trackersim.simulation.orientation import axis_of
from trackersim.sky.crowns import Crown
from trackersim.sky.shading import ShadeEdges, module_shade
from trackersim.sky.sun import SUNRISE_ELEVATION_DEG, Sun, sun_at
from trackersim.sky.trees import HorizonProfile, beam_share, behind_horizon
from trackersim.weather.clearsky import clear_sky
from trackersim.weather.load import where_is

_CLEAR = 0.999


@dataclass(frozen=True, kw_only=True)
class LightDay:
    """The sun at the rack on one cloudless day, in minutes of the day; None for what does not happen.

    `first_light`: the first minute with sunshine (direct light of 120 W/m²) at the middle of the rack, be it through
    branches. `full_sun`: from then until noon nothing stands before the sun at any module; `first_module`: at one of
    them. `shaded_from`: first minute after noon in which some module is shaded again.
    """

    date: dt.date
    sunrise: int | None = None
    first_light: int | None = None
    first_module: int | None = None
    full_sun: int | None = None
    shaded_from: int | None = None
    sunset: int | None = None


def light_of_day(job: Job, date: dt.date, zone: dt.tzinfo | None = None) -> LightDay:
    """The moments of light on one day, at the job's rack (of several units, the first one's)."""
    return light_of_days(job.units[0], [date], zone)[0]


def light_of_days(job: Job, dates: Sequence[dt.date], zone: dt.tzinfo | None = None) -> tuple[LightDay, ...]:
    """The moments of light on each of these days, which are those of `zone`; None for the site's standard time.

    A rack that turns late waits at its west stop; a fixed one stands as it does; an ideal one follows the sun.
    """
    times = _minutes_of(dates, zone or standard_zone(job.site))
    count, where = len(dates), where_is(job)
    sun = sun_at(times, **where)
    crowns, horizon = crowns_of(job, np.array([date.timetuple().tm_yday for date in dates])), horizon_of(job)
    day = np.arange(len(times)) // MINUTES_A_DAY
    beam_w_m2 = clear_sky(times, sun, **where).dni_w_m2 * beam_share(sun.direction, day, crowns, horizon)
    shaded = _shaded(job, sun, crowns, horizon, days=count)
    elevation_deg, by_day_w_m2 = (values.reshape(count, -1) for values in (sun.true_elevation_deg, beam_w_m2))
    midnight = solar_midnight_min(elevation_deg)
    return tuple(
        _moments(date, elevation_deg[n], by_day_w_m2[n], shaded[:, n], int(midnight[n])) for n, date in enumerate(dates)
    )


def _minutes_of(dates: Sequence[dt.date], zone: dt.tzinfo) -> pd.DatetimeIndex:
    minutes = pd.to_timedelta(np.arange(MINUTES_A_DAY) + 0.5, unit="min")
    days = [(pd.Timestamp(date, tz=zone) + minutes).tz_convert("UTC").to_numpy() for date in dates]
    return pd.DatetimeIndex(np.concatenate(days), tz="UTC").tz_convert(zone)


def _shaded(job: Job, sun: Sun, crowns: Sequence[Crown], horizon: HorizonProfile | None, *, days: int) -> BoolArray:
    """Whether something stands before the sun at each module (modules, days, 1440)."""
    axis = axis_of(job)
    sun_rotation, _ = sun_on_axis(sun.direction, axis)
    if job.rack.kind in PASSIVE:
        rotation = np.full_like(sun_rotation, job.rack.max_rotation_deg)
    elif job.rack.kind == "fixed":
        rotation = np.full_like(sun_rotation, job.rack.fixed_rotation_deg)
    else:
        by_day = sun_rotation.reshape(days, MINUTES_A_DAY)
        rotation = ideal_rotation(by_day, max_rotation_deg=job.rack.max_rotation_deg).ravel()
    every = np.arange(sun.direction.shape[1])
    none = np.zeros(0, dtype=np.intp)
    shade = module_shade(
        sun.direction,
        every // MINUTES_A_DAY,
        rotation,
        axis=axis,
        places=array_places(job.array),
        crowns=crowns,
        edges=ShadeEdges(minutes=every, at_edge=(every,) * len(crowns), covered=(none,) * len(crowns)),
        hidden=behind_horizon(sun.direction, horizon),
    )
    groups = max(job.array.diodes, 1)
    by_module = shade.share.reshape(every.size, -1, job.array.module_count, groups).min(axis=(1, 3)).T
    return np.asarray(by_module < _CLEAR).reshape(-1, days, MINUTES_A_DAY)


def _moments(
    date: dt.date, elevation_deg: FloatArray, beam_w_m2: FloatArray, shaded: BoolArray, midnight: int
) -> LightDay:
    """One day's moments, from values of its minutes (1440,) and from the shade on its modules (modules, 1440)."""
    up = elevation_deg > SUNRISE_ELEVATION_DEG
    lit = np.flatnonzero(up)
    if not lit.size:
        return LightDay(date=date)  # the polar night
    noon = int(np.argmax(elevation_deg))
    down = np.flatnonzero(~up[midnight : noon + 1])
    sunrise = midnight + int(down[-1]) + 1 if down.size else midnight
    set_after = np.flatnonzero(~up[noon:])
    sunset = noon + int(set_after[0]) if set_after.size else len(up)

    def clears(one: BoolArray) -> int | None:
        """The minute after the last shaded one before noon; None if it is shaded at noon."""
        before = np.flatnonzero(one[sunrise : noon + 1])
        minute = sunrise + int(before[-1]) + 1 if before.size else sunrise
        return minute if minute <= noon else None

    times = [clears(one) for one in shaded]
    known = [time for time in times if time is not None]
    sunny = np.flatnonzero(beam_w_m2[sunrise:sunset] >= SUNSHINE_W_M2)
    first_light = sunrise + int(sunny[0]) if sunny.size else None
    full_sun = max(known) if len(known) == len(times) else None
    if full_sun is not None:
        # Past the trees the sun may still be too low to be called sunshine.
        full_sun = None if first_light is None else max(full_sun, first_light)
    some = np.flatnonzero(np.asarray(shaded.any(axis=0))[noon:sunset])
    return LightDay(
        date=date,
        sunrise=sunrise if down.size else None,
        first_light=first_light,
        first_module=min(known, default=None),
        full_sun=full_sun,
        shaded_from=noon + int(some[0]) if some.size else None,
        sunset=sunset if set_after.size else None,
    )
