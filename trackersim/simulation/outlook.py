"""A scene from weather and sun: the split sky, and what stands before it. The only place that makes one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from trackersim.constants import MINUTES_A_DAY
from trackersim.job.model import Job
from trackersim.simulation.obstacles import crowns_of, horizon_of
from trackersim.simulation.scene import Scene
from trackersim.sky.irradiance import sky_light
from trackersim.sky.sun import Sun
from trackersim.sky.trees import beam_share, behind_horizon
from trackersim.weather.weather import Weather


def scene_from(job: Job, weather: Weather, sun: Sun, *, coldest_c: float) -> Scene:
    """The scene of `job` under `weather`, minutes of whole days, with the sun at each of them."""
    up = np.flatnonzero(sun.is_up)
    up_day = up // MINUTES_A_DAY
    direction = np.ascontiguousarray(sun.direction[:, up])
    day_of_year = np.asarray(weather.times[::MINUTES_A_DAY].day_of_year)
    crowns, horizon = crowns_of(job, day_of_year), horizon_of(job)
    light = sky_light(
        dni_w_m2=weather.dni_w_m2[up],
        dhi_w_m2=weather.dhi_w_m2[up],
        ghi_w_m2=weather.ghi_w_m2[up],
        cos_zenith=direction[2],
        day_of_year=day_of_year[up_day],
        ground_albedo=job.site.ground_albedo,
    )
    return Scene(
        weather=weather, sun=sun, up=up, up_day=up_day, up_direction=direction, light=light,
        beam_share=beam_share(direction, up_day, crowns, horizon), hidden=behind_horizon(direction, horizon),
        beam_crowns=crowns, beam_horizon=horizon, crowns=crowns, horizon=horizon, coldest_c=coldest_c,
    )  # fmt: skip


def behind(scene: Scene, job: Job) -> Scene:
    """The sun and weather of `scene` behind the trees and horizon of `job`."""
    day_of_year = np.asarray(scene.weather.times[::MINUTES_A_DAY].day_of_year)
    crowns, horizon = crowns_of(job, day_of_year), horizon_of(job)
    return replace(
        scene, crowns=crowns, horizon=horizon, beam_crowns=crowns, beam_horizon=horizon,
        beam_share=beam_share(scene.up_direction, scene.up_day, crowns, horizon),
        hidden=behind_horizon(scene.up_direction, horizon),
    )  # fmt: skip
