"""Quantities that are read: what a technician may write, and what is refused in words."""

from __future__ import annotations

import math
from collections.abc import Callable
from contextlib import AbstractContextManager

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from trackersim.quantity_reading import UnitError, read_quantities, read_quantity, unit_of, without_unit

# Factors by definition: 1 ft = 0.3048 m, 1 US gal = 231 in³ = 3.785411784 L, 1 mi = 1609.344 m (NIST SP 811).
READ = [
    ("55 ft", "m", 16.764),
    ("55ft", "m", 16.764),
    ("-3 ft", "m", -0.9144),
    ("−3 ft", "m", -0.9144),
    ("1.25 in", "m", 0.03175),
    ("34.5 mm", "m", 0.0345),
    ("1 mile", "m", 1609.344),
    ("1,500 ft", "m", 457.2),
    ("12", "m", 12.0),
    (12, "m", 12.0),
    ("  12   m ", "m", 12.0),
    ("1.2e2 m", "m", 120.0),
    ("10 gpm", "m**3/s", 10 * 3.785411784e-3 / 60),
    ("60 L/min", "m**3/s", 1e-3),
    ("60 lpm", "m**3/s", 1e-3),
    ("600 gph", "m**3/s", 10 * 3.785411784e-3 / 60),
    ("1500 gal/day", "m**3/day", 1500 * 3.785411784e-3),
    ("1500 gpd", "m**3/day", 1500 * 3.785411784e-3),
    ("0.5 gpm/ft", "m**3/s/m", 0.5 * 3.785411784e-3 / 60 / 0.3048),
    ("2 h", "min", 120.0),
    ("90 min", "hour", 1.5),
    ("5 mph", "m/s", 2.2352),
    ("1.1 kW", "W", 1100.0),
    ("1 hp", "W", 745.69987158),
    ("20 deg", "deg", 20.0),
    ("20°", "deg", 20.0),
    ("20 °", "deg", 20.0),
    ("5 %", "", 0.05),
    ("5%", "", 0.05),
    ("-0.34 %", "", -0.0034),
    ("0.05", "", 0.05),
    ("6 mm2", "mm**2", 6.0),
    ("6 mm²", "mm**2", 6.0),
    ("17.4 V", "V", 17.4),
    ("6.9 A", "A", 6.9),
    ("41 F", "degC", 5.0),
    ("41 °F", "degC", 5.0),
    ("41 degF", "degC", 5.0),
    ("-20 C", "degC", -20.0),
    ("−20 °C", "degC", -20.0),
    ("-20 degC", "degC", -20.0),
    ("293.15 K", "degC", 20.0),
    ("-4", "degC", -4.0),
]


@pytest.mark.parametrize(("text", "unit", "value"), READ)
def test_what_a_technician_may_write(text: object, unit: str, value: float) -> None:
    assert read_quantity(text, unit) == pytest.approx(value, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "unit", "word"),
    [
        pytest.param("70 gpm", "m", "something else", id="flow-for-a-length"),
        pytest.param("70 ft", "m**3/s", "something else", id="length-for-a-flow"),
        pytest.param("5 W", "V", "something else", id="power-for-a-voltage"),
        pytest.param("5 %", "m", "something else", id="share-for-a-length"),
        pytest.param("5 m", "degC", "something else", id="length-for-a-temperature"),
        pytest.param("5 flurbs", "m", "unknown unit", id="no-such-unit"),
        pytest.param("5 ft 14 in", "m", "smaller part", id="feet-and-more-than-a-foot"),
        pytest.param("1,5 m", "m", "comma", id="decimal-comma"),
        pytest.param("1.500.000 m", "m", "comma", id="points-for-thousands"),
        pytest.param("", "m", "not a number", id="empty"),
        pytest.param("ft", "m", "not a number", id="unit-only"),
        pytest.param("about 5 m", "m", "not a number", id="words"),
        pytest.param("nan", "m", "not a number", id="nan-text"),
        pytest.param("1e999 m", "m", "finite", id="overflow"),
        pytest.param(math.nan, "m", "finite", id="nan"),
        pytest.param(math.inf, "m", "finite", id="inf"),
        pytest.param(-math.inf, "m", "finite", id="minus-inf"),
        pytest.param(True, "m", "not a number", id="boolean"),
        pytest.param(None, "m", "not a number", id="none"),
        pytest.param([5], "m", "not a number", id="list"),
        pytest.param({"value": 5}, "m", "not a number", id="table"),
        pytest.param("5 m/0", "m", "unknown unit", id="division-by-zero"),
        pytest.param("5 __import__('os')", "m", "unit", id="code"),
    ],
)
def test_what_is_refused_in_words(text: object, unit: str, word: str) -> None:
    with pytest.raises(UnitError, match=word):
        read_quantity(text, unit)


