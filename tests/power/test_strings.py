"""Unevenly lit strings against a full current–voltage sum built apart from the engine, a printed rule, and identities.

The full sum: each substring's curve from pvlib's `bishop88` (explicit in the diode's own voltage), bypass diodes as
ideal clamps, series voltages added on a dense grid of currents, strings added on a dense grid of common voltages.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pvlib import pvsystem, shading
from pvlib.singlediode import bishop88

from trackersim.job.array import Array
from trackersim.power.diode import Diode
from trackersim.power.label_fit import fit_label
from trackersim.power.module_table import FarEnd, ModuleTable, best_power_w, module_table
from trackersim.power.strings import BestPoint, _add_v, best_points

# A round-figure 120 W module, no maker's; substrings of its 36 cells as the case says.
LABEL = Array(vmp_v=17.4, imp_a=6.9, voc_v=21.8, isc_a=7.5, isc_per_k=0.0005, voc_per_k=-0.0034, cells=36)
BYPASS_V = 0.6
TOLERANCE = 0.01  # of the array's unshaded power
TIE = 0.005  # peaks this near each other are one as good as the other


@cache
def module() -> tuple[Diode, ModuleTable]:
    diode = fit_label(LABEL)
    return diode, module_table(diode)


class Full(NamedTuple):
    """The array's curve: voltage rising from 0, current; and its power with 1000 W/m² everywhere."""

    voltage_v: np.ndarray
    current_a: np.ndarray
    unshaded_w: float

    @property
    def power_w(self) -> np.ndarray:
        return self.voltage_v * self.current_a


def module_parameters(light: float, cell_c: float) -> tuple[float, ...]:
    """Written out here again, so that `Diode.at` is tested too."""
    diode, _ = module()
    return pvsystem.calcparams_desoto(
        light, cell_c, LABEL.isc_per_k * LABEL.isc_a, diode.slope_v, diode.light_a, diode.dark_a, diode.shunt_ohm,
        diode.series_ohm, EgRef=1.121, dEgdT=-0.0002677,
    )  # fmt: skip


def substring_v(
    current_a: np.ndarray, light: float, cell_c: float, substrings_per_module: int, bypassed: bool
) -> np.ndarray:
    light_a, dark_a, series_ohm, shunt_ohm, slope_v = module_parameters(light, cell_c)
    top = slope_v * np.log1p(light_a / dark_a)
    # The diode's own voltage: dense at the knee, and far enough below 0 to reach the bypass diode's.
    own = np.concatenate([np.linspace(-20.0, 0.5 * top, 300, endpoint=False), np.linspace(0.5 * top, top, 2500)])
    with np.errstate(divide="ignore", invalid="ignore"):
        current, voltage, _ = bishop88(own, light_a, dark_a, series_ohm, shunt_ohm, slope_v, breakdown_voltage=-1e6)
    order = np.argsort(current)
    # More current than this curve reaches: the substring is far in reverse.
    found = np.interp(current_a, current[order], voltage[order], right=-1e6) / substrings_per_module
    return np.maximum(found, -BYPASS_V if bypassed else -1e6)


def full_sum(
    light: np.ndarray, cell_c: float, substrings_per_module: int, *, bypassed: bool = True, power_share: float = 1.0
) -> Full:
    """Brute force over `light` (strings, substrings)."""
    strings, substrings = light.shape
    most_a = 1.05 * LABEL.isc_a * max(1.0, float(light.max()) / 1000) * (1 + LABEL.isc_per_k * max(cell_c - 25, 0))
    lit_a = LABEL.isc_a * np.unique(light) / 1000
    current = np.unique(
        np.concatenate([np.linspace(0, most_a, 2501), *(a + np.linspace(-0.1, 0.1, 81) for a in lit_a)])
    )
    current = current[current >= 0]
    curves = {value: substring_v(current, value, cell_c, substrings_per_module, bypassed) for value in np.unique(light)}
    bright = pvsystem.singlediode(*module_parameters(1000.0, cell_c))
    voltage = np.linspace(0.0, float(bright["v_oc"]) * substrings / substrings_per_module * 1.05, 8001)
    total = np.zeros_like(voltage)
    for string in light:
        in_series = np.sum([curves[value] for value in string], axis=0)
        # Above its open-circuit voltage a string gives nothing and takes nothing.
        total += np.interp(voltage, in_series[::-1], power_share * current[::-1], right=0.0)
    return Full(voltage, total, float(bright["p_mp"]) * strings * substrings / substrings_per_module * power_share)


