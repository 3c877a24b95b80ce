"""The watched rack of a job in a scene, and what a watched delay says of it: dose and threshold."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy.optimize import brentq

from trackersim.arrays import FloatArray
from trackersim.clock import moment_at, standard_zone
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.model import Job
from trackersim.rack.canister import canister_loss_w_k
from trackersim.rack.delayed import SUNSHINE_W_M2, delayed_rotation, sunshine_at
from trackersim.rack.dose import (
    DOSE_PER_THRESHOLD_MIN,
    ORDINARY_AIR_C,
    ORDINARY_WIND_M_S,
    dose_factor,
    dose_kj_m2,
    one_sided_beam_w_m2,
    reached_min,
    threshold_factor,
)
from trackersim.rack.events import solar_midnight_min
from trackersim.rack.geometry import Axis, sun_on_axis
from trackersim.rack.refrigerant import REFRIGERANTS
from trackersim.simulation.canisters import canister_loss
from trackersim.simulation.reuse import Reuse, worked_anew
from trackersim.simulation.scene import Scene
from trackersim.sky.sun import sun_at
from trackersim.weather.clearsky import BEAM_LOSS, HAZE_LINKE, air_mass, clear_sky

LONGEST_DELAY_MIN = 720.0  # as a job may have it
_DOSE_PER_THRESHOLD = DOSE_PER_THRESHOLD_MIN * 60 / 1000  # kJ per W


class FlipDose(NamedTuple):
    """What flips a watched rack, in ordinary air and wind: threshold [W/m²] and dose beyond it [kJ/m²]."""

    threshold_w_m2: float
    dose_kj_m2: float


class _Morning(NamedTuple):
    """The day on which a delay was watched: one-sided beam (1, 1440), sunshine up to each minute (1, 1441), and the
    factors of threshold and dose in its air and wind.
    """

    one_sided_w_m2: FloatArray
    shone_min: FloatArray
    threshold: float
    dose: float


def watched_rotation(
    unit: Job,
    scene: Scene,
    *,
    axis: Axis,
    sun_rotation_deg: FloatArray,
    reach: FloatArray,
    reuse: Reuse = worked_anew,
) -> FloatArray:
    """Rotation of the unit's watched rack, minute by minute.

    Parameters
    ----------
    unit : Job
        A job of one unit with a watched rack.
    scene : Scene
        Light, air and wind.
    axis : Axis
        The axis of the rack.
    sun_rotation_deg : FloatArray
        Shape (days · 1440,). True-tracking angle of the sun [degrees], + west.
    reach : FloatArray
        Shape (days · 1440,). Cosine of incidence at that angle.
    reuse : Reuse
        Keeps the morning that was watched; by default nothing is kept.

    Returns
    -------
    FloatArray
        Shape (days, 1440) [degrees], + west.
    """
    rack, weather, beam = unit.rack, scene.weather, scene.beam_w_m2
    fluid = REFRIGERANTS[rack.thermal.refrigerant]
    sun_rotation, air = scene.by_day(sun_rotation_deg), scene.by_day(weather.air_c)
    needed = flip_dose(unit, axis, reuse=reuse)
    loss = scene.by_day(canister_loss(unit, wind_m_s=weather.wind_m_s, air_c=weather.air_c))
    factor = threshold_factor(fluid, air_c=air, loss_share=loss / _loss_w_k(unit, ORDINARY_AIR_C, ORDINARY_WIND_M_S))
    # What shines before solar midnight is the evening before.
    midnight = solar_midnight_min(scene.by_day(scene.sun.true_elevation_deg))
    begun = np.arange(MINUTES_A_DAY) >= midnight[:, None]
    one_sided = _one_sided(unit, beam, sun_rotation, scene.by_day(reach)) * begun
    dose = dose_kj_m2(one_sided, needed.threshold_w_m2 * factor)
    return delayed_rotation(
        sun_rotation,
        begun & (beam >= SUNSHINE_W_M2),
        reached_min(dose, needed.dose_kj_m2 * dose_factor(fluid, air)),
        max_rotation_deg=rack.max_rotation_deg,
        turning_min=rack.turning_min,
        lag_deg=rack.lag_deg,
    )


def flip_dose(unit: Job, axis: Axis, *, reuse: Reuse = worked_anew) -> FlipDose:
    """Threshold and dose of the unit's watched rack: its own, else what its watched delay means.

    A delay longer than the light of its morning lasts means a rack that such a morning does not turn.

    Parameters
    ----------
    unit : Job
        A job of one unit; its rack, site and the year of its weather are read.
    axis : Axis
        The axis of the rack.
    reuse : Reuse
        Keeps the morning that was watched; by default nothing is kept.

    Returns
    -------
    FlipDose
        In air of 10 °C and 2 m/s of wind at the rack; both 0 for a rack that does not wait.
    """
    rack = unit.rack
    if rack.flip_threshold_w_m2 is not None and rack.flip_dose_kj_m2 is not None:
        return FlipDose(rack.flip_threshold_w_m2, rack.flip_dose_kj_m2)
    if not rack.flip_delay_min:
        return FlipDose(0.0, 0.0)
    morning = _morning(unit, axis, reuse)
    started = float(np.argmax(morning.shone_min[0] > 0)) - 1
    flip = started + rack.flip_delay_min

    def beyond(threshold_w_m2: float) -> float:
        """How far the dose came until the flip beyond what is needed."""
        dose = dose_kj_m2(morning.one_sided_w_m2, np.array(threshold_w_m2 * morning.threshold))[0]
        whole = min(int(flip), MINUTES_A_DAY - 1)
        last = float(np.interp(flip, np.arange(MINUTES_A_DAY + 1), np.concatenate([[0.0], dose])))
        most = max(float(dose[:whole].max(initial=0.0)), last)
        return most - _DOSE_PER_THRESHOLD * threshold_w_m2 * morning.dose

    if beyond(0.0) <= 0:
        return FlipDose(0.0, 0.0)
    highest = float(morning.one_sided_w_m2.max()) / morning.threshold
    threshold = float(brentq(beyond, 0.0, highest, xtol=1e-6))
    found = FlipDose(threshold, _DOSE_PER_THRESHOLD * threshold)
    lasts = _flip_on(morning, found) - started
    if not rack.flip_delay_min > lasts + 1:
        return found
    return FlipDose(*(value * rack.flip_delay_min / lasts for value in found))


def ordinary_delay_min(unit: Job, axis: Axis) -> float:
    """Minutes of sun until the unit's watched rack flips on the morning that was watched, or on an ordinary one.

    Parameters
    ----------
    unit : Job
        A job of one unit with a watched rack.
    axis : Axis
        The axis of the rack.

    Returns
    -------
    float
        0 to 720 [min].
    """
    if unit.rack.flip_threshold_w_m2 is None:
        return unit.rack.flip_delay_min
    morning = _morning(unit, axis, worked_anew)
    shone = sunshine_at(morning.shone_min, np.array([_flip_on(morning, flip_dose(unit, axis))]))
    return min(float(shone[0]), LONGEST_DELAY_MIN)


def _flip_on(morning: _Morning, needed: FlipDose) -> float:
    """Minute of that day at which it flips; infinite if it does not."""
    dose = dose_kj_m2(morning.one_sided_w_m2, np.array(needed.threshold_w_m2 * morning.threshold))
    return float(reached_min(dose, np.full((1, 1), needed.dose_kj_m2 * morning.dose))[0])


def _morning(unit: Job, axis: Axis, reuse: Reuse) -> _Morning:
    rack, site = unit.rack, unit.site
    key = (site, unit.weather.year, axis, rack.watched, rack.max_rotation_deg, rack.thermal)
    found: _Morning = reuse("watched morning", key, lambda: _made_morning(unit, axis))
    return found


def _made_morning(unit: Job, axis: Axis) -> _Morning:
    site, seen, thermal = unit.site, unit.rack.watched, unit.rack.thermal
    where = {"latitude_deg": site.latitude_deg, "longitude_deg": site.longitude_deg, "elevation_m": site.elevation_m}
    start = pd.Timestamp(f"{unit.weather.year}-{seen.on}", tz=standard_zone(site)) + pd.Timedelta(seconds=30)
    times = pd.date_range(start, periods=MINUTES_A_DAY, freq="min")
    sun = sun_at(times, **where)
    beam = clear_sky(times, sun, **where).dni_w_m2
    if seen.sky == "haze":
        beam = beam * np.exp(-BEAM_LOSS * HAZE_LINKE * air_mass(sun.direction[2], elevation_m=site.elevation_m))
    if seen.sun_from:
        beam[: moment_at(site, f"{unit.weather.year}-{seen.on} {seen.sun_from}").minute] = 0.0
    beam[: int(solar_midnight_min(sun.true_elevation_deg[None, :])[0])] = 0.0
    fluid = REFRIGERANTS[thermal.refrigerant]
    loss = _loss_w_k(unit, seen.air_c, seen.wind_m_s) / _loss_w_k(unit, ORDINARY_AIR_C, ORDINARY_WIND_M_S)
    return _Morning(
        one_sided_w_m2=_one_sided(unit, beam, *sun_on_axis(sun.direction, axis))[None, :],
        shone_min=np.concatenate([[0], np.cumsum(beam >= SUNSHINE_W_M2)])[None, :].astype(float),
        threshold=float(threshold_factor(fluid, air_c=seen.air_c, loss_share=loss)),
        dose=float(dose_factor(fluid, seen.air_c)),
    )


def _one_sided(unit: Job, beam_w_m2: FloatArray, sun_rotation_deg: FloatArray, reach: FloatArray) -> FloatArray:
    return one_sided_beam_w_m2(
        beam_w_m2,
        sun_rotation_deg=sun_rotation_deg,
        reach=reach,
        max_rotation_deg=unit.rack.max_rotation_deg,
        plate_angle_deg=unit.rack.thermal.plate_angle_deg,
        plate_share_behind=unit.rack.thermal.plate_share_behind,
    )


def _loss_w_k(unit: Job, air_c: float, wind_m_s: float) -> float:
    """A canister's heat loss per kelvin in this air, and in this wind at the rack."""
    thermal = unit.rack.thermal
    loss = canister_loss_w_k(
        wind_m_s=np.array([wind_m_s]),
        air_c=np.array([air_c]),
        diameter_m=thermal.canister_diameter_m,
        length_m=thermal.canister_length_m,
    )
    return float(loss[0])
