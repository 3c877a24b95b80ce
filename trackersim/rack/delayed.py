"""The passive rack as somebody has watched it: it rests west until it has taken its dose of light, turns, and lags.

When it flips is said in `rack/dose.py`; how it goes on from there, here.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from trackersim.arrays import BoolArray, FloatArray, check_array, place_on_grid
from trackersim.compiled import kept

# Sunshine begins at this direct light (World Meteorological Organization, Guide to Instruments, sunshine duration).
SUNSHINE_W_M2 = 120.0


def delayed_rotation(
    sun_rotation_deg: FloatArray,
    sunny: BoolArray,
    flip_at_min: FloatArray,
    *,
    max_rotation_deg: float,
    turning_min: npt.ArrayLike,
    lag_deg: float,
    step_min: float = 1.0,
) -> FloatArray:
    """Rotation (days, minutes) of a rack that rests at the west stop until it flips at `flip_at_min`.

    It has started half a turn of sunshine earlier (or with the first sun, if there is less), passes its centre at that
    moment if the sun stands east, and from then on turns toward the true-tracking angle less `lag_deg` at stop-to-stop
    speed 2 · max / `turning_min`. In shade or cloud it holds still. Every day starts at the west stop, whatever the
    evening before.

    Parameters
    ----------
    sun_rotation_deg : FloatArray
        Shape (days, minutes). True-tracking angle of the sun [degrees], + west.
    sunny : BoolArray
        Shape (days, minutes). Whether the sun shines on the rack.
    flip_at_min : FloatArray
        Shape (days,). Minute of the day of the flip, with its fraction; infinite on days without.
    max_rotation_deg : float
        Stop on either side of centre [degrees].
    turning_min : npt.ArrayLike
        One number, or shape (days,). Time from stop to stop [min].
    lag_deg : float
        How far it points east of the sun [degrees].
    step_min : float
        Time between columns [min].

    Returns
    -------
    FloatArray
        Shape (days, minutes). Rotation at the end of each step [degrees], + west, within the stops.

    Raises
    ------
    InputError
        For arrays of different shapes, or with an angle that is not finite.
    """
    check_array("sunny", sunny, ("days", "minutes"))
    check_array("sun_rotation_deg", sun_rotation_deg, sunny.shape)
    shone_min = np.zeros((sunny.shape[0], sunny.shape[1] + 1))
    np.cumsum(sunny, axis=1, out=shone_min[:, 1:])
    shone_min *= step_min
    turning = np.array(np.broadcast_to(turning_min, (len(sunny),)), dtype=float)
    # Half of the way from stop to stop is done when the rack flips, that is, passes its centre.
    released_min = sunshine_at(shone_min, flip_at_min, step_min=step_min) - turning / 2
    rotation = np.empty(sunny.shape)
    target = np.require(sun_rotation_deg, float, ["C", "W"])
    _turn(target, shone_min, released_min, turning, float(max_rotation_deg), float(lag_deg), rotation)
    return rotation


@kept
def _turn(
    sun_rotation_deg: FloatArray,
    shone_min: FloatArray,
    released_min: FloatArray,
    turning_min: FloatArray,
    max_rotation_deg: float,
    lag_deg: float,
    rotation_deg: FloatArray,
) -> None:
    """Write the rotation: from the west stop each day, and from the sunshine of its release on at the rack's speed
    toward its target, as far as the sun shone in the step.
    """
    days, minutes = rotation_deg.shape
    for day in range(days):
        speed_deg_min, now_deg = 2 * max_rotation_deg / turning_min[day], max_rotation_deg
        turned_min = max(shone_min[day, 0] - released_min[day], 0.0)
        for minute in range(minutes):
            turns_min = max(shone_min[day, minute + 1] - released_min[day], 0.0)
            if turns_min > turned_min:
                reach_deg = (turns_min - turned_min) * speed_deg_min
                target_deg = min(max(sun_rotation_deg[day, minute] - lag_deg, -max_rotation_deg), max_rotation_deg)
                now_deg += min(max(target_deg - now_deg, -reach_deg), reach_deg)
                # A sum of steps may come out a rounding error beyond the stop.
                now_deg = min(max(now_deg, -max_rotation_deg), max_rotation_deg)
            turned_min = turns_min
            rotation_deg[day, minute] = now_deg


def sunshine_at(shone_min: FloatArray, at_min: FloatArray, *, step_min: float = 1.0) -> FloatArray:
    """Sunshine of each day up to a minute of it.

    Parameters
    ----------
    shone_min : FloatArray
        Shape (days, minutes + 1). Sunshine up to the beginning of each step, and to the end of the last [min].
    at_min : FloatArray
        Shape (days,). Minute of the day; infinite gives infinite.
    step_min : float
        Time between columns [min].

    Returns
    -------
    FloatArray
        Shape (days,) [min].
    """
    never = np.isinf(at_min)
    before, share = place_on_grid(np.where(never, 0.0, at_min) / step_min, steps=shone_min.shape[1] - 1)
    day = np.arange(len(at_min))
    grown = shone_min[day, before + 1] - shone_min[day, before]
    return np.where(never, np.inf, shone_min[day, before] + share * grown)
