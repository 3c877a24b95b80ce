"""[array.layout], module classes, [[wire]] and [controller]: what they make of a job, and one clear fault each."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from trackersim import InputError, Job, load_job
from trackersim.errors import Fault
from trackersim.job.array import module_classes
from trackersim.job.files import demo_text, parse_job, with_overrides
from trackersim.power.label_fit import fit_label
from trackersim.power.module_table import best_power_w, module_table
from trackersim.simulation.array_shade import array_places
from trackersim.simulation.electrics import (
    array_side_ohm,
    conductor_ohm,
    controller_w,
    module_end,
    motor_current_a,
    motor_side_loss_w,
    motor_w,
    rated_output_w,
    run_rated_loss_w,
)
from trackersim.water.pump import rated_input_w

CLEAR = ["weather.file=", "weather.clear_sky=true"]
LONG, SHORT = 3, 2  # places looked at along a group's long and short side


def demo(*overrides: str) -> Job:
    return load_job("demo", [*CLEAR, *overrides])


def only_fault(*overrides: str) -> Fault:
    with pytest.raises(InputError) as caught:
        demo(*overrides)
    (fault,) = caught.value.faults
    assert fault.reason.endswith(".")
    assert fault.remedy.endswith((".", "?"))
    return fault


def modules_of(job: Job) -> np.ndarray:
    """Mean place of each module, (modules, 2): across (west) and along (toward the low end), in the strings' order."""
    places = array_places(job.array)
    groups = max(job.array.diodes, 1)
    shape = (LONG * SHORT, job.array.module_count, groups)
    return np.stack([each.reshape(shape).mean(axis=(0, 2)) for each in (places.across_m, places.along_m)], axis=1)


# --- Layout ----------------------------------------------------------------------------------------------------------


def test_strings_by_rows_run_across_the_rack() -> None:
    """Demo: 2 rows of 4, modules 26 in by 57 in, gaps 1 in: pitch 0.6858 and 1.4732 m. The first string is the row away
    from the low end, from the east (across is west positive)."""
    found = modules_of(demo())
    across, along = np.array([-1.5, -0.5, 0.5, 1.5]) * 0.6858, 1.4732 / 2
    np.testing.assert_allclose(found[:4], np.column_stack([across, np.full(4, -along)]), atol=1e-12)
    np.testing.assert_allclose(found[4:], np.column_stack([across, np.full(4, along)]), atol=1e-12)


def test_strings_by_columns_run_down_the_rack() -> None:
    """The same places; every two modules after each other share a column, and a string of four is two columns."""
    found = modules_of(demo("array.layout.strung_by=columns"))
    along = 1.4732 / 2
    by_hand = [(column * 0.6858, row) for column in (-1.5, -0.5, 0.5, 1.5) for row in (-along, along)]
    np.testing.assert_allclose(found, by_hand, atol=1e-12)
    rows = modules_of(demo())
    assert {tuple(place) for place in np.round(found, 9)} == {tuple(place) for place in np.round(rows, 9)}


@pytest.mark.parametrize("strung_by", ["rows", "columns"])
@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("diodes", [0, 1, 2, 3])
def test_places_lie_inside_their_module_and_fill_it(strung_by: str, turned: bool, diodes: int) -> None:
    width, height = (57, 26) if turned else (26, 57)
    job = demo(
        f"array.layout.strung_by={strung_by}", f"array.layout.module_width={width} in",
        f"array.layout.module_height={height} in", f"array.bypass_diodes={diodes}",
    )  # fmt: skip
    out, places = job.array.laid_out, array_places(job.array)
    groups = max(diodes, 1)
    centres = modules_of(job)
    shape = (LONG * SHORT, 8, groups)
    across = (places.across_m.reshape(shape) - centres[:, :1]) / (out.module_width_m / 2)
    along = (places.along_m.reshape(shape) - centres[:, 1:]) / (out.module_height_m / 2)
    assert np.abs(across).max() < 1
    assert np.abs(along).max() < 1
    assert np.abs(across).max() > 0.5
    assert np.abs(along).max() > 0.5
    # Groups lie side by side across the short side: their stretches of it do not overlap.
    short = along if turned else across
    ends = [(short[:, 0, group].min(), short[:, 0, group].max()) for group in range(groups)]
    assert all(before[1] < after[0] for before, after in pairwise(ends))
    # And the whole array lies within its outline and its radius.
    assert np.abs(places.across_m).max() < out.width_m / 2
    assert np.abs(places.along_m).max() < out.height_m / 2
    assert places.radius_m < out.radius_m


