"""Wind at the height of a rack, where it cools modules and canisters, and how it turns a plate hinged at its middle."""

from __future__ import annotations

import numpy as np

from trackersim.arrays import FloatArray
from trackersim.rack.geometry import Axis

_AIR_KG_M3 = 1.2
# Weather services measure wind 10 m above open ground (WMO Guide to Instruments); below, it falls off by a power law
# over open country (exponent 1/7: common practice; down to about a metre).
_MEASURED_AT_M, _SHEAR_EXPONENT, _LOWEST_M = 10.0, 1 / 7, 0.5


def wind_at_height_m_s(wind_m_s: FloatArray, *, height_m: float) -> FloatArray:
    """Wind at a height above open ground: v (h / 10 m)^(1/7).

    Parameters
    ----------
    wind_m_s : FloatArray
        Any shape. Wind measured at 10 m [m/s].
    height_m : float
        Height asked for [m]; below 0.5 m that at 0.5 m is given.

    Returns
    -------
    FloatArray
        Shape of the wind [m/s].
    """
    return np.asarray(wind_m_s * (max(height_m, _LOWEST_M) / _MEASURED_AT_M) ** _SHEAR_EXPONENT)


def wind_moment_nm(
    *,
    wind_m_s: FloatArray,
    wind_from_deg: FloatArray,
    axis: Axis,
    area_m2: float,
    chord_m: float,
    coefficient: float,
    gust_factor: float,
) -> FloatArray:
    """Largest moment of the wind about the axis [N·m]: ½ ρ (g v)² A c C_m, v the wind across the axis.

    A plate that is hinged at its middle turns broadside to the wind, whichever side it comes from: at rotation θ the
    moment is this times sin 2θ, away from level on either side, and none at level and on edge.

    Parameters
    ----------
    wind_m_s : FloatArray
        Shape (n,). Mean wind at the height of the rack [m/s].
    wind_from_deg : FloatArray
        Shape (n,). True bearing that the wind comes from [degrees].
    axis : Axis
        The axis of the rack.
    area_m2 : float
        Area of the plane [m²].
    chord_m : float
        Its width across the axis [m].
    coefficient : float
        C_m, of the flow's dynamic pressure, area and chord. Of a plate in flow without separation π/4; of heliostats,
        which the flow leaves behind, near 0.2 at most (Peterka & Derickson, SAND92-7009, from memory).
    gust_factor : float
        Speed of the gusts that turn the rack over the mean.

    Returns
    -------
    FloatArray
        Shape (n,) [N·m], 0 or more.
    """
    across = gust_factor * wind_m_s * np.cos(np.radians(wind_from_deg - _bearing_deg(axis.west)))
    return np.asarray(0.5 * _AIR_KG_M3 * across**2 * area_m2 * chord_m * coefficient)


def _bearing_deg(vector: FloatArray) -> float:
    return float(np.degrees(np.arctan2(vector[0], vector[1])))
