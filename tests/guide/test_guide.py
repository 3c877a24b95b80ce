"""The guide is true: every command and every block of Python in it runs.

In a block of `sh`, a line that begins with `trackersim` is run; so is `cat > NAME <<'END'`, which writes a file. A
block whose first line is "# needs the internet" is not run. A block whose fence names a file is that file.
"""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from typing import NamedTuple

import pytest
from typer.testing import CliRunner

from trackersim.cli import app
from trackersim.errors import InputError
from trackersim.guide import chapter_text, chapters
from trackersim.job import files

SKIPPED = "# needs the internet"
# Whose commands run with the demonstration on one clear day: every choice of a whole year takes 20 s.
ON_ONE_DAY = {"the_sheet"}


class Fenced(NamedTuple):
    """One fenced block: its language, the file it stands for, and what is in it."""

    language: str
    file: str
    text: str


def blocks(text: str) -> list[Fenced]:
    found = re.findall(r"^```(\w*)[ \t]*([\w.-]*)\n(.*?)^```", text, flags=re.DOTALL | re.MULTILINE)
    return [Fenced(*each) for each in found]


def run_commands(text: str) -> int:
    """Run the commands of a block in the folder one is in; how many there were."""
    count, lines = 0, iter(text.splitlines())
    for line in lines:
        if written := re.match(r"cat > (\S+) <<'(\w+)'", line):
            body = []
            for inner in lines:
                if inner == written[2]:
                    break
                body.append(inner)
            Path(written[1]).write_text("\n".join(body) + "\n", encoding="utf-8")
        elif line.startswith("trackersim"):
            words = shlex.split(line, comments=True)[1:]
            outcome = CliRunner().invoke(app, words, env={"COLUMNS": "80"})
            assert outcome.exit_code == 0, (line, outcome.stderr, outcome.exception)
            assert outcome.stdout
            count += 1
    return count


@pytest.mark.parametrize("name", chapters())
def test_every_command_and_every_block_of_python_runs(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    if name in ON_ONE_DAY:
        day = files.demo_text().replace("sample:typical-year", "sample:clear-spring-day")
        monkeypatch.setattr(files, "demo_text", lambda: day)
    space: dict[str, object] = {}
    found = blocks(chapter_text(name))
    for block in found:
        if block.file:
            Path(block.file).write_text(block.text, encoding="utf-8")
    for block in found:
        if block.language == "sh" and not block.text.startswith(SKIPPED):
            assert run_commands(block.text) > 0, block.text
        if block.language == "python":
            exec(compile(block.text, f"{name}.md", "exec"), space)
    if name == "from_python":
        printed = capsys.readouterr().out
        assert "m³ a day" in printed
        assert "share of the beam that passes: [0.17]" in printed


def test_chapters_are_ordered_and_titled() -> None:
    names = list(chapters())
    assert names[0] == "ten_minutes"
    assert names.index("surveying_trees") < names.index("bucket_test") < names.index("from_python")
    assert all(title and not title.startswith("#") for title in chapters().values())


def test_a_chapter_is_found_by_its_name_as_people_write_it() -> None:
    assert chapter_text("Ten-Minutes.md") == chapter_text("ten_minutes")
    with pytest.raises(InputError, match="is no chapter"):
        chapter_text("chainsaw")


def test_the_guide_on_the_command_line() -> None:
    listed = CliRunner().invoke(app, ["guide"])
    assert listed.exit_code == 0
    assert all(name in listed.stdout for name in chapters())
    read = CliRunner().invoke(app, ["guide", "bucket_test"], env={"COLUMNS": "80"})
    assert read.stdout == chapter_text("bucket_test")  # once broken at 80 letters, commands and all
    missing = CliRunner().invoke(app, ["guide", "chainsaw"])
    assert missing.exit_code == 2
    assert "chapter" in missing.stderr


def test_chapters_speak_of_care_where_somebody_goes_near_the_rack() -> None:
    for name in ("ten_minutes", "watching_mornings", "surveying_trees", "bucket_test"):
        text = " ".join(chapter_text(name).split())
        assert re.search("licensed|local codes|never enter alone", text, re.IGNORECASE), name
