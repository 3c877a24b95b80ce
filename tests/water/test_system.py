"""The table of running points: against direct root finding, and in every regime."""

from __future__ import annotations

import numpy as np
import pytest
from fixed_speed import branch_of
from scipy.optimize import brentq

from trackersim.errors import InputError
from trackersim.job.pipework import Pipe
from trackersim.job.pump import Pump
from trackersim.job.water import Source
from trackersim.water.operating import OperatingTable, flow_at_power, operating_table
from trackersim.water.pump import PumpCurve, pump_curve, pump_head_m, pump_power_w, runout_flow_m3_s
from trackersim.water.system import system_head_m

SHEET = Pump(
    curve_flow_m3_s=(0, 0.0005, 0.001, 0.0015, 0.002),
    curve_head_m=(60, 58, 52, 42, 28),
    curve_power_w=(500, 700, 880, 1000, 1050),
)
HUMPED = Pump(
    curve_flow_m3_s=(0, 0.0005, 0.001, 0.0015, 0.002),
    curve_head_m=(50, 54, 52, 42, 28),
    curve_power_w=(500, 700, 880, 1000, 1050),
)
PIPES = (Pipe(length_m=180, bore_m=0.035, c_value=140, fittings=6),)
STEADY = Source(lift_m=20)
WELL = Source(lift_m=20, specific_capacity_m3_s_per_m=1e-4)
POWERS = np.linspace(0, 1500, 4001)


def table_of(
    pump: Pump = SHEET,
    *,
    lift_m: float = 20.0,
    pipes: tuple[Pipe, ...] = PIPES,
    source: Source = STEADY,
    **limits: float,
) -> OperatingTable:
    return operating_table(branch_of(pump_curve(pump), lift_m, pipes, source=source, **limits))


def assert_sane(table: OperatingTable) -> None:
    for values in (table.speed, table.power_w, table.flow_m3_s, table.head_m):
        assert values.shape == table.speed.shape
        assert np.isfinite(values).all()
        assert np.all(values >= 0)
    assert np.all(np.diff(table.power_w) >= 0)
    assert np.all(np.diff(table.flow_m3_s) >= 0)
    assert np.all(np.diff(table.speed) >= 0)


# ---- against a direct root solve --------------------------------------------------------------------------------


def direct_flow(curve: PumpCurve, speed: float, lift_m: float, pipes: tuple[Pipe, ...], source: Source) -> float:
    def surplus(flow: float) -> float:
        needed = system_head_m(flow, static_head_m=lift_m, pipes=pipes, source=source)
        return float(pump_head_m(curve, flow, speed=speed) - needed)

    if surplus(0.0) <= 0:
        return 0.0
    return float(brentq(surplus, 0.0, speed * runout_flow_m3_s(curve) * 1.001, xtol=1e-14))


def direct_flow_at_power(
    curve: PumpCurve, power_w: float, lift_m: float, pipes: tuple[Pipe, ...], source: Source
) -> float:
    def spare(speed: float) -> float:
        flow = direct_flow(curve, speed, lift_m, pipes, source)
        return power_w - float(pump_power_w(curve, flow, speed=speed))

    if spare(1.0) >= 0:
        return direct_flow(curve, 1.0, lift_m, pipes, source)
    return direct_flow(curve, brentq(spare, 1e-6, 1.0, xtol=1e-13), lift_m, pipes, source)


