"""The tube between the canisters: what pressure drives liquid through it.

Darcy–Weisbach for a smooth round tube: Δp = f (l/d) 8 ṁ² / (π² ρ d⁴), with f = 64/Re while the flow is laminar and
f = 0.316 Re^−0.25 (Blasius) while it is turbulent, whichever is more; the two meet at Re 1187. Re = 4 ṁ / (π d μ).
Fittings, the entry and the height of the tube are left out. Turbulent flow takes up to Re 10⁵; the canisters' reach
some 10⁴.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from trackersim.arrays import FloatArray
from trackersim.rack.refrigerant import Refrigerant, liquid_density_kg_m3, liquid_viscosity_pa_s

# Friction factor of smooth pipes (Blasius 1913; in every handbook of hydraulics): 0.316 Re^−1/4.
_BLASIUS, _BLASIUS_POWER = 0.316, 0.25
# Δp/ṁ of turbulent flow grows with the flow to this power.
TURBULENT_POWER = 1 - _BLASIUS_POWER


def tube_resistances(
    fluid: Refrigerant, temperature_c: npt.ArrayLike, *, bore_m: float, length_m: float
) -> tuple[FloatArray, FloatArray]:
    """What resists the liquid: pressure over mass flow, Δp/ṁ, is the larger of `laminar` and `turbulent` · |ṁ|^0.75.

    Parameters
    ----------
    fluid : Refrigerant
        The refrigerant.
    temperature_c : npt.ArrayLike
        Any shape. Temperature of the liquid in the tube [°C]; −40…80 °C.
    bore_m : float
        Inner diameter [m].
    length_m : float
        Length [m].

    Returns
    -------
    tuple[FloatArray, FloatArray]
        Each of the shape of the temperature: 128 μ l / (π ρ d⁴) [Pa·s/kg], and that of turbulent flow at 1 kg/s
        [Pa·s/kg].
    """
    density, viscosity = liquid_density_kg_m3(fluid, temperature_c), liquid_viscosity_pa_s(fluid, temperature_c)
    laminar = 128 * viscosity * length_m / (np.pi * density * bore_m**4)
    reynolds_per_flow = 4 / (np.pi * bore_m * viscosity)
    dynamic = 8 * length_m / (np.pi**2 * density * bore_m**5)
    return np.asarray(laminar), np.asarray(_BLASIUS * reynolds_per_flow**-_BLASIUS_POWER * dynamic)
