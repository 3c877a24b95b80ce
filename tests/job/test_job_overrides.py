"""Overrides on the command line and from studies, and the one text that equal jobs share."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from pydantic import ValidationError

from trackersim.analysis.array_measures import longer_strings
from trackersim.analysis.fault_trials import rougher_pipes
from trackersim.analysis.observed_sky import by_the_sun_alone
from trackersim.analysis.options import without_prices
from trackersim.errors import InputError
from trackersim.job.files import demo_text, load_job, parse_job, with_overrides
from trackersim.simulation.steady import changed


def test_overrides_reach_fields_lists_and_new_sections() -> None:
    job = load_job(
        "demo",
        [
            "rack.kind=fixed",
            "trees.0.height=20 ft",
            'trees.1.name = "old cedar"',
            "pump.max_speed=1.1",
            "horizon.points=[[80, 5], [120, 9]]",
            "array.soiling=10 %",
        ],
    )
    assert job.rack.kind == "fixed"
    assert job.trees[0].height_m == pytest.approx(6.096)
    assert job.trees[1].name == "old cedar"
    assert job.pump.max_speed == 1.1
    assert job.horizon.points == ((80.0, 5.0), (120.0, 9.0))
    assert job.array.soiling == pytest.approx(0.10)


def test_the_last_of_two_overrides_holds() -> None:
    assert load_job("demo", ["rack.kind=fixed", "rack.kind=ideal"]).rack.kind == "ideal"


def test_an_equals_sign_may_stand_in_the_value() -> None:
    assert load_job("demo", ["site.name=a = b"]).site.name == "a = b"


@pytest.mark.parametrize(
    "override",
    ["", "=", "=3", "rack", "rack.=3", ".kind=fixed", "rack..kind=fixed", "trees.9.height=3", "trees.-1.height=3",
     "trees.x.height=3", "site.name.x=3", "trees.0=3", "trees.0.0=3", "rack.kind.a.b=1", "trees.=1"],
)  # fmt: skip
def test_bad_overrides_are_input_errors(override: str) -> None:
    with pytest.raises(InputError) as caught:
        load_job("demo", [override])
    assert all(fault.remedy for fault in caught.value.faults)


def test_overrides_do_not_touch_the_callers_data() -> None:
    import tomllib

    from trackersim.job.files import job_from_data

    data = tomllib.loads(demo_text())
    before = json.dumps(data, sort_keys=True)
    job_from_data(data, overrides=["trees.0.height=3 m", "rack.kind=fixed"])
    assert json.dumps(data, sort_keys=True) == before


def test_with_overrides_of_nothing_is_the_same_job() -> None:
    job = load_job("demo")
    assert with_overrides(job, {}) == job
    assert with_overrides(job, {}).sha256() == job.sha256()


def test_with_overrides_there_and_back() -> None:
    job = load_job("demo")
    there = with_overrides(job, {"rack.kind": "ideal", "pipes.bore": "2 in", "array.age_years": 0})
    assert (there.rack.kind, there.array.age_years) == ("ideal", 0.0)
    assert there.pipes[0].bore_m == pytest.approx(0.0508)
    assert there.sha256() != job.sha256()
    back = with_overrides(there, {"rack.kind": "delayed", "pipes.bore": job.pipes[0].bore_m, "array.age_years": 12})
    assert back == job
    assert back.sha256() == job.sha256()


def test_with_overrides_reaches_list_entries() -> None:
    job = load_job("demo")
    cut = with_overrides(job, {"trees": []})
    assert cut.trees == ()
    assert with_overrides(job, {"trees.0.height": 3.0}).trees[0].height_m == 3.0


def test_with_overrides_is_validated_like_a_file() -> None:
    with pytest.raises(InputError, match=r"rack\.max_rotation"):
        with_overrides(load_job("demo"), {"rack.max_rotation": 99})
    with pytest.raises(InputError, match="no_such"):
        with_overrides(load_job("demo"), {"no_such.field": 1})


# Once wrong: the answer of _place is thrown away, so an override that finds no
# place is lost without a word; and entries of model_dump's tuples cannot be replaced at all.
@pytest.mark.parametrize("key", ["trees.99.height", "trees.0.name.x", "site.latitude.x"])
def test_with_overrides_refuses_what_has_no_place(key: str) -> None:
    with pytest.raises(InputError):
        with_overrides(load_job("demo"), {key: 3})


def test_with_overrides_replaces_a_whole_list_entry() -> None:
    # Likewise once wrong.
    tree = {"bearing": 100, "distance": 30, "height": 8, "width": 5}
    assert with_overrides(load_job("demo"), {"trees.0": tree}).trees[0].height_m == 8.0


def test_a_job_cannot_be_changed_in_place() -> None:
    job = load_job("demo")
    with pytest.raises(ValidationError):
        job.site.latitude_deg = 3  # type: ignore[misc]


def test_order_and_blanks_do_not_change_the_hash() -> None:
    text = demo_text()
    sections = text.split("\n[store]")
    moved = "[store]" + sections[1] + "\n" + sections[0]
    job = parse_job(moved.replace(" = ", "="))
    assert job.canonical_text() == load_job("demo").canonical_text()
    assert job.sha256() == load_job("demo").sha256()


def test_a_default_written_out_does_not_change_the_hash() -> None:
    assert load_job("demo", ["array.mismatch=2 %", "wire.0.material=copper"]).sha256() == load_job("demo").sha256()


# Once wrong: "450 ft" is held as 137.15999999999997 and "137.16 m" as 137.16, so
# two ways of writing one job have two hashes. Rounding in canonical_text to 12 significant digits mends it.
@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("pipes.length=450 ft", "pipes.length=137.16 m"),
        ("source.lift=86 ft", "source.lift=26.2128"),
        ("source.lift=55 ft", "source.lift=16.764 m"),
        ("site.elevation=890 ft", "site.elevation=0.271272 km"),
        ("wire.0.temperature=104 F", "wire.0.temperature=40 C"),
        ("array.soiling=3 %", "array.soiling=0.03"),
        ("array.isc_per_k=0.07 %", "array.isc_per_k=0.0007"),
        ("rack.flip_delay=1 h", "rack.flip_delay=60 min"),
        (
            "pump.curve_flow=0 4 8 12 16 20 gpm",
            "pump.curve_flow=['0 gpm', '4 gpm', '8 gpm', '12 gpm', '16 gpm', '20 gpm']",
        ),
        ("controller.rated=900 W", "controller.rated=0.9 kW"),
        ("rack.lag=0", "rack.lag=-0.0"),
    ],
)
def test_equal_jobs_written_differently_share_one_hash(one: str, other: str) -> None:
    assert load_job("demo", [one]).canonical_text() == load_job("demo", [other]).canonical_text()


def test_different_jobs_have_different_hashes() -> None:
    hashes = {load_job("demo", [text]).sha256() for text in ("rack.lag=3", "rack.lag=4", "site.name=x", "trees=[]")}
    assert len(hashes) == 4


def test_the_folder_is_no_part_of_the_job() -> None:
    assert "folder" not in json.loads(load_job("demo").canonical_text())


def test_what_is_made_of_a_job_keeps_its_folder(tmp_path: Path) -> None:
    main = "main={lift='10 ft', pipes={length='90 ft', bore='2 in'}}"
    job = load_job("demo", ["unit=[{name='east'}, {name='west'}]", main]).in_folder(tmp_path)
    made = (job.model_copy(update={"backup": None}), job.of_water, *job.units, job.alone(1), without_prices(job))
    made += (changed(job, "pump", lambda pump: pump), rougher_pipes(job, 0.9), by_the_sun_alone(job))
    assert [each.folder for each in made] == [tmp_path] * len(made)


def test_equator_decides_the_axis_unless_told() -> None:
    assert load_job("demo").axis_azimuth_deg == 180.0
    assert load_job("demo", ["site.latitude=-33"]).axis_azimuth_deg == 0.0
    assert load_job("demo", ["rack.axis_azimuth=190"]).axis_azimuth_deg == 190.0


def test_one_override_may_stand_without_a_list() -> None:
    """A text is a row of letters too: each of them was called no override."""
    assert load_job("demo", "rack.kind=fixed").rack.kind == "fixed"


def test_a_list_of_texts_in_place_of_fields_is_told() -> None:
    with pytest.raises(InputError, match="names no fields with values"):
        with_overrides(load_job("demo"), ["rack.kind=fixed"])  # type: ignore[arg-type]


def test_what_is_taken_from_a_unit_stays_taken_when_something_else_is_changed() -> None:
    """The common section gave it back with the next change: one module more in each of six, and then an older array,
    ended all options with "has 2 × 3 places for 7 modules"."""
    main = "main={lift='5 ft', pipes={length='100 ft', bore='2 in'}}"
    whole = load_job("demo", ["unit=[{name='east'}, {name='west'}]", main])
    dirty = with_overrides(whole, {"array.soiling_per_day": 0.001})
    clean = with_overrides(dirty, {"unit.0.array.soiling_per_day": None})
    later = with_overrides(clean, {"site.name": "later"})
    assert [unit.array.soiling_per_day for unit in later.units] == [None, 0.001]
    six = {"array.in_series": 6, "array.in_parallel": 1, "array.layout.rows": 2, "array.layout.columns": 3}
    laid = with_overrides(whole, six | {"controller.max_input": 300})
    longer = longer_strings(laid, 0)
    assert longer.changes is not None
    seven = with_overrides(laid, longer.changes)
    assert [unit.array.module_count for unit in with_overrides(seven, {"array.age_years": 25}).units] == [7, 7]
    assert with_overrides(whole, {"site.name": whole.site.name}).sha256() == whole.sha256()
