"""The motor's law against a motor that was measured. P printed.

Standard induction motor of 18.5 kW, 400 V, 50 Hz, on the mains: shaft power and efficiency at part load, measured, as
printed in Modelica.Electrical.Machines.Examples (IMC_withLosses, Modelica Standard Library), with Haumer, Kral,
Kapeller, Bäuml and Gragger, "The AdvancedMachines Library: Loss Models for Electric Machines", Modelica Conference
2009. Its speed falls from 1496 to 1453 rpm with load.
"""

from __future__ import annotations

import numpy as np
import pytest

from trackersim.job.pump import NO_LOAD_SHARE
from trackersim.water.motor import motor_input_w, rated_motor, torque_share_at_rated_speed

SHAFT_W = np.array([1845, 3549, 5325, 7521, 9372, 11010, 12930, 14950, 16360, 18500, 20180, 22170.0])
RPM = np.array([1496, 1493, 1490, 1486, 1482, 1479, 1475, 1471, 1467, 1462, 1458, 1453.0])
EFFICIENCY = np.array([0.7250, 0.8268, 0.8698, 0.8929, 0.9028, 0.9064, 0.9088, 0.9089, 0.9070, 0.9044, 0.9008, 0.8972])
RATED = 9
TORQUE_SHARE = SHAFT_W / RPM / (SHAFT_W / RPM)[RATED]
LOSS_W = SHAFT_W * (1 / EFFICIENCY - 1)


def loss_w(no_load_share: float) -> np.ndarray:
    motor = rated_motor(shaft_w=SHAFT_W[RATED], efficiency=EFFICIENCY[RATED], no_load_share=no_load_share)
    speed = RPM / RPM[RATED]
    return motor_input_w(motor, speed=speed, torque_share=TORQUE_SHARE) - motor.shaft_w * speed * TORQUE_SHARE


def test_two_parts_give_the_loss_from_a_tenth_of_the_load_to_more_than_all() -> None:
    shares = np.linspace(0, 1, 1001)
    worst = [float(np.max(np.abs(loss_w(share) / LOSS_W - 1))) for share in shares]
    best = float(shares[np.argmin(worst)])
    assert min(worst) < 0.04
    assert 0.3 < best < 0.4
    # One efficiency for all loads would give a quarter of this loss at a tenth of the load.
    assert SHAFT_W[0] * (1 / EFFICIENCY[RATED] - 1) < 0.3 * LOSS_W[0]


def test_the_share_that_is_used_where_nothing_is_known() -> None:
    assert np.max(np.abs(loss_w(NO_LOAD_SHARE) / LOSS_W - 1)) < 0.17
    # The same motor's own list of losses at its rated point: core 410 W, friction 180 W of 1,943.95 W.
    assert abs(NO_LOAD_SHARE - (410 + 180) / 1943.95) < 0.1


def test_a_sheet_of_inputs_gives_the_torque_back() -> None:
    motor = rated_motor(shaft_w=SHAFT_W[RATED], efficiency=EFFICIENCY[RATED], no_load_share=0.36)
    at_one_speed = SHAFT_W / EFFICIENCY
    assert torque_share_at_rated_speed(motor, at_one_speed) == pytest.approx(TORQUE_SHARE, rel=0.025)