def limited(full: Full, *, wire_ohm: float, low_v: float, high_v: float, max_a: float) -> tuple[float, float]:
    """Best power and its voltage at the far end of the wire, within the limits, on the dense curve.

    At the largest current the voltage may rise above the window (see `module_table.FarEnd`).
    """
    far = full.voltage_v - wire_ohm * full.current_a
    at_max = float(np.interp(-max_a, -full.current_a, far)) if full.current_a.max() > max_a else 0.0
    low, high = max(low_v, at_max, 0.0), min(max(high_v, at_max), float(far.max()))
    if low > high:
        return 0.0, 0.0
    volts = np.linspace(low, high, 20_001)
    power = volts * np.minimum(np.interp(volts, far, full.current_a), max_a)
    best = int(np.argmax(power))
    return float(power[best]), float(volts[best])


class Case(NamedTuple):
    light: np.ndarray
    cell_c: float
    substrings_per_module: int


@cache
def cases() -> tuple[Case, ...]:
    """200 patterns: even spread of lights, opaque shade on or off (with or without sky light behind it), few levels."""
    random = np.random.default_rng(20250415)
    made = []
    for number in range(200):
        shape = (int(random.integers(1, 4)), int(random.integers(3, 9)))
        kind = number % 4
        if kind == 0:
            light = random.uniform(20, 1050, shape)
        elif kind == 1:
            light = np.where(random.random(shape) < random.uniform(0.1, 0.8), random.uniform(30, 150), 900.0)
        elif kind == 2:
            light = np.where(random.random(shape) < random.uniform(0.1, 0.6), 0.0, random.uniform(300, 1000))
        else:
            light = 950.0 * random.choice([0.1, 0.45, 1.0], shape)
        made.append(Case(light, float(random.uniform(-10, 60)), 1 + number % 3))
    return tuple(made)


@cache
def full_sums() -> tuple[Full, ...]:
    return tuple(full_sum(case.light, case.cell_c, case.substrings_per_module) for case in cases())


def engine(case: Case, *, power_share: float = 1.0, bypassed: bool = True, **limits: float) -> BestPoint:
    diode, table = module()
    if power_share != 1.0:
        diode = diode.degraded(power_share)
        table = module_table(diode)
    (found,) = best_points(
        case.light[None], np.array([case.cell_c]), diode=diode, table=table,
        substrings_per_module=case.substrings_per_module, bypassed=bypassed, far_ends=[FarEnd(**limits)],
    )  # fmt: skip
    return found


def one(point: BestPoint) -> tuple[float, float, float]:
    return float(point.power_w[0]), float(point.voltage_v[0]), float(point.current_a[0])


def equal_peaks_v(full: Full) -> np.ndarray:
    """Voltages of all peaks of power within a tie of the highest: either will do."""
    power = full.power_w
    peak = np.r_[False, (power[1:-1] >= power[:-2]) & (power[1:-1] >= power[2:]), False]
    return full.voltage_v[peak & (power >= power.max() - TIE * full.unshaded_w)]


def test_power_is_that_of_the_full_sum() -> None:
    errors = np.array(
        [
            (one(engine(case))[0] - float(full.power_w.max())) / full.unshaded_w
            for case, full in zip(cases(), full_sums(), strict=True)
        ]
    )
    assert np.abs(errors).max() < TOLERANCE
    assert abs(errors.mean()) < TOLERANCE / 4


def test_voltage_is_that_of_a_highest_peak() -> None:
    """Within one step of the curve: the best voltage of one substring. Where two peaks tie, either is accepted."""
    for case, full in zip(cases(), full_sums(), strict=True):
        power, volts, amperes = one(engine(case))
        if power < TIE * full.unshaded_w:
            continue
        assert power == pytest.approx(volts * amperes)
        step = LABEL.vmp_v / case.substrings_per_module
        assert np.abs(equal_peaks_v(full) - volts).min() < step, case
        # And what it promises there can be had there.
        assert np.interp(volts, full.voltage_v, full.power_w) > power - TOLERANCE * full.unshaded_w, case


