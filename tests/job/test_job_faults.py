"""Every kind of fault in a job file: all told at once, each naming its field and what to do."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

import pytest
from faulty_jobs import ONE_FAULT

from trackersim.errors import Fault, InputError
from trackersim.job.files import demo_text, load_job, parse_job, write_starter


def faults(*overrides: str) -> dict[str, Fault]:
    with pytest.raises(InputError) as caught:
        load_job("demo", overrides)
    for fault in caught.value.faults:
        assert fault.reason.endswith(".")
        assert fault.remedy
        assert str(fault) in str(caught.value)
    return {fault.field: fault for fault in caught.value.faults}


@pytest.mark.parametrize(("override", "field", "reason"), ONE_FAULT)
def test_one_fault_names_its_field_and_a_remedy(override: str, field: str, reason: str) -> None:
    found = faults(override)
    assert list(found) == [field]
    assert reason in found[field].reason


def test_all_faults_are_told_at_once() -> None:
    found = faults(
        "site.latitude=999",
        "site.longitude=nan",
        "site.elevation=inf",
        "weather.file=nowhere.csv",
        "trees.1.height=0 ft",
        "rack.knd=fixed",
        "array.cells=many",
        "controller={}",
        "pump.curve_flow=[]",
        "pipes.length=-3 ft",
        "source.lift=70 gpm",
        "store.kind=bucket",
        "no such override",
        "trees.9.height=3",
    )
    assert set(found) == {
        "site.latitude",
        "site.longitude",
        "site.elevation",
        "weather.file",
        "trees.1.height",
        "rack.knd",
        "array.cells",
        "controller.rated",
        "pump.curve_flow",
        "pipes.length",
        "source.lift",
        "store.kind",
        "override",
        "trees.9.height",
    }


TOO_MANY_VOLTS = ("controller.track_high=80 V", "controller.max_input=85 V")  # four modules make 87 V


def test_contradictions_are_told_beside_a_text_that_cannot_be_read() -> None:
    """A job was refused three times: for a unit, then for the sign of its longitude, then for a file."""
    wrong = ("source.lift=25 zz", "site.longitude=79.95", "rack.log=nowhere.csv", *TOO_MANY_VOLTS)
    assert set(faults(*wrong)) == {"source.lift", "site.longitude", "rack.log", "array.in_series"}
    assert set(faults("pipes.0.bore=1 zz", "weather.file=nowhere.csv", "site.latitude=400")) == {
        "pipes.bore", "weather.file", "site.latitude",
    }  # fmt: skip


def test_a_section_with_a_fault_is_held_against_no_other() -> None:
    assert set(faults("site.elevation=1 zz", "site.longitude=79.95")) == {"site.elevation"}
    assert set(faults("array.soiling=none", *TOO_MANY_VOLTS)) == {"array.soiling"}


@pytest.mark.parametrize(
    ("override", "field", "nearest"),
    [
        ("rack.knd=fixed", "rack.knd", '"kind"'),
        ("source.lft=3", "source.lft", '"lift"'),
        ("pmup.max_speed=1", "pmup", '"pump"'),
        ("trees.0.heigth=3", "trees.0.heigth", '"height"'),
        ("site.qqqqqq=3", "site.qqqqqq", "latitude"),
    ],
)
def test_unknown_keys_get_the_nearest_known_one(override: str, field: str, nearest: str) -> None:
    found = faults(override)
    assert found[field].reason == "is not a known field."
    assert nearest in found[field].remedy


def test_a_bare_key_with_its_unit_is_not_taken_twice() -> None:
    assert '"lift"' in faults("source.lift_m=3")["source.lift_m"].remedy


# Once wrong: a key "folder" in a job file is dropped without a word.
def test_a_stray_folder_key_is_an_unknown_key() -> None:
    with pytest.raises(InputError, match="folder"):
        parse_job('folder = "elsewhere"\n' + demo_text())


# Once wrong: plain `int` and `float` fields take true for 1 (lax validation).
@pytest.mark.parametrize("override", ["array.in_series=true", "array.cells=true", "weather.daily_swing=true"])
def test_true_is_not_a_number(override: str) -> None:
    assert override.split("=")[0] in faults(override)


def test_missing_sections_and_fields_are_all_told() -> None:
    with pytest.raises(InputError) as caught:
        parse_job("[site]\nlatitude = 36\n")
    fields = {fault.field for fault in caught.value.faults}
    assert fields == {"site.longitude", "weather", "array", "controller", "pump", "pipes", "source"}
    assert all(fault.remedy for fault in caught.value.faults)


def test_an_example_in_a_remedy_is_written_for_its_own_key() -> None:
    # Once wrong: inside a list the key shown is the entry's number:
    # "for example 1 = [[80, 5], [120, 9]]".
    found = faults("horizon.points=[[10, 5], [20, '70 gpm']]")
    (fault,) = found.values()
    assert "points = [[80, 5]" in fault.remedy


@pytest.mark.parametrize(
    "text", ["latitude 3", "[site\n", "a = [1,", 'a = "x', "a = 1\na = 2", "= 3", "\x00", "a = 2025-13-45", "[a]\n[a]"]
)
def test_toml_that_is_none(text: str) -> None:
    with pytest.raises(InputError, match="not valid TOML") as caught:
        parse_job(text)
    (fault,) = caught.value.faults
    assert fault.field == "job file"
    assert fault.remedy


def test_quotes_of_a_word_processor_are_named() -> None:
    """Once "Text values need quotes", of text in quotes: curly ones."""
    with pytest.raises(InputError, match="not valid TOML") as caught:
        parse_job("[site]\nelevation = “890 ft”\n")
    (fault,) = caught.value.faults
    assert fault.value == "elevation = “890 ft”"
    assert "Only straight quotes count" in fault.remedy


def test_a_toml_fault_shows_its_line() -> None:
    with pytest.raises(InputError) as caught:
        parse_job("[site]\nlatitude 36\n")
    assert caught.value.faults[0].value == "latitude 36"


# Once wrong: tomllib raises RecursionError for deep nesting and
# a bare ValueError for a number of more than 4300 digits; neither becomes an InputError.
@pytest.mark.parametrize(
    "text",
    [
        pytest.param("a = " + "[" * 5000, id="deep-nesting"),
        pytest.param("a = " + "1" * 5000, id="5000-digits"),
        pytest.param("[site]\nlatitude = " + "1" * 400, id="400-digits"),
        pytest.param("[weather]\nyear = 0x" + "f" * 5000, id="5000-hex-digits"),
    ],
)
def test_monstrous_toml_is_an_input_error(text: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_job(text)
    assert str(caught.value)
    with pytest.raises(InputError):
        load_job("demo", [text.replace("[site]\n", "site.").replace("[weather]\n", "weather.")])


# Once wrong: "²".isdigit() is true but int("²") raises ValueError.
def test_a_raised_digit_is_no_place_in_a_list() -> None:
    assert "trees.².height" in faults("trees.².height=3")


# Once wrong: Path.is_file raises OSError for a name over 255 bytes
# (and PermissionError for a file in a closed folder).
def test_an_overlong_weather_file_name_is_an_input_error() -> None:
    assert "weather.file" in faults("weather.file=" + "a" * 300)


def test_a_weather_file_in_a_closed_folder_is_an_input_error(monkeypatch: pytest.MonkeyPatch) -> None:
    # Likewise once wrong.
    def closed(self: Path) -> bool:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "is_file", closed)
    assert "weather.file" in faults("weather.file=closed/weather.csv")


# Once wrong: see test_nested_junk.
@pytest.mark.parametrize("key", ["[", "a[0]", "rack[kind]"])
def test_an_unknown_key_with_a_bracket_is_named(key: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_job(f'"{key}" = 1\n' + demo_text())
    assert [fault.field for fault in caught.value.faults] == [key]


def test_a_slow_pattern_does_not_hang(within_seconds: Callable[[int], AbstractContextManager[None]]) -> None:
    with within_seconds(5):
        assert "pump.curve_flow" in faults("pump.curve_flow='''" + "1" * 40 + " x\ny'''")


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    latin, large = tmp_path / "latin.toml", tmp_path / "large.toml"
    latin.write_bytes('[site]\nname = "Höhe"\n'.encode("latin-1"))
    large.write_bytes(b"#" * 1_000_001)
    for path, word in (
        (tmp_path / "none.toml", "No such file"),
        (tmp_path, "directory"),
        (latin, "UTF-8"),
        (large, "1 MB"),
        (latin / "below.toml", "cannot be read"),
    ):
        with pytest.raises(InputError, match=word) as caught:
            load_job(path)
        assert [fault.field for fault in caught.value.faults] == ["job file"]
        assert caught.value.faults[0].remedy


# Once wrong: Path.stat raises ValueError for a name with a zero byte.
def test_a_file_name_with_a_zero_byte() -> None:
    with pytest.raises(InputError):
        load_job("job\0.toml")


# Once a TypeError from within the standard library.
@pytest.mark.parametrize("source", [None, 3, 2.5, {}, [], b"job.toml", load_job("demo")])
def test_what_is_no_path_is_refused(source: Any) -> None:
    with pytest.raises(InputError, match="is no path") as caught:
        load_job(source)
    (fault,) = caught.value.faults
    assert (fault.field, fault.value) == ("job file", source)
    assert '"demo"' in fault.remedy


@pytest.mark.parametrize("overrides", [None, 3, [3], [None], {"rack.kind": "fixed"}, b"rack.kind=fixed"])
def test_overrides_that_are_no_texts_are_refused(overrides: Any) -> None:
    with pytest.raises(InputError, match="is no list of texts") as caught:
        load_job("demo", overrides)
    (fault,) = caught.value.faults
    assert (fault.field, fault.value) == ("override", overrides)
    assert "rack.kind=fixed" in fault.remedy


def test_a_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(demo_text(), encoding="utf-8-sig")
    assert load_job(path) == load_job("demo").model_copy(update={"folder": tmp_path})


def test_a_weather_file_is_looked_for_beside_the_job(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(demo_text().replace("sample:typical-year", "weather.csv"), encoding="utf-8")
    with pytest.raises(InputError, match=r"weather\.file"):
        load_job(path)
    (tmp_path / "weather.csv").write_text("x", encoding="utf-8")
    assert load_job(path).weather.file == "weather.csv"


def test_the_starter_is_a_valid_job_and_overwrites_nothing(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    write_starter(path)
    assert load_job(path).site.latitude_deg
    before = path.read_bytes()
    with pytest.raises(InputError, match="exists already"):
        write_starter(path)
    assert path.read_bytes() == before
    with pytest.raises(InputError, match="cannot be written"):
        write_starter(tmp_path / "no" / "such" / "folder.toml")
    assert [entry.name for entry in tmp_path.iterdir()] == ["new.toml"]
