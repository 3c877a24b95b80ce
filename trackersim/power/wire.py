"""Resistance of wire."""

from __future__ import annotations

import math
from typing import Literal

Material = Literal["copper", "aluminium"]

# Area of gauge n from the definition of the series, d = 0.127 mm · 92^((36 − n)/39) (ASTM B258): an identity.
AWG_AREA_MM2: dict[str, float] = {
    **{str(n): math.pi / 4 * (0.127 * 92 ** ((36 - n) / 39)) ** 2 for n in (18, 16, 14, 12, 10, 8, 6, 4, 3, 2, 1)},
    **{f"{zeros}/0": math.pi / 4 * (0.127 * 92 ** ((35 + zeros) / 39)) ** 2 for zeros in (1, 2, 3, 4)},
}

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
