"""What is typed on site: one reader, which lets nothing through that is no finite number within its limits."""

from __future__ import annotations

import math

import pytest

from trackersim.analysis.typed_input import measured_of, readings_of, seen_of, unit_called
from trackersim.errors import InputError
from trackersim.quantity_writing import in_both


# Once "nan gpm" with exit code 0, and a traceback out of the JSON.
@pytest.mark.parametrize("seconds", [[""], ["", " ,; "], ["1e-300"], ["nan"], ["inf"], ["0"], ["-3"], ["0.1"], ["1e5"]])
def test_seconds_that_are_none_are_told(seconds: list[str]) -> None:
    with pytest.raises(InputError) as told:
        measured_of(volume="5 gal", seconds=seconds)
    assert {fault.field for fault in told.value.faults} == {"seconds"}


def test_a_flow_beyond_all_pumps_is_told() -> None:
    with pytest.raises(InputError, match="gpm"):
        measured_of(volume="5000 gal", seconds=["2"])


@pytest.mark.parametrize("rotation", ["nan", "inf", "100", "-91", "west", "1e999"])
def test_an_angle_that_is_none_is_told(rotation: str) -> None:
    """Once a traceback for nan."""
    with pytest.raises(InputError) as told:
        readings_of(rotation=rotation)
    assert [fault.field for fault in told.value.faults] == ["rotation"]


@pytest.mark.parametrize("rotation", ["-20", "-20 deg", "-20°", "−20"])
def test_an_angle_may_be_bare_degrees(rotation: str) -> None:
    found = readings_of(rotation=rotation).rotation_deg
    assert found is not None
    assert math.isclose(found, -20)


def test_limits_are_told_in_the_reader_s_units() -> None:
    with pytest.raises(InputError) as told:
        seen_of(air="200F")
    assert "140 °F" in told.value.faults[0].reason
    assert "60 °C" in told.value.faults[0].reason
    assert "SI" not in told.value.faults[0].reason


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (600, "m", "1,969 ft (600 m)"), (0, "m", "0 m"), (0.004, "m", "0.1575 in (4 mm)"), (0, "degC", "32 °F (0 °C)"),
        (60, "degC", "140 °F (60 °C)"), (30, "delta_degC", "30 °C"), (1, "m**3/s", "15,850 gpm (60,000 L/min)"),
        (90, "deg", "90°"), (1950, "", "1950"), (2000, "V", "2000 V"),
    ],
)  # fmt: skip
def test_limits_in_both_systems(value: float, unit: str, words: str) -> None:
    """Factors: 1 ft = 0.3048 m, 1 in = 25.4 mm, 1 US gal = 3.785411784 L (NIST SP 811)."""
    assert in_both(value, unit) == words


@pytest.mark.parametrize(
    ("typed", "angle"), [("20 west", 20.0), ("20 W", 20.0), ("15° east", -15.0), ("-15", -15.0), ("20 deg", 20.0)]
)
def test_an_angle_may_say_its_side(typed: str, angle: float) -> None:
    assert readings_of(rotation=typed).rotation_deg == angle


def test_an_angle_with_sign_and_side_is_refused() -> None:
    with pytest.raises(InputError, match="20 west"):
        readings_of(rotation="-20 west")


def test_a_unit_is_called_by_name_by_its_beginning_or_by_number() -> None:
    names = ("north spring", "south spring")
    assert [unit_called(word, names) for word in (None, "North Spring", "south", "2", " 1 ")] == [0, 0, 1, 1, 0]
    for word in ("spring", "", "3", "n s"):
        with pytest.raises(InputError, match="at_unit"):
            unit_called(word, names)
    with pytest.raises(InputError, match="one pump"):
        unit_called("1", ("",))
