"""Near trees through the whole chain: orders, limits and identities of daily energy."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trackersim import Job, Result, load_job, simulate
from trackersim.job.files import with_overrides

CLEAR = ["weather.file=", "weather.clear_sky=true"]
SPRING = {"first_day": dt.date(2025, 4, 25), "last_day": dt.date(2025, 4, 25)}
WINTER = {"first_day": dt.date(2025, 1, 20), "last_day": dt.date(2025, 1, 20)}


def run(*overrides: str, trees: list[dict[str, Any]] | None = None, days: dict[str, dt.date] = SPRING) -> Result:
    return simulate(job_of(*overrides, trees=trees), **days)


def job_of(*overrides: str, trees: list[dict[str, Any]] | None = None) -> Job:
    job = load_job("demo", [*CLEAR, "trees=[]", *overrides])
    return with_overrides(job, {"trees": trees}) if trees else job


def kwh(result: Result, which: str = "array_w") -> float:
    return float(result.minutes[which].sum()) / 60_000


def tree(**fields: Any) -> dict[str, Any]:
    return {"bearing": 120, "distance": 9, "height": 7, "width": 5, "crown_base": 0, "leaf": "evergreen", **fields}


# --- More shade is never more energy ---------------------------------------------------------------------------------


@st.composite
def trees(draw: st.DrawFn) -> dict[str, Any]:
    kind = draw(st.sampled_from(["tree", "row"]))
    height = draw(st.floats(1, 25))
    made = {
        "kind": kind,
        "bearing": draw(st.floats(60, 300)),
        "distance": draw(st.floats(9, 60)),
        "height": height,
        "width": draw(st.floats(1, 12)),
        "crown_base": draw(st.floats(0, 0.9)) * height,
        "leaf": "evergreen",
        "beam_in_leaf": draw(st.sampled_from([0.0, 0.05, 0.4, 0.9])),
    }
    return {**made, "runs": draw(st.floats(0, 359))} if kind == "row" and draw(st.booleans()) else made


@settings(max_examples=10)
@given(
    kind=st.sampled_from(["fixed", "ideal", "delayed"]),
    days=st.sampled_from([SPRING, WINTER]),
    first=st.lists(trees(), max_size=2),
    one_more=trees(),
    diodes=st.sampled_from([0, 1, 2, 3]),
)
def test_energy_never_rises_when_a_tree_is_added(
    kind: str, days: dict[str, dt.date], first: list[dict[str, Any]], one_more: dict[str, Any], diodes: int
) -> None:
    """On a clear day. To 1e-3: the samples of a shaded curve and the cooler cells of a shaded array count that much."""
    options = [f"rack.kind={kind}", f"array.bypass_diodes={diodes}"]
    before, after = run(*options, trees=first, days=days), run(*options, trees=[*first, one_more], days=days)
    assert (after.minutes["beam_share"] <= before.minutes["beam_share"] + 1e-6).all() or kind == "delayed"
    for which in ("array_w", "input_w"):
        assert kwh(after, which) <= kwh(before, which) * (1 + 1e-3)


def test_each_tree_of_a_growing_wood_costs_more() -> None:
    wood = [tree(bearing=bearing, distance=12, height=9) for bearing in (130, 150, 180, 210, 230)]
    energy = [kwh(run("rack.kind=fixed", trees=wood[:count], days=WINTER)) for count in range(6)]
    assert all(later < 0.97 * earlier for earlier, later in pairwise(energy))


# --- Limits ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["fixed", "ideal", "delayed"])
def test_trees_that_let_everything_pass_are_no_trees(kind: str) -> None:
    glass = [tree(beam_in_leaf=1.0), tree(kind="row", bearing=240, width=12, runs=10, beam_in_leaf=1.0)]
    without, behind = (run(f"rack.kind={kind}", trees=some) for some in (None, glass))
    for name, values in without.minutes.items():
        np.testing.assert_allclose(behind.minutes[name], values, rtol=1e-12, atol=1e-12, err_msg=name)


def far_and_near(times: float) -> dict[str, Any]:
    """A crown from 3 to 5.4 m above the axis, 8 m wide, 20 m away; or the same so many times larger and farther.

    Its heights count from ground that rises with it: of the axis and `times` the 3 m above it."""
    axis_m = 8 * 0.3048
    return tree(
        bearing=126, distance=20 * times, width=8 * times, height=2.4 * times, crown_base=0,
        ground=axis_m + 3 * times, beam_in_leaf=0.0,
    )  # fmt: skip


TINY = [
    "array.layout.module_width=6 cm", "array.layout.module_height=6 cm", "array.layout.gap_across=0",
    "array.layout.gap_along=0", "array.layout.above_axis=0",
]  # fmt: skip


def test_a_tree_fifty_times_as_far_and_large_shades_all_modules_as_the_axis() -> None:
    """Limit. Seen from the axis both are the same; an array of 12 by 24 cm sees nearly what the axis sees."""
    options = ["rack.kind=ideal"]
    far = run(*options, trees=[far_and_near(50)], days=WINTER)
    near = run(*options, trees=[far_and_near(1)], days=WINTER)
    as_axis = run(*options, *TINY, trees=[far_and_near(1)], days=WINTER)
    none = run(*options, days=WINTER)
    lost = [kwh(none) - kwh(each) for each in (far, as_axis, near)]
    assert lost[1] > 0.02 * kwh(none)
    # The small array is 0.8° across at 20 m, the large one 0.2° at 1000 m: a minute or two of mixed shade between them.
    assert kwh(far) == pytest.approx(kwh(as_axis), rel=2e-3)
    axis_itself = run(*options, *TINY, trees=[far_and_near(50)], days=WINTER)
    one_minute = none.minutes["array_w"].max() / 60_000
    assert lost[0] == pytest.approx(kwh(none) - kwh(axis_itself), abs=1.5 * one_minute)
    # A near tree's edge takes its time over the array: strings lose for longer.
    assert lost[2] > 1.02 * lost[1]
    # Minute by minute the far tree's shade is there or not.
    share = far.minutes["beam_share"][far.minutes["plane_w_m2"] > 0]
    partly = (share > 0.01) & (share < 0.99)
    near_share = near.minutes["beam_share"][near.minutes["plane_w_m2"] > 0]
    assert partly.sum() < 4 < ((near_share > 0.01) & (near_share < 0.99)).sum()


def test_the_tree_comes_nearer_without_a_jump() -> None:
    """From 50 times as far to where it stands, the loss grows smoothly."""
    lost = [kwh(run("rack.kind=ideal", trees=[far_and_near(times)], days=WINTER)) for times in (50, 20, 8, 4, 2, 1)]
    steps = np.diff(lost)
    assert (steps <= 0.003 * lost[0]).all()
    assert np.abs(steps).max() < 0.04 * lost[0]


# --- Strings ---------------------------------------------------------------------------------------------------------

SIDE_TREE = tree(bearing=150, distance=7, height=6, width=4)


def test_along_which_edge_a_single_string_runs_is_all_one() -> None:
    one_string = [
        "array.in_series=8",
        "array.in_parallel=1",
        "controller.track_high=160 V",
        "controller.max_input=250 V",
    ]
    rows, columns = (
        run(*one_string, f"array.layout.strung_by={way}", "rack.kind=fixed", trees=[SIDE_TREE], days=WINTER)
        for way in ("rows", "columns")
    )
    for name in ("array_w", "input_w"):
        np.testing.assert_allclose(rows.minutes[name], columns.minutes[name], rtol=1e-9)
    assert kwh(rows) < 0.98 * kwh(run(*one_string, "rack.kind=fixed", days=WINTER))


def test_strings_along_the_edge_of_the_shade_lose_less_without_diodes() -> None:
    """A low winter sun over a long row in the south shades the lower row of modules: it is one string by rows, half of
    both by columns. Without diodes a half shaded string gives what its shaded half bears."""
    hedge = [tree(kind="row", bearing=180, distance=6, height=5, width=30, beam_in_leaf=0.0)]
    options = ["rack.kind=fixed", "array.bypass_diodes=0"]
    rows, columns = (
        kwh(run(*options, f"array.layout.strung_by={way}", trees=hedge, days=WINTER)) for way in ("rows", "columns")
    )
    assert rows > 1.01 * columns


def test_diodes_only_help() -> None:
    energy = [
        kwh(run("rack.kind=fixed", f"array.bypass_diodes={count}", trees=[SIDE_TREE], days=WINTER))
        for count in (0, 1, 2)
    ]
    assert energy[0] < energy[1] * 0.999
    assert energy[1] < energy[2] * (1 + 1e-3)


def test_shade_within_the_array_costs_more_than_its_light() -> None:
    """The strings' loss is beyond the mean light's; and at least the least lit module's."""
    none = run("rack.kind=fixed", days=WINTER)
    shaded = run("rack.kind=fixed", trees=[SIDE_TREE], days=WINTER)
    light_lost = 1 - shaded.minutes["plane_w_m2"].sum() / none.minutes["plane_w_m2"].sum()
    power_lost = 1 - kwh(shaded) / kwh(none)
    assert power_lost > light_lost > 0.01
    share = shaded.minutes["beam_share"]
    assert ((share >= 0) & (share <= 1)).all()
    mixed = (share > 0.1) & (share < 0.9) & (none.minutes["plane_w_m2"] > 200)
    assert mixed.sum() > 20
    assert (shaded.minutes["array_w"][mixed] < none.minutes["array_w"][mixed]).all()


