"""The morning's moments, one row a day: sunrise, first beam, flip, arrival."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from trackersim.arrays import BoolArray, FloatArray, check_array
from trackersim.rack.delayed import SUNSHINE_W_M2
from trackersim.sky.sun import SUNRISE_ELEVATION_DEG

IntArray = npt.NDArray[np.int64]

ARRIVED_WITHIN_DEG = 5.0


@dataclass(frozen=True, kw_only=True)
class MorningEvents:
    """Minute of the day (days,) of each moment; −1 where it does not happen that day."""

    sunrise: IntArray
    first_beam: IntArray
    flip: IntArray
    arrival: IntArray


def solar_midnight_min(true_elevation_deg: FloatArray) -> IntArray:
    """Minute (days,) of the morning half of each day at which the sun stands lowest.

    0 unless the sun goes on sinking after the clock's midnight, as it does in summer far north or on an odd clock.

    Parameters
    ----------
    true_elevation_deg : FloatArray
        Shape (days, minutes). Elevation of the sun without refraction [degrees].

    Returns
    -------
    IntArray
        Shape (days,).

    Raises
    ------
    InputError
        For an array of another shape, or with what is no finite number.
    """
    check_array("true_elevation_deg", true_elevation_deg, ("days", "minutes"))
    half = true_elevation_deg.shape[1] // 2
    return np.asarray(true_elevation_deg[:, :half].argmin(axis=1))


def morning_events(
    *,
    rotation_deg: FloatArray,
    sun_rotation_deg: FloatArray,
    true_elevation_deg: FloatArray,
    beam_w_m2: FloatArray,
    midnight_min: npt.NDArray[np.integer],
    max_rotation_deg: float,
) -> MorningEvents:
    """The moments of every day; all arrays (days, minutes) but solar midnight (days,).

    Sunrise: the minute in which the sun rises through −0.833°; none where it does not set. First beam: first minute
    of the morning with sunshine on the rack. Flip: first minute after sunrise, after a rest west of centre, with the
    rack east of it. Arrival: first minute from the flip with the rack within 5° of the limited ideal angle.

    Parameters
    ----------
    rotation_deg : FloatArray
        Shape (days, minutes). Rotation of the rack [degrees], + west.
    sun_rotation_deg : FloatArray
        Shape (days, minutes). True-tracking angle of the sun [degrees], + west.
    true_elevation_deg : FloatArray
        Shape (days, minutes). Elevation of the sun without refraction [degrees].
    beam_w_m2 : FloatArray
        Shape (days, minutes). Direct light on the rack past trees [W/m²].
    midnight_min : npt.NDArray[np.integer]
        Shape (days,). Minute of solar midnight.
    max_rotation_deg : float
        Stop on either side of centre [degrees].

    Returns
    -------
    MorningEvents
        Minute of each day (days,) at which each happens; −1 where it does not.

    Raises
    ------
    InputError
        For arrays of different shapes, or with what is no finite number.
    """
    check_array("rotation_deg", rotation_deg, ("days", "minutes"))
    for name, values in (
        ("sun_rotation_deg", sun_rotation_deg),
        ("true_elevation_deg", true_elevation_deg),
        ("beam_w_m2", beam_w_m2),
    ):
        check_array(name, values, rotation_deg.shape)
    check_array("midnight_min", midnight_min, rotation_deg.shape[:1], least=0, most=rotation_deg.shape[1] - 1)
    minutes = np.arange(rotation_deg.shape[1])
    begun = minutes >= midnight_min[:, None]
    up = true_elevation_deg > SUNRISE_ELEVATION_DEG
    sunrise = _first(begun[:, 1:] & up[:, 1:] & ~up[:, :-1])
    sunrise = np.where(sunrise >= 0, sunrise + 1, -1)
    start = np.where(sunrise >= 0, sunrise, midnight_min)
    risen = up & (minutes >= start[:, None])
    first_beam = _first(risen & (beam_w_m2 >= SUNSHINE_W_M2))
    flip = _first(risen & (rotation_deg < 0))
    flip = np.where(rotation_deg[np.arange(len(flip)), start] > 0, flip, -1)
    ideal = np.clip(sun_rotation_deg, -max_rotation_deg, max_rotation_deg)
    flipped = (flip[:, None] >= 0) & (minutes >= flip[:, None])
    arrival = _first(flipped & (np.abs(rotation_deg - ideal) <= ARRIVED_WITHIN_DEG))
    return MorningEvents(sunrise=sunrise, first_beam=first_beam, flip=flip, arrival=arrival)


def _first(happens: BoolArray) -> IntArray:
    """Index of the first true entry of each row, −1 where there is none."""
    return np.where(happens.any(axis=1), happens.argmax(axis=1), -1)
