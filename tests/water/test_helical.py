"""The helical-rotor pump: its laws by hand, its table against direct roots, and why it starts at less light."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from fixed_speed import branch_of
from scipy.optimize import brentq

from trackersim.errors import InputError
from trackersim.job.pipework import Pipe
from trackersim.job.pump import Pump
from trackersim.job.water import Source
from trackersim.water.helical import (
    HelicalPump,
    helical_flow_m3_s,
    helical_power_w,
    helical_shut_off_head_m,
    helical_speed,
    helical_torque_nm,
    shut_off_head_at_speed_m,
)
from trackersim.water.motor import rated_motor
from trackersim.water.operating import OperatingTable, flow_at_power, operating_table
from trackersim.water.pump import hydraulic_power_w, pump_curve
from trackersim.water.system import system_head_m

# Invented: 1 L/s at 1500 rpm without slip, 5 % of it slips back at 50 m.
PUMP = HelicalPump(
    displacement_m3_rev=4e-5,
    rated_rpm=1500,
    slip_m3_s_per_m=1e-6,
    friction_nm=0.5,
    motor=rated_motor(shaft_w=600.0, efficiency=0.75, no_load_share=0.4),
    max_head_m=120.0,
)
PIPES = (Pipe(length_m=150, bore_m=0.035, c_value=140, fittings=5),)
STEADY = Source(lift_m=50)
WELL = Source(lift_m=50, specific_capacity_m3_s_per_m=1e-4)


def table_of(
    pump: HelicalPump = PUMP, *, lift_m: float = 50.0, source: Source = STEADY, min_speed: float = 0.1
) -> OperatingTable:
    return operating_table(branch_of(pump, lift_m, PIPES, source=source, min_speed=min_speed))


def assert_sane(table: OperatingTable) -> None:
    for values in (table.speed, table.power_w, table.flow_m3_s, table.head_m):
        assert values.shape == table.speed.shape
        assert np.isfinite(values).all()
        assert np.all(values >= 0)
    for values in (table.speed, table.power_w, table.flow_m3_s):
        assert np.all(np.diff(values) >= -1e-12 * values.max())
    assert np.all(hydraulic_power_w(table.flow_m3_s, table.head_m) <= table.power_w)


# ---- the laws ---------------------------------------------------------------------------------------------------


def test_flow_torque_and_power_by_hand() -> None:
    assert helical_flow_m3_s(PUMP, speed=1.0, head_m=50) == pytest.approx(0.00095)
    assert helical_torque_nm(PUMP, 50) == pytest.approx(9806.65 * 50 * 4e-5 / (2 * np.pi) + 0.5)
    # 25 turns a second: 25 · (ρ g H D + 2π · 0.5) at the shaft. The motor loses 200 W at 600 W, 40 % of it with speed.
    shaft_w = 25 * (9806.65 * 50 * 4e-5 + np.pi)
    by_hand_w = shaft_w + 80 + 120 * (shaft_w / 600) ** 2
    assert helical_power_w(PUMP, speed=1.0, head_m=50) == pytest.approx(by_hand_w)


def test_flow_does_not_depend_on_head_but_for_slip() -> None:
    head = np.linspace(0, 120, 25)
    tight = replace(PUMP, slip_m3_s_per_m=0.0)
    np.testing.assert_allclose(helical_flow_m3_s(tight, speed=0.6, head_m=head), 0.6e-3, rtol=1e-14)
    lost = 0.6e-3 - helical_flow_m3_s(PUMP, speed=0.6, head_m=head)
    np.testing.assert_allclose(lost, 1e-6 * head, atol=1e-18)


def test_power_is_proportional_to_speed_but_for_the_copper_that_holds_the_torque() -> None:
    power = helical_power_w(PUMP, speed=[0.0, 0.1, 0.5, 1.0], head_m=50)
    shaft_w = 25 * (9806.65 * 50 * 4e-5 + np.pi)
    assert power[0] == pytest.approx(120 * (shaft_w / 600) ** 2)
    np.testing.assert_allclose((power - power[0]) / (power[-1] - power[0]), [0, 0.1, 0.5, 1.0])


def test_flow_never_negative_and_speed_undoes_flow() -> None:
    assert helical_flow_m3_s(PUMP, speed=[0.0, 0.01], head_m=50).tolist() == [0, 0]
    flow = helical_flow_m3_s(PUMP, speed=0.7, head_m=80)
    assert helical_speed(PUMP, flow_m3_s=flow, head_m=80) == pytest.approx(0.7)


def test_shut_off_by_power_equals_shut_off_by_speed() -> None:
    speed = np.array([0.0, 0.01, 0.05, 0.1])
    head = shut_off_head_at_speed_m(PUMP, speed)
    np.testing.assert_allclose(head, speed * 1000)
    power = helical_power_w(PUMP, speed=speed, head_m=head)
    np.testing.assert_allclose(helical_shut_off_head_m(PUMP, power_w=power), head, atol=1e-9)


@pytest.mark.parametrize("friction_nm", [0.0, 0.5])
def test_without_slip_and_loss_shut_off_is_the_largest_head(friction_nm: float) -> None:
    lossless = rated_motor(shaft_w=600.0, efficiency=1.0, no_load_share=0.4)
    tight = replace(PUMP, slip_m3_s_per_m=0.0, friction_nm=friction_nm, motor=lossless)
    assert helical_shut_off_head_m(tight, power_w=[0.0, 1.0]).tolist() == [0, 120]
    assert shut_off_head_at_speed_m(tight, [0.0, 0.1]).tolist() == [0, 120]


def test_without_slip_copper_holds_the_head() -> None:
    tight = replace(PUMP, slip_m3_s_per_m=0.0)
    still_w = helical_power_w(tight, speed=0.0, head_m=[0.0, 50.0, 110.0])
    np.testing.assert_allclose(helical_shut_off_head_m(tight, power_w=still_w), [0, 50, 110], atol=1e-9)
    assert helical_shut_off_head_m(tight, power_w=0.9 * still_w[0]) == 0


# ---- the table --------------------------------------------------------------------------------------------------


def direct_flow(pump: HelicalPump, speed: float, lift_m: float, source: Source) -> float:
    def missing(flow: float) -> float:
        head = float(system_head_m(flow, static_head_m=lift_m, pipes=PIPES, source=source))
        return pump.rated_flow_m3_s * speed - pump.slip_m3_s_per_m * head - flow

    return float(brentq(missing, 0, 1, xtol=1e-15)) if missing(0.0) > 0 else 0.0


def direct_flow_at_power(pump: HelicalPump, power_w: float, lift_m: float, source: Source) -> float:
    def spare(speed: float) -> float:
        flow = direct_flow(pump, speed, lift_m, source)
        head = float(system_head_m(flow, static_head_m=lift_m, pipes=PIPES, source=source))
        return power_w - float(helical_power_w(pump, speed=speed, head_m=head))

    if spare(0.0) < 0:  # not enough to turn it at all
        return 0.0
    speed = 1.0 if spare(1.0) >= 0 else brentq(spare, 0.0, 1.0, xtol=1e-14)
    return direct_flow(pump, speed, lift_m, source)


@pytest.mark.parametrize("source", [STEADY, WELL])
@pytest.mark.parametrize("lift_m", [0.0, 20.0, 90.0])
def test_flow_at_power_equals_direct_roots(source: Source, lift_m: float) -> None:
    table = table_of(lift_m=lift_m, source=source, min_speed=0.02)
    assert_sane(table)
    assert table.flow_m3_s[-1] > 0
    powers = table.power_w[-1] * np.array([0.2, 0.3, 0.5, 0.77, 0.99, 1.3])
    expected = [direct_flow_at_power(PUMP, power, lift_m, source) for power in powers]
    np.testing.assert_allclose(flow_at_power(table, powers).flow_m3_s, expected, rtol=2e-5)


def test_every_point_lies_on_pump_and_system() -> None:
    table = table_of(source=WELL)
    assert table.speed[[0, -1]] == pytest.approx([0.1, 1.0])
    needed = system_head_m(table.flow_m3_s, static_head_m=50, pipes=PIPES, source=WELL)
    np.testing.assert_allclose(table.head_m, needed)
    flow = helical_flow_m3_s(PUMP, speed=table.speed, head_m=table.head_m)
    np.testing.assert_allclose(flow, table.flow_m3_s, rtol=1e-9)
    np.testing.assert_allclose(table.power_w, helical_power_w(PUMP, speed=table.speed, head_m=table.head_m))


def test_below_slip_speed_it_turns_without_water() -> None:
    table = table_of(min_speed=0.02)
    idle = table.flow_m3_s == 0
    assert np.all(np.diff(table.speed) > 0)
    assert np.all(table.speed[idle] <= 0.05 + 1e-12)
    np.testing.assert_allclose(table.head_m[idle], 1000 * table.speed[idle])
    assert np.all(table.speed[~idle] >= 0.05 - 1e-12)


def test_the_drive_is_off_below_its_least_speed() -> None:
    table = table_of(min_speed=0.3)
    point = flow_at_power(table, [table.power_w[0] * 0.999, table.power_w[0]])
    assert point.flow_m3_s[0] == point.power_used_w[0] == 0
    assert table.speed[0] == pytest.approx(0.3)
    assert point.flow_m3_s[1] == pytest.approx(direct_flow(PUMP, 0.3, 50, STEADY))


def test_it_starts_at_less_power_than_a_centrifugal_pump_of_the_same_duty() -> None:
    duty_w = float(table_of().power_w[-1])
    flow, head = table_of().flow_m3_s[-1], table_of().head_m[-1]
    efficiency = float(hydraulic_power_w(flow, head)) / duty_w
    rival = Pump(rated_flow_m3_s=flow, rated_head_m=head, rated_efficiency=efficiency / 0.75, motor_efficiency=0.75)
    other = operating_table(branch_of(pump_curve(rival), 50, PIPES))
    assert other.flow_m3_s[-1] == pytest.approx(flow, rel=1e-6)
    assert other.power_w[-1] == pytest.approx(duty_w, rel=1e-6)
    powers = np.linspace(0, duty_w, 1000)
    first = [powers[np.argmax(flow_at_power(table, powers).flow_m3_s > 1e-5)] for table in (table_of(), other)]
    assert first[0] < 0.6 * first[1]


def test_more_power_never_less_water() -> None:
    flow = flow_at_power(table_of(), np.linspace(-10, 2000, 5000)).flow_m3_s
    assert np.all(np.diff(flow) >= 0)
    assert flow[0] == 0
    assert flow[-1] > 9e-4


# ---- limits -----------------------------------------------------------------------------------------------------


def test_flow_is_held_where_the_largest_head_is_reached() -> None:
    table = table_of(replace(PUMP, max_head_m=55.0))
    assert_sane(table)
    assert table.head_m[-1] == pytest.approx(55)
    assert 0 < table.flow_m3_s[-1] < table_of().flow_m3_s[-1]
    assert table.speed[-1] < 1


def test_a_lift_above_its_largest_head_gives_nothing() -> None:
    table = table_of(replace(PUMP, max_head_m=40.0))
    assert_sane(table)
    assert table.flow_m3_s.max() == 0
    assert table.head_m.max() <= 40


def test_a_lift_that_slip_eats_up_gives_nothing() -> None:
    table = table_of(replace(PUMP, slip_m3_s_per_m=3e-5))
    assert_sane(table)
    assert table.flow_m3_s[-1] == 0
    assert table.speed[-1] == pytest.approx(1)


@pytest.mark.parametrize("min_speed", [0.05, 0.6])
def test_the_well_sets_the_limit(min_speed: float) -> None:
    poor = Source(lift_m=50, specific_capacity_m3_s_per_m=1e-4, max_drawdown_m=4)
    table = table_of(source=poor, min_speed=min_speed)
    assert_sane(table)
    assert table.flow_m3_s[-1] == pytest.approx(4e-4)
    assert table.speed[-1] == pytest.approx(max(min_speed, 0.4 + 0.055), abs=0.005)
    assert flow_at_power(table, 5000.0).flow_m3_s == pytest.approx(4e-4)


def test_no_slip_and_standstill() -> None:
    table = table_of(replace(PUMP, slip_m3_s_per_m=0.0), min_speed=0.0)
    assert_sane(table)
    assert table.flow_m3_s[0] == 0
    assert table.flow_m3_s[-1] == pytest.approx(0.001)


@pytest.mark.parametrize("lift_m", [-1.0, float("nan"), float("inf")])
def test_impossible_lift(lift_m: float) -> None:
    with pytest.raises(InputError, match="0 m or more"):
        table_of(lift_m=lift_m)
