"""Curves from the sheet or the best point, their ends, and the affinity laws."""

from __future__ import annotations

import numpy as np
import pytest

from trackersim.job.pump import Pump
from trackersim.water.pump import (
    pump_curve,
    pump_head_m,
    pump_power_w,
    pump_torque_share,
    runout_flow_m3_s,
    shut_off_power_w,
)

SHEET = Pump(
    curve_flow_m3_s=(0, 0.0005, 0.001, 0.0015, 0.002),
    curve_head_m=(60, 58, 52, 42, 28),
    curve_power_w=(500, 700, 880, 1000, 1050),
)
BEST = Pump(rated_flow_m3_s=0.0014, rated_head_m=27, rated_efficiency=0.45, motor_efficiency=0.8)


def with_efficiency(efficiency: tuple[float, ...], head_m: tuple[float, ...] = (60, 58, 52, 42, 28)) -> Pump:
    flow = (0, 0.0005, 0.001, 0.0015, 0.002)
    return Pump(curve_flow_m3_s=flow, curve_head_m=head_m, curve_efficiency=efficiency, motor_efficiency=0.8)


def test_sheet_points_lie_on_the_curve() -> None:
    curve = pump_curve(SHEET)
    np.testing.assert_allclose(pump_head_m(curve, SHEET.curve_flow_m3_s), SHEET.curve_head_m)
    np.testing.assert_allclose(pump_power_w(curve, SHEET.curve_flow_m3_s), SHEET.curve_power_w)
    assert not curve.assumed


def test_head_falls_throughout_and_never_below_zero() -> None:
    curve = pump_curve(SHEET)
    head = pump_head_m(curve, np.linspace(0, 0.006, 3000))
    assert np.all(np.diff(head) <= 1e-12)
    assert head[0] == 60
    assert head[-1] == 0


def test_head_falls_along_its_last_slope_to_runout() -> None:
    curve = pump_curve(SHEET)
    runout = runout_flow_m3_s(curve)
    # The last stretch loses 14 m in 0.0005; the curve bends down, so its end slope is steeper than that.
    assert 0.002 < runout < 0.00299
    assert pump_head_m(curve, runout) == pytest.approx(0, abs=1e-9)
    assert pump_head_m(curve, (0.002 + runout) / 2) == pytest.approx(14)


def test_runout_of_a_curve_that_ends_flatter_follows_the_last_stretch() -> None:
    bends_up = Pump(curve_flow_m3_s=(0, 0.001, 0.002), curve_head_m=(60, 20, 10), curve_power_w=(500, 600, 700))
    assert runout_flow_m3_s(pump_curve(bends_up)) == pytest.approx(0.003)


def test_power_stays_at_its_last_value_beyond_the_sheet() -> None:
    assert pump_power_w(pump_curve(SHEET), 0.005) == pytest.approx(1050)


def test_input_from_efficiency() -> None:
    curve = pump_curve(with_efficiency((0, 0.30, 0.45, 0.50, 0.44)))
    best_w, shaft_w = 9806.65 * 0.0015 * 42 / 0.50, 9806.65 * 0.001 * 52 / 0.45
    assert curve.power_w[3] == pytest.approx(best_w / 0.8)
    # By hand: a quarter of the best point's power at the shaft is lost there, 40 % of that whatever the torque.
    assert curve.power_w[2] == pytest.approx(shaft_w + best_w / 4 * (0.4 + 0.6 * (shaft_w / best_w) ** 2))


def test_shut_off_input_is_the_straight_line_through_the_next_two() -> None:
    assert shut_off_power_w([1.0, 2.0], [700.0, 800.0]) == pytest.approx(600)


def test_shut_off_input_is_kept_between_bounds() -> None:
    assert shut_off_power_w([1.0, 2.0], [400.0, 1000.0]) == pytest.approx(300)
    assert shut_off_power_w([1.0, 2.0], [900.0, 300.0]) == pytest.approx(1350)
    assert shut_off_power_w([1.0, 2.0, 9.0], [100.0, 200.0, 5000.0]) == pytest.approx(100)


def test_an_efficiency_at_zero_head_is_not_believed() -> None:
    curve = pump_curve(with_efficiency((0, 0.30, 0.45, 0.50, 0.44), head_m=(60, 58, 52, 42, 0)))
    assert curve.power_w[-1] == curve.power_w[-2] > 0


