"""Refrigerants over their whole range, against CoolProp (C), and beyond it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from trackersim.rack.refrigerant import (
    COLDEST_C,
    HOTTEST_C,
    REFRIGERANTS,
    Refrigerant,
    heat_per_liquid_moved_j_kg,
    latent_heat_j_kg,
    liquid_density_kg_m3,
    liquid_heat_capacity_j_kg_k,
    liquid_viscosity_pa_s,
    march_properties,
    out_of_range,
    vapour_density_kg_m3,
)

FloatArray = npt.NDArray[np.float64]

COOLPROP = {"R-134a": "R134a", "R-12": "R12", "R-22": "R22", "propane": "Propane", "n-butane": "n-Butane"}
RANGE_C = np.linspace(COLDEST_C, HOTTEST_C, 121)


def saturation_pressure_pa(fluid: Refrigerant, temperature_c: npt.ArrayLike) -> FloatArray:
    return march_properties(fluid, temperature_c)[0]


PROPERTIES: dict[str, tuple[Callable[..., FloatArray], float]] = {
    # Within what the module's docstring promises.
    "pressure": (saturation_pressure_pa, 1.2e-4),
    "liquid density": (liquid_density_kg_m3, 1e-3),
    "vapour density": (vapour_density_kg_m3, 1e-3),
    "latent heat": (latent_heat_j_kg, 1e-3),
    "heat capacity": (liquid_heat_capacity_j_kg_k, 7e-3),
    "viscosity": (liquid_viscosity_pa_s, 1e-3),
}


def coolprop(name: str, what: str) -> FloatArray:
    from CoolProp.CoolProp import PropsSI

    def saturated(key: str, quality: int) -> FloatArray:
        return np.asarray(PropsSI(key, "T", RANGE_C + 273.15, "Q", quality, COOLPROP[name]))

    if what == "latent heat":
        return saturated("H", 1) - saturated("H", 0)
    keys = {"pressure": ("P", 0), "liquid density": ("D", 0), "vapour density": ("D", 1), "heat capacity": ("C", 0),
            "viscosity": ("V", 0)}  # fmt: skip
    return saturated(*keys[what])


@pytest.mark.parametrize("what", PROPERTIES)
@pytest.mark.parametrize("name", COOLPROP)
def test_within_the_promise_of_coolprop(name: Any, what: str) -> None:
    function, promise = PROPERTIES[what]
    np.testing.assert_allclose(function(REFRIGERANTS[name], RANGE_C), coolprop(name, what), rtol=promise)


@pytest.mark.parametrize("name", COOLPROP)
def test_slope_is_the_derivative_of_the_pressure(name: Any) -> None:
    fluid, step = REFRIGERANTS[name], 1e-3
    inside = np.linspace(COLDEST_C + 1, HOTTEST_C - 1, 60)
    pressure, slope, _ = march_properties(fluid, inside)
    rise = saturation_pressure_pa(fluid, inside + step) - saturation_pressure_pa(fluid, inside - step)
    np.testing.assert_allclose(slope, rise / (2 * step), rtol=1e-6)
    np.testing.assert_allclose(pressure, saturation_pressure_pa(fluid, inside), rtol=1e-12)


@pytest.mark.parametrize("name", COOLPROP)
def test_slope_is_clausius_and_clapeyrons(name: Any) -> None:
    """Identity: dp/dT = h_fg / (T (1/ρ_v − 1/ρ_l)). It ties five independent fits together."""
    fluid = REFRIGERANTS[name]
    _, slope, _ = march_properties(fluid, RANGE_C)
    growth = 1 / vapour_density_kg_m3(fluid, RANGE_C) - 1 / liquid_density_kg_m3(fluid, RANGE_C)
    np.testing.assert_allclose(slope, latent_heat_j_kg(fluid, RANGE_C) / ((RANGE_C + 273.15) * growth), rtol=5e-3)


@pytest.mark.parametrize("name", COOLPROP)
def test_heat_of_the_march_is_that_of_its_parts(name: Any) -> None:
    """Half-way between the places of its table, where a straight line is farthest off."""
    fluid, between_c = REFRIGERANTS[name], RANGE_C[:-1] + 0.005
    _, _, heat = march_properties(fluid, between_c)
    latent, vapour, liquid = (
        each(fluid, between_c) for each in (latent_heat_j_kg, vapour_density_kg_m3, liquid_density_kg_m3)
    )
    np.testing.assert_allclose(heat_per_liquid_moved_j_kg(fluid, between_c), latent * vapour / liquid, rtol=1e-12)
    np.testing.assert_allclose(heat, latent * vapour / liquid, rtol=3e-8)


@pytest.mark.parametrize("name", COOLPROP)
def test_lifting_gets_easier_with_warmth(name: Any) -> None:
    """That is why cold mornings are late."""
    fluid = REFRIGERANTS[name]
    _, slope_pa_k, _ = march_properties(fluid, RANGE_C)
    assert (np.diff(liquid_density_kg_m3(fluid, RANGE_C) / slope_pa_k) < 0).all()  # kelvins to lift a metre, over g


@pytest.mark.parametrize("name", COOLPROP)
def test_outside_the_range_its_ends_stand_in(name: Any) -> None:
    fluid = REFRIGERANTS[name]
    outside = np.array([-273.15, -60.0, -40.0001, 80.0001, 300.0, 1e9, -np.inf, np.inf])
    assert out_of_range(outside).all()
    assert not out_of_range(RANGE_C).any()
    ends = np.where(outside < 0, COLDEST_C, HOTTEST_C)
    for function, _ in PROPERTIES.values():
        values = function(fluid, outside)
        assert np.isfinite(values).all()
        np.testing.assert_array_equal(values, function(fluid, ends))
    for values, at_ends in zip(march_properties(fluid, outside), march_properties(fluid, ends), strict=True):
        assert np.isfinite(values).all()
        assert (values > 0).all()
        np.testing.assert_array_equal(values, at_ends)


def test_a_temperature_that_is_no_number_is_out_of_range() -> None:
    assert out_of_range(np.nan)


def test_shape_of_the_temperature_is_kept() -> None:
    fluid = REFRIGERANTS["R-12"]
    grid = RANGE_C[:120].reshape(2, 60)
    before = grid.copy()
    assert saturation_pressure_pa(fluid, grid).shape == (2, 60)
    assert saturation_pressure_pa(fluid, 20.0).shape == ()
    np.testing.assert_array_equal(grid, before)
