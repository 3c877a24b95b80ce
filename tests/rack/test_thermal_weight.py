"""Weight and balance on a tilted axis, by virtual work: how the potential energy of what turns changes with its turn.

Heights are those of a level rack's places, turned about a level axis and then tilted with it, by matrices; no torque is
written down here.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation
from thermal_makers import make_rack

from trackersim import load_job
from trackersim.constants import GRAVITY_M_S2
from trackersim.job.rack import Rack
from trackersim.rack.refrigerant import liquid_density_kg_m3
from trackersim.rack.thermal import Forcing, State, resting_west_deg
from trackersim.rack.thermal_year import step
from trackersim.simulation.canisters import canister_forcing

TILTS_DEG = (0.0, 20.0, 36.0, 50.0, 75.0)


def heights_m(rack: Rack, turned_deg: float) -> np.ndarray:
    """Of the west canister, the east one and the moving mass, over the middle of the axis (3,)."""
    own = rack.thermal
    # East, north, up.
    level = np.array([[-own.lever_m, 0.0, 0.0], [own.lever_m, 0.0, 0.0], [0.0, 0.0, -own.balance_m]])
    west_down = Rotation.from_rotvec([0.0, -turned_deg, 0.0], degrees=True)
    south_end_down = Rotation.from_rotvec([rack.axis_tilt_taken_deg, 0.0, 0.0], degrees=True)
    return np.asarray((south_end_down * west_down).apply(level)[:, 2])


def torque_by_energy_nm(rack: Rack, west_kg: float, turned_deg: float) -> float:
    """−dU/dθ [N·m] about `turned_deg`; what stays in each canister weighs there too."""
    own = rack.thermal
    masses = [west_kg + own.residual_kg, own.liquid_now_kg - west_kg + own.residual_kg, own.moving_mass_kg]
    higher, lower = (heights_m(rack, turned_deg + way * 0.05) for way in (1, -1))
    return -GRAVITY_M_S2 * float(masses @ (higher - lower)) / np.radians(0.1)


def torque_of_a_step_nm(rack: Rack, west_kg: float, turned_deg: float) -> float:
    """What turns a rack without friction, read off a step of 10 ms against a stiff damper while no liquid moves."""
    ten = np.full((2, 1), 10.0)
    state = State(ten, np.array([west_kg]), np.array([turned_deg]), ten)
    still = dict.fromkeys(Forcing._fields, np.zeros(1)) | {"laminar_pa_s_kg": np.full(1, 1e30)}
    after = step(rack, state, Forcing(**still), 0.01).state
    return float(np.radians(after.rotation_deg - state.rotation_deg)[0] * rack.thermal.damping_nms / 0.01)


@pytest.mark.parametrize("balance_m", [0.04, 0.3, -0.05])
@pytest.mark.parametrize("tilt_deg", TILTS_DEG)
def test_weight_and_balance_turn_the_rack_as_their_energy_falls(tilt_deg: float, balance_m: float) -> None:
    rack = make_rack(axis_tilt_deg=tilt_deg, balance_m=balance_m, pivot_friction_nm=0.0, damping_nms=1e6,
                     max_rotation_deg=90.0)  # fmt: skip
    for turned_deg in (-70.0, -50.0, -12.0, 0.0, 33.0, 50.0, 70.0):
        for west_kg in (0.0, 1.0, 3.0, 6.0):
            expected = torque_by_energy_nm(rack, west_kg, turned_deg)
            assert torque_of_a_step_nm(rack, west_kg, turned_deg) == pytest.approx(expected, rel=1e-4, abs=1e-4)


@pytest.mark.parametrize("tilt_deg", TILTS_DEG)
def test_liquid_that_is_lifted_gains_what_its_pressure_gave(tilt_deg: float) -> None:
    """Δp V = m g Δz: a kilogram that goes from the lower canister to the upper one, against the lift."""
    job = load_job("demo", ["rack.kind=thermal", f"rack.axis_tilt={tilt_deg}"])
    air, none = np.full((1, 1), 10.0), np.zeros((1, 1))
    lift_pa = canister_forcing(
        job, sun_rotation_deg=none, square_beam_w_m2=none, dhi_w_m2=none, air_c=air, wind_m_s=none
    ).lift_pa
    for turned_deg in (20.0, 50.0):
        west_m, east_m, _ = heights_m(job.rack, turned_deg)
        paid = lift_pa * np.sin(np.radians(turned_deg))
        per_kg = paid / liquid_density_kg_m3(job.rack.thermal.fluid, air)
        assert per_kg == pytest.approx(GRAVITY_M_S2 * (east_m - west_m), rel=1e-9)


@pytest.mark.parametrize("friction_nm", [3.0, 25.0])
@pytest.mark.parametrize("tilt_deg", TILTS_DEG)
def test_it_rests_where_the_energy_no_longer_pays_for_friction(tilt_deg: float, friction_nm: float) -> None:
    """A steep axis leaves gravity less to turn with, and friction as much to hold with: it stops farther short."""
    rack = make_rack(axis_tilt_deg=tilt_deg, balance_m=0.06, pivot_friction_nm=friction_nm)
    full = rack.thermal.liquid_now_kg
    if torque_by_energy_nm(rack, full, 0.0) <= friction_nm:
        assert resting_west_deg(rack) == 0.0
    else:
        rests = brentq(lambda turned: torque_by_energy_nm(rack, full, turned) - friction_nm, 0.0, 90.0)
        assert resting_west_deg(rack) == pytest.approx(rests, abs=1e-4)
