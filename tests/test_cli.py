"""The command line: same numbers as Python, faults in words with exit code 2, files whole or not at all."""

from __future__ import annotations

import datetime as dt
import json
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest
from typer.testing import CliRunner

from trackersim import Result, compare, load_job, simulate
from trackersim.analysis.comparison import compare_racks
from trackersim.analysis.first_look import look_at
from trackersim.cli import app
from trackersim.report.files import json_text

CLEAR = ["--set", "weather.file=", "--set", "weather.clear_sky=true"]
DAYS = ["--from", "2025-06-01", "--to", "2025-06-02"]


def call(*words: str) -> tuple[int, str, str]:
    outcome = CliRunner().invoke(app, list(words))
    if outcome.exception and not isinstance(outcome.exception, SystemExit):
        raise outcome.exception
    return outcome.exit_code, outcome.stdout, outcome.stderr


def test_json_is_byte_for_byte_what_python_gives() -> None:
    code, printed, _ = call("compare", "demo", "--json", *DAYS)
    assert code == 0
    days = {"first_day": dt.date(2025, 6, 1), "last_day": dt.date(2025, 6, 2)}
    found = compare_racks(load_job("demo"), **days)
    assert printed == json_text(found.summary()) + "\n"
    told = json.loads(printed)
    racks = compare(load_job("demo"), **days)
    assert told["racks"] == json.loads(json_text({kind: result.summary() for kind, result in racks.items()}))
    bare = simulate(load_job("demo", ["trees=[]"]), **days)
    assert told["without_trees"] == json.loads(json_text(bare.summary()))


def test_run_json_has_the_promised_keys(demo_year: Mapping[str, Result]) -> None:
    code, printed, _ = call("run", "demo", "--json")
    answer = json.loads(printed)
    assert code == 0
    assert {"job", "rack", "days", "water_m3", "water_m3_per_day", "array_kwh", "plane_kwh_m2", "monthly", "flip",
            "notices"} <= set(answer)  # fmt: skip
    assert set(answer["flip"]) == {"days_flipped", "median_min_after_sunrise", "median_min_after_first_beam"}
    assert [row["month"] for row in answer["monthly"]] == list(range(1, 13))
    assert answer["water_m3"] == demo_year["delayed"].water_m3
    assert sum(row["water_m3"] for row in answer["monthly"]) == pytest.approx(answer["water_m3"], rel=1e-12)


def test_racks_without_a_flip_say_null() -> None:
    _, printed, _ = call("run", "demo", "--rack", "fixed", "--json", *CLEAR, *DAYS)
    assert set(json.loads(printed)["flip"].values()) == {None}


def test_a_sentence_comes_first_then_the_table_then_notices() -> None:
    code, printed, _ = call("run", "demo", *CLEAR, *DAYS)
    assert code == 0
    sentence, table, note = (printed.index(words) for words in ("this pump lifts about", "Month", "Note:"))
    assert sentence < table < note
    assert "gal/day" in printed
    assert "m³" not in printed.replace("kWh/m²", "")


@pytest.mark.parametrize("fault", ["controller.max_input=95 V, controller.track_high=90 V", "source.lift=300 ft"])
def test_dangers_are_said_before_anything_else(fault: str) -> None:
    changes = [part for each in fault.split(", ") for part in ("--set", each)]
    for words in (["run", "demo"], ["compare", "demo"], ["morning", "demo", "--date", "2025-06-01"]):
        _, printed, _ = call(*words, *changes, *CLEAR, *([] if words[0] == "morning" else DAYS))
        assert printed.startswith("WARNING: ")
        assert printed.count("WARNING: ") == 1


def test_without_a_date_a_morning_is_told_that_tells_of_the_loss() -> None:
    _, printed, _ = call("morning", "demo", "--json", *CLEAR)
    date = dt.date.fromisoformat(json.loads(printed)["date"])
    assert date == look_at(load_job("demo", CLEAR[1::2])).telling_day
    _, printed, _ = call("morning", "demo", *CLEAR)
    assert f"{date.day} {date:%B}: a clear day with a usual loss by the rack." in " ".join(printed.split())


def test_a_morning_ends_with_the_cautions_for_going_near_the_rack() -> None:
    _, printed, _ = call("morning", "demo", "--date", "2025-06-01", *CLEAR)
    for words in ("tie the rack off", "pressure", "lock the disconnect", "Local codes"):
        assert words in " ".join(printed.split())


def test_metric_is_one_switch_away() -> None:
    _, printed, _ = call("run", "demo", "--units", "si", *CLEAR, *DAYS)
    assert "m³/day" in printed
    assert "gal" not in printed