def test_outline_and_radius_by_hand() -> None:
    """4 · 26 in + 3 gaps of 1 in = 107 in; 2 · 57 in + 1 = 115 in; half diagonal with 6 in above the axis."""
    out = demo("array.layout.above_axis=6 in").array.laid_out
    assert out.width_m == pytest.approx(107 * 0.0254)
    assert out.height_m == pytest.approx(115 * 0.0254)
    assert out.radius_m == pytest.approx(0.0254 * math.sqrt(53.5**2 + 57.5**2 + 36))


def test_a_module_plane_below_the_axis_is_below_it() -> None:
    assert array_places(demo("array.layout.above_axis=-0.2 m").array).off_axis_m == -0.2


def with_layout(lines: str) -> Job:
    """The demo with `lines` for its layout."""
    text = demo_text()
    start, end = text.index("[array.layout]"), text.index("[[wire]]")
    return parse_job(f"{text[:start]}[array.layout]\n{lines}\n{text[end:]}")


def test_size_and_order_are_assumed_from_power_where_none_is_given() -> None:
    """120 W at 130 W/m² and 1.7 to 1: 0.92 m² is 0.737 by 1.253 m; eight of them are squarest 4 broad and 2 high."""
    out = with_layout("").array.laid_out
    assert out.assumed
    assert out.module_width_m * out.module_height_m == pytest.approx(17.4 * 6.9 / 130)
    assert out.module_height_m / out.module_width_m == pytest.approx(1.7)
    assert (out.rows, out.columns) == (2, 4)
    assert not demo().array.laid_out.assumed


@pytest.mark.parametrize(
    ("given", "rows", "columns"), [("rows = 4", 4, 2), ("columns = 8", 1, 8), ("rows = 1\ncolumns = 8", 1, 8)]
)
def test_rows_or_columns_give_the_other(given: str, rows: int, columns: int) -> None:
    out = with_layout(given).array.laid_out
    assert (out.rows, out.columns) == (rows, columns)


@pytest.mark.parametrize(
    ("overrides", "field", "words"),
    [
        (["array.layout.rows=3", "array.layout.columns=3"], "array.layout", "9|3 × 3"),
        (["array.in_series=5"], "array.layout", "2 × 4 places for 10 modules"),
        (["array.layout.gap_across=-1 in"], "array.layout.gap_across", "over its neighbour"),
        (["array.layout.gap_along=-0.5 m"], "array.layout.gap_along", "over its neighbour"),
        (["array.layout.rows=0"], "array.layout.rows", "at least 1"),
        (["array.layout.strung_by=spirals"], "array.layout.strung_by", "one of"),
        (["array.layout.module_width=9 m"], "array.layout.module_width", "at most 16.4 ft (5 m)"),
    ],
)
def test_a_layout_that_cannot_be_is_one_fault(overrides: list[str], field: str, words: str) -> None:
    fault = only_fault(*overrides)
    assert fault.field == field
    assert any(word in fault.reason for word in words.split("|"))


def test_rows_that_do_not_divide_the_modules() -> None:
    with pytest.raises(InputError, match="equal length") as caught:
        with_layout("rows = 3")
    assert [fault.field for fault in caught.value.faults] == ["array.layout"]


def test_width_without_height_is_refused() -> None:
    text = demo_text().replace('module_height = "57 in"\n', "")
    with pytest.raises(InputError, match="together") as caught:
        parse_job(text)
    assert [fault.field for fault in caught.value.faults] == ["array.layout.module_width"]


# --- Module classes --------------------------------------------------------------------------------------------------

_LABEL_LINES = ("cells", "vmp", "imp", "voc", "isc", "isc_per_k", "voc_per_k")


def of_class(name: str, *lines: str, layout: str = "") -> Job:
    """A single module of a class, with nothing else said of it but `lines`."""
    text = demo_text()
    start, end = text.index("[array]"), text.index("[[wire]]")
    array = "\n".join(["[array]", f'module_class = "{name}"', *lines, layout])
    return parse_job(f"{text[:start]}{array}\n{text[end:]}")


