"""The watched rack of a job in a scene, and what a watched delay says of it: dose and threshold."""

from __future__ import annotations

from typing import Generic, NamedTuple, TypeVar

import numpy as np
import numpy.typing as npt
import pandas as pd

from trackersim.arrays import BoolArray, FloatArray
from trackersim.clock import moment_at, standard_zone
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.model import Job
from trackersim.rack.canister import canister_loss_w_k
from trackersim.rack.delayed import SUNSHINE_W_M2, delayed_rotation, sunshine_at
from trackersim.rack.dose import (
    DOSE_PER_THRESHOLD_MIN,
    KJ_PER_W_MIN,
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
from trackersim.simulation.canisters import canister_loss
from trackersim.simulation.orientation import Orientation, axis_of
from trackersim.simulation.reuse import Reuse, worked_anew
from trackersim.simulation.scene import Scene
from trackersim.sky.sun import sun_at
from trackersim.weather.clearsky import BEAM_LOSS, HAZE_LINKE, air_mass, clear_sky
from trackersim.weather.load import height_m, where_is

LONGEST_DELAY_MIN = 720.0  # as a job may have it
_HALVINGS = 40  # of some 1000 W/m²
_NEVER = 1e9  # times the dose: no rack flips in the dark


_Numbers = TypeVar("_Numbers", float, FloatArray)


class FlipDose(NamedTuple, Generic[_Numbers]):
    """What flips a watched rack, or each of many (racks,), in ordinary air and wind: threshold [W/m²] and dose beyond
    it [kJ/m²]."""

    threshold_w_m2: _Numbers
    dose_kj_m2: _Numbers


class AirOnWatch(NamedTuple):
    """How the air of the watched morning differed from the air that the job takes for it, all (racks,): Linke turbidity
    added, kelvin warmer, and a canister's heat loss in the wind that blew over that in the wind taken."""

    haze: FloatArray
    warmer_k: FloatArray
    loss_share: FloatArray


class _Morning(NamedTuple):
    """The day on which a delay was watched: one-sided beam (1 or racks, 1440), sunshine up to each minute (1, 1441),
    air mass and the most that cleaner air could pass, over what it passes (1, 1440); factors of threshold and dose in
    its air and wind (1 or racks,).
    """

    one_sided_w_m2: FloatArray
    shone_min: FloatArray
    air_mass: FloatArray
    cleanest: FloatArray
    threshold: FloatArray
    dose: FloatArray


def watched_rotation(unit: Job, scene: Scene, orientation: Orientation, *, reuse: Reuse = worked_anew) -> FloatArray:
    """Rotation of the unit's watched rack, minute by minute.

    Parameters
    ----------
    unit : Job
        A job of one unit with a watched rack.
    scene : Scene
        Light, air and wind.
    orientation : Orientation
        Its axis in the scene.
    reuse : Reuse
        Keeps the light that other delays share, and the morning that was watched; by default nothing is kept.

    Returns
    -------
    FloatArray
        Shape (days, 1440) [degrees], + west.
    """
    rack = unit.rack
    needed = flip_dose(unit, reuse=reuse)
    light: RisingLight = reuse(
        "rising light",
        (scene.key, orientation.axis, rack.max_rotation_deg, rack.height_m, rack.thermal),
        lambda: rising_light(unit, scene, orientation),
    )
    dose = dose_kj_m2(light.one_sided_w_m2, needed.threshold_w_m2 * light.threshold)
    return delayed_rotation(
        light.sun_rotation_deg,
        light.sunny,
        reached_min(dose, needed.dose_kj_m2 * light.dose),
        max_rotation_deg=rack.max_rotation_deg,
        turning_min=rack.turning_min,
        lag_deg=rack.lag_deg,
    )


class RisingLight(NamedTuple):
    """What watched racks of one axis take up in a scene, all (days, 1440): the true-tracking angle [degrees], whether
    the sun shines since solar midnight, one-sided beam since then [W/m²], and factors of threshold, 1 without such a
    beam, and of dose, beyond reach in the dark."""

    sun_rotation_deg: FloatArray
    sunny: BoolArray
    one_sided_w_m2: FloatArray
    threshold: FloatArray
    dose: FloatArray


def rising_light(unit: Job, scene: Scene, orientation: Orientation) -> RisingLight:
    """What the unit's watched rack takes up in a scene, whatever its threshold and dose.

    Parameters
    ----------
    unit : Job
        A job of one unit with a watched rack.
    scene : Scene
        Light, air and wind.
    orientation : Orientation
        Its axis in the scene.

    Returns
    -------
    RisingLight
        Arrays (days, 1440).
    """
    weather, up, up_beam = scene.weather, scene.up, scene.light.beam_w_m2 * scene.beam_share
    fluid, air = unit.rack.thermal.fluid, scene.weather.air_c[scene.up]
    one_sided = one_sided_beam_w_m2(
        unit.rack, up_beam, sun_rotation_deg=orientation.sun_rotation_deg[up], reach=orientation.reach[up]
    )
    # Without such a beam no threshold is of any account.
    lit, threshold = np.flatnonzero(one_sided), np.ones_like(one_sided)
    loss = canister_loss(unit, wind_m_s=weather.wind_m_s[up[lit]], air_c=air[lit])
    loss_share = loss / _loss_w_k(unit, ORDINARY_AIR_C, ORDINARY_WIND_M_S)
    threshold[lit] = threshold_factor(fluid, air_c=air[lit], loss_share=loss_share)
    # What shines before solar midnight is the evening before.
    midnight = solar_midnight_min(scene.by_day(scene.sun.true_elevation_deg))
    begun = np.arange(MINUTES_A_DAY) >= midnight[:, None]

    def over_days(values: FloatArray, in_the_dark: float = 0.0) -> FloatArray:
        return scene.by_day(scene.spread(values, fill=in_the_dark))

    return RisingLight(
        sun_rotation_deg=scene.by_day(orientation.sun_rotation_deg),
        sunny=begun & (over_days(up_beam) >= SUNSHINE_W_M2),
        one_sided_w_m2=over_days(one_sided) * begun,
        threshold=over_days(threshold, 1.0),
        dose=over_days(dose_factor(fluid, air), _NEVER),
    )


def flip_dose(unit: Job, *, reuse: Reuse = worked_anew) -> FlipDose[float]:
    """Threshold and dose of the unit's watched rack: its own, else what its watched delay means.

    A delay longer than the light of its morning lasts means a rack that such a morning does not turn.

    Parameters
    ----------
    unit : Job
        A job of one unit; its rack, site and the year of its weather are read.
    reuse : Reuse
        Keeps the morning that was watched; by default nothing is kept.

    Returns
    -------
    FlipDose[float]
        In air of 10 °C and 2 m/s of wind at the rack; both 0 for a rack that does not wait.
    """
    rack = unit.rack
    if rack.flip_threshold_w_m2 is not None and rack.flip_dose_kj_m2 is not None:
        return FlipDose(rack.flip_threshold_w_m2, rack.flip_dose_kj_m2)
    if not rack.flip_delay_min:
        return FlipDose(0.0, 0.0)
    found = flip_doses(
        unit,
        delay_min=np.array([rack.flip_delay_min]),
        dose_per_threshold_min=DOSE_PER_THRESHOLD_MIN,
        reuse=reuse,
    )
    return FlipDose(float(found.threshold_w_m2[0]), float(found.dose_kj_m2[0]))


def flip_doses(
    unit: Job,
    *,
    delay_min: FloatArray,
    dose_per_threshold_min: npt.ArrayLike,
    air: AirOnWatch | None = None,
    reuse: Reuse = worked_anew,
) -> FlipDose[FloatArray]:
    """Thresholds and doses of racks that waited so long on the unit's watched morning.

    A delay longer than the light of that morning lasts means a rack that such a morning does not turn.

    Parameters
    ----------
    unit : Job
        A job of one unit; its rack, site and the year of its weather are read.
    delay_min : FloatArray
        Shape (racks,). From the first sunshine to the flip [min]; 0 or more.
    dose_per_threshold_min : npt.ArrayLike
        One number, or shape (racks,). Dose over threshold [min].
    air : AirOnWatch | None
        Shape (racks,). The air in which each rack was watched, where it was not that of the job's watched morning.
    reuse : Reuse
        Keeps the morning that was watched; by default nothing is kept.

    Returns
    -------
    FlipDose[FloatArray]
        In air of 10 °C and 2 m/s of wind at the rack.
    """
    morning = _morning(unit, reuse)
    started = float(np.argmax(morning.shone_min[0] > 0)) - 1
    morning = morning if air is None else _in_air(unit, morning, air)
    kj_per_w = np.broadcast_to(np.asarray(dose_per_threshold_min) * KJ_PER_W_MIN, delay_min.shape)
    flip = np.minimum(started + delay_min, MINUTES_A_DAY)
    last = min(int(np.ceil(flip.max())), MINUTES_A_DAY)
    # In the dark there is no dose.
    first = min(int(np.argmax(morning.one_sided_w_m2.max(axis=0) > 0)), last - 1)
    one_sided = np.broadcast_to(morning.one_sided_w_m2[:, first:last], (len(flip), last - first))
    whole, racks = np.minimum(flip.astype(int), last - 1), np.arange(len(flip))
    since = np.maximum(whole - first, 0)

    def beyond(threshold_w_m2: FloatArray) -> FloatArray:
        """How far the doses came until the flips beyond what is needed."""
        dose = dose_kj_m2(one_sided, (threshold_w_m2 * morning.threshold)[:, None])
        before = np.where(np.arange(first, last) < whole[:, None], dose, 0.0)
        ended = np.where(whole > first, dose[racks, since - 1], 0.0)
        now = np.where(whole >= first, dose[racks, since], 0.0)
        at_flip = ended + (flip - whole) * (now - ended)
        return np.asarray(np.maximum(before.max(axis=1), at_flip) - kj_per_w * threshold_w_m2 * morning.dose)

    low, high = np.zeros(len(flip)), np.zeros(len(flip)) + morning.one_sided_w_m2.max(axis=1) / morning.threshold
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        more = beyond(middle) > 0
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    # Before any light a rack that flips does not wait.
    threshold = np.where(beyond(np.zeros(len(flip))) > 0, (low + high) / 2, 0.0)
    lasts = _flips_on(morning, threshold, kj_per_w * threshold) - started
    longer = np.where(delay_min > lasts + 1, delay_min / lasts, 1.0)
    return FlipDose(threshold * longer, kj_per_w * threshold * longer)


def ordinary_delay_min(unit: Job) -> float:
    """Minutes of sun until the unit's watched rack flips on the morning that was watched, or on an ordinary one.

    Parameters
    ----------
    unit : Job
        A job of one unit with a watched rack.

    Returns
    -------
    float
        0 to 720 [min].
    """
    if unit.rack.flip_threshold_w_m2 is None:
        return unit.rack.flip_delay_min
    morning = _morning(unit, worked_anew)
    flip = _flips_on(morning, *(np.array([value]) for value in flip_dose(unit)))
    shone = sunshine_at(morning.shone_min, flip)
    return min(float(shone[0]), LONGEST_DELAY_MIN)


def _flips_on(morning: _Morning, threshold_w_m2: FloatArray, needed_kj_m2: FloatArray) -> FloatArray:
    """Minutes of that day (racks,) at which racks flip; infinite where they do not."""
    dose = dose_kj_m2(
        np.broadcast_to(morning.one_sided_w_m2, (len(threshold_w_m2), MINUTES_A_DAY)),
        (threshold_w_m2 * morning.threshold)[:, None],
    )
    return reached_min(dose, (needed_kj_m2 * morning.dose)[:, None])


def _morning(unit: Job, reuse: Reuse) -> _Morning:
    rack, site, axis = unit.rack, unit.site, axis_of(unit)
    key = (site, height_m(unit), unit.weather.year, axis, rack.watched, rack.max_rotation_deg, rack.thermal)
    found: _Morning = reuse("watched morning", key, lambda: _made_morning(unit, axis))
    return found


def _made_morning(unit: Job, axis: Axis) -> _Morning:
    site, seen, where = unit.site, unit.rack.watched, where_is(unit)
    start = pd.Timestamp(f"{unit.weather.year}-{seen.on}", tz=standard_zone(site)) + pd.Timedelta(seconds=30)
    times = pd.date_range(start, periods=MINUTES_A_DAY, freq="min")
    sun = sun_at(times, **where)
    clear, mass = clear_sky(times, sun, **where), air_mass(sun.direction[2], elevation_m=where["elevation_m"])
    beam = clear.dni_w_m2
    if seen.sky == "haze":
        beam = beam * np.exp(-BEAM_LOSS * HAZE_LINKE * mass)
    cleanest = np.divide(clear.cleanest_dni_w_m2, beam, out=np.ones_like(beam), where=beam > 0)
    if seen.sun_from:
        beam[: moment_at(site, f"{unit.weather.year}-{seen.on} {seen.sun_from}").minute] = 0.0
    beam[: int(solar_midnight_min(sun.true_elevation_deg[None, :])[0])] = 0.0
    sun_rotation, reach = sun_on_axis(sun.direction, axis)
    one_sided = one_sided_beam_w_m2(unit.rack, beam, sun_rotation_deg=sun_rotation, reach=reach)
    fluid = unit.rack.thermal.fluid
    loss = _loss_w_k(unit, seen.air_c, seen.wind_m_s) / _loss_w_k(unit, ORDINARY_AIR_C, ORDINARY_WIND_M_S)
    return _Morning(
        one_sided_w_m2=one_sided[None, :],
        shone_min=np.concatenate([[0], np.cumsum(beam >= SUNSHINE_W_M2)])[None, :].astype(float),
        air_mass=mass[None, :],
        cleanest=cleanest[None, :],
        threshold=threshold_factor(fluid, air_c=np.array([seen.air_c]), loss_share=loss),
        dose=dose_factor(fluid, np.array([seen.air_c])),
    )


def _in_air(unit: Job, morning: _Morning, air: AirOnWatch) -> _Morning:
    """The morning in the air of each rack."""
    fluid, usual_c = unit.rack.thermal.fluid, unit.rack.watched.air_c
    warmer = threshold_factor(fluid, air_c=usual_c + air.warmer_k, loss_share=air.loss_share)
    passed = np.exp(-BEAM_LOSS * morning.air_mass * air.haze[:, None])
    return morning._replace(
        one_sided_w_m2=morning.one_sided_w_m2 * np.minimum(passed, morning.cleanest),
        threshold=morning.threshold * warmer / threshold_factor(fluid, air_c=usual_c, loss_share=1.0),
        dose=dose_factor(fluid, usual_c + air.warmer_k),
    )


def _loss_w_k(unit: Job, air_c: float, wind_m_s: float) -> float:
    """A canister's heat loss per kelvin in this air, and in this wind at the rack."""
    loss = canister_loss_w_k(unit.rack.thermal, wind_m_s=np.array([wind_m_s]), air_c=np.array([air_c]))
    return float(loss[0])