def test_overrides_change_the_answer_and_are_validated() -> None:
    _, new, _ = call("run", "demo", "--json", "--set", "array.age_years=0", *CLEAR, *DAYS)
    _, old, _ = call("run", "demo", "--json", *CLEAR, *DAYS)
    assert json.loads(new)["array_kwh"] == pytest.approx(json.loads(old)["array_kwh"] / 0.994**12, rel=1e-9)
    code, _, told = call("run", "demo", "--set", "site.latitude=999", "--set", "pipes.length=-5")
    assert code == 2
    assert "2 things to mend" in told
    assert "site.latitude" in told
    assert "pipes.length" in told


def test_every_fault_is_told_and_nothing_is_written(tmp_path: Path) -> None:
    job = tmp_path / "bad.toml"
    job.write_text('[site]\nlatitude = 999\n[pump]\ncurve_flow = []\n[pipes]\nlength = "70 gpm"\nbroe = 1\n')
    out = tmp_path / "out"
    code, printed, told = call("run", str(job), "--out", str(out))
    assert code == 2
    assert printed == ""
    for words in ("site.latitude", "site.longitude", "pipes.length", "measures something else", 'mean "bore"'):
        assert words in told
    assert not out.exists()


def test_a_missing_job_is_one_clear_line(tmp_path: Path) -> None:
    code, _, told = call("run", str(tmp_path / "none.toml"))
    assert code == 2
    assert "none.toml" in told
    assert "trackersim new" in told


def test_files_of_a_run_are_whole(tmp_path: Path) -> None:
    out = tmp_path / "a" / "b"
    code, printed, _ = call("run", "demo", "--out", str(out), *CLEAR, *DAYS)
    assert code == 0
    assert "Wrote 6 files" in printed
    assert sorted(path.name for path in out.iterdir()) == [
        "daily_delayed.csv", "day.png", "minutes_delayed.csv", "monthly_delayed.csv", "months.png", "summary.json",
    ]  # fmt: skip
    assert len((out / "minutes_delayed.csv").read_text().splitlines()) == 2 * 1440 + 1
    head = (out / "minutes_delayed.csv").read_text().splitlines()[0]
    assert head == (
        "time,rotation_deg,sun_rotation_deg,beam_share,plane_w_m2,cell_c,array_w,input_w,used_w,input_v,flow_m3_s,head_m"
    )
    assert "water_gal" in (out / "daily_delayed.csv").read_text().splitlines()[0]
    summary = json.loads((out / "summary.json").read_text())
    assert summary["provenance"]["job_sha256"] == load_job("demo", CLEAR[1::2]).sha256()


def test_an_output_place_that_is_a_file_is_refused_untouched(tmp_path: Path) -> None:
    place = tmp_path / "file"
    place.write_text("mine")
    code, _, told = call("run", "demo", "--out", str(place), *CLEAR, *DAYS)
    assert code == 2
    assert "--out" in told
    assert place.read_text() == "mine"


def test_a_run_that_fails_while_writing_leaves_the_old_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from trackersim.report import files

    out = tmp_path / "out"
    call("run", "demo", "--out", str(out), *CLEAR, *DAYS)
    before = {path.name: path.read_bytes() for path in out.iterdir()}

    def full_disk(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files, "_write_table", full_disk)
    code, _, told = call("run", "demo", "--out", str(out), "--units", "si", *CLEAR, *DAYS)
    assert code == 2
    assert "No space left" in told
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before


def test_no_file_of_another_run_stays_in_the_folder(tmp_path: Path) -> None:
    out = tmp_path / "out"
    call("compare", "demo", "--out", str(out), *CLEAR, *DAYS)
    (out / "my notes.txt").write_text("mine")
    call("run", "demo", "--rack", "ideal", "--out", str(out), *CLEAR, *DAYS)
    assert sorted(path.name for path in out.iterdir()) == [
        "daily_ideal.csv", "day.png", "minutes_ideal.csv", "monthly_ideal.csv", "months.png", "my notes.txt",
        "summary.json",
    ]  # fmt: skip


def test_a_folder_in_a_file_s_place_is_refused(tmp_path: Path) -> None:
    (tmp_path / "out" / "summary.json").mkdir(parents=True)
    code, _, told = call("run", "demo", "--out", str(tmp_path / "out"), *CLEAR, *DAYS)
    assert code == 2
    assert "summary.json is a folder" in told
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["summary.json"]


def test_stopping_is_told_and_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from trackersim.simulation import runner as chain

    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(chain, "place_of", stop)
    code, _, told = call("run", "demo", "--out", str(tmp_path / "out"))
    assert code == 130
    assert "Stopped" in told
    assert not (tmp_path / "out").exists()