@pytest.mark.parametrize("name", list(module_classes()))
def test_each_class_fills_the_label_fits_a_diode_and_gives_its_watts(name: str) -> None:
    row, array = module_classes()[name], of_class(name).array
    assert array.cells == int(row["cells"])
    for field, value in {
        "vmp": array.vmp_v, "imp": array.imp_a, "voc": array.voc_v, "isc": array.isc_a,
        "isc_per_k": array.isc_per_k, "voc_per_k": array.voc_per_k,
        "short_side": array.laid_out.module_width_m, "long_side": array.laid_out.module_height_m,
    }.items():  # fmt: skip
        assert value == float(row[field]), field
    diode = fit_label(array)
    assert not diode.relaxed
    watts = best_power_w(module_table(diode), absorbed_w_m2=np.array([1000.0]), cell_c=np.array([25.0]))[0]
    assert watts == pytest.approx(array.vmp_v * array.imp_a, rel=1e-3)
    # The name's own figure, rounded to 1 %.
    assert watts == pytest.approx(float(row["watts"]), rel=0.01)
    assert name == f"{row['made'][:3]}0s-{row['watts']}W-{row['cells']}"
    # As efficient as such a module may be: 8 to 21 % of 1000 W/m² on its area.
    area_m2 = float(row["short_side"]) * float(row["long_side"])
    assert 0.08 < watts / 1000 / area_m2 < 0.21


def test_newer_classes_are_more_efficient() -> None:
    rows = sorted(module_classes().values(), key=lambda row: (row["made"], int(row["watts"])))
    best: dict[str, float] = {}
    for row in rows:
        share = float(row["watts"]) / 1000 / float(row["short_side"]) / float(row["long_side"])
        best[row["made"]] = max(best.get(row["made"], 0.0), share)
    assert list(best.values()) == sorted(best.values())


def test_a_label_in_the_job_is_surer_than_its_class() -> None:
    own = of_class("2000s-120W-36", 'vmp = "17.0 V"', "isc_a = 7.7", "voc_per_k = -0.0031").array
    assert (own.vmp_v, own.isc_a, own.voc_per_k) == (17.0, 7.7, -0.0031)
    assert (own.imp_a, own.voc_v, own.isc_per_k) == (6.9, 21.8, 0.0005)


def test_a_class_as_an_override_brings_its_own_coefficient_of_power() -> None:
    own = of_class("2000s-120W-36", 'power_per_k = "-0.50 %"')
    assert own.array.power_change_per_k == pytest.approx(-0.0050)
    other = with_overrides(own, {"array.module_class": "2020s-400W-54"}).array
    assert other.power_per_k is None
    assert other.power_change_per_k == pytest.approx(-0.0026 - 0.0012)


def test_an_own_size_is_surer_than_the_class() -> None:
    layout = '[array.layout]\nmodule_width = "0.7 m"\nmodule_height = "1.5 m"'
    out = of_class("2000s-120W-36", layout=layout).array.laid_out
    assert (out.module_width_m, out.module_height_m) == (0.7, 1.5)
    out = of_class("2000s-120W-36", layout='[array.layout]\nstrung_by = "columns"').array.laid_out
    assert (out.module_width_m, out.module_height_m, out.strung_by) == (0.66, 1.44, "columns")


def test_an_unknown_class_is_one_clear_fault() -> None:
    with pytest.raises(InputError) as caught:
        of_class("1970s-9000W-7")
    (fault,) = caught.value.faults
    assert fault.field == "array.module_class"
    assert fault.value == "1970s-9000W-7"
    assert "2000s-120W-36" in fault.reason
    assert fault.remedy


def test_bypass_diodes_by_cells() -> None:
    assert demo().array.diodes == 2
    assert of_class("2010s-240W-60").array.diodes == 3
    assert demo("array.bypass_diodes=0").array.diodes == 0


# --- Wire ------------------------------------------------------------------------------------------------------------


