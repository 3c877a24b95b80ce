"""Several pumps on one main: against direct roots, one unit alone, limits, symmetry and conservation."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import replace

import numpy as np
import pytest
from fixed_speed import at_speeds, branch_of, fixed_speed_flows, well
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from trackersim.errors import InputError
from trackersim.job.pipework import Pipe
from trackersim.job.pump import Pump
from trackersim.job.water import Main
from trackersim.water.branch import PumpBranch, pump_needs_m
from trackersim.water.helical import HelicalPump, helical_flow_m3_s, helical_power_w
from trackersim.water.junction import JunctionFlows, junction_flows
from trackersim.water.motor import rated_motor
from trackersim.water.operating import OperatingTable, flow_at_power, operating_table
from trackersim.water.pipes import pipe_head_m
from trackersim.water.pump import hydraulic_power_w, pump_curve, pump_head_m, pump_power_w, runout_flow_m3_s
from trackersim.water.unit_table import UnitTable, unit_flow_m3_s, unit_table

# All pumps, pipes and levels here are invented.
SHEET = pump_curve(
    Pump(
        curve_flow_m3_s=(0, 0.0005, 0.001, 0.0015, 0.002),
        curve_head_m=(60, 58, 52, 42, 28),
        curve_power_w=(500, 700, 880, 1000, 1050),
    )
)
HUMPED = pump_curve(
    Pump(
        curve_flow_m3_s=(0, 0.0005, 0.001, 0.0015, 0.002),
        curve_head_m=(50, 54, 52, 42, 28),
        curve_power_w=(500, 700, 880, 1000, 1050),
    )
)
SMALL = pump_curve(Pump(rated_flow_m3_s=0.0009, rated_head_m=30, rated_efficiency=0.5))
BIG = pump_curve(Pump(rated_flow_m3_s=0.002, rated_head_m=36, rated_efficiency=0.55))
HELICAL = HelicalPump(
    displacement_m3_rev=4e-5,
    rated_rpm=1500,
    slip_m3_s_per_m=1e-6,
    friction_nm=0.5,
    motor=rated_motor(shaft_w=600.0, efficiency=0.75, no_load_share=0.4),
    max_head_m=120.0,
)
BRANCH = (Pipe(length_m=60, bore_m=0.04, fittings=5),)
MAIN = Main(lift_m=12, pipes=(Pipe(length_m=150, bore_m=0.06, c_value=130, fittings=4),))
BARE = Main(lift_m=12)
UNITS = (
    branch_of(SHEET, 8, BRANCH),
    branch_of(SMALL, 5, BRANCH, source=well(3e-4)),
    branch_of(HELICAL, 30, (Pipe(length_m=60, bore_m=0.03, fittings=5),)),
    branch_of(BIG, 14, BRANCH),
)
TABLES = tuple(unit_table(unit, lowest_head_m=12) for unit in UNITS)


def agreed(units: Sequence[PumpBranch], main: Main, power_w: np.ndarray) -> JunctionFlows:
    return junction_flows([unit_table(unit, lowest_head_m=main.lift_m) for unit in units], main, power_w)


def powers(count: int, seed: int, units: int = 4) -> np.ndarray:
    """What a changing sky offers, nothing and too much included."""
    rng = np.random.default_rng(seed)
    return rng.uniform(0, 1, (1, count)) * np.array([[1400.0], [1000.0], [1000.0], [2600.0]])[:units]


# ---- against direct roots ---------------------------------------------------------------------------------------


def flow_at_speed(unit: PumpBranch, speed: float, junction_m: float) -> float:
    pump = unit.model

    def surplus(flow: float) -> float:
        needs = float(pump_needs_m(unit, flow, junction_head_m=junction_m))
        if isinstance(pump, HelicalPump):
            return pump.rated_flow_m3_s * speed - pump.slip_m3_s_per_m * needs - flow
        return float(pump_head_m(pump, flow, speed=speed)) - needs

    if surplus(0.0) <= 0:
        return 0.0
    most = pump.rated_flow_m3_s if isinstance(pump, HelicalPump) else runout_flow_m3_s(pump)
    return float(brentq(surplus, 0, 1.01 * speed * most, xtol=1e-15))


def flow_of_power(unit: PumpBranch, power_w: float, junction_m: float) -> float:
    def spare(speed: float) -> float:
        flow = flow_at_speed(unit, speed, junction_m)
        if isinstance(unit.model, HelicalPump):
            # Without water the head is what is needed or less: the table of idle speeds does not matter here.
            needs = pump_needs_m(unit, flow, junction_head_m=junction_m)
            return power_w - float(helical_power_w(unit.model, speed=speed, head_m=needs))
        return power_w - float(pump_power_w(unit.model, flow, speed=speed))

    if power_w <= 0 or spare(0.0) < 0:  # too little to turn a helical pump at all
        return 0.0
    most = unit.pump.max_speed
    speed = most if spare(most) >= 0 else brentq(spare, 0, most, xtol=1e-14)
    return flow_at_speed(unit, speed, junction_m)


def direct_flows(units: Sequence[PumpBranch], main: Main, power_w: Sequence[float]) -> list[float]:
    def flows(rise: float) -> list[float]:
        return [flow_of_power(unit, w, main.lift_m + rise) for unit, w in zip(units, power_w, strict=True)]

    def gap(rise: float) -> float:
        return float(pipe_head_m(sum(flows(rise)), main.pipes)) - rise

    most = gap(0.0)
    return flows(brentq(gap, 0, most, xtol=1e-13) if most > 0 else 0.0)


def test_flows_equal_direct_roots() -> None:
    offered = powers(25, seed=1)
    result = junction_flows(TABLES, MAIN, offered)
    expected = np.array([direct_flows(UNITS, MAIN, case) for case in offered.T.tolist()]).T
    assert np.sum(expected > 0, axis=1).min() >= 8
    assert np.any(expected == 0)
    # 1e-4 of the flow, and of a hundredth of the largest flow where there is hardly any.
    np.testing.assert_allclose(result.flow_m3_s, expected, rtol=1e-4, atol=1e-6 * expected.max())


def test_at_the_speeds_found_the_exact_solver_finds_the_same() -> None:
    offered = powers(40, seed=2)
    result = junction_flows(TABLES, MAIN, offered)
    exact = fixed_speed_flows(UNITS, MAIN, result.speed)
    np.testing.assert_allclose(result.flow_m3_s, exact.flow_m3_s, atol=2e-8)
    np.testing.assert_allclose(result.junction_head_m, exact.junction_head_m, rtol=1e-6)
    np.testing.assert_allclose(result.head_m, exact.head_m, rtol=1e-4)
    np.testing.assert_allclose(result.power_used_w, exact.power_used_w, rtol=1e-4)


# ---- one unit is what `water/system.py` gives -------------------------------------------------------------------


def system_of(unit: PumpBranch, main: Main) -> OperatingTable:
    whole = replace(unit, static_head_m=unit.static_head_m + main.lift_m, pipes=(*unit.pipes, *main.pipes))
    return operating_table(whole)


ALONE = {
    "sheet": UNITS[0],
    "well": UNITS[1],
    "helical": UNITS[2],
    "best point, fast": at_speeds(UNITS[3], max_speed=1.2),
    "no branch": branch_of(SHEET, 0),
    "least speed": at_speeds(UNITS[0], min_speed=0.75),
    "least speed, turning without water": at_speeds(UNITS[0], min_speed=0.3),
    "yield": replace(UNITS[0], source=well(2e-4, 8e-4)),
    "yield, held at least speed": at_speeds(replace(UNITS[0], source=well(2e-4, 3e-4)), min_speed=0.85),
    "helical, least speed and yield": at_speeds(replace(UNITS[2], source=well(2e-4, 5e-4)), min_speed=0.25),
    "helical, largest head": replace(UNITS[2], model=replace(HELICAL, max_head_m=45.0)),
    "cannot lift": branch_of(SHEET, 60),
    "helical, cannot lift": replace(UNITS[2], model=replace(HELICAL, max_head_m=40.0)),
    "helical, cannot lift for slip": replace(UNITS[2], model=replace(HELICAL, slip_m3_s_per_m=3e-5)),
    "humped": branch_of(HUMPED, 36, BRANCH),
    "humped, yield within its jump": branch_of(HUMPED, 36, BRANCH, source=well(2e-4, 3e-4)),
}


@pytest.mark.parametrize("name", ALONE)
def test_one_unit_equals_the_operating_table(name: str) -> None:
    # A humped curve must start against the friction of the main here, but against standing water there.
    main = BARE if name.startswith("humped") else MAIN
    unit, offered = ALONE[name], np.linspace(0, 2500, 3001)
    table = system_of(unit, main)
    expected = flow_at_power(table, offered)
    result = agreed([unit], main, offered[None])
    # Right at a threshold a jump of flow may come one step sooner or later; the tables of `system` are no finer.
    calm = np.ones(offered.shape, dtype=bool)
    for jump in (table.power_w[0], table.power_w[np.argmax(table.flow_m3_s > 0)]):
        calm &= np.abs(offered - jump) > 1.5
    assert calm.mean() > 0.98
    flow_atol = 1e-3 * max(float(expected.flow_m3_s.max()), 1e-5)
    np.testing.assert_allclose(result.flow_m3_s[0][calm], expected.flow_m3_s[calm], atol=flow_atol)
    if name == "humped, yield within its jump":  # no speed holds anywhere below its yield
        return
    if name == "humped":  # in its jump no speed holds: only the flow is spread in the same way
        calm &= offered > table.power_w[table.flow_m3_s > 0][1]
        assert calm.mean() > 0.5
    speed = np.where(offered >= table.power_w[0], np.interp(offered, table.power_w, table.speed), 0.0)
    np.testing.assert_allclose(result.speed[0][calm], speed[calm], atol=1e-3)
    np.testing.assert_allclose(result.head_m[0][calm], expected.head_m[calm], atol=0.05)
    np.testing.assert_allclose(result.power_used_w[0][calm], expected.power_used_w[calm], atol=1.5)


@pytest.mark.parametrize("name", ALONE)
def test_more_power_never_less_water(name: str) -> None:
    flow = agreed([ALONE[name]], MAIN, np.linspace(-50, 3000, 4000)[None]).flow_m3_s[0]
    assert flow[0] == 0
    assert np.all(np.diff(flow) >= -1e-9)
    assert (flow[-1] > 1e-4) == ("cannot lift" not in name)


@pytest.mark.parametrize("name", ALONE)
def test_one_unit_with_power_to_spare_equals_the_exact_solver(name: str) -> None:
    unit = ALONE[name]
    table = agreed([unit], MAIN, np.array([[1e4]]))
    exact = fixed_speed_flows([unit], MAIN, [[unit.pump.max_speed]])
    assert table.flow_m3_s == pytest.approx(exact.flow_m3_s, rel=1e-4, abs=1e-9)
    if name == "helical, largest head":
        assert table.head_m == pytest.approx(45, rel=1e-4)


# ---- limits -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("unit", [UNITS[0], UNITS[2]])
def test_two_alike_on_a_main_without_loss_give_twice_one(unit: PumpBranch) -> None:
    offered = np.linspace(0, 1500, 200)
    one = agreed([unit], BARE, offered[None])
    two = agreed([unit, unit], BARE, np.stack([offered, offered]))
    np.testing.assert_array_equal(two.flow_m3_s, np.repeat(one.flow_m3_s, 2, axis=0))
    assert np.all(two.junction_head_m == 12)
    assert one.flow_m3_s.max() > 5e-4


def test_two_alike_on_a_main_with_loss_give_less_than_twice_one() -> None:
    one = agreed([UNITS[0]], MAIN, np.array([[1000.0]])).flow_m3_s[0, 0]
    two = agreed([UNITS[0]] * 2, MAIN, np.array([[1000.0], [1000.0]])).flow_m3_s
    assert two[0, 0] == two[1, 0]
    assert one < two.sum() < 1.99 * one


@pytest.mark.parametrize("solve", ["powers", "speeds"])
def test_a_pump_below_the_head_of_the_junction_does_not_disturb(solve: str) -> None:
    # Its shut-off of 40 m reaches the outlet at 12 m but not the 12 m + friction that the big one makes.
    thin = Main(lift_m=12, pipes=(Pipe(length_m=400, bore_m=0.04),))
    weak = branch_of(SMALL, 20)
    strong = replace(UNITS[3], static_head_m=0)
    if solve == "powers":
        alone, weak_alone = (agreed([unit], thin, np.array([[9e3]])) for unit in (strong, weak))
        both = agreed([strong, weak], thin, np.array([[9e3], [9e3]]))
    else:
        alone, weak_alone = (fixed_speed_flows([unit], thin, [[1.0]]) for unit in (strong, weak))
        both = fixed_speed_flows([strong, weak], thin, [[1.0], [1.0]])
    assert weak_alone.flow_m3_s > 1e-4
    assert both.junction_head_m[0] > 20
    assert both.flow_m3_s[1, 0] == 0
    assert both.flow_m3_s[0, 0] == pytest.approx(alone.flow_m3_s[0, 0], rel=1e-7)
    # It turns on, at its shut-off head.
    assert both.speed[1, 0] == pytest.approx(1)
    assert both.head_m[1, 0] == pytest.approx(40)


def test_a_helical_pump_without_branch_gives_nothing_from_its_largest_head_on() -> None:
    unit = branch_of(replace(HELICAL, max_head_m=45.0), 30)
    flow = unit_flow_m3_s(
        unit_table(unit, lowest_head_m=0), power_w=np.full(3, 2e3), junction_head_m=np.array([14.9, 15.0, 20.0])
    )
    assert flow[0] == pytest.approx(0.001 - 1e-6 * 44.9, rel=1e-4)
    assert flow[1:].tolist() == [0, 0]
    assert fixed_speed_flows([unit], Main(lift_m=15), [[1.0]]).flow_m3_s == 0


def test_the_well_holds_the_flow_at_any_speed() -> None:
    unit = replace(UNITS[0], source=well(1.0, 3e-4))
    result = fixed_speed_flows([unit, UNITS[1]], MAIN, [[1.0, 0.6], [1.0, 1.0]])
    assert result.flow_m3_s[0, 0] == pytest.approx(3e-4)
    assert result.flow_m3_s[0, 1] < 3e-4


def test_without_power_nothing_flows_and_nothing_is_odd() -> None:
    result = junction_flows(TABLES, MAIN, np.array([[0.0, -5.0], [0.0, 0.0], [0.0, 0.0], [0.0, 1.0]]))
    assert np.all(result.flow_m3_s == 0)
    assert np.all(result.junction_head_m == 12)
    assert np.all(result.speed[:3] == 0)
    assert pump_power_w(BIG, 0.0, speed=result.speed[3, 1]) == pytest.approx(1)
    assert result.head_m[3, 1] == pytest.approx(48 * result.speed[3, 1] ** 2)
    empty = junction_flows(TABLES, MAIN, np.empty((4, 0)))
    assert empty.flow_m3_s.shape == (4, 0)
    assert empty.junction_head_m.shape == (0,)


def test_a_level_main_without_any_head_to_lift() -> None:
    flat = Main(lift_m=0, pipes=MAIN.pipes)
    units = [branch_of(SHEET, 0), branch_of(HELICAL, 0)]
    result = agreed(units, flat, np.array([[0.0, 1e-3, 1.0, 500.0, 5e3]] * 2))
    for values in result:
        assert np.isfinite(values).all()
    assert np.all(result.flow_m3_s[:, 0] == 0)
    assert np.all(np.diff(result.flow_m3_s.sum(axis=0)) > 0)


def test_eight_units() -> None:
    offered = np.concatenate([powers(50, seed=3), powers(50, seed=4)])
    result = junction_flows(TABLES * 2, MAIN, offered)
    exact = fixed_speed_flows(UNITS * 2, MAIN, result.speed)
    np.testing.assert_allclose(result.flow_m3_s, exact.flow_m3_s, atol=2e-8)
    assert (result.flow_m3_s > 0).sum(axis=0).max() >= 6


# ---- least speeds -----------------------------------------------------------------------------------------------


def test_a_unit_below_its_least_speed_leaves_the_main_to_the_others() -> None:
    slow = at_speeds(UNITS[0], min_speed=0.9)
    offered = np.array([[400.0, 950.0], [800.0, 800.0]])
    both = agreed([slow, UNITS[1]], MAIN, offered)
    alone = agreed([UNITS[1]], MAIN, offered[1:])
    for values in (both.flow_m3_s, both.head_m, both.speed, both.power_used_w):
        assert values[0, 0] == 0
    assert both.flow_m3_s[1, 0] == pytest.approx(alone.flow_m3_s[0, 0], rel=1e-9)
    assert both.speed[0, 1] > 0.9
    assert both.flow_m3_s[1, 1] < alone.flow_m3_s[0, 1]
    free = agreed(UNITS[:2], MAIN, offered)
    assert free.flow_m3_s[0, 0] > 0
    np.testing.assert_allclose(both.flow_m3_s[:, 1], free.flow_m3_s[:, 1], rtol=1e-9)


def test_only_the_weakest_of_two_helical_pumps_stops_if_that_is_enough() -> None:
    # At the head of both neither reaches its least speed on 150 W; alone on the main one of them does.
    thin = Main(lift_m=5, pipes=(Pipe(length_m=900, bore_m=0.024),))
    unit = branch_of(HELICAL, 5)
    free = agreed([unit, unit], thin, np.array([[150.0], [151.0]]))
    least = 1.02 * float(free.speed.max())
    kept = agreed([at_speeds(unit, min_speed=least)] * 2, thin, np.array([[150.0], [151.0]]))
    assert kept.flow_m3_s[0, 0] == 0
    assert kept.flow_m3_s[1, 0] > free.flow_m3_s[1, 0]
    tied = agreed([at_speeds(unit, min_speed=least)] * 2, thin, np.array([[150.0], [150.0]]))
    assert np.all(tied.flow_m3_s == 0)


# ---- symmetry and conservation ----------------------------------------------------------------------------------


@pytest.mark.parametrize("order", [(3, 1, 0, 2), (2, 3, 1, 0)])
def test_another_order_of_units_gives_the_same(order: tuple[int, ...]) -> None:
    offered = powers(100, seed=5)
    result = junction_flows(TABLES, MAIN, offered)
    other = junction_flows([TABLES[k] for k in order], MAIN, offered[list(order)])
    np.testing.assert_allclose(other.flow_m3_s, result.flow_m3_s[list(order)], atol=1e-9)
    np.testing.assert_allclose(other.junction_head_m, result.junction_head_m, rtol=1e-6)


def test_the_main_carries_the_sum_and_every_pump_is_on_its_curve() -> None:
    offered = powers(300, seed=6)
    result = junction_flows(TABLES, MAIN, offered)
    friction = pipe_head_m(result.flow_m3_s.sum(axis=0), MAIN.pipes)
    np.testing.assert_allclose(result.junction_head_m - 12, friction, rtol=1e-5, atol=1e-9)
    assert friction.max() > 5
    for row, unit in enumerate(UNITS):
        flow, speed, head = result.flow_m3_s[row], result.speed[row], result.head_m[row]
        runs = flow > 0
        needs = pump_needs_m(unit, flow, junction_head_m=result.junction_head_m)
        np.testing.assert_allclose(head[runs], needs[runs])
        if isinstance(unit.model, HelicalPump):
            np.testing.assert_allclose(helical_flow_m3_s(unit.model, speed=speed, head_m=head), flow, rtol=1e-5)
        else:
            np.testing.assert_allclose(pump_head_m(unit.model, flow, speed=speed), head, rtol=1e-5)


def test_water_never_gains_more_than_the_motor_takes_and_that_never_more_than_is_offered() -> None:
    offered = powers(2000, seed=7)
    result = junction_flows(TABLES, MAIN, offered)
    assert np.all(hydraulic_power_w(result.flow_m3_s, result.head_m) <= result.power_used_w)
    assert np.all(result.power_used_w <= offered)
    assert np.all(result.speed <= 1)
    part = (result.speed < 1 - 1e-6) & (result.speed > 0)
    np.testing.assert_allclose(result.power_used_w[part], offered[part], rtol=1e-4)
    # Only a helical pump stands with power offered: too little for the copper loss at its friction.
    stands = result.speed == 0
    assert np.all(offered[[0, 1, 3]][stands[[0, 1, 3]]] == 0)
    assert np.all(offered[2][stands[2]] < helical_power_w(HELICAL, speed=0.0, head_m=0.0))
    assert np.all(result.power_used_w[stands] == 0)


@settings(max_examples=60)
@given(
    which=st.lists(st.integers(0, 3), min_size=1, max_size=4),
    watts=st.lists(st.floats(0, 3000), min_size=4, max_size=4),
    static_m=st.floats(12, 40),
    length_m=st.floats(0, 2000),
    bore_m=st.floats(0.03, 0.15),
    fittings=st.floats(0, 50),
)
def test_doubling_the_friction_of_the_main_never_adds_water(
    which: list[int], watts: list[float], static_m: float, length_m: float, bore_m: float, fittings: float
) -> None:
    part = Pipe(length_m=length_m, bore_m=bore_m, fittings=fittings)
    tables, offered = [TABLES[k] for k in which], np.array(watts[: len(which)])[:, None]
    mains = [Main(lift_m=static_m, pipes=(part,) * k) for k in (1, 2)]
    easy, hard = (junction_flows(tables, main, offered) for main in mains)
    before, after = easy.flow_m3_s.sum(), hard.flow_m3_s.sum()
    assert np.all(hard.flow_m3_s <= easy.flow_m3_s + 1e-8)
    assert after <= before * (1 + 1e-6)
    assert hard.junction_head_m[0] >= easy.junction_head_m[0] * (1 - 1e-7)
    if before > 1e-4 and easy.junction_head_m[0] > static_m + 0.5:
        assert after < before


def test_two_segments_are_one_after_another() -> None:
    half = Pipe(length_m=75, bore_m=0.06, c_value=130, fittings=2)
    np.testing.assert_allclose(pipe_head_m([0.001, 0.003], (half, half)), pipe_head_m([0.001, 0.003], MAIN.pipes))


@pytest.mark.parametrize("table", TABLES)
def test_flow_of_a_unit_never_rises_with_head(table: UnitTable) -> None:
    head, watts = np.meshgrid(np.linspace(12, 80, 700), np.linspace(0, 2500, 300))
    flow = unit_flow_m3_s(table, power_w=watts, junction_head_m=head)
    assert np.all(np.diff(flow, axis=1) <= 1e-9)
    assert np.all(np.diff(flow, axis=0) >= -1e-9)
    assert np.all(flow[:, -1] == 0) == (table.unit.model is not HELICAL)


# ---- input ------------------------------------------------------------------------------------------------------


def test_what_is_refused() -> None:
    with pytest.raises(InputError, match="units"):
        junction_flows([], MAIN, np.empty((0, 3)))
    with pytest.raises(InputError, match="units"):
        junction_flows(TABLES[:1] * 9, MAIN, np.ones((9, 3)))
    with pytest.raises(InputError, match="static_head"):
        junction_flows(TABLES, MAIN.model_copy(update={"lift_m": 11.9}), powers(2, seed=0))
    with pytest.raises(InputError, match="static_head"):
        unit_table(UNITS[0], lowest_head_m=-8.1)


def test_a_source_above_the_junction_is_fine_if_the_outlet_is_higher_still() -> None:
    valley = agreed([branch_of(SMALL, -6)], Main(lift_m=18), np.array([[700.0]]))
    plain = agreed([branch_of(SMALL, 6)], Main(lift_m=6), np.array([[700.0]]))
    assert valley.flow_m3_s == pytest.approx(plain.flow_m3_s, rel=1e-9)
    assert valley.head_m[0, 0] == pytest.approx(12)


def test_a_year_of_minutes_does_not_take_seconds(within_seconds: Callable[[int], AbstractContextManager[None]]) -> None:
    # Measured about 0.2 s on two shared cores.
    offered = np.tile(powers(2630, seed=8, units=3), 100)
    with within_seconds(3):
        result = junction_flows(TABLES[:3], MAIN, offered)
    assert result.flow_m3_s.shape == (3, 263_000)
