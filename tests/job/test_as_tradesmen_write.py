"""What tradesmen write is read; what is wrong is told in their words and not a programmer's."""

from __future__ import annotations

import re

import pytest
from typer.testing import CliRunner

from trackersim.cli import app
from trackersim.clock import moment_at
from trackersim.errors import InputError
from trackersim.job.files import demo_text, load_job, parse_job
from trackersim.job.place import Site
from trackersim.quantity_reading import UnitError, read_quantities, read_quantity

# Words of the libraries that read for us, and of Python.
PROGRAMMERS = re.compile(
    r"%[YmdH]|[a-z]Error\b|gaierr|pydantic|tomllib|unable to parse|input should|\(at line|NoneType|tuple|sys\.|\bint\b"
)
SITE = Site(latitude_deg=36.1, longitude_deg=-79.95, utc_offset_h=-5, timezone="America/New_York")


def only_fault(*overrides: str) -> tuple[str, str, str]:
    with pytest.raises(InputError) as told:
        load_job("demo", overrides)
    (fault,) = told.value.faults
    assert not PROGRAMMERS.search(str(fault))
    return fault.field, fault.reason, fault.remedy


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("1 1/4 in", "m", 0.03175), ("1 1/4 in.", "m", 0.03175), ("3,000 gal a day", "m**3/day", 3000 * 3.785411784e-3),
        ("12 gal a minute", "m**3/s", 12 * 3.785411784e-3 / 60), ("12 GPM", "m**3/s", 12 * 3.785411784e-3 / 60),
        ("41F", "degC", 5.0), ("41 f", "degC", 5.0), ("41 degrees F", "degC", 5.0), ("5/10", "", 0.5),
        ("1 HP", "W", 745.69987158),
        ("35 PSI", "kPa", 241.3165), ("8 Ft", "m", 2.4384), ("200 FEET", "m", 60.96), ("3 Hr", "min", 180.0),
        ("5 Gal", "m**3", 5 * 3.785411784e-3), ("3 Gal/Day", "m**3/day", 3 * 3.785411784e-3), ("2 MW", "W", 2e6),
        ("2 mW", "W", 2e-3), ("41 Deg F", "degC", 5.0), ("41 degrees fahrenheit", "degC", 5.0),
        ("5 K", "delta_degC", 5.0), ("9 F", "delta_degC", 5.0), ("15 Celsius", "degC", 15.0),
        ("25'", "m", 7.62), ("200 '", "m", 60.96), ("25’", "m", 7.62), ('6"', "m", 0.1524), ("6½”", "m", 0.1651),
        ("6''", "m", 0.1524), ("5' 6\"", "m", 1.6764), ("5'6\"", "m", 1.6764), ("-5 ft 6 in", "m", -1.6764),
        ("5 ft. 6 1/2 in.", "m", 1.6891), ("1 hr 15 min", "min", 75.0), ("1 h 15 min", "hour", 1.25),
    ],
)  # fmt: skip
def test_quantities(text: str, unit: str, value: float) -> None:
    """Factors by definition (NIST SP 811)."""
    assert read_quantity(text, unit) == pytest.approx(value, rel=1e-6)


@pytest.mark.parametrize(
    "text", ["5' 14\"", "5.5 ft 6 in", "5' 6", "6 in 5 ft", "5 ft -6 in", "5 ft 6 in 1 mm", "5 ft 6 psi", "6\"'"]
)
def test_two_units_that_make_no_length(text: str) -> None:
    with pytest.raises(UnitError):
        read_quantity(text, "m")


def test_marks_of_feet_and_inches_in_a_job_and_at_the_end_of_a_list() -> None:
    assert load_job("demo", ["trees.0.height=25'"]).trees[0].height_m == pytest.approx(7.62)
    assert load_job("demo", ['pipes.bore=1 1/4"']).pipes[0].bore_m == pytest.approx(0.03175)
    assert read_quantities("0, 5, 10'", "m") == pytest.approx((0.0, 1.524, 3.048))


@pytest.mark.parametrize(
    "gauge", ["10", "10 AWG", "AWG 10", "10 gauge", "10 ga", "#10", "# 10", "No. 10", "10 Gauge AWG"]
)
def test_gauges(gauge: str) -> None:
    assert load_job("demo", [f'wire.0.gauge="{gauge}"']).wire[0].gauge == "10"