@pytest.mark.parametrize("limit", ["wire", "low", "high", "current", "all"])
def test_wire_window_and_current_limit_against_the_full_sum(limit: str) -> None:
    random = np.random.default_rng(7)
    bites = 0
    for case, full in zip(cases(), full_sums(), strict=True):
        strings, substrings = case.light.shape
        string_v = LABEL.vmp_v * substrings / case.substrings_per_module
        limits = {
            "wire_ohm": random.uniform(0.0, 0.15) * string_v / (LABEL.imp_a * strings),
            "low_v": random.uniform(0.2, 1.2) * string_v,
            "high_v": random.uniform(0.3, 1.2) * string_v,
            "max_a": random.uniform(0.2, 1.1) * strings * LABEL.imp_a,
        }
        limits["high_v"] = max(limits["high_v"], limits["low_v"] + 1) if limit == "all" else limits["high_v"]
        used = {"wire_ohm": 0.0, "low_v": 0.0, "high_v": np.inf, "max_a": np.inf}
        name = {"wire": "wire_ohm", "low": "low_v", "high": "high_v", "current": "max_a"}.get(limit)
        used |= limits if name is None else {name: limits[name]}
        power, volts, amperes = one(engine(case, **used))
        expected, _ = limited(full, **used)
        assert abs(power - expected) < TOLERANCE * full.unshaded_w, (case, used)
        floats = amperes == pytest.approx(used["max_a"], rel=1e-6)
        assert (used["low_v"] * (1 - 1e-6) <= volts and (floats or volts <= used["high_v"] * (1 + 1e-6))) or power == 0
        assert amperes <= used["max_a"] * (1 + 1e-6)
        bites += power < 0.98 * full.power_w.max()
    assert bites > 40  # the limits were felt


def test_a_window_no_string_reaches_gives_nothing() -> None:
    case = Case(np.full((2, 4), 800.0), 25.0, 1)
    for limits in ({"low_v": 4 * 21.8 * 1.05}, {"low_v": 400.0, "high_v": 500.0}):
        assert one(engine(case, **limits)) == (0.0, 0.0, 0.0)


def test_rows_worked_together_are_those_worked_alone() -> None:
    """A minute's answer does not depend on which minutes are asked with it."""
    diode, table = module()
    random = np.random.default_rng(3)
    for shape in ((1, 6), (2, 4), (3, 5)):
        light = np.where(random.random((40, *shape)) < 0.4, random.choice([0.0, 3.0, 60.0]), 900.0)
        light[::5, 0] = 0.0  # a string wholly in the dark beside bright ones
        light[1::5] = 1000.0
        cell = random.uniform(-10, 60, 40)
        known = {"diode": diode, "table": table, "substrings_per_module": 1}
        lows = (0.0, 0.9 * 17.4 * shape[1], 1.05 * 17.4 * shape[1])
        known["far_ends"] = [FarEnd(low_v=low_v) for low_v in lows]
        together = np.stack([each.power_w for each in best_points(light, cell, **known)])
        for row in range(40):
            alone = best_points(light[row : row + 1], cell[row : row + 1], **known)
            assert together[:, row].tolist() == [each.power_w[0] for each in alone]


def test_a_string_of_two_lights_beside_one_of_many() -> None:
    """Others' many lights take none of its own away: with a string of more than twelve it lost its dimmer half."""
    diode, table = module()
    two, many = np.repeat([1000.0, 300.0], 10), np.linspace(1000.0, 100.0, 20)
    known = {"diode": diode, "table": table, "substrings_per_module": 1}
    (alone,) = best_points(two[None, None], np.array([35.0]), **known)
    (beside,) = best_points(np.stack([two, many])[:, None], np.array([35.0, 35.0]), **known)
    assert [each[0] for each in beside] == pytest.approx([each[0] for each in alone], rel=1e-12)


def test_many_lights_in_one_string() -> None:
    """More than twelve lights are worked with twelve, evenly spaced: coarser (measured −4.4…+3.0 % of unshaded)."""
    random = np.random.default_rng(11)
    for substrings_per_module in (1, 2, 3):
        for _ in range(5):
            case = Case(random.uniform(20, 1000, (2, 24)), 35.0, substrings_per_module)
            full = full_sum(case.light, case.cell_c, substrings_per_module)
            power = one(engine(case))[0]
            assert abs(power - full.power_w.max()) < 0.05 * full.unshaded_w