def test_faults_echo_what_was_typed() -> None:
    _, _, told = call("run", "demo", "--set", "site.elevation=30000 ft")
    assert "30000 ft" in told
    assert "9143" not in told


def test_kinds_of_rack_agree_everywhere() -> None:
    from typing import get_args

    from trackersim.cli import RackChoice
    from trackersim.job.rack import RackKind
    from trackersim.report.figures import _LOOK
    from trackersim.report.words import RACK_WORDS
    from trackersim.simulation.runner import RACKS

    kinds = set(get_args(RackKind))
    assert kinds == set(RACK_WORDS) == set(_LOOK)
    assert kinds - {"logged"} == set(get_args(RackChoice)) == set(RACKS)  # any job can stand on these, without a log


def test_tables_fit_eighty_columns(demo_year: Mapping[str, Result]) -> None:
    _, printed, _ = call(
        "compare", "demo", "--set", "rack.kind=fixed", "--set", "rack.fixed_rotation=-50", *CLEAR, *DAYS
    )
    assert max(len(line.rstrip()) for line in printed.splitlines()) <= 80
    assert "…" not in printed


def test_the_starter_runs_and_is_never_overwritten(tmp_path: Path) -> None:
    starter = tmp_path / "site.toml"
    assert call("new", str(starter))[0] == 0
    text = starter.read_text()
    assert text.count("#") > 30
    assert call("run", str(starter), *DAYS)[0] == 0
    code, _, told = call("new", str(starter))
    assert code == 2
    assert "exists already" in told
    assert starter.read_text() == text


def test_the_starter_names_every_field_of_the_job() -> None:
    from trackersim.job.model import Job

    text = (Path(__file__).parents[1] / "trackersim" / "data" / "starter.toml").read_text()
    optional_elsewhere = {"area", "curve_efficiency", "min_speed", "rated_efficiency", "faiman_u0",
                          "faiman_u1", "coldest", "warmest", "daily_swing", "wind", "axis_azimuth"}  # fmt: skip
    for name, section in Job.model_fields.items():
        kinds = (section.annotation, *getattr(section.annotation, "__args__", ()))
        fields = next((kind.model_fields for kind in kinds if hasattr(kind, "model_fields")), {})
        keys = {info.alias or key for key, info in fields.items()} - {"thermal", "layout", "watched", *Job.model_fields}
        missing = {key for key in keys - optional_elsewhere if f"{key} =" not in text and f"{key}=" not in text}
        assert not missing, (name, missing)
    condition = (
        "charge",
        "shade_plates",
        "damper",
        "pivot_friction_nm",
        "balance",
        "stuck",
        "refrigerant",
        "wind_upset",
    )
    assert all(f"\n{key} = " in text for key in condition)


def test_help_is_quick_and_light() -> None:
    """No timing here: help must not load the engine, which is what would make it slow."""
    code = (
        "import sys, trackersim.cli\n"
        "sys.argv = ['trackersim', '--help']\n"
        "try: trackersim.cli.main()\n"
        "except SystemExit: pass\n"
        "heavy = {'pvlib', 'pandas', 'numpy', 'matplotlib', 'streamlit', 'pint', 'pydantic'} & set(sys.modules)\n"
        "sys.exit(f'loaded {heavy}' if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "compare" in done.stdout


def test_python_and_command_line_agree_on_the_demo_figures(demo_year: Mapping[str, Result]) -> None:
    alone = simulate(load_job("demo"))
    assert json_text(alone.summary()) == json_text(demo_year["delayed"].summary())


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["bucket", "demo", "--at", "2025-06-21 13:00", "--sky", "sunny"], "--sky: 'sunny' is not one of the words."),
        (["compare", "demo", "--units", "metric"], "--units: 'metric' is not one of the words."),
        (["spread", "demo", "--draws", "many"], "--draws: is no whole number."),
        (["page", "--port", "80"], "--port: must be at least 1024."),
        (["flip", "demo"], "--at: is missing."),
        (["flip"], "JOB: is missing."),
        (["morning", "demo", "--date", "31/12/2025"], '--date: "31/12/2025" is not a day.'),
    ],
)
def test_an_option_that_cannot_be_is_one_thing_to_mend(words: list[str], told: str) -> None:
    """Once in a library's words: "Value error, …", "Input should be a valid integer, unable to parse …"."""
    code, printed, complaints = call(*words)
    assert (code, printed) == (2, "")
    assert complaints.startswith("One thing to mend:\n  • ")
    assert told in complaints
    assert complaints.count("\n") == 2