@pytest.mark.parametrize("size", ["1-1/4", "1 1/4", "1 1/4 in", '1-1/4"', "1 1/4 in.", "1 1/4 inches"])
def test_sizes_of_pipe(size: str) -> None:
    pipe = parse_job(demo_text().replace('bore = "1.36 in"', f"nominal = '{size}'")).pipes[0]
    assert pipe.nominal == "1-1/4"
    if '"' not in size and "in" in size:
        assert load_job("demo", [f'pipes.bore="{size}"']).pipes[0].bore_m == pytest.approx(0.03175)


@pytest.mark.parametrize(
    "text",
    [
        "2025-03-21 09:15",
        "3/21/2025 9:15 am",
        "3/21/2025 9:15AM",
        "03/21/2025 09:15",
        "2025-03-21 9:15 a.m.",
        "2025-03-21T09:15",
    ],
)
def test_times(text: str) -> None:
    assert moment_at(SITE, text).wall.isoformat() == "2025-03-21T09:15:00-04:00"


@pytest.mark.parametrize("text", ["21/3/2025 9:15 am", "3/21/2025", "3/21/2025 13:15 pm", "9:15 am", "3/21 9:15 am"])
def test_what_is_no_time(text: str) -> None:
    with pytest.raises(InputError, match="is not a time") as told:
        moment_at(SITE, text)
    assert not PROGRAMMERS.search(str(told.value))


def test_afternoon_and_midnight() -> None:
    assert moment_at(SITE, "3/21/2025 2:30 pm").wall.hour == 14
    assert moment_at(SITE, "3/21/2025 12:05 am").wall.hour == 0


@pytest.mark.parametrize("words", [["morning", "demo", "--date", "soon"], ["run", "demo", "--from", "21.3.2025"]])
def test_a_day_that_is_none_is_told_in_plain_words(words: list[str]) -> None:
    told = CliRunner().invoke(app, words)
    assert told.exit_code == 2
    assert "is not a day" in told.stderr
    assert "3/21/2025" in told.stderr
    assert not PROGRAMMERS.search(told.stderr)


@pytest.mark.parametrize(("value", "asked"), [("3", "3 %?"), ('"3"', "3 %?"), ("12.5", "12.5 %?")])
def test_a_share_larger_than_one_is_asked_about(value: str, asked: str) -> None:
    field, _, remedy = only_fault(f"array.soiling={value}")
    assert field == "array.soiling"
    assert f"Did you mean {asked}" in remedy


def test_what_is_no_percentage_is_not_asked_about() -> None:
    assert "%?" not in only_fault("array.soiling=400")[2]
    assert "%?" not in only_fault("pipes.c_value=500")[2]


@pytest.mark.parametrize("overrides", [["site.timezone="], []])
def test_a_longitude_with_the_wrong_sign_is_told_as_such(overrides: list[str]) -> None:
    field, reason, remedy = only_fault("site.longitude=79.95", *overrides)
    assert field == "site.longitude"
    assert "other sign" in reason
    assert "-79.95?" in remedy


def test_an_offset_with_the_wrong_sign_is_told_where_the_zone_bears_the_longitude_out() -> None:
    assert only_fault("site.utc_offset=5")[0] == "site.utc_offset"
    assert only_fault("site.utc_offset=1", "site.timezone=")[0] == "site.utc_offset"  # the other sign fits no better


@pytest.mark.parametrize(
    "override",
    ["array.cells=many", "trees=3", "weather.clear_sky=7", "site.name=[1]", "wire.0.gauge=[1]", "pipes.nominal={a=1}",
     "wire.0.gauge=0x" + "f" * 5000, "rack.kind=3", "array.in_series=1.5", "horizon.points=[[1]]", "trees=[3]"],
)  # fmt: skip
def test_no_fault_speaks_a_programmer_s_words(override: str) -> None:
    only_fault(override)


@pytest.mark.parametrize(
    "text", ["latitude 3", "[site\n", "a = [1,", 'a = "x', "a = 1\na = 2", "= 3", "a = \x00", "a = 2025-13-45",
             "[a]\n[a]",
             "a = 3 ft", "a = {", 'a = "\\q"', "a = 1 2", "a ="],
)  # fmt: skip
def test_a_file_that_is_no_toml_is_told_in_plain_words(text: str) -> None:
    with pytest.raises(InputError, match="not valid TOML") as told:
        parse_job(text)
    assert not PROGRAMMERS.search(str(told.value))
    assert "cannot be read there" not in str(told.value)


def test_limits_of_fields_are_in_both_systems() -> None:
    assert "1,969 ft (600 m)" in only_fault("source.lift=7000 ft")[1]
