"""Resistance of wire."""

from __future__ import annotations

from typing import Literal

Material = Literal["copper", "aluminium"]

# Stranded conductor at 75 °C, Ω·m: NEC Chapter 9 Table 8 divided back by the gauge's area (constant to 0.4 %).
_RESISTIVITY_75C_OHM_M: dict[Material, float] = {"copper": 2.14e-8, "aluminium": 3.51e-8}
# Change per kelvin from 75 °C: copper as printed under that table; aluminium likewise (0.00330, from memory).
_PER_K_FROM_75C: dict[Material, float] = {"copper": 0.00323, "aluminium": 0.00330}


def resistance_ohm_per_m(*, area_mm2: float, temperature_c: float = 75.0, material: Material = "copper") -> float:
    """Direct-current resistance of one stranded conductor [Ω/m].

    Valid for −40…90 °C. Source: NEC Chapter 9 Table 8, R₂ = R₁(1 + α (T₂ − 75)).

    Parameters
    ----------
    area_mm2 : float
        Cross-section of the conductor [mm²].
    temperature_c : float
        Temperature of the conductor [°C].
    material : Material
        Its metal.

    Returns
    -------
    float
        Resistance [Ω/m].
    """
    change = 1 + _PER_K_FROM_75C[material] * (temperature_c - 75.0)
    return _RESISTIVITY_75C_OHM_M[material] * change / (area_mm2 * 1e-6)
