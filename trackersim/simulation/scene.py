"""First stage of the chain: the scene, place and weather minute by minute, and what stands before the sun.

`make_scene` is the whole of it. Its two halves are of use by themselves to the runner, which keeps the first when only
trees change: `place_of` (weather as minutes, and the sun) and `scene_at` (the sky's light, trees and hills).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Hashable
from dataclasses import dataclass, field
from functools import cached_property
from typing import TypeVar

import numpy as np
import numpy.typing as npt
import pandas as pd

from trackersim.arrays import BoolArray, FloatArray, IndexArray
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.model import Job
from trackersim.job.place import Site
from trackersim.simulation.obstacles import crowns_of, horizon_of
from trackersim.simulation.reuse import Reuse, worked_anew
from trackersim.sky.crowns import Crown
from trackersim.sky.irradiance import SkyLight, sky_light
from trackersim.sky.sun import Sun, sun_at
from trackersim.sky.trees import HorizonProfile, beam_share, behind_horizon
from trackersim.weather.broken_cloud import SHORTEST_STEP_MIN, passing_clouds
from trackersim.weather.calendar import days_between
from trackersim.weather.downscale import JoinedLight, joined_light, minute_times, to_minutes
from trackersim.weather.frame import weather_from_frame
from trackersim.weather.load import native_weather, where_is
from trackersim.weather.weather import Weather, check_weather, named_by_content

_Kind = TypeVar("_Kind", bound=np.generic)


@dataclass(frozen=True, kw_only=True, eq=False)
class Place:
    """Weather as minutes of whole days, and the sun at each of them.

    `coldest_c` is the coldest air of the whole weather, whatever days of it are here. `broken` is true if passing
    clouds were drawn for its minutes. Places with equal keys are equal.
    """

    weather: Weather
    sun: Sun
    coldest_c: float
    broken: bool = False
    key: Hashable = field(default_factory=object)


@dataclass(frozen=True, kw_only=True, eq=False)
class ChosenMinutes:
    """Some minutes of whole days: `up` (n,) counts them from the first of all days.

    `month_of_day` (days,) is the month of each day, 1…12.
    """

    up: IndexArray
    month_of_day: IndexArray

    @property
    def days(self) -> int:
        """Whole days."""
        return len(self.month_of_day)

    @cached_property
    def up_day(self) -> IndexArray:
        """Day of each minute (n,)."""
        return self.up // MINUTES_A_DAY

    def spread(self, values: FloatArray, fill: float = 0.0) -> FloatArray:
        """Their values (…, n) over all minutes, `fill` in the others."""
        whole = np.full((*values.shape[:-1], self.days * MINUTES_A_DAY), fill)
        whole[..., self.up] = values
        return whole

    def by_day(self, values: npt.NDArray[_Kind]) -> npt.NDArray[_Kind]:
        """An array (…, minutes) over all of them as (…, days, 1440)."""
        return values.reshape(*values.shape[:-1], self.days, MINUTES_A_DAY)


@dataclass(frozen=True, kw_only=True, eq=False)
class Scene(ChosenMinutes):
    """A place behind its trees and hills. Its minutes are those with the sun up.

    `up_direction` (3, n) points to the sun. `beam_share` (n,) is that at the middle of the axis; `hidden` (n,) says
    that the sun is behind the far horizon. `site` is that of the job it was made for, None where nobody said.
    Scenes with equal keys are equal; a scene whose `key` nobody gave equals only itself.
    """

    place: Place
    up_direction: FloatArray
    light: SkyLight
    beam_share: FloatArray
    hidden: BoolArray
    crowns: tuple[Crown, ...]
    horizon: HorizonProfile | None
    site: Site | None = None
    key: Hashable = field(default_factory=object)

    @property
    def weather(self) -> Weather:
        """Weather of the place."""
        return self.place.weather

    @property
    def sun(self) -> Sun:
        """Sun over the place."""
        return self.place.sun

    @property
    def coldest_c(self) -> float:
        """Coldest air of the whole weather."""
        return self.place.coldest_c

    @property
    def beam_w_m2(self) -> FloatArray:
        """Direct light past trees and hills at the middle of the axis (days, 1440)."""
        return self.by_day(self.spread(self.light.beam_w_m2 * self.beam_share))


def make_scene(
    job: Job,
    weather: Weather | pd.DataFrame | None = None,
    *,
    first_day: dt.date | None = None,
    last_day: dt.date | None = None,
) -> Scene:
    """The scene of a job: weather as minutes, the sun, the split sky and the share of beam that passes the trees.

    Parameters
    ----------
    job : Job
        Read are its sections site, weather, trees and horizon, and the height of its rack.
    weather : Weather | pd.DataFrame | None
        In place of the job's own: a `Weather`, or a table with a time-zone-aware index and pvlib's column names
        (`weather.frame.weather_from_frame` says which, and what its stamps mean); None for the job's.
    first_day : dt.date | None
        First day of the weather's calendar; None for the first there is.
    last_day : dt.date | None
        Last day, itself included; None for the last there is.

    Returns
    -------
    Scene
        Place, weather, sun, trees and split light, minute by minute.

    Raises
    ------
    InputError
        For weather that cannot be read or used, of another hemisphere, or without these days.
    """
    return scene_at(job, place_of(job, native_of(job, weather), first_day=first_day, last_day=last_day))


def native_of(job: Job, weather: Weather | pd.DataFrame | None = None) -> Weather:
    """The weather at its own step: the job's, or that given instead.

    Parameters
    ----------
    job : Job
        Its site and weather are read.
    weather : Weather | pd.DataFrame | None
        In place of the job's own; None for that.

    Returns
    -------
    Weather
        At the step that it came in; one that was given is named by what it holds.

    Raises
    ------
    InputError
        For weather that cannot be read or used.
    """
    if weather is None:
        return native_weather(job)
    if isinstance(weather, Weather):
        check_weather(weather)
        return named_by_content(weather)
    return weather_from_frame(weather, job.site)


def place_of(
    job: Job,
    native: Weather,
    *,
    first_day: dt.date | None = None,
    last_day: dt.date | None = None,
    key: Hashable = None,
    key_without_clouds: Hashable = None,
    reuse: Reuse = worked_anew,
) -> Place:
    """Days of the weather as minutes, with the sun over the job's site.

    Parameters
    ----------
    job : Job
        Its site, and of its weather the kind of minutes, are read.
    native : Weather
        Weather at its own step.
    first_day : dt.date | None
        First day; None for the first there is.
    last_day : dt.date | None
        Last day, itself included; None for the last there is.
    key : Hashable
        What makes places equal; None for a place that equals only itself.
    key_without_clouds : Hashable
        What makes places equal but for the passing clouds in their minutes.
    reuse : Reuse
        Keeps what other jobs share; by default nothing is kept.

    Returns
    -------
    Place
        Minutes of whole days.

    Raises
    ------
    InputError
        For days that the weather does not have.
    """
    where = where_is(job)
    days = days_between(native, first_day, last_day)
    times = minute_times(days)
    sun: Sun = reuse("sun", (*where.values(), str(times[0]), len(times)), lambda: sun_at(times, **where))
    joined: JoinedLight | None = None
    if native.step_min > 1:
        joined = reuse("joined light", key_without_clouds, lambda: joined_light(days, sun=sun, **where))
    clouds = None
    if job.weather.minutes == "broken" and native.step_min >= SHORTEST_STEP_MIN:
        clouds = passing_clouds(native, seed=job.weather.seed, **where).over(days)
    minutes = to_minutes(days, sun=sun, clouds=clouds, joined=joined, **where)
    return Place(
        weather=minutes,
        sun=sun,
        coldest_c=float(native.air_c.min()),
        broken=clouds is not None,
        key=object() if key is None else key,
    )


def scene_at(job: Job, place: Place, *, key: Hashable = None, reuse: Reuse = worked_anew) -> Scene:
    """The place behind the job's trees and hills, its light split over the sky and the job's ground.

    Parameters
    ----------
    job : Job
        Its site, trees, horizon and the height of its rack are read.
    place : Place
        Weather as minutes, and the sun.
    key : Hashable
        What makes scenes equal; None for a scene that equals only itself.
    reuse : Reuse
        Keeps what other jobs share; by default nothing is kept.

    Returns
    -------
    Scene
        Light at sun-up minutes, and what stands before it.
    """
    albedo = job.site.ground_albedo
    up = np.flatnonzero(place.sun.is_up)
    up_day = up // MINUTES_A_DAY
    direction = np.ascontiguousarray(place.sun.direction[:, up])
    weather, first_minutes = place.weather, place.weather.times[::MINUTES_A_DAY]
    day_of_year = np.asarray(first_minutes.day_of_year, dtype=np.intp)
    crowns, horizon = crowns_of(job, day_of_year), horizon_of(job)
    light: SkyLight = reuse(
        "sky light",
        (place.key, albedo),
        lambda: sky_light(
            dni_w_m2=weather.dni_w_m2[up],
            dhi_w_m2=weather.dhi_w_m2[up],
            ghi_w_m2=weather.ghi_w_m2[up],
            cos_zenith=direction[2],
            day_of_year=day_of_year[up_day],
            ground_albedo=albedo,
        ),
    )
    return Scene(
        place=place,
        up=up,
        month_of_day=np.asarray(first_minutes.month, dtype=np.intp),
        up_direction=direction,
        light=light,
        beam_share=beam_share(direction, up_day, crowns, horizon),
        hidden=behind_horizon(direction, horizon),
        crowns=crowns,
        horizon=horizon,
        site=job.site,
        key=object() if key is None else key,
    )