def test_runs_on_the_array_side_add_up_out_and_back() -> None:
    """P: NEC Chapter 9 Table 8, 10 AWG 1.24 and 6 AWG 0.491 Ω per 1000 ft at 75 °C, corrected to 40 °C."""
    runs = 'wire=[{length="150 ft", gauge="10 AWG"}, {length="200 ft", gauge="6", temperature=75}]'
    job = demo(runs)
    by_hand = 2 * (0.150 * 1.24 * (1 - 0.00323 * 35) + 0.200 * 0.491)
    assert array_side_ohm(job) == pytest.approx(by_hand, rel=0.005)
    # As modules feel it: the current of two strings, a quarter of the voltage.
    assert module_end(job).wire_ohm == pytest.approx(array_side_ohm(job) * 2 / 4)


def test_metric_wire_given_as_a_gauge_is_sent_to_area() -> None:
    with pytest.raises(InputError, match="write mm² as area instead"):
        demo('wire=[{length="100 m", gauge="6 mm2"}]')


def test_area_stands_in_for_a_gauge() -> None:
    by_area = demo('wire=[{length="100 m", area_mm2=5.26}]')
    by_gauge = demo('wire=[{length="100 m", gauge="10 AWG"}]')
    assert array_side_ohm(by_area) == pytest.approx(array_side_ohm(by_gauge), rel=1e-3)


def test_motor_run_by_hand() -> None:
    """3·I²·R at the motor's 960 W, 48 V, power factor 0.9: 12.830 A; 8 AWG 150 ft 0.1167 Ω at 75 °C gives 57.6 W: the
    controller puts out 1018 W. At half of that the current is 0.5^(2/3) of it."""
    job = demo("wire.1.temperature=75")
    run = job.wire[1]
    current = 960 / (math.sqrt(3) * 48 * 0.9)
    assert conductor_ohm(run) == pytest.approx(0.150 * 0.778, rel=0.005)
    assert run_rated_loss_w(job, run) == pytest.approx(3 * current**2 * 0.150 * 0.778, rel=0.005)
    full_w = rated_output_w(job)
    assert full_w == pytest.approx(960 + 3 * current**2 * 0.150 * 0.778, rel=0.001)
    lost = motor_side_loss_w(job, np.array([0.0, 0.5, 1.0]) * full_w)
    assert lost == pytest.approx(run_rated_loss_w(job, run) * np.array([0.0, 0.5 ** (4 / 3), 1.0]))
    power = np.array([0.0, 300.0, 700.0])
    assert motor_w(job, power) == pytest.approx(
        controller_w(job, power) - motor_side_loss_w(job, controller_w(job, power))
    )


def test_a_motor_run_of_direct_current_has_two_conductors() -> None:
    job = demo("wire.1.current=dc", "wire.1.temperature=75")
    assert run_rated_loss_w(job, job.wire[1]) == pytest.approx(2 * (960 / 48) ** 2 * 0.150 * 0.778, rel=0.005)


def test_a_larger_controller_pushes_no_more_current_into_the_same_motor() -> None:
    """Its rating once stood in for the motor's: 53, 84 and 133 W of heat at 960 W behind 1000, 2000 and 4000 W."""
    small, large = (demo(f"controller.rated={rated} W") for rated in (1000, 4000))
    current = motor_current_a(small, small.wire[1])
    assert current == pytest.approx(12.83, abs=0.01)
    assert motor_current_a(large, large.wire[1]) == current
    output = np.linspace(0, 960, 9)
    assert (motor_side_loss_w(large, output) == motor_side_loss_w(small, output)).all()


@pytest.mark.parametrize(
    ("changes", "watts"),
    [
        ({}, 960.0),
        # 45 % of 12 gpm · 178 ft at the shaft, 80 % in the motor: 9.80665 · 0.7571 l/s · 54.25 m / 0.36.
        ({"pump": {"rated_flow": "12 gpm", "rated_head": "178 ft"}}, 1118.9),
        # At the shaft 9.80665 · 3 · 25 / 0.40 = 1838.7 W, 1.2335 of the 1490.6 at the best point, where the motor loses
        # 372.6: 1838.7 + 0.4 · 372.6 + 0.6 · 372.6 · 1.2335².
        ({"pump": {"curve_flow": "0 1 2 3 l/s", "curve_head": "50 45 38 25 m",
                   "curve_efficiency": "0 45 50 40 %"}}, 2328.0),
        ({"pump": {"kind": "helical", "curve_flow": "7 6 5 gpm", "curve_head": "30 180 330 ft",
                   "curve_power": "260 470 690 W"}}, 690.0),
    ],
)  # fmt: skip
def test_the_motor_s_rated_input_is_what_its_sheet_asks_most(changes: dict[str, object], watts: float) -> None:
    assert rated_input_w(with_overrides(demo(), changes).pump) == pytest.approx(watts, rel=1e-3)


