"""Many thermal racks of one make on a few mornings: what a diagnosis compares with what was seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from trackersim.arrays import FloatArray, IndexArray
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.model import Job
from trackersim.job.rack import Rack
from trackersim.rack.events import morning_events, solar_midnight_min
from trackersim.rack.geometry import sun_on_axis
from trackersim.rack.thermal import Forcing
from trackersim.rack.thermal_year import march_mornings
from trackersim.simulation.canisters import (
    canister_beam_share,
    canister_dew_w_k,
    canister_lift_pa,
    canister_light_w,
    canister_loss,
    canister_sky_w,
    tube_of,
    wind_moment,
)
from trackersim.simulation.obstacles import crowns_of, horizon_of
from trackersim.simulation.tracking import axis_of
from trackersim.sky.sun import Sun, sun_at
from trackersim.sky.trees import beam_share

UNTIL_MIN = 960  # racks are followed from midnight to four in the afternoon


@dataclass(frozen=True, kw_only=True)
class Mornings:
    """Sun over a job's site on a few days: `times` and `sun` over all minutes (days · 1440,)."""

    job: Job
    times: pd.DatetimeIndex
    sun: Sun

    @property
    def count(self) -> int:
        """Days in all."""
        return len(self.times) // MINUTES_A_DAY


@dataclass(frozen=True, kw_only=True)
class MorningAir:
    """Light, air and wind of each rack on each morning, every array (racks, days, 1440) in W/m², °C and m/s at 10 m."""

    dni_w_m2: FloatArray
    dhi_w_m2: FloatArray
    air_c: FloatArray
    wind_m_s: FloatArray


@dataclass(frozen=True, kw_only=True)
class Moves:
    """What each rack does on each morning (racks, days): minutes of the standard day, NaN where it does not happen.

    `east_deg` is how far east of centre it stands at the most until noon; `first_beam` is sunshine on the rack.
    """

    sunrise: FloatArray
    first_beam: FloatArray
    flip: FloatArray
    arrival: FloatArray
    east_deg: FloatArray


def mornings_at(job: Job, times: pd.DatetimeIndex) -> Mornings:
    """The sun over a job's site at minutes of whole days.

    Parameters
    ----------
    job : Job
        Its site is read.
    times : pd.DatetimeIndex
        Centres of the minutes of whole standard days, which need not follow each other.

    Returns
    -------
    Mornings
        Times and sun.
    """
    site = job.site
    sun = sun_at(times, latitude_deg=site.latitude_deg, longitude_deg=site.longitude_deg, elevation_m=site.elevation_m)
    return Mornings(job=job, times=times, sun=sun)


def moves_of(
    racks: Sequence[Rack], mornings: Mornings, air: MorningAir, *, tree_power: FloatArray, trees: bool = True
) -> Moves:
    """The racks through the mornings, each begun at rest.

    Parameters
    ----------
    racks : Sequence[Rack]
        Shape (racks,). Thermal racks that stand where the job's does, with its stops and refrigerant.
    mornings : Mornings
        The days.
    air : MorningAir
        Light, air and wind of each rack on each day.
    tree_power : FloatArray
        Shape (racks,). Exponent on what the trees pass: above 1 they are denser than the job says.
    trees : bool
        Whether the job's trees stand.

    Returns
    -------
    Moves
        Moments and angles (racks, days).
    """
    job, days, sun = mornings.job, mornings.count, mornings.sun
    up = np.flatnonzero(sun.is_up)
    axis = axis_of(job)
    sun_rotation, reach = sun_on_axis(sun.direction, axis)
    whole = job if trees else job.model_copy(update={"trees": ()})
    share, at_axis = _shares(whole, mornings, up)
    shape = (len(racks), days, MINUTES_A_DAY)
    takes = np.array([rack.thermal.absorptance for rack in racks])[:, None, None] / job.rack.thermal.absorptance
    beam, diffuse = canister_light_w(job, beam_w_m2=air.dni_w_m2 * reach.reshape(shape[1:]), diffuse_w_m2=air.dhi_w_m2)
    tubes = [tube_of(_with_rack(job, rack), air_c=air.air_c[n]) for n, rack in enumerate(racks)]
    wind = air.wind_m_s.reshape(-1)
    loss = canister_loss(job, wind_m_s=wind, air_c=air.air_c.reshape(-1)).reshape(shape)
    lit = beam if share is None else beam * share[2, 0] ** tree_power[:, None, None]  # at rest, in the west
    dew = canister_dew_w_k(job, wind_m_s=air.wind_m_s, air_c=air.air_c, light_w=takes * (lit + diffuse), dry_w_k=loss)
    driven = Forcing(
        sun_rotation_deg=np.broadcast_to(sun_rotation.reshape(shape[1:]), shape),
        beam_w=takes * beam,
        diffuse_w=takes * diffuse,
        air_c=air.air_c,
        loss_w_k=loss + dew,
        lift_pa=canister_lift_pa(job, air_c=air.air_c),
        laminar_pa_s_kg=np.stack([laminar for laminar, _ in tubes]),
        turbulent_pa_s_kg=np.stack([turbulent for _, turbulent in tubes]),
        wind_moment_nm=wind_moment(job, axis, wind_m_s=wind, wind_from_deg=None).reshape(shape),
        sky_w=canister_sky_w(job, air_c=air.air_c),
    )
    rows = len(racks) * days
    forcing = Forcing(*(values.reshape(rows, MINUTES_A_DAY)[:, :UNTIL_MIN] for values in driven))
    passed = None
    if share is not None:
        powered = share[:, :, None] ** tree_power[:, None, None]
        passed = powered.reshape(3, 2, rows, MINUTES_A_DAY)[..., :UNTIL_MIN]
    rotation = march_mornings([rack for rack in racks for _ in range(days)], forcing, beam_share=passed)
    lit = air.dni_w_m2 * at_axis[None] ** tree_power[:, None, None]
    return _moved(rotation, sun_rotation, lit, mornings, job.rack.max_rotation_deg)


