"""Worn pumps: what is kept, what is lost, and the ends."""

from __future__ import annotations

import numpy as np
import pytest
from fixed_speed import branch_of

from trackersim.errors import InputError
from trackersim.job.pipework import Pipe
from trackersim.job.pump import Pump
from trackersim.water.helical import HelicalPump, helical_flow_m3_s, helical_power_w
from trackersim.water.motor import rated_motor
from trackersim.water.operating import flow_at_power, operating_table
from trackersim.water.pump import pump_curve, pump_head_m, pump_power_w
from trackersim.water.wear import worn, worn_helical

CURVE = pump_curve(
    Pump(
        curve_flow_m3_s=(0, 0.0005, 0.001, 0.0015, 0.002),
        curve_head_m=(60, 58, 52, 42, 28),
        curve_power_w=(500, 700, 880, 1000, 1050),
    )
)
HELICAL = HelicalPump(
    displacement_m3_rev=4e-5,
    rated_rpm=1500,
    slip_m3_s_per_m=1e-6,
    friction_nm=0.5,
    motor=rated_motor(shaft_w=600.0, efficiency=0.75, no_load_share=0.4),
    max_head_m=120.0,
)


def test_every_point_keeps_its_input_and_loses_its_shares() -> None:
    old = worn(CURVE, head_lost=0.1, flow_lost=0.2)
    flow = CURVE.flow_m3_s * 0.8
    np.testing.assert_allclose(pump_head_m(old, flow), 0.9 * CURVE.head_m)
    np.testing.assert_allclose(pump_power_w(old, flow), CURVE.power_w)


def test_no_wear_changes_nothing_and_the_new_curve_is_left_alone() -> None:
    before = CURVE.head_m.copy()
    same = worn(CURVE, head_lost=0.0, flow_lost=0.0)
    worn(CURVE, head_lost=0.5, flow_lost=0.5)
    np.testing.assert_array_equal(same.head_m, before)
    np.testing.assert_array_equal(CURVE.head_m, before)
    with pytest.raises(ValueError, match="read-only"):
        same.head_m[0] = 1


def test_wear_multiplies() -> None:
    twice = worn(worn(CURVE, head_lost=0.1, flow_lost=0.2), head_lost=0.1, flow_lost=0.2)
    once = worn(CURVE, head_lost=0.19, flow_lost=0.36)
    np.testing.assert_allclose(twice.head_m, once.head_m)
    np.testing.assert_allclose(twice.flow_m3_s, once.flow_m3_s)


@pytest.mark.parametrize(("head_lost", "flow_lost"), [(0.15, 0.0), (0.0, 0.15), (0.15, 0.15)])
def test_a_worn_pump_starts_later_and_gives_less(head_lost: float, flow_lost: float) -> None:
    def table(**lost: float) -> np.ndarray:
        pipes = (Pipe(length_m=180, bore_m=0.035, c_value=140, fittings=6),)
        made = operating_table(branch_of(worn(CURVE, **lost), 30, pipes))
        return flow_at_power(made, np.linspace(0, 1500, 600)).flow_m3_s

    new, old = table(head_lost=0.0, flow_lost=0.0), table(head_lost=head_lost, flow_lost=flow_lost)
    assert np.all(old <= new + 1e-9)
    assert old[-1] < 0.97 * new[-1]
    assert np.sum(old > 0) <= np.sum(new > 0)
    if head_lost:
        assert np.sum(old > 0) < np.sum(new > 0)


@pytest.mark.parametrize("lost", [-0.01, 0.91, float("nan")])
def test_impossible_wear_names_every_fault(lost: float) -> None:
    with pytest.raises(InputError) as caught:
        worn(CURVE, head_lost=lost, flow_lost=lost)
    assert [fault.field for fault in caught.value.faults] == ["head_lost", "flow_lost"]
    with pytest.raises(InputError, match="flow_lost"):
        worn_helical(HELICAL, flow_lost=lost, head_m=50)


def test_a_worn_helical_pump_loses_the_share_at_the_head_of_the_measurement() -> None:
    old = worn_helical(HELICAL, flow_lost=0.3, head_m=50)
    head = np.array([0.0, 50.0, 100.0])
    ratio = helical_flow_m3_s(old, speed=1, head_m=head) / helical_flow_m3_s(HELICAL, speed=1, head_m=head)
    assert ratio[:2] == pytest.approx([1.0, 0.7])
    assert ratio[2] < 0.4
    assert helical_power_w(old, speed=1, head_m=50) == helical_power_w(HELICAL, speed=1, head_m=50)


@pytest.mark.parametrize("head_m", [0.0, -3.0, 1000.0, float("nan")])
def test_a_head_at_which_nothing_can_be_measured(head_m: float) -> None:
    with pytest.raises(InputError, match="head"):
        worn_helical(HELICAL, flow_lost=0.1, head_m=head_m)