def test_motor_runs_add_up_and_do_not_count_before_the_controller() -> None:
    one, two = demo(), demo(
        'wire=[{length="160 ft", gauge="10"}, {side="motor", current="three-phase", length="100 ft", gauge="8"},'
        '{side="motor", current="three-phase", length="50 ft", gauge="8"}]'
    )  # fmt: skip
    output = np.array([400.0, 900.0])
    assert motor_side_loss_w(one, output) == pytest.approx(motor_side_loss_w(two, output))
    assert array_side_ohm(one) == pytest.approx(array_side_ohm(two))


@pytest.mark.parametrize(
    ("overrides", "field", "value", "words"),
    [
        (["wire.0.length=0"], "wire.0.length", 0, "more than 0"),
        (["wire.0.gauge=11 AWG"], "wire.0.gauge", "11 AWG", "not a wire gauge"),
        (["wire.0.gauge="], "wire.0.gauge", "", "needs a gauge or an area"),
        (["wire.0.area_mm2=6"], "wire.0.gauge", "10 AWG", "not both"),
        (["wire.0.current=three-phase"], "wire.0.current", "three-phase", "direct current"),
        (["wire.1.side=battery"], "wire.1.side", "battery", "one of"),
    ],
)
def test_wire_that_cannot_be_is_one_fault(overrides: list[str], field: str, value: object, words: str) -> None:
    fault = only_fault(*overrides)
    assert fault.field == field
    assert fault.value == value
    assert words in fault.reason


def test_a_motor_run_needs_the_motor_s_voltage() -> None:
    text = demo_text().replace('motor_voltage = "48 V"', "")
    with pytest.raises(InputError) as caught:
        parse_job(text)
    (fault,) = caught.value.faults
    assert fault.field == "controller.motor_voltage"
    assert fault.value is None
    assert "is needed" in fault.reason
    assert "label" in fault.remedy
    # Only wire on the array's side: not needed.
    start, end = text.rindex("[[wire]]"), text.index("[controller]")
    assert len(parse_job(text[:start] + text[end:]).wire) == 1


# --- Controller ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("overrides", "field"),
    [
        (["controller.min_input=50 V"], "controller.track_low"),
        (["controller.track_low=125 V"], "controller.track_high"),
        (["controller.track_high=45 V"], "controller.track_high"),
        (["controller.max_input=120 V"], "controller.max_input"),
        (["controller.start=1000 W"], "controller.start"),
        (["controller.stop=300 W"], "controller.stop"),
        (["controller.efficiency_load=10 50 100 %"], "controller.efficiency_curve"),
        (
            ["controller.efficiency_load=10 50 100 %", "controller.efficiency_curve=90 95 %"],
            "controller.efficiency_curve",
        ),
        (
            ["controller.efficiency_load=10 50 50 %", "controller.efficiency_curve=90 95 95 %"],
            "controller.efficiency_load",
        ),
        (["controller.efficiency_load=0 50 %", "controller.efficiency_curve=90 95 %"], "controller.efficiency_load"),
        (["controller.efficiency_load=10 50 %", "controller.efficiency_curve=90 105 %"], "controller.efficiency_curve"),
        (["controller.max_input_current=0 A"], "controller.max_input_current"),
    ],
)
def test_controller_limits_out_of_order_are_one_fault(overrides: list[str], field: str) -> None:
    assert only_fault(*overrides).field == field


def test_running_from_the_lowest_tracking_voltage_is_no_fault() -> None:
    assert demo("controller.min_input=45 V").controller.lowest_v == 45.0


def test_order_is_checked_across_limits_left_out() -> None:
    text = demo_text().replace('track_low = "45 V"\n', "").replace('track_high = "120 V"\n', "")
    with pytest.raises(InputError) as caught:
        parse_job(text.replace('min_input = "40 V"', 'min_input = "160 V"'))
    assert [fault.field for fault in caught.value.faults] == ["controller.max_input"]