def test_a_minute_s_answer_does_not_depend_on_the_other_days() -> None:
    """The day alone and the same day among others."""
    hedge = [tree(kind="row", bearing=180, distance=5, height=6, width=9, beam_in_leaf=0.0)]
    options = ["rack.kind=fixed", "controller.track_low=72 V"]
    alone = run(*options, trees=hedge, days=WINTER)
    among = run(
        *options, trees=hedge, days={"first_day": dt.date(2025, 1, 19), "last_day": dt.date(2025, 1, 21)}
    )  # fmt: skip
    for name in ("array_w", "input_w"):
        np.testing.assert_allclose(among.by_day(name)[1], alone.by_day(name)[0], rtol=1e-9, atol=1e-9)


def test_power_at_the_controller_stays_within_its_limits_under_shade() -> None:
    """Beyond a hundredth of the array's power."""
    window = ["controller.track_low=64 V", "controller.track_high=72 V", "rack.kind=fixed"]
    result = run(*window, trees=[SIDE_TREE], days=WINTER)
    power, volts = result.minutes["input_w"], result.minutes["input_v"]
    working = (power > 10) & (result.minutes["used_w"] == power)
    assert working.sum() > 300
    assert volts[working].min() >= 64 * (1 - 1e-6)
    assert volts[working].max() <= 72 * (1 + 1e-6)
    assert (power <= result.minutes["array_w"] + 1e-6).all()
    assert kwh(result, "input_w") < kwh(run("rack.kind=fixed", trees=[SIDE_TREE], days=WINTER), "input_w")


