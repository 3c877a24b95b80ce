"""Canisters: heat loss, and places on the rack."""

from __future__ import annotations

import numpy as np
import pytest

from trackersim.rack.canister import canister_loss_w_k, canister_places_m, cylinder_nusselt
from trackersim.rack.geometry import Axis

SOUTH, NORTH = Axis(azimuth_deg=180, tilt_deg=20), Axis(azimuth_deg=0, tilt_deg=20)


def loss(wind_m_s: float, air_c: float, diameter_m: float = 0.1, length_m: float = 1.5) -> float:
    return float(
        canister_loss_w_k(
            wind_m_s=np.array([wind_m_s]), air_c=np.array([air_c]), diameter_m=diameter_m, length_m=length_m
        )[0]
    )


def test_nusselt_number_of_a_printed_example() -> None:
    """P: Incropera et al., Examples 7.3 and 7.4: Re 6071, Pr 0.70 gives 40.6 by Churchill & Bernstein."""
    assert cylinder_nusselt(6071, prandtl=0.70) == pytest.approx(40.6, abs=0.15)
    assert cylinder_nusselt(0.0) == pytest.approx(0.3)


def test_loss_grows_with_wind_and_temperature() -> None:
    by_wind = [loss(wind, 0.0) for wind in (0.0, 0.5, 1.0, 2.0, 5.0, 10.0, 30.0, 60.0)]
    by_air = [loss(2.0, air) for air in (-60.0, -20.0, 0.0, 20.0, 45.0)]
    for values in (by_wind, by_air):
        assert np.isfinite(values).all()
        assert (np.diff(values) > 0).all()


def test_loss_in_still_air_is_free_convection_and_radiation() -> None:
    """4 W/m²K assumed, and 4 ε σ T³ with ε 0.9 (identity); forced convection of no wind adds under 0.1 %."""
    radiation = 4 * 0.9 * 5.670374419e-8 * 293.15**3
    assert loss(0.0, 20.0) == pytest.approx((4.0 + radiation) * np.pi * 0.1 * 1.5, rel=1e-3)


def test_loss_goes_with_the_length_and_more_slowly_with_the_diameter() -> None:
    assert loss(3.0, 10.0, length_m=3.0) == pytest.approx(2 * loss(3.0, 10.0), rel=1e-12)
    assert loss(3.0, 10.0) < loss(3.0, 10.0, diameter_m=0.2) < 2 * loss(3.0, 10.0)


@pytest.mark.parametrize("axis", [SOUTH, NORTH])
def test_the_edge_toward_which_the_rack_faces_is_the_lower_one(axis: Axis) -> None:
    for rotation, west_is_lower in ((50.0, True), (-50.0, False)):
        west, east = canister_places_m(axis, lever_m=1.2, rotation_deg=rotation)
        assert west[0] < 0 < east[0]  # west of the axis and east of it, always
        assert (west[2] < east[2]) == west_is_lower
        # On edge they would lie 2 L apart in height; at 50° it is the sine's share, less by the axis's own tilt.
        assert abs(west[2] - east[2]) == pytest.approx(2.4 * np.sin(np.radians(50)) * np.cos(np.radians(20)))
    level = canister_places_m(axis, lever_m=1.2, rotation_deg=0.0)
    np.testing.assert_allclose(level, [[-1.2, 0, 0], [1.2, 0, 0]], atol=1e-12)


def test_places_are_mirror_images() -> None:
    facing_west, facing_east = (canister_places_m(SOUTH, lever_m=0.9, rotation_deg=angle) for angle in (35, -35))
    np.testing.assert_allclose(facing_west[0] * [-1, 1, 1], facing_east[1], atol=1e-12)
    np.testing.assert_allclose(facing_west[0], -facing_west[1], atol=1e-12)
