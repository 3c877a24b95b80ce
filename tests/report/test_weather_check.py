"""`weather JOB --check`: the table, the same words as a run's, the doubtful hours in picture and in words."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from trackersim.analysis.weather_check import WeatherCheck, check_weather
from trackersim.cli import app
from trackersim.job.files import demo_text, load_job, parse_job
from trackersim.report.blocks import Table
from trackersim.report.weather_check import carpet_alt, carpet_figure, weather_answer
from trackersim.weather.findings import WHAT
from trackersim.weather.inspection import CHECKS
from trackersim.weather.samples import sample_path

DARK, GAP = range(160, 167), 200  # days of the year, from 0


@pytest.fixture(scope="module")
def job_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo with a week without light and a gap of three hours."""
    folder = tmp_path_factory.mktemp("checked")
    lines = sample_path("typical-year").read_text(encoding="utf-8").splitlines()
    rows = [line.split(",") for line in lines[2:]]
    for day in DARK:
        for row in rows[day * 24 : day * 24 + 24]:
            row[4:7] = ["0"] * 3
    for row in rows[GAP * 24 + 8 : GAP * 24 + 11]:
        row[4:7] = [""] * 3
    (folder / "bad.csv").write_text("\n".join([*lines[:2], *(",".join(row) for row in rows)]) + "\n")
    (folder / "job.toml").write_text(demo_text().replace("sample:typical-year", "bad.csv"))
    return folder / "job.toml"


@pytest.fixture(scope="module")
def check(job_path: Path) -> WeatherCheck:
    return check_weather(load_job(job_path))


def test_every_check_has_a_name_in_the_table() -> None:
    assert set(WHAT) == set(CHECKS)
    assert len(set(WHAT.values())) == len(WHAT)


def test_the_table_says_what_how_many_when_and_what_was_done(check: WeatherCheck) -> None:
    table = next(block for block in weather_answer(check, "us").blocks if isinstance(block, Table))
    assert ("dark days", "7 days", "2025-06-10 to 2025-06-16", "used as it is") in table.rows
    assert ("gaps in the light", "1 gap", "2025-07-20", "filled") in table.rows
    assert len(table.rows) == 2


def test_the_remarks_are_those_of_a_run(check: WeatherCheck) -> None:
    said = [block.text for block in weather_answer(check, "us").blocks if hasattr(block, "text")]
    for notice in check.weather.notices:
        assert str(notice) in said


def test_the_check_speaks_in_the_units_asked_for(job_path: Path) -> None:
    path = job_path.with_name("high.toml")
    path.write_text(job_path.read_text().replace('elevation = "890 ft"', 'elevation = "900 m"'))
    for units, first in (("us", "the site lies at 2,950 ft (900 m)"), ("si", "the site lies at 900 m (2,950 ft)")):
        outcome = CliRunner().invoke(app, ["weather", str(path), "--check", "--units", units])
        assert outcome.exit_code == 0, outcome.stderr
        assert first in " ".join(outcome.stdout.split())


def test_the_doubtful_and_the_filled_hours_are_marked(check: WeatherCheck) -> None:
    assert check.ghi_w_m2.shape == (365, 24)
    assert set(np.flatnonzero(check.doubtful.any(axis=1))) == set(DARK)
    assert check.doubtful[DARK[0], 11:14].all()
    assert not check.doubtful[DARK[0], :4].any()
    assert np.argwhere(check.filled).tolist() == [[GAP, 8], [GAP, 9], [GAP, 10]]
    drawn = carpet_figure(check).axes[0].images[-1].get_array()
    assert drawn is not None
    assert np.array_equal(drawn[:, :, 3] > 0, check.doubtful.T)


def test_the_picture_in_words(check: WeatherCheck) -> None:
    words = carpet_alt(check)
    assert "on 7 days (2025-06-10, 2025-06-11, 2025-06-12 and 4 more)" in words
    assert "Marked as filled: 3 hours on 1 day (2025-07-20)" in words


def test_on_the_command_line(job_path: Path, tmp_path: Path) -> None:
    before = job_path.read_bytes()
    out = tmp_path / "out"
    outcome = CliRunner().invoke(app, ["weather", str(job_path), "--check", "--out", str(out)], env={"COLUMNS": "120"})
    assert outcome.exit_code == 0, outcome.output
    assert "has 2 doubts" in outcome.stdout
    assert {path.name for path in out.iterdir()} == {"weather.json", "weather.png", "weather.txt"}
    assert json.loads((out / "weather.json").read_text())["doubtful_hours"] > 70
    assert job_path.read_bytes() == before


def test_sound_weather_and_weather_that_is_made_have_their_sentence(tmp_path: Path) -> None:
    spring = demo_text().replace("sample:typical-year", "sample:clear-spring-day")
    assert "nothing speaks against it" in weather_answer(check_weather(parse_job(spring)), "us").headline
    clear = parse_job(demo_text(), overrides=['weather.file=""', "weather.clear_sky=true"])
    answer = weather_answer(check_weather(clear), "us")
    assert "there is no file to look at" in answer.headline
    assert "No hour is marked as doubtful" in carpet_alt(check_weather(clear))


def test_a_file_that_is_refused_is_refused_here_too(tmp_path: Path) -> None:
    (tmp_path / "w.csv").write_text("Dear sir,\nthe pump is fine.\n")
    (tmp_path / "job.toml").write_text(demo_text().replace("sample:typical-year", "w.csv"))
    outcome = CliRunner().invoke(app, ["weather", str(tmp_path / "job.toml"), "--check"])
    assert outcome.exit_code == 2
    assert "in no format this program knows" in outcome.stderr