# Once wrong: float() of a huge whole number raises OverflowError, not UnitError.
def test_a_number_too_large_for_a_float_is_refused() -> None:
    with pytest.raises(UnitError):
        read_quantity(10**400, "m")


# Once wrong: a decimal comma with three places is read as thousands: "0,125 m" becomes 125 m.
def test_a_leading_zero_cannot_begin_thousands() -> None:
    with pytest.raises(UnitError, match="comma"):
        read_quantity("0,125 m", "m")


# Once wrong: commas are dropped wherever they stand: "1,2345 m" becomes 12345 m, "1,23.5" 123.5.
@pytest.mark.parametrize("text", ["1,2345 m", "1,23.5 m", "12,,500 m"])
def test_commas_that_part_no_thousands_are_refused(text: str) -> None:
    with pytest.raises(UnitError, match="comma"):
        read_quantity(text, "m")


# Once wrong: pint turns degrees into radians for a plain number: a share of "5 °" becomes 0.087.
def test_an_angle_is_no_plain_number() -> None:
    with pytest.raises(UnitError):
        read_quantity("5 deg", "")


# Once wrong: pint evaluates powers of whole numbers, so "5 m*9**9**9" never ends.
@pytest.mark.parametrize("word", ["m**(9**9**9)", "m*9**9**9", "(" * 300 + "m" + ")" * 300, "m" * 5000, "m^1e308"])
def test_monstrous_units_are_refused_quickly(
    word: str, within_seconds: Callable[[int], AbstractContextManager[None]]
) -> None:
    with within_seconds(2), pytest.raises(UnitError):
        read_quantity(f"5 {word}", "m**3")


@pytest.mark.parametrize("text", ["1" * 60 + " x\ny", "1 " * 60 + "x\ny", "1,1" * 60 + "\n!\n!"])
def test_monstrous_lists_are_answered_quickly(
    text: str, within_seconds: Callable[[int], AbstractContextManager[None]]
) -> None:
    with within_seconds(5), pytest.raises(UnitError):
        read_quantities(text, "m")


@pytest.mark.parametrize(
    ("value", "unit", "numbers"),
    [
        ("0 5 10 m", "m", (0.0, 5.0, 10.0)),
        ("0, 5, 10 m", "m", (0.0, 5.0, 10.0)),
        ("0; 5; 10", "m", (0.0, 5.0, 10.0)),
        ("0 30 45 %", "", (0.0, 0.30, 0.45)),
        (["0 m", 5, "10 m"], "m", (0.0, 5.0, 10.0)),
        ("7 m", "m", (7.0,)),
        ([], "m", ()),
        ("0 60 L/min", "m**3/s", (0.0, 1e-3)),
    ],
)
def test_lists_of_quantities(value: object, unit: str, numbers: tuple[float, ...]) -> None:
    assert read_quantities(value, unit) == pytest.approx(numbers)


@pytest.mark.parametrize("value", ["gpm", "", "five", 5, None, {"a": 1}, ["x"], [True], "1 2 gpm", "1 2 flurbs"])
def test_lists_refused_in_words(value: object) -> None:
    with pytest.raises(UnitError):
        read_quantities(value, "m")


quantity_like = st.one_of(
    st.text(max_size=30),
    st.text(alphabet="0123456789.,+-−eE °%²³٣*/^()_ mftgpCFK'\"", max_size=30),
    st.builds("{} {}".format, st.floats(), st.text(max_size=12)),
)


@settings(max_examples=600)
@given(
    value=st.one_of(quantity_like, st.floats(), st.integers(), st.none(), st.booleans()),
    unit=st.sampled_from(["", "m", "m**3/s", "degC", "deg", "mm**2", "hour"]),
)
@example(value="²", unit="m")
@example(value="1²", unit="m")
def test_weird_text_raises_only_unit_errors(value: object, unit: str) -> None:
    try:
        number = read_quantity(value, unit)
    except UnitError:
        return
    assert math.isfinite(number)


@settings(max_examples=300)
@given(value=st.one_of(quantity_like, st.lists(quantity_like, max_size=4)), unit=st.sampled_from(["", "m", "degC"]))
def test_weird_lists_raise_only_unit_errors(value: object, unit: str) -> None:
    try:
        numbers = read_quantities(value, unit)
    except UnitError:
        return
    assert all(math.isfinite(number) for number in numbers)


def test_a_fields_name_tells_its_unit_and_its_key() -> None:
    assert (unit_of("flow_m3_s"), unit_of("head_m"), unit_of("wind_m_s"), unit_of("age_years")) == (
        "m**3/s", "m", "m/s", "",
    )  # fmt: skip
    assert (without_unit("demand_m3_per_day"), without_unit("height_m"), without_unit("cells")) == (
        "demand", "height", "cells",
    )  # fmt: skip
