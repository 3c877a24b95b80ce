"""Refrigerants against tables. P printed, C computed with CoolProp (as `check-values.md` lists)."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from trackersim.constants import GRAVITY_M_S2
from trackersim.rack.refrigerant import (
    REFRIGERANTS,
    latent_heat_j_kg,
    liquid_density_kg_m3,
    march_properties,
)

# C: CoolProp; p [kPa], liquid density [kg/m³], latent heat [kJ/kg] at these temperatures.
TABLE_C = (-20.0, 0.0, 20.0, 40.0)
TABLE: dict[Any, tuple[tuple[float, float, float], ...]] = {
    "R-134a": ((132.7, 1358, 212.9), (292.8, 1295, 198.6), (571.7, 1225, 182.3), (1017, 1147, 163.0)),
    "R-22": ((245.3, 1347, 220.0), (498.0, 1282, 205.1), (910.0, 1210, 187.6), (1534, 1129, 166.6)),
    "propane": ((244.5, 554.5, 400.8), (474.5, 528.6, 374.9), (836.5, 500.1, 344.3), (1369, 467.5, 307.1)),
    "n-butane": ((45.2, 621.7, 402.4), (103.2, 600.7, 385.3), (207.7, 578.6, 366.5), (378.5, 554.9, 345.4)),
}
# C: temperature difference that lifts one metre of liquid [K/m] at the same temperatures.
LIFT: dict[Any, tuple[float, ...]] = {
    "R-134a": (2.32, 1.20, 0.68, 0.41),
    "R-12": (2.44, 1.35, 0.82, 0.52),
    "propane": (0.62, 0.36, 0.22, 0.14),
}


@pytest.mark.parametrize(
    ("bar", "printed_c"), [(2, -10.18), (4, 8.86), (6, 21.54), (8, 31.35), (10, 39.41), (12, 46.36)]
)
def test_printed_saturation_temperatures_of_r134a(bar: float, printed_c: float) -> None:
    """P: Mechanical Engineers' Handbook, vol. 4, saturation table of R-134a; ± 0.15 K."""
    temperature = np.linspace(-40, 80, 24_001)
    pressure = march_properties(REFRIGERANTS["R-134a"], temperature)[0]
    assert np.interp(bar * 1e5, pressure, temperature) == pytest.approx(printed_c, abs=0.15)


@pytest.mark.parametrize("name", TABLE)
def test_computed_table(name: Any) -> None:
    """C: the values were written down with four figures at most, n-butane's pressure with three: ± 0.2 %."""
    fluid = REFRIGERANTS[name]
    pressure, density, latent = np.array(TABLE[name]).T
    np.testing.assert_allclose(march_properties(fluid, TABLE_C)[0] / 1e3, pressure, rtol=2e-3)
    np.testing.assert_allclose(liquid_density_kg_m3(fluid, TABLE_C), density, rtol=2e-3)
    np.testing.assert_allclose(latent_heat_j_kg(fluid, TABLE_C) / 1e3, latent, rtol=2e-3)


def kelvin_per_metre(name: Any, temperature_c: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Temperature difference between two canisters that lifts the liquid by one metre [K/m]: ρ_l g / (dp/dT)."""
    _, slope, _ = march_properties(REFRIGERANTS[name], temperature_c)
    return np.asarray(liquid_density_kg_m3(REFRIGERANTS[name], temperature_c) * GRAVITY_M_S2 / slope)


@pytest.mark.parametrize("name", LIFT)
def test_temperature_difference_that_lifts_one_metre(name: Any) -> None:
    """C: the values were written down to 0.01 K."""
    np.testing.assert_allclose(kelvin_per_metre(name, TABLE_C), LIFT[name], atol=0.006)