def random_case(rng: np.random.Generator) -> tuple[Pump, float, tuple[Pipe, ...], Source]:
    flow, head = rng.uniform(3e-4, 5e-3), rng.uniform(8, 120)
    if rng.random() < 0.4:
        pump = Pump(rated_flow_m3_s=flow, rated_head_m=head, rated_efficiency=rng.uniform(0.3, 0.7))
    else:
        x = np.linspace(0, 1.6, 6)
        heads = 1.3 * head * (1 - rng.uniform(0.0, 0.15) * x - rng.uniform(0.18, 0.25) * x**2)
        efficiency = rng.uniform(0.35, 0.7) * x * (2 - x) + 0.02
        pump = Pump(curve_flow_m3_s=tuple(flow * x), curve_head_m=tuple(heads), curve_efficiency=tuple(efficiency))
    bore = float(np.sqrt(flow / rng.uniform(0.4, 2.5) * 4 / np.pi))
    pipes = (
        Pipe(length_m=rng.uniform(0, 400), bore_m=bore, c_value=rng.uniform(90, 150), fittings=rng.uniform(0, 15)),
    )
    capacity = None if rng.random() < 0.5 else flow / rng.uniform(1, 20)
    return pump, float(head * rng.uniform(0.05, 1.1)), pipes, Source(lift_m=0, specific_capacity_m3_s_per_m=capacity)


@pytest.mark.parametrize("seed", range(40))
def test_flow_at_power_equals_direct_roots(seed: int) -> None:
    pump, lift_m, pipes, source = random_case(np.random.default_rng(seed))
    curve = pump_curve(pump)
    table = operating_table(branch_of(curve, lift_m, pipes, source=source))
    assert_sane(table)
    full_w = float(pump_power_w(curve, table.flow_m3_s[-1]))
    powers = full_w * np.array([0.05, 0.3, 0.55, 0.62, 0.7, 0.8, 0.9, 0.97, 1.2])
    expected = [direct_flow_at_power(curve, power, lift_m, pipes, source) for power in powers]
    rated = curve.flow_m3_s[-1] / 2
    np.testing.assert_allclose(flow_at_power(table, powers).flow_m3_s, expected, atol=0.002 * rated)


def test_just_above_the_threshold_of_a_flat_curve_equals_direct_roots() -> None:
    # With an input that hardly depends on flow, flow grows like a square root there: the hardest place for a table.
    x = np.linspace(0, 2, 40)
    sheet = {"curve_flow_m3_s": tuple(0.0014 * x), "curve_head_m": tuple(9 * (4 - x**2))}
    curve = pump_curve(Pump(**sheet, curve_power_w=(900.0,) * 40))
    pipes = (Pipe(length_m=0, bore_m=0.05),)
    table = operating_table(branch_of(curve, 20, pipes))
    start_w = float(pump_power_w(curve, 0, speed=np.sqrt(20 / 36)))
    powers = start_w * (1 + np.geomspace(1e-6, 0.1, 40))
    expected = [direct_flow_at_power(curve, power, 20, pipes, STEADY) for power in powers]
    np.testing.assert_allclose(flow_at_power(table, powers).flow_m3_s, expected, atol=0.002 * 0.0014)


def test_full_flow_at_other_speeds_equals_direct_roots() -> None:
    curve = pump_curve(SHEET)
    for speed in (0.7, 0.9, 1.0):
        for lift_m in (5.0, 20.0, 45.0, 80.0):
            flow = table_of(lift_m=lift_m, source=WELL, max_speed=speed).flow_m3_s[-1]
            assert flow == pytest.approx(direct_flow(curve, speed, lift_m, PIPES, WELL), rel=1e-6, abs=1e-12)


def test_no_lift_at_all_pumps_at_any_speed() -> None:
    table = table_of(lift_m=0)
    assert_sane(table)
    assert flow_at_power(table, 1.0).flow_m3_s > 0


def test_open_pipe_without_loss_runs_out() -> None:
    table = table_of(lift_m=0, pipes=(Pipe(length_m=0, bore_m=0.05),))
    assert_sane(table)
    assert table.flow_m3_s[-1] == pytest.approx(runout_flow_m3_s(pump_curve(SHEET)))


def test_humped_curve_takes_the_largest_flow() -> None:
    # 52 m lies above the shut-off head of 50 m at rated speed, and below that at 1.05.
    curve, bare = pump_curve(HUMPED), (Pipe(length_m=0, bore_m=0.05),)
    flow = table_of(HUMPED, lift_m=52, pipes=bare, max_speed=1.05).flow_m3_s[-1]
    assert flow > 0.0011
    assert pump_head_m(curve, flow, speed=1.05) == pytest.approx(52)
    assert table_of(HUMPED, lift_m=52, pipes=bare).flow_m3_s[-1] == 0
    table = table_of(HUMPED, lift_m=45, pipes=bare)
    assert_sane(table)
    positive = table.flow_m3_s[table.flow_m3_s > 0]
    assert positive[0] > 0.001  # sets in with a jump, right of the hump's top


