"""The motor's law by hand, its limits, and its inverses."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from trackersim.water.motor import motor_input_w, rated_motor, speed_at_input, torque_share_at_rated_speed

# 600 W at the shaft for 800 W; of the 200 W lost 80 W go with speed and 120 W with torque squared.
MOTOR = rated_motor(shaft_w=600.0, efficiency=0.75, no_load_share=0.4)
SPEEDS = np.linspace(0.02, 1.0, 200)


def efficiency_of_a_centrifugal_pump(no_load_share: float) -> np.ndarray:
    motor = rated_motor(shaft_w=600.0, efficiency=0.75, no_load_share=no_load_share)
    return 600 * SPEEDS**3 / motor_input_w(motor, speed=SPEEDS, torque_share=SPEEDS**2)


def test_by_hand_at_rated_speed_and_at_half_of_it() -> None:
    assert motor_input_w(MOTOR, speed=1.0, torque_share=1.0) == pytest.approx(800)
    # Half speed, full torque: half the shaft power and of what goes with speed; copper as before.
    assert motor_input_w(MOTOR, speed=0.5, torque_share=1.0) == pytest.approx(300 + 40 + 120)
    # A centrifugal pump has a quarter of the torque there.
    assert motor_input_w(MOTOR, speed=0.5, torque_share=0.25) == pytest.approx(75 + 40 + 7.5)


@pytest.mark.parametrize(("no_load_share", "lost_w"), [(0.0, 200 / 16), (1.0, 100.0)])
def test_all_of_one_kind_at_half_speed(no_load_share: float, lost_w: float) -> None:
    motor = rated_motor(shaft_w=600.0, efficiency=0.75, no_load_share=no_load_share)
    assert motor_input_w(motor, speed=0.5, torque_share=0.25) == pytest.approx(75 + lost_w)


def test_without_loss_the_input_is_the_power_at_the_shaft() -> None:
    lossless = rated_motor(shaft_w=600.0, efficiency=1.0, no_load_share=0.4)
    np.testing.assert_allclose(motor_input_w(lossless, speed=SPEEDS, torque_share=SPEEDS**2), 600 * SPEEDS**3)
    np.testing.assert_allclose(torque_share_at_rated_speed(lossless, [0.0, 300.0]), [0, 0.5])


def test_standstill_takes_nothing_but_what_holds_a_torque() -> None:
    assert motor_input_w(MOTOR, speed=0.0, torque_share=[0.0, 0.5]) == pytest.approx([0, 30])


def test_efficiency_falls_with_speed_below_rated_where_iron_and_friction_count() -> None:
    assert np.all(np.diff(efficiency_of_a_centrifugal_pump(0.4)) > 0)
    assert np.all(np.diff(efficiency_of_a_centrifugal_pump(1.0)) > 0)
    assert efficiency_of_a_centrifugal_pump(0.4)[-1] == pytest.approx(0.75)
    # Of copper alone it rises: loss over shaft power is in proportion to speed.
    copper_alone = efficiency_of_a_centrifugal_pump(0.0)
    np.testing.assert_allclose(1 / copper_alone - 1, SPEEDS / 3)


@given(
    efficiency=st.floats(0.2, 1.0),
    no_load_share=st.floats(0.0, 1.0),
    torque_share=st.floats(0.01, 3.0),
    speed=st.floats(0.0, 1.5),
)
def test_inverses_undo_the_input(efficiency: float, no_load_share: float, torque_share: float, speed: float) -> None:
    motor = rated_motor(shaft_w=600.0, efficiency=efficiency, no_load_share=no_load_share)
    power = motor_input_w(motor, speed=speed, torque_share=torque_share * speed**2)
    assert speed_at_input(motor, input_w=power, torque_share=torque_share) == pytest.approx(speed, rel=1e-12, abs=1e-12)
    at_rated_w = motor_input_w(motor, speed=1.0, torque_share=torque_share)
    assert torque_share_at_rated_speed(motor, at_rated_w) == pytest.approx(torque_share, rel=1e-9)


def test_speed_at_input_is_the_root_and_never_falls() -> None:
    watts = np.append(0.0, np.geomspace(1e-6, 2e3, 60))
    speed = speed_at_input(MOTOR, input_w=watts, torque_share=0.6)
    direct = [
        brentq(lambda s, w=w: float(motor_input_w(MOTOR, speed=s, torque_share=0.6 * s**2)) - w, 0, 9, xtol=1e-15)
        for w in watts.tolist()
    ]
    np.testing.assert_allclose(speed, direct, rtol=1e-12, atol=1e-14)
    assert np.all(np.diff(speed) > 0)


def test_an_input_below_the_loss_at_no_load_gives_no_torque() -> None:
    assert torque_share_at_rated_speed(MOTOR, [0.0, 79.0, 79.99]).tolist() == [0, 0, 0]