# --- Identities and orders -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("substrings_per_module", [1, 2, 3])
@pytest.mark.parametrize("bypassed", [True, False])
def test_an_evenly_lit_array_is_so_many_modules(substrings_per_module: int, bypassed: bool) -> None:
    """Identity. Light and cells on the table's grid, so that its straight lines do not count."""
    _, table = module()
    for light, cell in ((1000.0, 25.0), (700.0, 40.0), (300.0, 10.0), (500.0, -20.0)):
        case = Case(np.full((3, 4 * substrings_per_module), light), cell, substrings_per_module)
        power = one(engine(case, bypassed=bypassed))[0]
        single = best_power_w(table, absorbed_w_m2=np.array([light]), cell_c=np.array([cell]))[0]
        assert power == pytest.approx(12 * single, rel=1e-6)


@given(seed=st.integers(0, 10_000))
def test_order_of_groups_and_of_strings_changes_nothing(seed: int) -> None:
    random = np.random.default_rng(seed)
    light = random.choice([0.0, 80.0, 400.0, 950.0], (3, 6))
    shuffled = random.permuted(light[random.permutation(3)], axis=1)
    powers = [one(engine(Case(each, 30.0, 2)))[0] for each in (light, shuffled)]
    assert powers[0] == pytest.approx(powers[1], rel=1e-9)


def test_more_strings_alike_give_so_much_more() -> None:
    string = np.array([[900.0, 900.0, 500.0, 90.0, 900.0, 40.0]])
    single = one(engine(Case(string, 30.0, 2)))
    for strings in (2, 3, 7):
        power, volts, amperes = one(engine(Case(np.repeat(string, strings, axis=0), 30.0, 2)))
        assert power == pytest.approx(strings * single[0], rel=1e-6)
        assert volts == pytest.approx(single[1], rel=1e-6)
        assert amperes == pytest.approx(strings * single[2], rel=1e-6)


def test_aged_modules_give_their_share_of_current_at_the_same_voltage() -> None:
    case = cases()[0]
    new, old = (one(engine(case, power_share=share)) for share in (1.0, 0.85))
    assert old == pytest.approx((0.85 * new[0], new[1], 0.85 * new[2]))


@given(
    dark=st.just(0.0) | st.floats(0.001, 899), place=st.integers(0, 4), substrings_per_module=st.sampled_from([1, 2, 3])
)
def test_a_shaded_substring_costs_at_most_itself_and_its_diode(
    dark: float, place: int, substrings_per_module: int
) -> None:
    """Bypassed, the others go on as before and the diode takes its 0.6 V at their current: that much is left."""
    light = np.full((1, 5), 900.0)
    whole, _, amperes = one(engine(Case(light, 25.0, substrings_per_module)))
    light[0, place] = dark
    left = one(engine(Case(light, 25.0, substrings_per_module)))[0]
    assert left <= whole * (1 + 1e-4)
    assert left >= (0.8 * whole - BYPASS_V * amperes) * (1 - 1e-3)


@given(dark=st.floats(20, 850))
def test_without_a_diode_a_shaded_module_costs_its_light_or_more_and_at_most_its_string(dark: float) -> None:
    """Unbypassed, cells in series pass what the weakest bears; one module of ten is a tenth of the light."""
    light = np.full((2, 5), 900.0)
    whole = one(engine(Case(light, 25.0, 1), bypassed=False))[0]
    light[0, 2] = dark
    left = one(engine(Case(light, 25.0, 1), bypassed=False))[0]
    bypassed = one(engine(Case(light, 25.0, 1)))[0]
    lost = whole - left
    assert lost >= (1 - dark / 900) * whole / 10 - 1e-3 * whole
    assert lost <= whole / 2 + 1e-3 * whole
    assert left <= bypassed + 1e-3 * whole
    # Its string passes about the weakest's share of the current.
    assert left <= whole / 2 * (1 + 1.12 * dark / 900)


