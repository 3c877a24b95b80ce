"""Voltage window and current limit of the controller, its efficiency by load, heat in the wire to the motor."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pvlib import pvsystem

from trackersim.job.array import Array
from trackersim.job.gauges import AWG_AREA_MM2
from trackersim.power.array import (
    conductor_loss_w,
    controller_output_w,
    module_share_of_wire_ohm,
    motor_run_loss_w,
    rated_current_a,
)
from trackersim.power.diode import Diode
from trackersim.power.label_fit import fit_label
from trackersim.power.module_table import AT_THE_TERMINALS, FarEnd, best_point, module_table
from trackersim.power.strings import best_points
from trackersim.power.wire import resistance_ohm_per_m

LABEL = Array(vmp_v=17.4, imp_a=6.9, voc_v=21.8, isc_a=7.5, isc_per_k=0.0005, voc_per_k=-0.0034, cells=36)
# Places of the table's grid: between them its straight lines would count.
LIGHT_W_M2 = (0.0, 20.0, 100.0, 500.0, 1000.0, 1400.0)
CELL_C = (-20.0, 25.0, 60.0)


@cache
def diode() -> Diode:
    return fit_label(LABEL)


def at(far_end: FarEnd, light: float, cell: float) -> tuple[float, float]:
    table = module_table(diode(), far_end)
    power, voltage = best_point(table, absorbed_w_m2=np.array([light]), cell_c=np.array([cell]))
    return float(power[0]), float(voltage[0])


def densely(far_end: FarEnd, light: float, cell: float) -> float:
    """Best power within the limits over every current of the module's curve, the wire's drop taken off its voltage."""
    if light == 0:
        return 0.0
    light_a, dark_a, series_ohm, shunt_ohm, slope_v = (float(each) for each in diode().at(light, cell))
    current = np.linspace(0.0, light_a, 100_001)
    volts = pvsystem.v_from_i(current, light_a, dark_a, series_ohm, shunt_ohm, slope_v) - far_end.wire_ohm * current
    # At the largest current the voltage may rise above the window (Sandia PVPMC, "Inverter Saturation or Clipping").
    held = (volts <= far_end.high_v) | (np.abs(current - far_end.max_a) <= current[1])
    allowed = (volts >= far_end.low_v) & held & (current <= far_end.max_a) & (volts > 0)
    return float(np.max(volts * current, initial=0.0, where=allowed))


@pytest.mark.parametrize("wire_ohm", [0.0, 0.4])
@pytest.mark.parametrize(
    "limits",
    [
        pytest.param(AT_THE_TERMINALS, id="none"),
        pytest.param(FarEnd(low_v=18.5), id="low"),
        pytest.param(FarEnd(high_v=15.0), id="high"),
        pytest.param(FarEnd(max_a=4.0), id="current"),
        pytest.param(FarEnd(low_v=15.0, high_v=16.0, max_a=5.0), id="all"),
        pytest.param(FarEnd(low_v=23.0), id="cold-only"),
        pytest.param(FarEnd(low_v=30.0, high_v=40.0), id="out-of-reach"),
        pytest.param(FarEnd(high_v=16.0, max_a=1.0), id="current-wants-more-volts-than-the-window"),
        pytest.param(FarEnd(high_v=12.0, max_a=7.2), id="the-window-wants-more-current"),
    ],
)
def test_table_within_limits_is_the_best_of_the_dense_curve(limits: FarEnd, wire_ohm: float) -> None:
    far_end = limits._replace(wire_ohm=wire_ohm)
    table = module_table(diode(), far_end)
    for light in LIGHT_W_M2:
        for cell in CELL_C:
            power, volts = (
                float(each[0]) for each in best_point(table, absorbed_w_m2=np.array([light]), cell_c=np.array([cell]))
            )
            assert power == pytest.approx(densely(far_end, light, cell), rel=2e-3, abs=0.02)
            if power > 0:
                assert far_end.low_v * (1 - 1e-9) <= volts
                # Between the table's places its straight lines would count; at them the largest current is exact.
                floats = power / volts == pytest.approx(far_end.max_a, rel=1e-6)
                assert floats or volts <= far_end.high_v * (1 + 1e-9)
                assert power / volts <= far_end.max_a * (1 + 1e-6)


def test_limits_out_of_the_way_change_nothing() -> None:
    wide = module_table(diode(), FarEnd(low_v=0.001, high_v=100.0, max_a=100.0))
    free = module_table(diode())
    np.testing.assert_allclose(wide.power_per_light, free.power_per_light, rtol=1e-12)
    np.testing.assert_allclose(wide.vmp_v, free.vmp_v, rtol=1e-12)


def test_a_window_no_module_reaches_gives_nothing_at_no_voltage() -> None:
    table = module_table(diode(), FarEnd(low_v=60.0, high_v=80.0))
    assert (table.power_per_light == 0).all()
    assert (table.vmp_v == 0).all()


@given(low=st.floats(5, 24), narrower=st.floats(0, 3), cap=st.floats(0.5, 9))
def test_a_narrower_window_never_gives_more(low: float, narrower: float, cap: float) -> None:
    wide, narrow = FarEnd(low_v=low, high_v=25.0, max_a=cap + 0.5), FarEnd(low_v=low + narrower, high_v=25.0, max_a=cap)
    for light, cell in ((1000.0, 25.0), (300.0, 10.0)):
        assert at(narrow, light, cell)[0] <= at(wide, light, cell)[0] + 1e-9


def test_held_to_a_current_a_module_gives_that_current_at_more_volts() -> None:
    power, volts = at(FarEnd(max_a=3.0), 1000.0, 25.0)
    assert power == pytest.approx(3.0 * volts)
    assert 17.4 < volts < 21.8


@pytest.mark.parametrize("high", [12.0, 16.0, 18.0, math.inf])
def test_the_largest_current_is_held_above_the_window_too(high: float) -> None:
    """Once wrong: a second string gave no power at all where the voltage for the controller's current is above that at
    which it looks for the best point."""
    assert at(FarEnd(high_v=high, max_a=3.0), 1000.0, 25.0) == at(FarEnd(max_a=3.0), 1000.0, 25.0)


@pytest.mark.parametrize("high", [12.0, 16.0, math.inf])
@pytest.mark.parametrize("max_a", [3.0, 9.0, math.inf])
@pytest.mark.parametrize("loop_ohm", [0.0, 0.4])
def test_one_more_string_never_gives_less(loop_ohm: float, max_a: float, high: float) -> None:
    """Once wrong: where the array must float above the window for the controller's current, one string more took all.

    At each voltage the strings give more current together, and at the largest current they stand at a higher voltage.
    """
    strings = np.arange(1, 6)
    for light in (60.0, 300.0, 1000.0, 1300.0):
        for cell in (-20.0, 25.0, 60.0):
            power = [n * at(FarEnd(n * loop_ohm, 11.0, high, max_a / n), light, cell)[0] for n in strings.tolist()]
            assert np.all(np.diff(power) >= -1e-9 * power[0]), (light, cell, power)
            assert power[-1] > power[0]


@pytest.mark.parametrize("case", ["free", "wire", "low", "high", "current", "above", "all"])
def test_evenly_lit_both_ways_to_the_controller_agree(case: str) -> None:
    """No step where shade leaves the array: one module's table and the strings' curve meet."""
    series, parallel, share = 4, 2, 0.9
    limits = {"wire_ohm": 0.0, "low_v": 0.0, "high_v": math.inf, "max_a": math.inf}
    limits |= {
        "free": {}, "wire": {"wire_ohm": 0.4}, "low": {"low_v": 74.0}, "high": {"high_v": 60.0},
        "current": {"max_a": 9.0}, "above": {"high_v": 72.0, "max_a": 5.0},
        "all": {"wire_ohm": 0.4, "low_v": 66.0, "high_v": 72.0, "max_a": 9.0},
    }[case]  # fmt: skip
    aged = diode().degraded(share)
    table = module_table(
        aged,
        FarEnd(
            wire_ohm=module_share_of_wire_ohm(loop_ohm=limits["wire_ohm"], in_series=series, in_parallel=parallel),
            low_v=limits["low_v"] / series,
            high_v=limits["high_v"] / series,
            max_a=limits["max_a"] / parallel,
        ),
    )
    free = module_table(aged)
    for light in (200.0, 600.0, 1000.0):
        for cell in (5.0, 45.0):
            given_light, given_cell = np.array([light]), np.array([cell])
            power, volts = best_point(table, absorbed_w_m2=given_light, cell_c=given_cell)
            (point,) = best_points(
                np.full((1, parallel, 2 * series), light), given_cell, diode=aged, table=free, substrings_per_module=2,
                far_ends=[FarEnd(**limits)],
            )  # fmt: skip
            unlimited = 8 * share * 120.0
            assert point.power_w[0] == pytest.approx(power[0] * 8, abs=0.01 * unlimited)
            if power[0] > 0:
                assert point.voltage_v[0] == pytest.approx(volts[0] * series, abs=17.4)


# --- Controller ------------------------------------------------------------------------------------------------------


def controlled(input_w: list[float]) -> np.ndarray:
    return controller_output_w(
        input_w=np.array(input_w), efficiency=0.5, own_use_w=10.0, rated_w=1000.0, loads=(0.1, 0.5, 1.0),
        efficiencies=(0.80, 0.94, 0.92),
    )  # fmt: skip


def test_efficiency_by_load_by_hand() -> None:
    """Own use comes off first; between loads straight lines; the one `efficiency` is not used beside a curve."""
    got = controlled([0.0, 10.0, 60.0, 110.0, 310.0, 510.0, 760.0, 1010.0])
    by_hand = [0.0, 0.0, 50 * 0.80, 100 * 0.80, 300 * 0.87, 500 * 0.94, 750 * 0.93, 1000 * 0.92]
    assert got == pytest.approx(by_hand)


def test_above_the_last_load_its_efficiency_holds_up_to_the_rating() -> None:
    assert controlled([1060.0, 1090.0, 1200.0, 1e5]) == pytest.approx([1050 * 0.92, 1080 * 0.92, 1000.0, 1000.0])


def test_a_level_curve_is_the_plain_efficiency() -> None:
    power = np.linspace(0, 1500, 61)
    plain = controller_output_w(input_w=power, efficiency=0.93, own_use_w=5.0, rated_w=900.0)
    level = controller_output_w(
        input_w=power, efficiency=0.4, own_use_w=5.0, rated_w=900.0, loads=(0.1, 1.0), efficiencies=(0.93, 0.93)
    )
    np.testing.assert_allclose(level, plain, rtol=1e-12)


# --- Wire to the motor -----------------------------------------------------------------------------------------------


def one_way_ohm(gauge: str, feet: float) -> float:
    """At the printed table's 75 °C."""
    return feet * 0.3048 * resistance_ohm_per_m(area_mm2=AWG_AREA_MM2[gauge])


