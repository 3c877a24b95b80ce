"""Worn pumps and motors at part load: what is kept, what is lost, and the ends."""

from __future__ import annotations

import numpy as np
import pytest

from trackersim.errors import InputError
from trackersim.job.pipework import Pipe
from trackersim.job.pump import Pump
from trackersim.job.water import Source
from trackersim.water.helical import HelicalPump, helical_flow_m3_s, helical_power_w
from trackersim.water.operating import flow_at_power, operating_table
from trackersim.water.pump import pump_curve, pump_head_m, pump_power_w
from trackersim.water.wear import motor_input_w, worn, worn_helical

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
    start_torque_nm=6.0,
    motor_efficiency=0.75,
    max_head_m=120.0,
)
SHEET = {"load_share": (0.25, 0.5, 0.75, 1.0), "efficiency": (0.60, 0.75, 0.80, 0.81)}


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
        made = operating_table(worn(CURVE, **lost), static_head_m=30, pipes=pipes, source=Source(lift_m=30))
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


def test_motor_input_at_the_points_of_the_sheet() -> None:
    load, part = np.array(SHEET["load_share"]), np.array(SHEET["efficiency"])
    np.testing.assert_allclose(motor_input_w(800 * load, rated_shaft_w=800, **SHEET), 800 * load / part)


def test_motor_losses_at_part_load_and_beyond() -> None:
    # Losses of 1/6 at a quarter and at half load: none can be less below, so 1/6 at no load too.
    taken = motor_input_w([1e-9, 100.0, 2000.0], rated_shaft_w=1000, load_share=(0.25, 0.5), efficiency=(0.6, 0.75))
    assert taken == pytest.approx([1000 / 6, 100 + 1000 / 6, 2000 + 1000 / 6 * 4**2])


def test_motor_line_below_the_first_point() -> None:
    # Losses 0.1 at 0.5 and 0.2 at 1: the line meets 0 at no load.
    taken = motor_input_w(100.0, rated_shaft_w=1000, load_share=(0.5, 1.0), efficiency=(0.5 / 0.6, 1 / 1.2))
    assert taken == pytest.approx(120)


@pytest.mark.parametrize(("losses", "at_rest"), [((0.02, 0.2), 0.0), ((0.2, 0.1), 0.2)])
def test_motor_losses_at_rest_are_bounded(losses: tuple[float, float], at_rest: float) -> None:
    part = tuple(load / (load + loss) for load, loss in zip((0.5, 1.0), losses, strict=True))
    taken = motor_input_w(250.0, rated_shaft_w=1000, load_share=(0.5, 1.0), efficiency=part)
    assert taken == pytest.approx(250 + 1000 * (at_rest + losses[0]) / 2)


def test_a_standing_motor_takes_nothing_and_more_load_takes_more() -> None:
    shaft = np.linspace(-10, 2000, 3000)
    taken = motor_input_w(shaft, rated_shaft_w=800, **SHEET)
    assert np.all(taken[shaft <= 0] == 0)
    assert np.all(np.diff(taken) >= 0)
    assert np.all(taken >= np.maximum(shaft, 0))


@pytest.mark.parametrize(
    ("load_share", "efficiency"),
    [
        ((0.5,), (0.8,)),
        ((0.5, 1.0), (0.8,)),
        ((0.0, 1.0), (0.5, 0.8)),
        ((1.0, 0.5), (0.8, 0.7)),
        ((0.5, 1.0), (0.0, 0.8)),
        ((0.5, 1.0), (0.8, 1.1)),
        ((0.5, 1.0), (0.8, float("nan"))),
        ((0.5, 0.6), (0.4, 0.8)),
    ],
)
def test_tables_that_are_none(load_share: tuple[float, ...], efficiency: tuple[float, ...]) -> None:
    with pytest.raises(InputError, match="motor_efficiency"):
        motor_input_w(100.0, rated_shaft_w=1000, load_share=load_share, efficiency=efficiency)
