"""The passive rack as somebody has watched it: it rests west until it has taken its dose of light, turns, and lags.

When it flips is said in `rack/dose.py`; how it goes on from there, here. All days are marched side by side.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from trackersim.arrays import BoolArray, FloatArray, place_on_grid

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
    """
    days, minutes = sun_rotation_deg.shape
    # Minutes first: what one step reads and writes then lies together.
    shone = np.zeros((minutes + 1, days))
    np.cumsum(np.ascontiguousarray(sunny.T), axis=0, out=shone[1:])
    shone *= step_min
    turning = np.broadcast_to(turning_min, (days,))
    # Half of the way from stop to stop is done when the rack flips, that is, passes its centre.
    release = sunshine_at(shone.T, flip_at_min, step_min=step_min) - turning / 2
    reach = np.diff(np.maximum(shone - release, 0.0, out=shone), axis=0)
    reach *= 2 * max_rotation_deg / turning
    target = np.ascontiguousarray(np.clip(sun_rotation_deg - lag_deg, -max_rotation_deg, max_rotation_deg).T)
    rotation, now = np.empty_like(target), np.full(days, float(max_rotation_deg))
    moves: BoolArray = np.asarray((reach > 0).any(axis=1))
    for minute in range(minutes):
        if moves[minute]:
            now += np.minimum(np.maximum(target[minute] - now, -reach[minute]), reach[minute])
        rotation[minute] = now
    rotation = np.ascontiguousarray(rotation.T)
    # A sum of steps may come out a rounding error beyond the stop.
    return np.clip(rotation, -max_rotation_deg, max_rotation_deg, out=rotation)


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
