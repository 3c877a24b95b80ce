"""A helical pump from its sheet: given back where its laws can, and the miss told where they cannot."""

from __future__ import annotations

import numpy as np
import pytest

from trackersim.job.pump import Pump
from trackersim.water.helical import HelicalPump, helical_flow_m3_s, helical_power_w, helical_torque_nm
from trackersim.water.helical_sheet import helical_of, worst_miss
from trackersim.water.motor import rated_motor

# Invented: 1.3 L/s without slip; 9.80665 kN/m³ · 1.3 L/s = 12.75 W of water for every metre.
HEAD_M = (20.0, 40.0, 60.0)
FLOW_M3_S = (0.0012, 0.0011, 0.0010)


def sheet(power_w: tuple[float, ...], **more: float) -> Pump:
    return Pump(kind="helical", curve_flow_m3_s=FLOW_M3_S, curve_head_m=HEAD_M, curve_power_w=power_w, **more)


def power_of(machine: HelicalPump) -> np.ndarray:
    return helical_power_w(machine, speed=1.0, head_m=HEAD_M)


@pytest.mark.parametrize("no_load_share", [0.2, 0.4, 0.6])
@pytest.mark.parametrize("efficiency", [0.6, 0.85])
@pytest.mark.parametrize("friction_w", [5.0, 90.0])
def test_a_sheet_made_from_the_laws_gives_its_pump_back(
    friction_w: float, efficiency: float, no_load_share: float
) -> None:
    motor = rated_motor(shaft_w=9806.65 * 0.0013 * 60 + friction_w, efficiency=efficiency, no_load_share=no_load_share)
    made = HelicalPump(
        displacement_m3_rev=0.0013 / 50,
        rated_rpm=3000,
        slip_m3_s_per_m=5e-6,
        friction_nm=friction_w / (100 * np.pi),
        motor=motor,
        max_head_m=75,
    )
    pump = sheet(tuple(power_of(made).tolist()), no_load_share=no_load_share)
    found = helical_of(pump)
    np.testing.assert_allclose(power_of(found), pump.curve_power_w, rtol=1e-9)
    np.testing.assert_allclose(helical_flow_m3_s(found, speed=1.0, head_m=HEAD_M), FLOW_M3_S, rtol=1e-9)
    assert found.motor.shaft_w / (found.motor.shaft_w + found.motor.loss_w) == pytest.approx(efficiency, rel=1e-6)
    assert found.friction_nm == pytest.approx(made.friction_nm, rel=1e-5)
    assert abs(worst_miss(pump).share) < 1e-9
    # At every lower speed it takes less, and its motor is poorer.
    speed = np.linspace(0.05, 1.0, 50)
    taken = helical_power_w(found, speed=speed, head_m=40.0)
    shaft_w = 2 * np.pi * 50 * speed * helical_torque_nm(found, 40.0)
    assert np.all(np.diff(taken) > 0)
    assert np.all(np.diff(shaft_w / taken) > 0)


def test_a_sheet_of_two_heads_comes_back_exactly() -> None:
    pump = Pump(kind="helical", curve_flow_m3_s=(0.0012, 0.001), curve_head_m=(20, 60), curve_power_w=(420, 1040))
    assert abs(worst_miss(pump).share) < 1e-9


def test_a_sheet_whose_water_gains_more_than_its_input_rises_is_missed_and_that_is_told() -> None:
    # 10 W a metre for 12.75 W of water.
    miss = worst_miss(sheet((400, 600, 800)))
    assert miss.is_power
    assert (miss.head_m, miss.given) == (60, 800)
    # By hand: the least that any pump could take at 60 m is 765 W / 0.95 = 805 W, and it would then take 268 W at 20 m.
    assert 0.05 < miss.share < 0.2
    assert miss.modelled == pytest.approx(power_of(helical_of(sheet((400, 600, 800))))[2])


def test_flow_that_bends_is_told_too() -> None:
    pump = Pump(
        kind="helical",
        curve_flow_m3_s=(0.0012, 0.0012, 0.0006),
        curve_head_m=HEAD_M,
        curve_power_w=(420, 730, 1040),
    )
    assert not worst_miss(pump).is_power
