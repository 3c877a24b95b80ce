"""How a canister loses heat, and where it sits."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from trackersim.arrays import FloatArray
from trackersim.rack.geometry import Axis

_STEFAN_BOLTZMANN_W_M2_K4 = 5.670374419e-8
_EMITTANCE = 0.9  # paint (assumption)
# Air near 0–20 °C at sea level: conductivity, viscosity, Prandtl number (Incropera et al., appendix A.4 at 290 K).
_AIR_W_M_K, _AIR_M2_S, _AIR_PRANDTL = 0.0255, 1.50e-5, 0.71
_STILL_AIR_W_M2_K = 4.0  # free convection about a cylinder a few kelvin above still air (assumption)


def cylinder_nusselt(reynolds: npt.ArrayLike, *, prandtl: float = _AIR_PRANDTL) -> FloatArray:
    """Mean Nusselt number of a cylinder in cross flow, Re·Pr > 0.2 (Churchill & Bernstein, J. Heat Transfer 99, 1977).

    0.3 at no flow at all.

    Parameters
    ----------
    reynolds : npt.ArrayLike
        Any shape. Reynolds number of the diameter.
    prandtl : float
        Prandtl number of the air.

    Returns
    -------
    FloatArray
        Shape of `reynolds`; at least 0.3.
    """
    re = np.asarray(reynolds, dtype=float)
    laminar = 0.62 * np.sqrt(re) * prandtl ** (1 / 3) / (1 + (0.4 / prandtl) ** (2 / 3)) ** 0.25
    return np.asarray(0.3 + laminar * (1 + (re / 282_000) ** 0.625) ** 0.8)


def canister_loss_w_k(*, wind_m_s: FloatArray, air_c: FloatArray, diameter_m: float, length_m: float) -> FloatArray:
    """Heat one canister loses per kelvin above the air [W/K]: forced and free convection, and radiation.

    Parameters
    ----------
    wind_m_s : FloatArray
        Shape (n,). Wind speed [m/s].
    air_c : FloatArray
        Shape (n,). Temperature of the air [°C].
    diameter_m : float
        Outer diameter [m].
    length_m : float
        Length [m].

    Returns
    -------
    FloatArray
        Shape (n,) [W/K].
    """
    forced = cylinder_nusselt(wind_m_s * diameter_m / _AIR_M2_S) * _AIR_W_M_K / diameter_m
    convection = np.cbrt(forced**3 + _STILL_AIR_W_M2_K**3)  # either drives the other out
    radiation = 4 * _EMITTANCE * _STEFAN_BOLTZMANN_W_M2_K4 * (air_c + 273.15) ** 3
    return np.asarray((convection + radiation) * np.pi * diameter_m * length_m)


def canister_places_m(axis: Axis, *, lever_m: float, rotation_deg: float) -> FloatArray:
    """Places (2, 3) of the west and the east canister, metres east, north and up of the middle of the axis.

    Parameters
    ----------
    axis : Axis
        The axis of the rack.
    lever_m : float
        Distance from the axis to a canister [m].
    rotation_deg : float
        Rotation of the rack [degrees], + west.

    Returns
    -------
    FloatArray
        Shape (2, 3) [m].
    """
    rotation = np.radians(rotation_deg)
    along = axis.west * np.cos(rotation) - axis.centre_normal * np.sin(rotation)
    return np.stack([lever_m * along, -lever_m * along])
