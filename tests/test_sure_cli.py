"""`spread` and `learn` on the command line: sentences first and last, SI in JSON, faults told, nothing half written."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from trackersim import load_job
from trackersim.analysis.uncertainty import spread
from trackersim.cli import app
from trackersim.report import calibration as learn_words
from trackersim.report.words import listed

DAYS = ["--from", "2025-06-01", "--to", "2025-06-02"]
SEEN = """time,what,value,error
2025-03-20 09:20,flip,,3 min
2025-03-21 09:22,flip,,3 min
2025-03-21 15:00,rotation,20 deg,3 deg
"""


def call(*words: str) -> tuple[int, str, str]:
    outcome = CliRunner().invoke(app, list(words), env={"COLUMNS": "160"})
    if outcome.exception and not isinstance(outcome.exception, SystemExit):
        raise outcome.exception
    return outcome.exit_code, outcome.stdout, outcome.stderr


@pytest.fixture
def seen(tmp_path: Path) -> str:
    (tmp_path / "seen.csv").write_text(SEEN, encoding="utf-8")
    return str(tmp_path / "seen.csv")


def test_spread_speaks_first_and_last_to_the_customer(tmp_path: Path) -> None:
    code, told, _ = call("spread", "demo", "--draws", "3", "--racks", "--out", str(tmp_path / "new"), *DAYS)
    assert code == 0
    assert told.startswith("Hill farm (invented): the chances are eight in ten that this pump gives between ")
    assert told.rstrip().splitlines()[-1].rstrip().endswith(".")
    assert "Count on no more than" in told
    assert "ideal rack" in told
    assert "3 draws say little" in " ".join(told.split())
    assert "assumptions unless said otherwise" in told
    assert {path.name for path in (tmp_path / "new").iterdir()} == {"draws.jsonl", "spread.json"}


def test_spread_json_is_what_python_gives_in_si() -> None:
    code, told, _ = call("spread", "demo", "--draws", "2", "--seed", "5", "--json", *DAYS)
    import datetime as dt

    found = spread(
        load_job("demo"), draws=2, seed=5, first_day=dt.date(2025, 6, 1), last_day=dt.date(2025, 6, 2), workers=1
    )
    assert code == 0
    assert json.loads(told) == json.loads(json.dumps(found.summary()))
    assert 5 < json.loads(told)["variants"][0]["m3_per_day"]["middle"] < 30  # m³ a day, not gallons


def test_spread_in_si_units_says_so() -> None:
    _, told, _ = call("spread", "demo", "--draws", "1", "--units", "si", *DAYS)
    assert "m³/day" in told
    assert "gal" not in told


@pytest.mark.parametrize("words", [["--draws", "0"], ["--seed", "-3"], ["--from", "1999-01-05", "--to", "1999-01-04"]])
def test_spread_tells_faults(words: list[str]) -> None:
    code, told, complaints = call("spread", "demo", *words)
    assert (code, told) == (2, "")
    assert complaints.startswith("One thing to mend:")


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    code, _, complaints = call("spread", "demo", "--draws", "1", "--out", str(tmp_path / "file"), *DAYS)
    assert code == 2
    assert "--out" in complaints


def test_learn_tells_what_it_learned_and_writes_it(seen: str, tmp_path: Path) -> None:
    target = tmp_path / "new.toml"
    code, told, _ = call("learn", "demo", seen, "--fit", "rack.flip_delay,pump.head_lost", "--clear", "-o", str(target))
    assert code == 0
    assert told.startswith("Hill farm (invented): by 3 observations the sun it needs until it swings east is ")
    assert "pump.head_lost was left as it is: the observations do not touch it." in told
    assert "another morning watched makes that surer." in told
    learned = load_job(target)
    # Through the trees the stronger sun of a later hour turns it; on an open morning it would wait longer.
    assert 75 < learned.rack.flip_delay_min < 100
    assert learned.weather.file == "sample:typical-year"  # cloudless only for learning
    assert learned.pump.head_lost == 0


def test_learn_json_is_si(seen: str) -> None:
    code, told, _ = call("learn", "demo", seen, "--fit", "rack.flip_delay", "--clear", "--json")
    answer = json.loads(told)
    assert code == 0
    assert answer["observations"][0]["value"] == pytest.approx(8 * 60 + 20)  # standard time
    assert answer["fields"][0]["low"] < answer["fields"][0]["value"] < answer["fields"][0]["high"]


def test_learn_warns_of_a_typical_year(seen: str) -> None:
    _, told, _ = call("learn", "demo", seen, "--fit", "rack.flip_delay")
    assert "CAUTION: The weather is a typical year" in told


def test_learn_tells_every_bad_line(tmp_path: Path) -> None:
    (tmp_path / "bad.csv").write_text("time,what,value\n2025-03-20 09:20,flop,\n,flip,\n", encoding="utf-8")
    code, told, complaints = call(
        "learn", "demo", str(tmp_path / "bad.csv"), "--fit", "rack.lag", "-o", str(tmp_path / "n.toml")
    )
    assert (code, told) == (2, "")
    assert "2 things to mend:" in complaints
    assert "line 2, what" in complaints
    assert "line 3, time" in complaints
    assert not (tmp_path / "n.toml").exists()


def test_learn_refuses_fields_it_cannot_learn_and_files_that_exist(seen: str, tmp_path: Path) -> None:
    code, _, complaints = call("learn", "demo", seen, "--fit", "rack.kind")
    assert code == 2
    assert "--fit" in complaints
    code, _, complaints = call("learn", "demo", seen, "--fit", "rack.lag", "--clear", "-o", seen)
    assert code == 2
    assert "exists already" in complaints
    assert Path(seen).read_text(encoding="utf-8") == SEEN


def test_words_of_figures() -> None:
    assert learn_words._late(-12.2) == "12 min earlier"
    assert learn_words._late(0.3) == "same"
    assert learn_words._late(700) == "none"
    assert listed(["a", "b", "c"]) == "a, b and c"


def test_a_part_of_a_year_is_no_year() -> None:
    """Two days of June once told what to count on "over a year", and which month to plan the tank for."""
    _, told, _ = call("spread", "demo", "--draws", "3", *DAYS)
    assert "over the 2 days simulated" in " ".join(told.split())
    assert "a year they tell nothing" in " ".join(told.split())
    assert "over a year" not in told
    assert "plan the tank" not in told
