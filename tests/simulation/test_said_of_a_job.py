"""What a result says of an unusual job: each notice by its field, and not of the job without what makes it so."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from trackersim import load_job, simulate
from trackersim.analysis.hydraulics import water_report
from trackersim.job.files import with_overrides
from trackersim.simulation.orientation import axis_of

SPRING = dt.date(2025, 3, 21)
DAY = ("weather.file=sample:clear-spring-day",)
SUMP = ("source.kind=sump", "source.volume=4 m**3")

UNUSUAL: tuple[tuple[tuple[str, ...], str, str], ...] = (
    (("array.soiling_per_day=0.1 %",), "array.soiling_per_day", "has no rain"),
    (("site.utc_offset=-6",), "site.utc_offset", "The weather's clock"),
    (("site.timezone=Europe/Paris",), "site.timezone", "Is it the site's?"),
    (SUMP, "source.inflow", "Nothing runs into the sump"),
    ((*SUMP, "source.inflow=9 m**3/day"), "source.specific_capacity", "is left out"),
    (("source.max_drawdown=1 ft",), "source.max_drawdown", "sets the largest flow"),
    (
        ("controller.rated=220 W", "controller.start=100 W"),
        "source.lift",
        "the rating of its controller does not bring",
    ),
    (("rack={kind='delayed'}",), "rack.axis_tilt", "is taken as level"),
    (("rack={kind='ideal', fixed_tilt=50}",), "rack.axis_tilt", "is taken to lean 50°"),
    (("rack.height=3 ft",), "rack.height", "At its stops the array would reach"),
    (("rack={kind='fixed', fixed_tilt=60, height='3 ft'}",), "rack.height", "As it stands the array would reach"),
)


def said(*overrides: str) -> dict[str, str]:
    result = simulate(load_job("demo", [*DAY, *overrides]))
    return {notice.field: notice.text for notice in result.notices}


@pytest.fixture(scope="module")
def said_of_the_demo() -> dict[str, str]:
    return said()


@pytest.mark.parametrize(("overrides", "field", "words"), UNUSUAL)
def test_what_is_unusual_is_said(
    said_of_the_demo: dict[str, str], overrides: tuple[str, ...], field: str, words: str
) -> None:
    assert words in said(*overrides).get(field, "")
    assert words not in said_of_the_demo.get(field, "")


def test_what_the_controller_s_rating_forbids_is_no_ground_for_a_caution() -> None:
    """Once "OFF THE SHEET: at full power this pump gives 14.2 gpm" where its controller's rating leaves it 12.9."""
    shallow = ("pump={pump_class='10gpm-150ft'}", "source={lift='60 ft'}", "controller.rated=1500 W")
    assert said(*shallow)["pump.curve_flow"].startswith("OFF THE SHEET")
    assert "pump.curve_flow" not in said(*shallow[:2], "controller.rated=500 W")


def test_a_turning_rack_beside_a_fixed_plane_leans_as_it_does() -> None:
    """Once level without a word, where a job tells of a fixed plane alone: at 55° N a rack that follows the sun had
    6,840 gal/day in its worst month, and on an axis that leans as the plane does 12,200."""
    told = simulate(load_job("demo", [*DAY, "rack={kind='ideal', axis_tilt=50}"]))
    left_out = simulate(load_job("demo", [*DAY, "rack={kind='ideal', fixed_tilt=50}"]))
    assert left_out.water_m3 == told.water_m3
    assert "rack.axis_tilt" not in {notice.field for notice in told.notices}
    fixed = said("rack={kind='fixed', fixed_tilt=50}")
    assert "rack.axis_tilt" not in fixed  # nothing turns on it


def test_what_is_alike_of_several_units_is_said_once() -> None:
    """Once three times the same caution, which filled the customer's sheet and left others no room."""
    main = "main={lift='10 ft', pipes={length='90 ft', bore='2 in'}}"
    old = "array={module_class='2000s-120W-36'}"
    two = f"{{name='A', {old}}}, {{name='B', {old}}}"
    for names, who in ((two, "every unit"), (f"{two}, {{name='C'}}", "A, B")):
        result = simulate(load_job("demo", [*DAY, f"unit=[{names}]", main]))
        told = [notice for notice in result.notices if "generic one of class" in notice.text]
        assert [notice.text.split(":")[0] for notice in told] == [who]
        assert told[0].field.startswith("unit.0.array")


def test_of_several_pipes_friction_is_told_by_name() -> None:
    """Once wrong: three cautions alike of three pumps, with figures that no other answer shows, and no name to any."""
    units = (
        "[" + ", ".join(f"{{name='{name}', pipes={{length='300 ft', bore='1 in', c_value=90}}}}" for name in "AB") + "]"
    )
    main = "main={lift='10 ft', pipes={length='900 ft', bore='1.5 in', c_value=90}}"
    result = simulate(load_job("demo", [*DAY, f"unit={units}", main]))
    told = [notice.text for notice in result.notices if "more than 10 % apart" in notice.text]
    assert len(told) == 3
    for text, where in zip(told, ("the own pipe of A", "the own pipe of B", "the main"), strict=True):
        assert text.startswith(f"Friction in {where} at full flow")
    assert said("pipes.c_value=90")["pipes"].startswith("Friction at full flow")