def test_limits_as_one_module_meets_them() -> None:
    """Four in series share the volts; the amperes are those of two strings."""
    job = demo("controller.max_input_current=12 A")
    limits = module_end(job)
    assert (limits.low_v, limits.high_v) == (45 / 4, 120 / 4)
    assert limits.max_a == pytest.approx(12 / 2)


def test_without_limits_a_module_meets_none() -> None:
    text = demo_text()
    for line in ('min_input = "40 V"\n', 'track_low = "45 V"\n', 'track_high = "120 V"\n'):
        text = text.replace(line, "")
    text = "\n".join(line for line in text.splitlines() if not line.startswith("max_input"))
    limits = module_end(parse_job(text))
    assert (limits.low_v, limits.high_v, limits.max_a) == (0.0, math.inf, math.inf)


def test_efficiency_by_load_reaches_the_chain() -> None:
    """Demo: 1000 W rated, own use 6 W: 506 W is half load."""
    job = demo("controller.efficiency_load=10 50 100 %", "controller.efficiency_curve=80 96 92 %")
    assert controller_w(job, np.array([6.0, 106.0, 506.0, 756.0])) == pytest.approx(
        [0.0, 100 * 0.80, 500 * 0.96, 750 * 0.94]
    )


def test_a_string_over_the_controller_s_largest_voltage_is_one_fault() -> None:
    """4 · 21.8 = 87.2 V at 25 °C already."""
    fault = only_fault("controller.max_input=87 V", "controller.track_high=80 V")
    assert fault.field == "array.in_series"
    assert fault.value == 4
    assert "87 V" in fault.reason
    assert "licensed person" in fault.remedy
    assert demo("controller.max_input=88 V", "controller.track_high=80 V").controller.max_input_v == 88


# --- Trees in the array's room ---------------------------------------------------------------------------------------

TREE = 'trees=[{{bearing=90, distance="{distance}", height="{height}", width="2 m", crown_base="{base}"}}]'


def test_a_tree_inside_the_array_is_a_fault() -> None:
    """Its crown of 1 m and the room of 2.0 m around the axis touch at 3.0 m."""
    fault = only_fault(TREE.format(distance="2.9 m", height="6 m", base="1 m"))
    assert fault.field == "trees.0.distance"
    assert fault.value == pytest.approx(2.9)
    assert "2.0 m" in fault.reason
    assert "trunk" in fault.remedy
    assert demo(TREE.format(distance="3.1 m", height="6 m", base="1 m")).trees[0].distance_m == 3.1


def test_a_tree_wholly_below_or_above_the_array_is_none() -> None:
    """The axis is 8 ft up, the array turns within 2.0 m of it: 0.44 to 4.44 m above the ground."""
    assert demo(TREE.format(distance="0.5 m", height="0.4 m", base="0 m")).trees
    assert demo(TREE.format(distance="0.5 m", height="9 m", base="4.5 m")).trees
    for height, base in (("0.5 m", "0 m"), ("9 m", "4.4 m")):
        assert only_fault(TREE.format(distance="0.5 m", height=height, base=base)).field == "trees.0.distance"


def test_a_row_in_the_array_is_a_fault_whichever_way_it_runs() -> None:
    row = 'trees=[{{kind="row", bearing=90, distance="{at} m", height="6 m", width="40 m"{more}}}]'
    assert only_fault(row.format(at="1.9", more="")).field == "trees.0.distance"
    assert demo(row.format(at="2.1", more="")).trees


def test_a_row_that_runs_through_the_array_is_a_fault() -> None:
    """Its middle stands 15 m due east, but it runs east and west for 40 m: its near end lies 5 m beyond the rack."""
    row = 'trees=[{kind="row", bearing=90, distance="15 m", height="6 m", width="40 m", runs=90}]'
    assert only_fault(row).field.startswith("trees.0")
    assert demo(row.replace("40 m", "20 m")).trees


def test_every_fault_of_a_job_is_told_at_once() -> None:
    with pytest.raises(InputError) as caught:
        demo(
            "controller.max_input=87 V",
            "controller.track_high=80 V",
            TREE.format(distance="1 m", height="6 m", base="0 m"),
        )
    assert [fault.field for fault in caught.value.faults] == ["trees.0.distance", "array.in_series"]
