"""Racks that need no march: standing still, and turning as an ideal tracker would."""

from __future__ import annotations

import numpy as np

from trackersim.arrays import FloatArray


def fixed_rotation(sun_rotation_deg: FloatArray, *, rotation_deg: float) -> FloatArray:
    """The same angle at every minute; shape of `sun_rotation_deg`.

    Parameters
    ----------
    sun_rotation_deg : FloatArray
        Any shape; only the shape is read.
    rotation_deg : float
        The angle [degrees], + west.

    Returns
    -------
    FloatArray
        Rotation [degrees].
    """
    return np.full_like(sun_rotation_deg, rotation_deg)


def ideal_rotation(sun_rotation_deg: FloatArray, *, max_rotation_deg: float) -> FloatArray:
    """True tracking between the stops; no backtracking, since a pole-top rack has no neighbour to shade.

    Before sunrise the sun stands east below the horizon, so the rack waits at the east stop; after sunset at the west.

    Parameters
    ----------
    sun_rotation_deg : FloatArray
        Any shape. True-tracking angle of the sun [degrees], + west.
    max_rotation_deg : float
        Stop on either side of centre [degrees].

    Returns
    -------
    FloatArray
        Shape of `sun_rotation_deg`. Rotation [degrees], within the stops.
    """
    return np.clip(sun_rotation_deg, -max_rotation_deg, max_rotation_deg)