@pytest.mark.parametrize(("latitude", "dates"), [(36, ("04-20", "11-01")), (-36, ("10-19", "05-02"))])
def test_leaf_dates_that_are_assumed_are_those_of_the_hemisphere(latitude: float, dates: tuple[str, str]) -> None:
    """Once "full leaf from 04-20, bare from 11-01 (half a year later south of the equator)", in Australia too."""
    tree = "trees=[{name='ash', bearing=92, distance='40 ft', height='32 ft', width='30 ft'}]"
    place = (f"site.latitude={latitude}", "weather.file=", "weather.clear_sky=true")
    result = simulate(load_job("demo", [*place, tree]), first_day=SPRING, last_day=SPRING)
    told = next(notice.text for notice in result.notices if notice.field == "trees")
    assert told == f"No leaf dates given for ash: full leaf from {dates[0]}, bare from {dates[1]} is assumed."


def test_friction_that_hardly_counts_is_not_disputed() -> None:
    """Once a caution on every answer of a deep well: 1.35 ft by one formula and 1.67 ft by the other, of 356 ft."""
    job = load_job("demo", [*DAY, "pipes={length='40 ft', bore='1.36 in', c_value=110}"])
    (parts,) = water_report(simulate(job)).heads
    assert parts.friction_m > 1.1 * parts.friction_darcy_m
    assert parts.friction_m - parts.friction_darcy_m < 0.01 * parts.lift_m
    assert "pipes" not in {notice.field for notice in simulate(job).notices}


def test_what_the_controllers_window_leaves_is_not_laid_on_the_wire() -> None:
    """Once wrong: "100 % of the array's power is lost in the wire" where two strings want more amperes than the
    controller takes within its volts. A thin wire is told of as before, and both where there are both."""
    told = {}
    window = ("controller.track_high=60 V", "controller.max_input_current=6 A")
    for name, changes in {"window": window, "wire": ("wire.0.gauge=16",), "both": (*window, "wire.0.gauge=16")}.items():
        told[name] = " ".join(said(*changes).values())
    for words, where in (("lost in the wire", {"wire", "both"}), ("the controller leaves", {"window", "both"})):
        assert {name for name, text in told.items() if words in text} == where
    assert "from 45 to 60 V, with no more than 6 A" in told["window"]


def test_which_of_several_pumps_wants_a_relief_valve_is_told() -> None:
    """Once wrong: "a helical pump", "this pump" among three, and no name to either."""
    helical = "{kind='helical', curve_flow='7.0 6.6 gpm', curve_head='200 400 ft', curve_power='400 690 W'}"
    unit = f"unit=[{{name='A'}}, {{name='B', pump={helical}}}]"
    result = simulate(load_job("demo", [*DAY, unit, "main={lift='10 ft', pipes={length='90 ft', bore='2 in'}}"]))
    told = {notice.field: notice.text for notice in result.notices}
    assert told["unit.1.pump.kind"].startswith("B: RELIEF VALVE")
    assert told["unit.1.pump.curve_head"].startswith("B: OFF THE SHEET")
    assert said(f"pump={helical}")["pump.kind"].startswith("RELIEF VALVE")


@pytest.mark.parametrize("kind", ["fixed", "ideal"])
def test_an_array_reaches_the_ground_where_its_lowest_corner_does(kind: str) -> None:
    """Against the corners as the shade of trees has them."""
    of_rack = ("rack.fixed_tilt=55",) if kind == "fixed" else ("rack.axis_tilt=20", "rack.max_rotation=40")
    job = load_job("demo", [*DAY, f"rack.kind={kind}", *of_rack])
    axis, out, turned = axis_of(job), job.array.laid_out, np.radians(0.0 if kind == "fixed" else 40.0)
    across = axis.west * np.cos(turned) - axis.centre_normal * np.sin(turned)
    sides = [(aside, along) for aside in (-0.5, 0.5) for along in (-0.5, 0.5)]
    corners = [aside * out.width_m * across + along * out.height_m * axis.low_end for aside, along in sides]
    lowest_m = -min((each + out.above_axis_m * axis.normals(np.degrees(turned)))[2] for each in corners)
    for height_m, reaches in ((lowest_m - 0.01, True), (lowest_m + 0.01, False)):
        result = simulate(with_overrides(job, {"rack.height": f"{height_m} m"}))
        assert ("rack.height" in {notice.field for notice in result.notices}) == reaches
