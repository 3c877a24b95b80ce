"""Drag of the tube between the canisters."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from trackersim.rack.refrigerant import REFRIGERANTS, liquid_density_kg_m3, liquid_viscosity_pa_s
from trackersim.rack.tube import TURBULENT_POWER, tube_resistances


def pressure_pa(flow_kg_s: float, bore_m: float = 0.0048, air_c: float = 10.0, fluid: Any = "R-134a") -> float:
    laminar, turbulent = tube_resistances(REFRIGERANTS[fluid], air_c, bore_m=bore_m, length_m=5.0)
    return float(flow_kg_s * np.maximum(laminar, turbulent * flow_kg_s**TURBULENT_POWER))


def test_narrow_tubes_are_poiseuilles() -> None:
    """128 μ l / (π ρ d⁴): 1.5 mm by 5 m of R-134a at 0 °C is 8.3e6 Pa·s/kg (C: μ 0.2665 mPa·s, ρ 1295 kg/m³)."""
    by_hand = 128 * 0.2665e-3 * 5 / (np.pi * 1295 * 0.0015**4)
    laminar, _ = tube_resistances(REFRIGERANTS["R-134a"], 0.0, bore_m=0.0015, length_m=5.0)
    assert laminar == pytest.approx(by_hand, rel=2e-3)
    assert by_hand == pytest.approx(8.3e6, rel=0.01)


@pytest.mark.parametrize("bore_m", [0.003, 0.0048, 0.008])
def test_the_two_laws_meet_at_one_reynolds_number(bore_m: float) -> None:
    """64/Re = 0.316 Re^−0.25 at Re = (64/0.316)^(4/3) = 1189; there pressure has no jump."""
    viscosity = float(liquid_viscosity_pa_s(REFRIGERANTS["R-134a"], 10.0))
    meet = (64 / 0.316) ** (4 / 3) * np.pi * bore_m * viscosity / 4
    laminar, turbulent = tube_resistances(REFRIGERANTS["R-134a"], 10.0, bore_m=bore_m, length_m=5.0)
    assert turbulent * meet**TURBULENT_POWER == pytest.approx(laminar, rel=1e-9)
    assert pressure_pa(meet / 2, bore_m) / pressure_pa(meet / 4, bore_m) == pytest.approx(2)
    assert pressure_pa(4 * meet, bore_m) / pressure_pa(2 * meet, bore_m) == pytest.approx(2**1.75)


def test_turbulent_drag_of_a_smooth_pipe() -> None:
    """Darcy–Weisbach by hand at 20 g/s in 4.8 mm: Re some 2.3e4, f by Blasius within 3 % of Prandtl–von Kármán's
    implicit law 1/√f = 2 log₁₀(Re √f) − 0.8 (Prandtl 1933; every handbook).
    """
    fluid = REFRIGERANTS["R-134a"]
    density, viscosity = float(liquid_density_kg_m3(fluid, 10.0)), float(liquid_viscosity_pa_s(fluid, 10.0))
    flow, bore = 0.02, 0.0048
    speed = flow / density / (np.pi / 4 * bore**2)
    reynolds = density * speed * bore / viscosity
    assert 2e4 < reynolds < 3e4
    friction = 0.02
    for _ in range(50):
        friction = (2 * np.log10(reynolds * np.sqrt(friction)) - 0.8) ** -2
    assert pressure_pa(flow) == pytest.approx(friction * 5 / bore * density * speed**2 / 2, rel=0.03)
