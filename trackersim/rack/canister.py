"""How a canister loses heat, to air, cold sky and a film of dew, and where it sits."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from trackersim.arrays import FloatArray
from trackersim.job.thermal import Thermal
from trackersim.rack.geometry import Axis

_STEFAN_BOLTZMANN_W_M2_K4 = 5.670374419e-8
_EMITTANCE = 0.9  # paint (assumption)
# Air near 0–20 °C at sea level: conductivity, viscosity, Prandtl number (Incropera et al., appendix A.4 at 290 K).
_AIR_W_M_K, _AIR_M2_S, _AIR_PRANDTL = 0.0255, 1.50e-5, 0.71
_STILL_AIR_W_M2_K = 4.0  # free convection about a cylinder a few kelvin above still air (assumption)
_FILM_KG_M2 = 0.1  # a film of 0.1 mm, a night's heavy dew (assumption)
_VAPOUR_J_KG = 2.45e6  # latent heat of water (FAO Irrigation and drainage paper 56, 1998, box 5)
_PSYCHROMETRIC_PA_K = 67.4  # at sea level (FAO 56, table 2.2)


def clear_sky_emissivity(
    dew_point_c: npt.ArrayLike, *, hour: npt.ArrayLike, pressure_hpa: float = 1000.0
) -> FloatArray:
    """Emissivity of a cloudless sky over that of the air at the ground (Berdahl & Martin, Solar Energy 32, 1984).

    ε = 0.711 + 0.56 t/100 + 0.73 (t/100)² + 0.013 cos(2π hour/24) + 0.00012 (p − 1000); fitted for dew points of
    −20…30 °C.

    Parameters
    ----------
    dew_point_c : npt.ArrayLike
        Any shape. Dew point at the ground [°C]; beyond the fit its ends count.
    hour : npt.ArrayLike
        Shape of `dew_point_c`. Hours since midnight, 0…24.
    pressure_hpa : float
        Pressure of the air [hPa].

    Returns
    -------
    FloatArray
        Shape of `dew_point_c`; 0…1.
    """
    dew = np.clip(np.asarray(dew_point_c, dtype=float), -20.0, 30.0) / 100
    by_hour = 0.013 * np.cos(2 * np.pi * np.asarray(hour, dtype=float) / 24)
    return np.asarray(np.clip(0.711 + 0.56 * dew + 0.73 * dew**2 + by_hour + 0.00012 * (pressure_hpa - 1000), 0, 1))


def sky_loss_w(thermal: Thermal, *, air_c: FloatArray, sky_emissivity: FloatArray) -> FloatArray:
    """Heat a canister as warm as the air loses to a cold sky that all of it sees: ε σ (T_air⁴ − T_sky⁴) · area.

    Parameters
    ----------
    thermal : Thermal
        The size of its canisters is read.
    air_c : FloatArray
        Any shape. Temperature of the air [°C].
    sky_emissivity : FloatArray
        Shape of `air_c`. Emissivity of the sky, 0…1.

    Returns
    -------
    FloatArray
        Shape of `air_c` [W].
    """
    radiated = _EMITTANCE * _STEFAN_BOLTZMANN_W_M2_K4 * (air_c + 273.15) ** 4
    return np.asarray(radiated * (1 - sky_emissivity) * _area_m2(thermal))


def vapour_slope_pa_k(air_c: npt.ArrayLike) -> FloatArray:
    """Slope of water's saturation pressure with temperature (FAO 56, equation 13).

    Parameters
    ----------
    air_c : npt.ArrayLike
        Any shape. Temperature [°C], above −60.

    Returns
    -------
    FloatArray
        Shape of `air_c` [Pa/K].
    """
    air = np.asarray(air_c, dtype=float)
    return np.asarray(4098 * 610.8 * np.exp(17.27 * air / (air + 237.3)) / (air + 237.3) ** 2)


def wet_loss_w_k(thermal: Thermal, *, wind_m_s: FloatArray, air_c: FloatArray) -> FloatArray:
    """Heat that a wholly wet canister loses by evaporation in moist air, per kelvin above it: convection · Δ/γ.

    Air of a dewy dawn is saturated, and vapour leaves the surface as heat does (Lewis).

    Parameters
    ----------
    thermal : Thermal
        The size of its canisters is read.
    wind_m_s : FloatArray
        Any shape. Wind speed [m/s].
    air_c : FloatArray
        Shape of the wind. Temperature of the air [°C].

    Returns
    -------
    FloatArray
        Shape of the wind [W/K].
    """
    convection = _convection_w_m2_k(wind_m_s, thermal.canister_diameter_m)
    return np.asarray(convection * vapour_slope_pa_k(air_c) / _PSYCHROMETRIC_PA_K * _area_m2(thermal))


def dew_loss_w_k(thermal: Thermal, *, wet_w_k: FloatArray, dry_w_k: FloatArray, light_w: FloatArray) -> FloatArray:
    """Heat that dew takes, per kelvin above the air, until the light that evaporates it has dried its film of 0.1 mm.

    Of the light that a lit canister takes up the film gets the part that its loss has in the whole. Both canisters are
    taken to dry with the lit one.

    Parameters
    ----------
    thermal : Thermal
        The size of its canisters, and what dew wets of them, are read.
    wet_w_k : FloatArray
        Shape (..., minutes), from midnight on. What a wholly wet canister loses by evaporation [W/K].
    dry_w_k : FloatArray
        Shape of `wet_w_k`. What a dry one loses in all [W/K].
    light_w : FloatArray
        Shape of `wet_w_k`. Light that a lit canister takes up [W].

    Returns
    -------
    FloatArray
        Shape of `wet_w_k` [W/K]; 0 once dry.
    """
    wet = thermal.dew * wet_w_k
    spent_j = 60.0 * np.cumsum(light_w * wet / (dry_w_k + wet), axis=-1)
    film_j = thermal.dew * _FILM_KG_M2 * _VAPOUR_J_KG * _area_m2(thermal)
    return np.where(spent_j < film_j, wet, 0.0)


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


def canister_loss_w_k(thermal: Thermal, *, wind_m_s: FloatArray, air_c: FloatArray) -> FloatArray:
    """Heat one canister loses per kelvin above the air [W/K]: forced and free convection, and radiation.

    Parameters
    ----------
    thermal : Thermal
        The size of its canisters is read.
    wind_m_s : FloatArray
        Shape (n,). Wind speed [m/s].
    air_c : FloatArray
        Shape (n,). Temperature of the air [°C].

    Returns
    -------
    FloatArray
        Shape (n,) [W/K].
    """
    convection = _convection_w_m2_k(wind_m_s, thermal.canister_diameter_m)
    radiation = 4 * _EMITTANCE * _STEFAN_BOLTZMANN_W_M2_K4 * (air_c + 273.15) ** 3
    return np.asarray((convection + radiation) * _area_m2(thermal))


def _area_m2(thermal: Thermal) -> float:
    """What air, sky and dew meet of one canister, its ends left out."""
    return np.pi * thermal.canister_diameter_m * thermal.canister_length_m


def _convection_w_m2_k(wind_m_s: FloatArray, diameter_m: float) -> FloatArray:
    forced = cylinder_nusselt(wind_m_s * diameter_m / _AIR_M2_S) * _AIR_W_M_K / diameter_m
    return np.cbrt(forced**3 + _STILL_AIR_W_M2_K**3)  # either drives the other out


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
