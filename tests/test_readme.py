"""What README says is what the program does."""

from __future__ import annotations

import re
from pathlib import Path

from typer.testing import CliRunner

from trackersim import __version__
from trackersim.cli import app

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_demo_s_answer_is_the_one_printed() -> None:
    block = re.search(r"```text\n(.*?)\n```", README, re.DOTALL)
    assert block
    printed = CliRunner().invoke(app, ["compare", "demo"], env={"COLUMNS": "80"}).stdout
    assert [line.rstrip() for line in printed.strip().splitlines()] == block[1].splitlines()


def test_two_commands_stand_alone_and_one_runs_the_tests() -> None:
    lines = [line for line in README.splitlines() if line.startswith("python3 -m venv")]
    assert len(lines) == 2
    assert lines[0].endswith("trackersim compare demo")
    assert lines[1].endswith("-m pytest")
    assert "python3 -m venv .*pytest" in (ROOT / ".ci" / "run").read_text()


def test_the_cautions_are_there() -> None:
    for words in ("lockable", "High-voltage DC", "Refrigerant under pressure", "swing without warning",
                  "confined spaces", "Lifting", "Local codes and licensed practice"):  # fmt: skip
        assert words in README


def test_this_version_is_told_among_the_changes_and_cited() -> None:
    assert f"\n## {__version__}\n" in (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    assert f"\nversion: {__version__}\n" in (ROOT / "CITATION.cff").read_text(encoding="utf-8")


def test_top_level_is_the_design_card() -> None:
    known = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "trackersim",
        "app.py",
        "tests",
        "weather_samples",
        "LICENSE",
        "CHANGELOG.md",
        "CITATION.cff",
    }
    import subprocess

    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode:  # an unpacked archive has no history
        return
    top = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert {name for name in top if not name.startswith(".")} == known
