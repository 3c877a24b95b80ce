"""A module from which less is taken than it could give: its voltage floats up towards open circuit, its cells warm."""

from __future__ import annotations

import numpy as np

from trackersim.arrays import FloatArray
from trackersim.power.diode import Diode

# Share of the light on a module that becomes heat or current (transmittance times absorptance; common practice).
_ABSORBED = 0.9
_NEWTON_STEPS = 20
_CLOSE_V = 1e-3


def warmer_k(
    *,
    unused_w_m2: FloatArray,
    plane_w_m2: FloatArray,
    best_w_m2: FloatArray,
    wind_m_s: FloatArray,
    faiman_u0: float,
    faiman_u1: float,
) -> FloatArray:
    """How much warmer cells are that keep as heat what is not taken from them.

    Faiman's factors hold for modules at their best point: there (0.9 − efficiency) of the light is heat. What is not
    taken adds to it.

    Parameters
    ----------
    unused_w_m2 : FloatArray
        Shape (n,). Power that could be taken and is not, per module area [W/m²].
    plane_w_m2 : FloatArray
        Shape (n,). Light on the module plane [W/m²].
    best_w_m2 : FloatArray
        Shape (n,). Best power per module area [W/m²].
    wind_m_s : FloatArray
        Shape (n,). Wind speed at the height of the modules [m/s].
    faiman_u0 : float
        Heat loss factor [W/(m²·K)].
    faiman_u1 : float
        Heat loss factor with wind [W/(m²·K) per m/s].

    Returns
    -------
    FloatArray
        Shape (n,) [K], ≥ 0; some 5 K in full sun and light wind when nothing is taken.
    """
    heat_w_m2 = np.maximum(_ABSORBED * plane_w_m2 - best_w_m2, 1e-9)
    share = np.where(plane_w_m2 > 1e-6, unused_w_m2 / heat_w_m2, 0.0)
    return np.asarray(share * plane_w_m2 / (faiman_u0 + faiman_u1 * wind_m_s))


def floating_voltage_v(
    diode: Diode, *, absorbed_w_m2: FloatArray, cell_c: FloatArray, power_w: FloatArray, wire_ohm: float = 0.0
) -> FloatArray:
    """Voltage above that of the best point at which one module gives `power_w` at the far end of its wire.

    Newton's rule from open circuit down. With v the diode's own voltage, current and power are explicit in v, and power
    is concave beyond its best point: a step cannot pass the answer but by the little that the wire bends it.

    Parameters
    ----------
    diode : Diode
        Diode of one module, aged.
    absorbed_w_m2 : FloatArray
        Shape (n,). Light that passes the glass [W/m²].
    cell_c : FloatArray
        Shape (n,). Temperature of the cells [°C].
    power_w : FloatArray
        Shape (n,). What is taken at the far end [W], 0 to the best there.
    wire_ohm : float
        Resistance in series with the module, its share of the wire [Ω].

    Returns
    -------
    FloatArray
        Shape (n,). Voltage at the far end [V]: open circuit where nothing is taken, 0 where there is no light.
    """
    far_v = np.zeros_like(power_w)
    left = np.flatnonzero(absorbed_w_m2 > 0)
    taken_w = power_w[left]
    light_a, dark_a, series_ohm, shunt_ohm, slope_v = diode.at(absorbed_w_m2[left], cell_c[left], wire_ohm=wire_ohm)
    volt = slope_v * np.log1p(light_a / dark_a)
    for _ in range(_NEWTON_STEPS):
        forward = dark_a * np.exp(volt / slope_v)
        current, falls = light_a + dark_a - forward - volt / shunt_ohm, -forward / slope_v - 1 / shunt_ohm
        there, rises = volt - current * series_ohm, 1 - series_ohm * falls
        slope = current * rises + there * falls
        step = np.where(slope < 0, (current * there - taken_w) / np.where(slope < 0, slope, -1.0), 0.0)
        far_v[left] = there - step * rises
        wide = np.abs(step) > _CLOSE_V
        left, taken_w, volt = left[wide], taken_w[wide], (volt - step)[wide]
        light_a, dark_a, series_ohm, shunt_ohm, slope_v = (
            part[wide] for part in (light_a, dark_a, series_ohm, shunt_ohm, slope_v)
        )
        if not left.size:
            break
    return far_v