def test_current_at_the_controller_stays_within_its_limit_under_shade() -> None:
    result = run("controller.max_input_current=6 A", "rack.kind=fixed", trees=[SIDE_TREE], days=WINTER)
    power, volts = result.minutes["input_w"], result.minutes["input_v"]
    working = power > 0
    current = power[working] / volts[working]
    # The tables between their grid's places: to half a per cent.
    assert current.max() <= 6 * 1.005
    assert (current > 6 * 0.99).sum() > 60


def test_no_power_at_all_below_the_window() -> None:
    result = run("controller.track_low=64 V", "rack.kind=fixed", trees=[SIDE_TREE], days=WINTER)
    power, volts = result.minutes["input_w"], result.minutes["input_v"]
    assert volts[power > 0].min() >= 64 * (1 - 1e-6)


def test_a_window_out_of_reach_gives_the_controller_nothing_and_leaves_the_array_its_own() -> None:
    result = run("controller.track_low=110 V", "controller.track_high=120 V", trees=[SIDE_TREE], days=WINTER)
    assert (result.minutes["input_w"] == 0).all()
    assert (result.minutes["input_v"] == 0).all()
    assert kwh(result) > 1


# --- Trees and the rack ----------------------------------------------------------------------------------------------


def test_a_tree_below_the_rack_costs_no_beam() -> None:
    """Bushes under it reach 0.4 m of the 2.4 m to the axis, and stand wholly below it."""
    bush = [tree(distance=0.5, height=0.4, width=3)]
    with_bush, without = (run("rack.kind=fixed", trees=some) for some in (bush, None))
    np.testing.assert_allclose(with_bush.minutes["beam_share"], without.minutes["beam_share"])
    assert kwh(with_bush) == pytest.approx(kwh(without), rel=1e-3)


def test_mirrored_trees_cost_the_mirrored_hours() -> None:
    """A fixed level plane on its zone's meridian: what an eastern tree takes in the morning a western one takes in the
    evening, module by module."""
    base = [
        "rack.kind=fixed", "rack.axis_tilt=0", "site.longitude=-75", "weather.daily_swing=0",
        "array.layout.strung_by=columns",
    ]  # fmt: skip
    solstice = {"first_day": dt.date(2025, 6, 21), "last_day": dt.date(2025, 6, 21)}
    east, west = (run(*base, trees=[tree(bearing=bearing, height=9)], days=solstice) for bearing in (80, 280))
    assert kwh(east) == pytest.approx(kwh(west), rel=2e-3)
    morning, evening = (each.minutes["array_w"] for each in (east, west))
    assert morning[:720].sum() < 0.99 * evening[:720].sum()