def test_steep_friction_on_a_hump_still_balances() -> None:
    narrow = (Pipe(length_m=2000, bore_m=0.015),)
    table = table_of(HUMPED, lift_m=20, pipes=narrow)
    assert_sane(table)
    ours = pump_head_m(pump_curve(HUMPED), table.flow_m3_s, speed=table.speed)
    moving = table.flow_m3_s > 0
    np.testing.assert_allclose(ours[moving], table.head_m[moving], rtol=1e-9)


def test_flat_curve() -> None:
    flat = Pump(curve_flow_m3_s=(0, 0.001, 0.002), curve_head_m=(50, 49.5, 48.9), curve_power_w=(500, 900, 1200))
    assert_sane(table_of(flat, lift_m=49))
    assert_sane(table_of(flat, lift_m=49, pipes=(Pipe(length_m=0, bore_m=0.05),)))


def test_minimum_speed_keeps_the_drive_off() -> None:
    table = table_of(min_speed=0.8)
    assert_sane(table)
    assert table.speed[0] == pytest.approx(0.8)
    assert table.flow_m3_s[0] > 0
    below, at = flow_at_power(table, table.power_w[0] * np.array([0.999, 1.0]))[0]
    assert below == 0
    assert at == pytest.approx(table.flow_m3_s[0])


@pytest.mark.parametrize(("pump", "min_speed"), [(SHEET, 0.0), (SHEET, 0.95), (HUMPED, 0.0), (HUMPED, 0.95)])
def test_the_well_sets_the_limit(pump: Pump, min_speed: float) -> None:
    poor = Source(lift_m=20, specific_capacity_m3_s_per_m=5e-5, max_drawdown_m=8)
    table = table_of(pump, source=poor, min_speed=min_speed)
    assert_sane(table)
    assert flow_at_power(table, 1e5).flow_m3_s == pytest.approx(4e-4)
    assert flow_at_power(table_of(pump, source=WELL), 1e5).flow_m3_s > 4e-4


def test_a_limit_inside_the_jump_of_a_hump() -> None:
    poor = Source(lift_m=45, specific_capacity_m3_s_per_m=1e-2, max_drawdown_m=0.01)
    table = table_of(HUMPED, lift_m=45, source=poor, pipes=(Pipe(length_m=0, bore_m=0.05),))
    assert_sane(table)
    assert flow_at_power(table, 1e5).flow_m3_s == pytest.approx(1e-4)


def test_below_the_yield_nothing_changes() -> None:
    rich = Source(lift_m=20, specific_capacity_m3_s_per_m=1e-4, max_drawdown_m=300)
    np.testing.assert_array_equal(table_of(source=rich).flow_m3_s, table_of(source=WELL).flow_m3_s)


@pytest.mark.parametrize("lift_m", [-1.0, float("nan"), float("inf")])
def test_impossible_lift(lift_m: float) -> None:
    with pytest.raises(InputError, match="0 m or more"):
        table_of(lift_m=lift_m)


def test_a_humped_curve_gives_nothing_at_the_threshold_itself() -> None:
    """At s² H₁(0) = static head the pump is at rest against a full pipe; only above it the jump sets in."""
    curve = pump_curve(HUMPED)
    for lift_m in np.linspace(10, 48, 77):
        table = operating_table(branch_of(curve, float(lift_m), (Pipe(length_m=0, bore_m=0.05),)))
        at = int(np.argmin(np.abs(table.speed - np.sqrt(lift_m / curve.head_m[0]))))
        assert table.flow_m3_s[at] == 0
        assert table.flow_m3_s[at + 1] > 0