def _with_rack(job: Job, rack: Rack) -> Job:
    return job.model_copy(update={"rack": rack})


def _shares(job: Job, mornings: Mornings, up: IndexArray) -> tuple[FloatArray | None, FloatArray]:
    """Share of the beam at the canisters (3, 2, days, 1440), None in the open, and at the axis (days, 1440)."""
    days = mornings.count
    day_of_year = np.asarray(mornings.times[::MINUTES_A_DAY].day_of_year)
    crowns, horizon = crowns_of(job, day_of_year), horizon_of(job)
    at_axis = np.ones((days, MINUTES_A_DAY))
    if not crowns and horizon is None:
        return None, at_axis
    direction, day = mornings.sun.direction[:, up], up // MINUTES_A_DAY
    share = np.ones((3, 2, days, MINUTES_A_DAY))
    share.reshape(3, 2, -1)[..., up] = canister_beam_share(
        direction,
        day,
        crowns,
        horizon,
        axis=axis_of(job),
        lever_m=job.rack.thermal.lever_m,
        max_rotation_deg=job.rack.max_rotation_deg,
    )
    at_axis.reshape(-1)[up] = beam_share(direction, day, crowns, horizon)
    return share, at_axis


def _moved(
    rotation_deg: FloatArray, sun_rotation_deg: FloatArray, lit_w_m2: FloatArray, mornings: Mornings, stop_deg: float
) -> Moves:
    """Moments of all racks and mornings, rows of `rotation_deg` rack by rack."""
    racks, days = lit_w_m2.shape[:2]

    def rows(by_day: FloatArray) -> FloatArray:
        return np.tile(by_day.reshape(days, MINUTES_A_DAY), (racks, 1))[:, :UNTIL_MIN]

    elevation = mornings.sun.true_elevation_deg.reshape(days, MINUTES_A_DAY)
    found = morning_events(
        rotation_deg=rotation_deg,
        sun_rotation_deg=rows(sun_rotation_deg),
        true_elevation_deg=rows(elevation),
        beam_w_m2=lit_w_m2.reshape(-1, MINUTES_A_DAY)[:, :UNTIL_MIN],
        midnight_min=np.tile(solar_midnight_min(elevation), racks),
        max_rotation_deg=stop_deg,
    )

    def told(minute: IndexArray) -> FloatArray:
        return np.where(minute >= 0, minute.astype(float), np.nan).reshape(racks, days)

    noon = int(np.argmax(elevation.mean(axis=0)))
    return Moves(
        sunrise=told(found.sunrise),
        first_beam=told(found.first_beam),
        flip=told(found.flip),
        arrival=told(found.arrival),
        east_deg=-rotation_deg[:, :noon].min(axis=1).reshape(racks, days),
    )
