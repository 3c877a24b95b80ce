"""Saturated refrigerants, −40…80 °C: pressure, densities, latent heat, heat capacity and viscosity of the liquid.

Each property is a polynomial in x = (t − 20) / 60, fitted to the reference equations of state in CoolProp (a test
dependency only): pressure within 0.01 %, the rest within 0.1 % but the liquid's heat capacity, within 0.7 %. Viscosity
is fitted to CoolProp's transport correlations within 0.1 %; these stand for measurements within a few per cent.
Temperatures outside the range are brought to its nearest end, never extrapolated; `out_of_range` says where.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
import numpy.typing as npt

from trackersim.arrays import BoolArray, FloatArray

RefrigerantName = Literal["R-134a", "R-12", "R-22", "propane", "n-butane"]

COLDEST_C, HOTTEST_C = -40.0, 80.0
_MIDDLE_C, _SPAN_C = 20.0, 60.0
PLACES_A_KELVIN = 100


@dataclass(frozen=True, kw_only=True)
class Refrigerant:
    """Polynomial coefficients, lowest power first. Logarithms of Pa, kg/m³ and Pa·s; kg/m³; J/kg; J/(kg·K)."""

    log_pressure: tuple[float, ...]
    liquid_kg_m3: tuple[float, ...]
    log_vapour_kg_m3: tuple[float, ...]
    latent_j_kg: tuple[float, ...]
    liquid_j_kg_k: tuple[float, ...]
    log_viscosity_pa_s: tuple[float, ...]


REFRIGERANTS: dict[RefrigerantName, Refrigerant] = {
    "R-134a": Refrigerant(
        log_pressure=(13.25636, 1.854959, -0.4179199, 0.1083292, -0.02471878, 0.006721138),
        liquid_kg_m3=(1225.352, -219.9123, -40.80521, -19.07752, -5.62421, -1.397701, -5.916358, -4.332918),
        log_vapour_kg_m3=(3.324286, 1.850941, -0.2939712, 0.1415253, -0.01193751, 0.009983018, 0.01285198, 0.01016432),
        latent_j_kg=(182285.1, -52775.35, -13118.74, -5334.423, -1481.145, -518.4201, -1536.309, -1087.513),
        liquid_j_kg_k=(1404.297, 234.3534, 144.3425, 22.89881, -19.86251, 144.9792, 129.9248),
        log_viscosity_pa_s=(-8.480984, -0.745406, 0.00305275, -0.05811838, -0.003752978, -0.02025347, -0.01143361),
    ),
    "R-12": Refrigerant(
        log_pressure=(13.24707, 1.692422, -0.3680553, 0.09196322, -0.02131381, 0.005267608),
        liquid_kg_m3=(1328.874, -211.2282, -32.90797, -12.95146, -4.430967, -1.874041, -2.552984, -1.520495),
        log_vapour_kg_m3=(
            3.469922,
            1.657525,
            -0.2682576,
            0.1118595,
            -0.01166918,
            0.008563717,
            0.004227775,
            0.003311863,
        ),
        latent_j_kg=(142225, -34262.74, -8470.343, -2959.998, -840.3311, -381.9597, -481.1704, -283.5239),
        liquid_j_kg_k=(975.9826, 145.6703, 68.27097, 27.04318, 12.42644, 41.41438, 30.86917),
        log_viscosity_pa_s=(-8.505629, -0.6185016, -0.007801112, -0.04170602, -0.004134029, -0.00997238, -0.00492684),
    ),
    "R-22": Refrigerant(
        log_pressure=(13.7212, 1.676855, -0.3619757, 0.09234616, -0.02023187, 0.005836715),
        liquid_kg_m3=(1209.942, -227.1996, -43.85656, -20.22556, -5.1654, -1.060323, -10.5821, -8.032185),
        log_vapour_kg_m3=(3.649992, 1.691053, -0.2327231, 0.1316103, -0.008948296, 0.005492586, 0.02093015, 0.01748569),
        latent_j_kg=(187609.8, -56948.12, -15965.27, -6451.05, -1407.642, -279.4248, -2812.45, -2151.219),
        liquid_j_kg_k=(1234.109, 261.5501, 201.1544, -37.67599, -107.1647, 313.9823, 304.871),
        log_viscosity_pa_s=(-8.911055, -0.7052755, 0.007227471, -0.02659748, -0.002473701, -0.01882559, -0.01071905),
    ),
    "propane": Refrigerant(
        log_pressure=(13.63692, 1.580634, -0.3310376, 0.08339403, -0.018107, 0.005346926),
        liquid_kg_m3=(500.0708, -90.73517, -18.24967, -8.62148, -1.914996, -0.05440711, -4.018188, -3.152777),
        log_vapour_kg_m3=(2.89487, 1.590956, -0.2059881, 0.1204917, -0.007416563, 0.00632098, 0.02022834, 0.01602922),
        latent_j_kg=(344330.3, -100342.4, -30072.7, -12103.22, -2527.33, -488.9201, -5124.125, -3834.787),
        liquid_j_kg_k=(2663.578, 641.151, 392.878, -61.71143, -200.1017, 551.7678, 538.7298),
        log_viscosity_pa_s=(-9.187655, -0.6195007, -0.0248934, -0.04096664, -0.01053773, -0.02539123, -0.01826536),
    ),
    "n-butane": Refrigerant(
        log_pressure=(12.24358, 1.936962, -0.4406085, 0.1067653, -0.02509486, 0.005471102),
        liquid_kg_m3=(578.5912, -68.49153, -6.845181, -2.047628, -0.5233654, -0.1670902, -0.08300233, -0.03263599),
        log_vapour_kg_m3=(
            1.670077,
            1.830182,
            -0.3734656,
            0.1128899,
            -0.02139528,
            0.006122321,
            -0.0005025617,
            0.0004128423,
        ),
        latent_j_kg=(366501.3, -59404.7, -10266.77, -3117.295, -487.2709, -179.7777, -111.7215, -53.12011),
        liquid_j_kg_k=(2412.846, 327.1854, 77.0619, 15.46351, 9.360912, 6.36053, 2.896572),
        log_viscosity_pa_s=(-8.702608, -0.5771687, 0.04032672, -0.02361113, -0.0003320971, -0.001707095, -0.0001702347),
    ),
}


def liquid_density_kg_m3(fluid: Refrigerant, temperature_c: npt.ArrayLike) -> FloatArray:
    """Density of the saturated liquid [kg/m³].

    Parameters
    ----------
    fluid : Refrigerant
        The refrigerant.
    temperature_c : npt.ArrayLike
        Any shape. Temperature [°C]; brought to the nearest end outside −40…80 °C.

    Returns
    -------
    FloatArray
        Shape of the temperature [kg/m³]; within 0.1 % of CoolProp.
    """
    return _polynomial(fluid.liquid_kg_m3, _place(temperature_c))


def vapour_density_kg_m3(fluid: Refrigerant, temperature_c: npt.ArrayLike) -> FloatArray:
    """Density of the saturated vapour [kg/m³].

    Parameters
    ----------
    fluid : Refrigerant
        The refrigerant.
    temperature_c : npt.ArrayLike
        Any shape. Temperature [°C]; brought to the nearest end outside −40…80 °C.

    Returns
    -------
    FloatArray
        Shape of the temperature [kg/m³]; within 0.1 % of CoolProp.
    """
    return np.asarray(np.exp(_polynomial(fluid.log_vapour_kg_m3, _place(temperature_c))))


def latent_heat_j_kg(fluid: Refrigerant, temperature_c: npt.ArrayLike) -> FloatArray:
    """Heat of vaporisation [J/kg].

    Parameters
    ----------
    fluid : Refrigerant
        The refrigerant.
    temperature_c : npt.ArrayLike
        Any shape. Temperature [°C]; brought to the nearest end outside −40…80 °C.

    Returns
    -------
    FloatArray
        Shape of the temperature [J/kg]; within 0.1 % of CoolProp.
    """
    return _polynomial(fluid.latent_j_kg, _place(temperature_c))


def liquid_heat_capacity_j_kg_k(fluid: Refrigerant, temperature_c: npt.ArrayLike) -> FloatArray:
    """Heat capacity of the saturated liquid at constant pressure [J/(kg·K)].

    Parameters
    ----------
    fluid : Refrigerant
        The refrigerant.
    temperature_c : npt.ArrayLike
        Any shape. Temperature [°C]; brought to the nearest end outside −40…80 °C.

    Returns
    -------
    FloatArray
        Shape of the temperature [J/(kg·K)]; within 0.7 % of CoolProp.
    """
    return _polynomial(fluid.liquid_j_kg_k, _place(temperature_c))


def liquid_viscosity_pa_s(fluid: Refrigerant, temperature_c: npt.ArrayLike) -> FloatArray:
    """Dynamic viscosity of the saturated liquid [Pa·s].

    Parameters
    ----------
    fluid : Refrigerant
        The refrigerant.
    temperature_c : npt.ArrayLike
        Any shape. Temperature [°C]; brought to the nearest end outside −40…80 °C.

    Returns
    -------
    FloatArray
        Shape of the temperature [Pa·s]; within 0.1 % of CoolProp.
    """
    return np.asarray(np.exp(_polynomial(fluid.log_viscosity_pa_s, _place(temperature_c))))


def heat_per_liquid_moved_j_kg(fluid: Refrigerant, temperature_c: npt.ArrayLike) -> FloatArray:
    """λ = h_fg ρ_v/ρ_l [J/kg]: heat that fills with vapour the room of one kilogram of liquid that leaves.

    Parameters
    ----------
    fluid : Refrigerant
        The refrigerant.
    temperature_c : npt.ArrayLike
        Any shape. Temperature [°C]; brought to the nearest end outside −40…80 °C.

    Returns
    -------
    FloatArray
        Shape of the temperature [J/kg].
    """
    return np.asarray(
        latent_heat_j_kg(fluid, temperature_c)
        * vapour_density_kg_m3(fluid, temperature_c)
        / liquid_density_kg_m3(fluid, temperature_c)
    )


def march_properties(fluid: Refrigerant, temperature_c: npt.ArrayLike) -> tuple[FloatArray, FloatArray, FloatArray]:
    """What the march needs at every step: pressure [Pa], its slope [Pa/K], and heat per liquid moved [J/kg].

    Read from a table by hundredths of a degree, on straight lines, which moves them by less than 3e-8 of themselves.

    Parameters
    ----------
    fluid : Refrigerant
        The refrigerant.
    temperature_c : npt.ArrayLike
        Any shape. Temperature [°C]; brought to the nearest end outside −40…80 °C.

    Returns
    -------
    tuple[FloatArray, FloatArray, FloatArray]
        Each of the shape of the temperature: pressure within 0.01 % of CoolProp [Pa], its slope [Pa/K], heat
        [J/kg], as `heat_per_liquid_moved_j_kg`.
    """
    place = np.minimum(np.maximum(np.asarray(temperature_c, dtype=float), COLDEST_C), HOTTEST_C)
    place = (place - COLDEST_C) * PLACES_A_KELVIN
    before = place.astype(np.intp)
    found = march_table(fluid).take(before, axis=1)
    found[3:] *= place - before
    found[:3] += found[3:]
    return found[0], found[1], found[2]


@cache
def march_table(fluid: Refrigerant) -> FloatArray:
    """Pressure, slope and heat at every hundredth of a degree, and what each gains to the next (6, places)."""
    place = _place(np.linspace(COLDEST_C, HOTTEST_C, round((HOTTEST_C - COLDEST_C) * PLACES_A_KELVIN) + 1))
    value, slope = _polynomial_and_slope(fluid.log_pressure, place)
    pressure = np.exp(value)
    heat = heat_per_liquid_moved_j_kg(fluid, _MIDDLE_C + _SPAN_C * place)
    table = np.stack([pressure, pressure * slope / _SPAN_C, heat])
    return np.concatenate([table, np.diff(table, axis=1, append=table[:, -1:])])


def out_of_range(temperature_c: npt.ArrayLike) -> BoolArray:
    """Where a temperature lies outside −40…80 °C, so that the values of the nearest end stand in for it.

    Parameters
    ----------
    temperature_c : npt.ArrayLike
        Any shape. Temperature [°C].

    Returns
    -------
    BoolArray
        Shape of the temperature; true for NaN too.
    """
    value = np.asarray(temperature_c, dtype=float)
    return np.asarray(~((value >= COLDEST_C) & (value <= HOTTEST_C)))


def _place(temperature_c: npt.ArrayLike) -> FloatArray:
    clipped = np.minimum(np.maximum(np.asarray(temperature_c, dtype=float), COLDEST_C), HOTTEST_C)
    return np.asarray((clipped - _MIDDLE_C) / _SPAN_C)


def _polynomial(coefficients: tuple[float, ...], place: FloatArray) -> FloatArray:
    value = coefficients[-1] * place + coefficients[-2]
    for coefficient in coefficients[-3::-1]:
        value *= place
        value += coefficient
    return value


def _polynomial_and_slope(coefficients: tuple[float, ...], place: FloatArray) -> tuple[FloatArray, FloatArray]:
    value = coefficients[-1] * place + coefficients[-2]
    slope = np.full_like(place, coefficients[-1])
    for coefficient in coefficients[-3::-1]:
        slope *= place
        slope += value
        value *= place
        value += coefficient
    return value, slope
