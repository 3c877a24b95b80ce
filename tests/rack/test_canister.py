"""Canisters: heat loss, and places on the rack."""

from __future__ import annotations

import numpy as np
import pytest

from trackersim.job.thermal import Thermal
from trackersim.rack.canister import (
    canister_loss_w_k,
    canister_places_m,
    clear_sky_emissivity,
    cylinder_nusselt,
    dew_loss_w_k,
    sky_loss_w,
    vapour_slope_pa_k,
    wet_loss_w_k,
)
from trackersim.rack.geometry import Axis

SOUTH, NORTH = Axis(azimuth_deg=180, tilt_deg=20), Axis(azimuth_deg=0, tilt_deg=20)


def loss(wind_m_s: float, air_c: float, diameter_m: float = 0.1, length_m: float = 1.5) -> float:
    size = Thermal().model_copy(update={"canister_diameter_m": diameter_m, "canister_length_m": length_m})
    return float(canister_loss_w_k(size, wind_m_s=np.array([wind_m_s]), air_c=np.array([air_c]))[0])


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


def test_sky_is_as_bright_as_by_another_authors_formula() -> None:
    """Brutsaert (Water Resources Research 11, 1975): ε = 1.24 (e/T)^(1/7), e at the dew point [hPa], T of the air [K].

    Fitted elsewhere and in another form; the two are known to agree within a few hundredths. Mean over the hours.
    """
    for dew, vapour_hpa in ((0.0, 6.11), (10.0, 12.27), (20.0, 23.37)):  # saturation pressures of steam tables
        by_hours = clear_sky_emissivity(np.full(24, dew), hour=np.arange(24))
        assert by_hours.mean() == pytest.approx(1.24 * (vapour_hpa / (dew + 5 + 273.15)) ** (1 / 7), abs=0.02)
        assert by_hours[0] - by_hours[12] == pytest.approx(0.026)  # nights are brighter at the same dew point
    # Thinner air is clearer: 0.00012 per hPa.
    low, high = (float(clear_sky_emissivity(5.0, hour=6.0, pressure_hpa=hpa)) for hpa in (1000.0, 800.0))
    assert low - high == pytest.approx(0.024)


def test_a_canister_loses_what_the_air_gets_less_from_the_sky() -> None:
    """A black sky takes all a grey cylinder radiates; one as bright as the air nothing (Stefan and Boltzmann)."""
    air, size = np.array([10.0]), Thermal(canister_diameter_m=0.1, canister_length_m=2.4)
    all_of_it = 0.9 * 5.670374e-8 * 283.15**4 * np.pi * 0.1 * 2.4
    assert sky_loss_w(size, air_c=air, sky_emissivity=np.zeros(1))[0] == pytest.approx(all_of_it, rel=1e-6)
    assert sky_loss_w(size, air_c=air, sky_emissivity=np.ones(1))[0] == 0


def test_slope_of_the_vapour_pressure_as_tabulated() -> None:
    """P, from memory: FAO Irrigation and drainage paper 56, annex 2, table 2.4, kPa/K."""
    assert vapour_slope_pa_k([10.0, 20.0, 30.0]) / 1000 == pytest.approx([0.082, 0.145, 0.243], abs=6e-4)


def test_dew_takes_no_more_than_its_film_holds() -> None:
    """0.1 mm on the wet half of 0.754 m² hold 92 kJ: so much light goes into it, and then it is dry."""
    size = Thermal(canister_diameter_m=0.1, canister_length_m=2.4, dew=0.5)
    calm, air = np.zeros((2, 600)), np.full((2, 600), 10.0)
    wet = wet_loss_w_k(size, wind_m_s=calm, air_c=air)
    dry = canister_loss_w_k(size, wind_m_s=calm, air_c=air)
    light = np.broadcast_to(np.where(np.arange(600) < 60, 0.0, [[80.0], [40.0]]), (2, 600))
    taken = dew_loss_w_k(size, wet_w_k=wet, dry_w_k=dry, light_w=light)
    spent_j = 60 * (light * taken / (dry + taken)).sum(axis=1)
    assert spent_j == pytest.approx(0.5 * 0.1 * 2.45e6 * np.pi * 0.24, abs=60 * 40)
    wet_min = (taken > 0).sum(axis=1) - 60
    assert wet_min[1] == pytest.approx(2 * wet_min[0], abs=2)  # half the light, twice as long
    assert not dew_loss_w_k(Thermal(), wet_w_k=wet, dry_w_k=dry, light_w=light).any()
