"""Wind at a rack: its speed at the rack's height, and the moment of a plate hinged at its middle."""

from __future__ import annotations

import numpy as np
import pytest
from thermal_makers import make_rack, resting

from trackersim.rack.geometry import Axis
from trackersim.rack.thermal import Forcing, State
from trackersim.rack.thermal_year import step
from trackersim.rack.wind import wind_at_height_m_s, wind_moment_nm

SOUTH, NORTH = Axis(azimuth_deg=180, tilt_deg=20), Axis(azimuth_deg=0, tilt_deg=20)


def moment(
    wind_m_s: float, from_deg: float, axis: Axis = SOUTH, *, coefficient: float = 0.15, gust: float = 1.4
) -> float:
    return float(
        wind_moment_nm(
            wind_m_s=np.array([wind_m_s]), wind_from_deg=np.array([from_deg]), axis=axis, area_m2=6.0, chord_m=2.5,
            coefficient=coefficient, gust_factor=gust,
        )[0]
    )  # fmt: skip


def torque(rotation_deg: float, moment_nm: float) -> float:
    """Torque of the wind on a rack [N·m] as one short step of a rack without weight, balance or friction shows it."""
    rack = make_rack(pivot_friction_nm=0.0, balance_m=0.0, damping_nms=1e6, max_rotation_deg=90.0)
    state = resting(rack, 10.0, rotation_deg=rotation_deg)
    state = State(state.canister_c, np.full(1, rack.thermal.liquid_kg / 2), state.rotation_deg, state.liquid_c)
    still = dict.fromkeys(Forcing._fields, np.zeros(1)) | {"laminar_pa_s_kg": np.full(1, 1e30)}
    after = step(rack, state, Forcing(**{**still, "wind_moment_nm": np.full(1, moment_nm)}), 0.01).state
    return float(np.radians(after.rotation_deg - state.rotation_deg)[0] * rack.thermal.damping_nms / 0.01)


def test_wind_falls_off_towards_the_ground() -> None:
    """Power law with the exponent 1/7: v(2.44 m) = (0.244)^(1/7) = 0.817."""
    wind = np.array([0.0, 2.0, 8.0])
    np.testing.assert_allclose(wind_at_height_m_s(wind, height_m=10.0), wind)
    np.testing.assert_allclose(wind_at_height_m_s(wind, height_m=2.44), 0.8174 * wind, rtol=1e-3)
    speeds = [float(wind_at_height_m_s(np.array([5.0]), height_m=height)[0]) for height in (0.1, 0.5, 1, 3, 10, 30)]
    assert speeds[0] == speeds[1]
    assert (np.diff(speeds[1:]) > 0).all()


@pytest.mark.parametrize("axis", [SOUTH, NORTH])
def test_it_is_the_same_from_either_side_and_none_along_the_axis(axis: Axis) -> None:
    # ½ ρ (g v)² A c C_m with ρ 1.2 kg/m³ (identity).
    assert moment(8.0, 270.0, axis) == pytest.approx(0.5 * 1.2 * (1.4 * 8) ** 2 * 6.0 * 2.5 * 0.15)
    for bearing in (200.0, 240.0, 265.0, 300.0, 345.0):
        there = moment(7.0, bearing, axis)
        assert there > 0
        assert moment(7.0, bearing + 180, axis) == pytest.approx(there, rel=1e-9)
        assert moment(7.0, -bearing, axis) == pytest.approx(there, rel=1e-9)
        assert moment(14.0, bearing, axis) == pytest.approx(4 * there)
    assert moment(8.0, 180.0, axis) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("rotation", [-89.9, -50.0, -20.0, -3.0, 0.0, 10.0, 45.0, 70.0, 89.9])
def test_the_plate_turns_broadside_and_nothing_turns_it_level_or_on_edge(rotation: float) -> None:
    """Identity: M = K sin 2θ, 0 at 0° and 90°, most at 45°, away from level on either side."""
    assert torque(rotation, 80.0) == pytest.approx(80.0 * np.sin(np.radians(2 * rotation)), rel=1e-4, abs=1e-6)
    assert torque(-rotation, 80.0) == pytest.approx(-torque(rotation, 80.0), rel=1e-9, abs=1e-9)


def test_potential_flow_is_the_munk_moment() -> None:
    """Identity (Munk 1924; Lamb, Hydrodynamics, art. 71 and 124): a plate of chord c has the added mass π ρ c²/4 across
    itself and none along, so that its moment per length is π ρ c²/4 · v² sin α cos α: C_m = π/4 of ½ ρ v² c² sin 2α.
    """
    speed, chord, length, alpha = 9.0, 2.5, 2.4, np.radians(25.0)
    munk = np.pi * 1.2 * chord**2 / 4 * speed**2 * np.sin(alpha) * np.cos(alpha) * length
    found = moment(speed, 270.0, coefficient=np.pi / 4, gust=1.0) * np.sin(2 * alpha)
    assert found == pytest.approx(munk)