def test_three_phase_drop_and_heat() -> None:
    """I: the drop between lines is √3·I·R, the heat 3·I²·R: together with √3·V·I of power they are one loss.

    8 AWG, 200 ft, 20 A: 200/1000 · 0.778 Ω (P: NEC Chapter 9 Table 8) gives 5.390 V and 3 · 400 · 0.1556 = 186.7 W."""
    ohm = one_way_ohm("8", 200)
    heat = conductor_loss_w(conductor_ohm=ohm, current_a=20.0, three_phase=True)
    assert math.sqrt(3) * 20 * ohm == pytest.approx(5.390, rel=0.005)
    assert heat == pytest.approx(3 * 400 * 0.2 * 0.778, rel=0.005)
    assert heat == pytest.approx(math.sqrt(3) * 20 * (math.sqrt(3) * 20 * ohm))


def test_two_wire_drop_and_heat() -> None:
    """I on a printed resistance: 10 AWG, 150 ft, 8 A: 2 · 0.150 · 1.24 · 8 = 2.976 V, 23.81 W."""
    ohm = one_way_ohm("10", 150)
    assert 2 * 8 * ohm == pytest.approx(2.976, rel=0.005)
    heat = conductor_loss_w(conductor_ohm=ohm, current_a=8.0, three_phase=False)
    assert heat == pytest.approx(2.976 * 8, rel=0.005)