def test_best_point_alone() -> None:
    curve = pump_curve(BEST)
    assert curve.assumed
    assert curve.head_m[0] == pytest.approx(36)
    assert pump_head_m(curve, 0.0014) == pytest.approx(27)
    assert runout_flow_m3_s(curve) == pytest.approx(0.0028)
    assert pump_power_w(curve, 0.0014) == pytest.approx(9806.65 * 0.0014 * 27 / 0.36)


def test_best_point_efficiency_is_a_parabola() -> None:
    curve = pump_curve(BEST)
    flow = np.array([0.0007, 0.0014, 0.0021])
    shaft_w = pump_torque_share(curve, flow) * curve.motor.shaft_w
    efficiency = 9806.65 * flow * pump_head_m(curve, flow) / shaft_w
    np.testing.assert_allclose(efficiency, 0.45 * np.array([0.75, 1, 0.75]), rtol=1e-6)


def test_affinity_laws() -> None:
    curve = pump_curve(SHEET)
    speed, flow = np.array([0.3, 0.7, 1.2]), 0.0011
    np.testing.assert_allclose(pump_head_m(curve, flow * speed, speed=speed), speed**2 * pump_head_m(curve, flow))
    torque = pump_torque_share(curve, flow * speed, speed=speed)
    np.testing.assert_allclose(torque, speed**2 * pump_torque_share(curve, flow))
    lossless = pump_curve(SHEET.model_copy(update={"motor_efficiency": 1.0}))
    power = pump_power_w(lossless, flow * speed, speed=speed)
    np.testing.assert_allclose(power, speed**3 * pump_power_w(lossless, flow))


def test_standstill_gives_neither_head_nor_draws_power() -> None:
    curve = pump_curve(SHEET)
    assert pump_head_m(curve, [0.0, 0.001], speed=0.0).tolist() == [0, 0]
    assert pump_power_w(curve, [0.0, 0.001], speed=0.0).tolist() == [0, 0]


def test_hump_is_found_and_kept() -> None:
    humped = Pump(
        curve_flow_m3_s=(0, 0.001, 0.002, 0.003), curve_head_m=(50, 54, 45, 25), curve_power_w=(900, 1300, 1700, 1900)
    )
    curve = pump_curve(humped)
    assert pump_head_m(curve, np.linspace(0, 0.004, 500)).max() <= 54


def test_the_curve_cannot_be_written_to() -> None:
    with pytest.raises(ValueError, match="read-only"):
        pump_curve(SHEET).head_m[0] = 1


# ---- the motor --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("motor_efficiency", [0.55, 0.8, 1.0])
@pytest.mark.parametrize("no_load_share", [0.0, 0.4, 1.0])
def test_the_sheet_comes_back_at_rated_speed_whatever_the_motor(motor_efficiency: float, no_load_share: float) -> None:
    curve = pump_curve(SHEET.model_copy(update={"motor_efficiency": motor_efficiency, "no_load_share": no_load_share}))
    np.testing.assert_allclose(pump_power_w(curve, SHEET.curve_flow_m3_s), SHEET.curve_power_w, rtol=1e-9)
    np.testing.assert_allclose(curve.power_w, SHEET.curve_power_w, rtol=1e-9)
    # The best point (1.5 L/s: 618 W of 1000 W) is the motor's rated point.
    assert curve.shaft_w[3] == pytest.approx(1000 * motor_efficiency)


def test_half_speed_by_hand() -> None:
    # At the best point the motor loses 200 W of 1000 W: 80 W with speed, 120 W with torque squared.
    half = pump_power_w(pump_curve(SHEET), 0.00075, speed=0.5)
    assert half == pytest.approx(800 / 8 + 80 / 2 + 120 / 16)


def test_efficiency_falls_with_speed_and_input_rises() -> None:
    curve, speed = pump_curve(SHEET), np.linspace(0.1, 1.0, 100)
    for flow in (0.0004, 0.001, 0.0015, 0.002):
        power = pump_power_w(curve, flow * speed, speed=speed)
        efficiency = 9806.65 * flow * speed * pump_head_m(curve, flow * speed, speed=speed) / power
        assert np.all(np.diff(power) > 0)
        assert np.all(np.diff(efficiency) > 0)


def test_an_input_that_the_motor_alone_would_take_is_refused() -> None:
    sheet = {"curve_flow_m3_s": (0, 0.0005, 0.001), "curve_head_m": (60, 50, 30), "curve_power_w": (70, 500, 600)}
    Pump(**sheet)
    with pytest.raises(ValueError, match="motor alone loses"):
        Pump(**sheet, motor_efficiency=0.6)
