"""A number in quotes says its unit; a bare number is in the field's own; the page writes what the reader reads."""

from __future__ import annotations

from pathlib import Path

import pytest

from trackersim.errors import InputError
from trackersim.job.files import demo_text, job_from_data, load_job, parse_job
from trackersim.job.overrides import value_at
from trackersim.page.edits import changed
from trackersim.page.field_text import shown_text, with_unit
from trackersim.page.fields import GROUPS, entries

SAVED = sorted((Path(__file__).parents[1] / "saved_jobs").glob("*.toml"))


# Once read as metres: 20.9 % lost in the wire instead of 6.4.
@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("wire.0.length", "160"), ("source.lift", "130"), ("store.demand", "3,000"),
        ("pump.curve_flow", "0 4 8 12 16 20"), ("pump.cutout_flow", "1"), ("site.design_low", "-5"),
        ("pipes.bore", "1 1/4"), ("array.vmp", "17.4"),
        ("trees.0.height", "32"), ("source.specific_capacity", "1.5"), ("money.price_of_water", "6"),
        ("money.price_of_water", "6 per 1000"),
    ],
)  # fmt: skip
def test_a_quoted_number_without_its_unit_is_refused(field: str, value: str) -> None:
    with pytest.raises(InputError) as told:
        load_job("demo", [f'{field}="{value}"'])
    (fault,) = told.value.faults
    assert fault.field == field
    assert fault.value == value
    assert "unit" in fault.reason or "water" in fault.reason or "something else" in fault.reason
    assert fault.remedy


def test_it_is_refused_in_an_option_too() -> None:
    option = '\n[[option]]\nname = "longer"\nset = {"wire.0.length" = "160"}\n'
    with pytest.raises(InputError, match="has no unit"):
        parse_job(demo_text() + option)


def test_a_bare_number_is_in_the_field_s_own_unit_and_degrees_may_stand_in_quotes() -> None:
    job = load_job("demo", ["wire.0.length=48.8", 'site.latitude="36.1"', 'site.utc_offset="-5"'])
    assert job.wire[0].length_m == 48.8
    assert (job.site.latitude_deg, job.site.utc_offset_h) == (36.1, -5.0)


@pytest.mark.parametrize("path", SAVED, ids=lambda path: path.stem)
@pytest.mark.parametrize("system", ["us", "si"])
def test_what_the_page_shows_without_its_unit_is_read_as_it_is_meant(path: Path, system: str) -> None:
    """Every number of every saved job: shown, its unit rubbed out, typed again as the page takes it."""
    job = load_job(path)
    data = job.plain()
    typed = 0
    for group in GROUPS:
        for section in group.sections:
            for entry in entries(group, section, data):
                value = value_at(data, entry.path)
                if entry.kind != "text" or not isinstance(value, int | float) or isinstance(value, bool):
                    continue
                shown = shown_text(value, entry.name, system)
                text = with_unit(shown.split(" ")[0], shown, entry.name, system)
                again = job_from_data(changed(data, entry.path, text), folder=job.folder)
                assert value_at(again.plain(), entry.path) == pytest.approx(value, rel=1e-5, abs=1e-9), entry.path
                typed += 1
    assert typed > 20
