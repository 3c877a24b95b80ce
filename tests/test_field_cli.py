"""The three commands for the site: flip, bucket, tomorrow."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from trackersim.cli import app

FLIP = ["flip", "demo", "--at", "2025-03-21 09:15", "--sky", "clear"]
BUCKET = ["bucket", "demo", "--at", "2025-06-21 13:00", "--sky", "clear"]
FILLS = ["--volume", "5 gal", "--seconds", "37.8", "--seconds", "37.4", "--seconds", "38.1"]
CARD = ["tomorrow", "demo", "--date", "2025-03-21"]


def call(*words: str) -> tuple[int, str, str]:
    outcome = CliRunner().invoke(app, list(words), env={"COLUMNS": "80"})
    if outcome.exception and not isinstance(outcome.exception, SystemExit):
        raise outcome.exception
    return outcome.exit_code, outcome.stdout, outcome.stderr


@pytest.mark.parametrize("words", [FLIP, [*BUCKET, *FILLS, "--pressure", "55 psi", "--voltage", "56 V"], CARD])
def test_a_plain_sentence_first_and_one_at_the_end_and_safety_between(words: list[str]) -> None:
    code, printed, _ = call(*words)
    assert code == 0
    assert printed.startswith("Hill farm (invented)")
    flat = " ".join(printed.split())
    last = flat[flat.rindex("In short:") :]
    assert last.count(".") == 1
    assert last.endswith(".")
    assert "America/New_York, EDT" in flat
    (safety,) = [line for line in printed.splitlines() if "DC is live" in line]
    assert "rack swings" in safety  # all of it on one line of 80 columns
    assert safety.rstrip().endswith("codes decide.")
    assert "…" not in printed.replace("−6…+5", "").replace("−7…+5", "")  # no table is wider than the screen


def test_flip_json_is_si_and_whole() -> None:
    code, printed, _ = call(*FLIP, "--air", "41F", "--wind", "calm", "--stands", "west", "--json")
    answer = json.loads(printed)
    assert code == 0
    assert answer["air_c"] == pytest.approx(5.0)
    assert answer["verdict"] == "due"
    assert answer["moments"]["flip"]["early"] < answer["moments"]["flip"]["late"]
    assert answer["at"].endswith("-04:00")


def test_bucket_json_is_si_and_whole() -> None:
    code, printed, _ = call(*BUCKET, *FILLS, "--json")
    answer = json.loads(printed)
    assert code == 0
    assert answer["measured_m3_s"] == pytest.approx(5 * 0.003785411784 / (113.3 / 3))
    assert answer["verdict"] == "low"
    chances = [cause["probability"] for cause in answer["causes"]]
    assert answer["causes"][-1]["name"] == "something else"
    assert chances[:-1] == sorted(chances[:-1], reverse=True)
    assert sum(chances) == pytest.approx(1, abs=0.05)
    assert answer["units"][0]["state"] == "running"


def test_the_card_is_written_as_text_and_figure(tmp_path: Path) -> None:
    code, printed, _ = call(*CARD, "--out", str(tmp_path / "card"), "--units", "si")
    assert code == 0
    assert "Wrote 3 files" in printed
    assert {path.name for path in (tmp_path / "card").iterdir()} == {"tomorrow.txt", "tomorrow.json", "tomorrow.png"}
    assert "m³" in (tmp_path / "card" / "tomorrow.txt").read_text(encoding="utf-8")


def test_the_card_s_json_is_what_the_file_holds(tmp_path: Path) -> None:
    _, printed, _ = call(*CARD, "--out", str(tmp_path), "--json")
    assert json.loads(printed) == json.loads((tmp_path / "tomorrow.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    ("words", "fields"),
    [
        (["flip", "demo", "--at", "yesterday", "--air", "41"], ["--air", "--at"]),
        (["flip", "demo", "--at", "1490-03-21 09:15"], ["--at"]),
        (["flip", "demo", "--at", "2025-03-09 02:30"], ["--at"]),
        ([*BUCKET, "--volume", "0 gal", "--seconds", "-3"], ["--volume", "--seconds"]),
        ([*BUCKET, "--flow", "28 gpm gpm gpm"], ["--flow"]),
        ([*BUCKET], ["--volume"]),
        ([*BUCKET, "--flow", "9 gpm", "--light", "nan W/m2", "--pressure", "35"], ["--light", "--pressure"]),
        ([*BUCKET, "--flow", "9 gpm", "--gauge-above", "9 ft"], ["--gauge-above"]),
        (["tomorrow", "demo", "--date", "1700-01-01"], ["--date"]),
    ],
)
def test_silly_input_is_told_at_once_with_what_to_do(words: list[str], fields: list[str]) -> None:
    code, printed, told = call(*words)
    assert code == 2
    assert not printed
    lines = [line for line in told.splitlines() if line.startswith("  •")]
    assert [line.split()[1].rstrip(":") for line in lines] == fields


def test_unknown_sky_is_no_error_and_standard_time_is_named() -> None:
    code, printed, _ = call("flip", "demo", "--at", "2025-03-21 08:15", "--set", "site.timezone=")
    assert code == 0
    assert "standard time, UTC−5 h" in " ".join(printed.split())


def test_few_quick_fills_are_taken_with_a_caution() -> None:
    code, printed, _ = call(*BUCKET, "--volume", "0.3 gal", "--seconds", "2")
    assert code == 0
    assert printed.count("CAUTION") == 2


def test_diagnose_says_what_ails_the_rack(tmp_path: Path) -> None:
    seen = tmp_path / "mornings.csv"
    seen.write_text("date,sky,flip,facing\n2026-03-21,clear,not by 11:30,not by 11:30\n")
    code, printed, _ = call("diagnose", "demo", str(seen), "--no-water", "--json")
    answer = json.loads(printed)
    assert code == 0
    assert answer["conditions"][0]["name"] == "stuck"
    assert sum(each["probability"] for each in answer["conditions"]) == pytest.approx(1)
    seen.write_text("date,sky,flip\n2026-03-21,sunny,late\n")
    code, printed, told = call("diagnose", "demo", str(seen), "--no-water")
    assert (code, printed) == (2, "")
    assert "2 things to mend" in told
    assert "line 2, sky" in told
    assert "line 2, flip" in told