def test_a_dark_module_without_a_diode_stops_its_string_alone() -> None:
    light = np.full((2, 5), 900.0)
    whole = one(engine(Case(light, 25.0, 1), bypassed=False))[0]
    light[0, 2] = 0.0
    assert one(engine(Case(light, 25.0, 1), bypassed=False))[0] == pytest.approx(whole / 2, rel=1e-3)


@given(seed=st.integers(0, 10_000), factor=st.just(0.0) | st.floats(1e-6, 1))
def test_less_light_on_one_group_is_never_more_power(seed: int, factor: float) -> None:
    random = np.random.default_rng(seed)
    light = random.choice([60.0, 300.0, 800.0, 1000.0], (2, 6))
    before = one(engine(Case(light, 20.0, 2)))[0]
    unshaded = 6 * 120.0
    light[0, int(random.integers(6))] *= factor
    # The samples of a curve move with its lights: to their error.
    assert one(engine(Case(light, 20.0, 2)))[0] <= before + TOLERANCE * unshaded


def test_the_dark_gives_nothing() -> None:
    for bypassed in (True, False):
        assert one(engine(Case(np.zeros((2, 4)), 10.0, 1), bypassed=bypassed)) == (0.0, 0.0, 0.0)


# --- The published block rule ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("blocks", [4, 6, 8, 12])
@pytest.mark.parametrize("substrings_per_module", [1, 2])
def test_block_rule_brackets_opaque_shade_on_one_string(blocks: int, substrings_per_module: int) -> None:
    """P: (1 − F_E) = (1 − F_G)(1 − N_s/(N_t + 1)), Martinez-Moreno, Muñoz and Lorenzo, Sol. Energy Mater. Sol. Cells 94
    (2010) 2298, equation (6), as `pvlib.shading.direct_martinez` holds it. It is a fit between the optimistic
    F_E = F_G and the pessimistic F_E = 1 (recalled), not itself a bound; what makes it one is the geometry: of N_s
    blocks touched the shaded share F_G lies between 0 (slivers) and N_s/N_t (whole blocks), and a string of bypassed
    blocks gives the same for either, as opaque shade on one cell silences its block. So

    - at F_G = N_s/N_t the rule counts the shade twice and lies BELOW the string (lower bound),
    - at F_G → 0 it is 1 − N_s/(N_t + 1), more than the N_t − N_s lit blocks can give, and lies ABOVE (upper bound),
    - and so does the optimistic 1 − F_G with whole blocks.

    The lower bound fails only where the diodes' drops eat what is left: not at these lengths.
    """
    whole = one(engine(Case(np.full((1, blocks), 1000.0), 25.0, substrings_per_module)))[0]
    random = np.random.default_rng(blocks)
    for shaded in range(1, blocks):
        light = np.full((1, blocks), 1000.0)
        light[0, random.permutation(blocks)[:shaded]] = 0.0
        share = one(engine(Case(light, 25.0, substrings_per_module)))[0] / whole
        covered = shaded / blocks
        lower = 1 - shading.direct_martinez(1.0, 1.0, covered, shaded, blocks)
        upper = 1 - shading.direct_martinez(1.0, 1.0, 0.0, shaded, blocks)
        assert lower == pytest.approx((1 - covered) * (1 - shaded / (blocks + 1)))
        assert lower < share < 1 - covered < upper


def test_a_module_s_voltage_at_a_current_is_pvlib_s() -> None:
    """On the flat top of the curve too, where the shunt carries what is left: Newton's rule is slow to come down."""
    for light in (30.0, 240.0, 870.0, 1100.0):
        for cell_c in (-10.0, 20.0, 65.0):
            light_a, dark_a, series_ohm, shunt_ohm, slope_v = module_parameters(light, cell_c)
            step = np.array([1.0, 0.0, light_a, dark_a, series_ohm, shunt_ohm, slope_v])
            most_a = light_a / (1 + series_ohm / shunt_ohm)
            amperes = most_a * np.array([0.9995, 0.997, 0.98, 0.9, 0.9, 0.3, 0.0])
            expected = pvsystem.v_from_i(amperes, light_a, dark_a, series_ohm, shunt_ohm, slope_v)
            for begin in range(len(amperes)):  # with and without the root of a larger current
                volts = np.zeros(len(amperes) - begin)
                _add_v(step, amperes[begin:], 1.0, 1e9, volts)
                assert volts == pytest.approx(expected[begin:], abs=1e-5)
