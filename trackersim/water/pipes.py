"""Head lost in pipes and fittings.

Every loss takes a flow array and returns an array of the same shape in metres of water. Losses are odd in the
flow: water running backwards loses head the other way. None of them can return NaN for finite input.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from trackersim.arrays import FloatArray
from trackersim.constants import GRAVITY_M_S2
from trackersim.errors import InputError
from trackersim.job.pipework import Pipe

# EPANET 2.2 User Manual, chapter 3, table of pipe headloss formulas: 4.727 C^−1.852 d^−4.871 L q^1.852 with
# feet and cubic feet per second. With 1 ft = 0.3048 m: 4.727 · 0.3048^(4.871 − 3·1.852) = 10.667 in metres and m³/s.
_HAZEN_WILLIAMS_SI = 10.667

_LAMINAR_BELOW_RE = 2000.0
_TURBULENT_ABOVE_RE = 4000.0


def _as_array(values: ArrayLike) -> FloatArray:
    return np.asarray(values, dtype=np.float64)


def velocity_m_s(flow_m3_s: ArrayLike, *, bore_m: float) -> FloatArray:
    """Mean velocity in a round bore: Q / (π d²/4).

    Parameters
    ----------
    flow_m3_s : ArrayLike
        Any shape. Flow [m³/s]; below 0 it runs backwards.
    bore_m : float
        Inside diameter [m], above 0.

    Returns
    -------
    FloatArray
        Velocity [m/s], shape of the flow.
    """
    return _as_array(flow_m3_s) / (np.pi / 4 * bore_m**2)


def hazen_williams_head_m(flow_m3_s: ArrayLike, *, bore_m: float, length_m: float, c_value: float) -> FloatArray:
    """Friction head by Hazen–Williams, 10.667 C^−1.852 d^−4.871 L Q^1.852 (SI form of EPANET's 4.727).

    Valid for cold water in turbulent flow, velocities to about 3 m/s. The Soil Conservation Service form has a constant
    1 % higher. Source: EPANET 2.2 User Manual, chapter 3.

    Parameters
    ----------
    flow_m3_s : ArrayLike
        Any shape. Flow [m³/s]; below 0 it runs backwards.
    bore_m : float
        Inside diameter [m], from about 0.012 up.
    length_m : float
        Length [m], ≥ 0.
    c_value : float
        Hazen–Williams C, 40…160.

    Returns
    -------
    FloatArray
        Head [m], shape and sign of the flow.
    """
    flow = _as_array(flow_m3_s)
    resistance = _HAZEN_WILLIAMS_SI * c_value**-1.852 * bore_m**-4.871 * length_m
    head: FloatArray = resistance * np.sign(flow) * np.abs(flow) ** 1.852
    return head


def colebrook_friction_factor(reynolds: ArrayLike, *, relative_roughness: float) -> FloatArray:
    """Friction factor of turbulent flow, 1/√f = −2 log10(ε/D/3.7 + 2.51/(Re √f)).

    Sources: Colebrook, J. ICE 11 (1939), 133; start value Haaland, J. Fluids Eng. 105 (1983), 89. Haaland lies within
    2 % of the root, so three Newton steps on 1/√f reach rounding error.

    Parameters
    ----------
    reynolds : ArrayLike
        Any shape. Reynolds number, from 4000 up.
    relative_roughness : float
        Roughness over bore, 0…0.05.

    Returns
    -------
    FloatArray
        Darcy friction factor, shape of the Reynolds number.
    """
    re = _as_array(reynolds)
    rough = relative_roughness / 3.7
    x: FloatArray = -1.8 * np.log10(rough**1.11 + 6.9 / re)
    for _ in range(3):
        inside = rough + 2.51 * x / re
        value = x + 2 * np.log10(inside)
        slope = 1 + 2 / np.log(10) * 2.51 / re / inside
        x = x - value / slope
    return 1 / x**2


def friction_factor(reynolds: ArrayLike, *, relative_roughness: float) -> FloatArray:
    """Friction factor at any Reynolds number: 64/Re below 2000, Colebrook above 4000.

    Between them real flow changes back and forth; a straight line in Re keeps the head continuous and rising with flow,
    which is all that the solver of the system asks for.

    Parameters
    ----------
    reynolds : ArrayLike
        Any shape. Reynolds number, of either sign.
    relative_roughness : float
        Roughness over bore, 0…0.05.

    Returns
    -------
    FloatArray
        Darcy friction factor, shape of the Reynolds number; 0 at standstill.
    """
    re = np.abs(_as_array(reynolds))
    laminar = 64 / np.clip(re, 1e-9, _LAMINAR_BELOW_RE)
    turbulent = colebrook_friction_factor(np.maximum(re, _TURBULENT_ABOVE_RE), relative_roughness=relative_roughness)
    share = np.clip((re - _LAMINAR_BELOW_RE) / (_TURBULENT_ABOVE_RE - _LAMINAR_BELOW_RE), 0, 1)
    return np.where(re > 0, (1 - share) * laminar + share * turbulent, 0.0)


def darcy_weisbach_head_m(
    flow_m3_s: ArrayLike,
    *,
    bore_m: float,
    length_m: float,
    roughness_m: float,
    kinematic_viscosity_m2_s: float,
) -> FloatArray:
    """Friction head by Darcy–Weisbach, f L/d v²/2g with `friction_factor`: the second opinion on the other formula.

    Laminar to rough. Source: Moody, Trans. ASME 66 (1944), 671.

    Parameters
    ----------
    flow_m3_s : ArrayLike
        Any shape. Flow [m³/s]; below 0 it runs backwards.
    bore_m : float
        Inside diameter [m], above 0.
    length_m : float
        Length [m], ≥ 0.
    roughness_m : float
        Roughness of the wall [m], at most a twentieth of the bore: 1.5e-6 for new plastic, 4.6e-5 for new steel.
    kinematic_viscosity_m2_s : float
        Of the water [m²/s].

    Returns
    -------
    FloatArray
        Head [m], shape and sign of the flow.
    """
    v = velocity_m_s(flow_m3_s, bore_m=bore_m)
    f = friction_factor(v * bore_m / kinematic_viscosity_m2_s, relative_roughness=roughness_m / bore_m)
    return f * length_m / bore_m * v * np.abs(v) / (2 * GRAVITY_M_S2)


def fittings_head_m(flow_m3_s: ArrayLike, *, bore_m: float, k_sum: float) -> FloatArray:
    """Head lost in fittings: K v²/2g.

    Parameters
    ----------
    flow_m3_s : ArrayLike
        Any shape. Flow [m³/s]; below 0 it runs backwards.
    bore_m : float
        Inside diameter [m], above 0.
    k_sum : float
        Sum of their loss factors, in velocity heads of this bore, ≥ 0.

    Returns
    -------
    FloatArray
        Head [m], shape and sign of the flow.
    """
    v = velocity_m_s(flow_m3_s, bore_m=bore_m)
    return k_sum * v * np.abs(v) / (2 * GRAVITY_M_S2)


def water_viscosity_m2_s(temperature_c: ArrayLike) -> FloatArray:
    """Kinematic viscosity of liquid water at air pressure.

    Sources: viscosity IAPWS R12-08 (2008), equation for 0.1 MPa, 1 %; density Kell's 1975 fit in the shortened form of
    the National Bureau of Standards, 0.01 %.

    Parameters
    ----------
    temperature_c : ArrayLike
        Any shape. Temperature of the water [°C], 0…60.

    Returns
    -------
    FloatArray
        Kinematic viscosity [m²/s], shape of the temperature.

    Raises
    ------
    InputError
        For a temperature outside 0…60 °C.
    """
    t = _as_array(temperature_c)
    if not np.all((t >= 0) & (t <= 60)):
        raise InputError.of("water_temperature", temperature_c, "is outside 0…60 °C.", "Give liquid well water.")
    reduced = (t + 273.15) / 300
    viscosity_pa_s = 1e-6 * (
        280.68 * reduced**-1.9 + 511.45 * reduced**-7.7 + 61.131 * reduced**-19.6 + 0.45903 * reduced**-40
    )
    density = 1000 * (1 - (t + 288.9414) * (t - 3.9863) ** 2 / (508929.2 * (t + 68.12963)))
    return viscosity_pa_s / density


def pipe_head_m(flow_m3_s: ArrayLike, pipes: Sequence[Pipe]) -> FloatArray:
    """Head lost in pipes: friction by Hazen–Williams, and fittings.

    Parameters
    ----------
    flow_m3_s : ArrayLike
        Any shape. Flow [m³/s]; below 0 it runs backwards.
    pipes : Sequence[Pipe]
        Pipes that the flow passes one after the other.

    Returns
    -------
    FloatArray
        Head [m], shape and sign of the flow.
    """
    head = np.zeros_like(np.asarray(flow_m3_s, dtype=np.float64))
    for pipe in pipes:
        bore = pipe.inside_m
        head = head + hazen_williams_head_m(flow_m3_s, bore_m=bore, length_m=pipe.length_m, c_value=pipe.c_now)
        head = head + fittings_head_m(flow_m3_s, bore_m=bore, k_sum=pipe.fittings)
    return head