def test_current_of_a_motor_at_its_rating() -> None:
    """I: P = V·I of direct current, P = √3·V·I·cos φ of three-phase."""
    assert rated_current_a(rated_w=960.0, voltage_v=48.0, power_factor=None) == pytest.approx(20.0)
    three = rated_current_a(rated_w=1000.0, voltage_v=48.0, power_factor=0.9)
    assert math.sqrt(3) * 48.0 * three * 0.9 == pytest.approx(1000.0)


def test_motor_run_loss_follows_the_torque_of_a_centrifugal_pump() -> None:
    """Affinity: I ∝ speed², P ∝ speed³, so heat ∝ I² ∝ P^(4/3): half the power, 2^(−4/3) = 0.3969 of the heat."""
    lost = motor_run_loss_w(np.array([0.0, 500.0, 1000.0]), rated_loss_w=40.0, rated_w=1000.0)
    assert lost == pytest.approx([0.0, 40 * 0.39685, 40.0], rel=1e-4)


@given(output_w=st.floats(0, 1e4), rated_loss_w=st.floats(0, 1e5))
def test_a_run_never_loses_more_than_it_is_given(output_w: float, rated_loss_w: float) -> None:
    lost = motor_run_loss_w(np.array([output_w]), rated_loss_w=rated_loss_w, rated_w=1000.0)[0]
    assert 0 <= lost <= output_w
