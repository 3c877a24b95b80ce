"""Regimes and limits of the losses."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from trackersim.errors import InputError
from trackersim.water.pipes import (
    darcy_weisbach_head_m,
    fittings_head_m,
    friction_factor,
    hazen_williams_head_m,
    water_viscosity_m2_s,
)

FloatArray = NDArray[np.float64]
FLOW = np.linspace(-0.003, 0.003, 2001)


def losses(flow: FloatArray, *, bore_m: float = 0.035, length_m: float = 100) -> list[FloatArray]:
    return [
        hazen_williams_head_m(flow, bore_m=bore_m, length_m=length_m, c_value=140),
        darcy_weisbach_head_m(
            flow, bore_m=bore_m, length_m=length_m, roughness_m=5e-5, kinematic_viscosity_m2_s=1.1e-6
        ),
        fittings_head_m(flow, bore_m=bore_m, k_sum=length_m / 10),
    ]


def test_losses_are_finite_odd_and_rise_with_flow() -> None:
    for head in losses(FLOW):
        assert head.shape == FLOW.shape
        assert np.isfinite(head).all()
        assert np.all(np.diff(head) >= 0)
        np.testing.assert_allclose(head, -head[::-1], atol=1e-12)


def test_no_flow_no_loss() -> None:
    assert [float(head) for head in losses(np.array(0.0))] == [0, 0, 0]


def test_twice_the_length_twice_the_loss_and_a_wider_bore_less() -> None:
    flow = np.array([0.0005, 0.002])
    for one, two, wide in zip(losses(flow), losses(flow, length_m=200), losses(flow, bore_m=0.05), strict=True):
        np.testing.assert_allclose(two, 2 * one)
        assert np.all(wide < one)


def test_friction_factor_has_no_step_between_the_regimes() -> None:
    for edge in (2000.0, 4000.0):
        below, above = friction_factor([edge * (1 - 1e-9), edge * (1 + 1e-9)], relative_roughness=1e-3)
        assert below == pytest.approx(above, rel=1e-6)


def test_the_two_formulas_agree_for_plastic_pipe() -> None:
    # Hazen–Williams is a fit to such pipes: C 150 against a smooth bore at 1 to 2 m/s, within a tenth.
    flow = np.array([1.0, 1.5, 2.0]) * np.pi / 4 * 0.05**2
    first = hazen_williams_head_m(flow, bore_m=0.05, length_m=100, c_value=150)
    second = darcy_weisbach_head_m(flow, bore_m=0.05, length_m=100, roughness_m=1.5e-6, kinematic_viscosity_m2_s=1.1e-6)
    np.testing.assert_allclose(first, second, rtol=0.1)


@pytest.mark.parametrize("temperature_c", [-1.0, 61.0, float("nan")])
def test_water_that_is_no_liquid_is_refused(temperature_c: float) -> None:
    with pytest.raises(InputError, match="0…60"):
        water_viscosity_m2_s(temperature_c)
