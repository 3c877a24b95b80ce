"""Terminals as they come: narrow ones, ones that know ASCII alone, a full disk, a folder that is gone."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console

from trackersim.report.blocks import Answer, Table
from trackersim.report.terminal import say_answer, with_broken_heads

BUCKET = ["bucket", "demo", "--at", "2025-06-21 13:00", "--volume", "5 gal", "--seconds", "30"]
# What is asked of the streams and not of an answer needs no engine, which takes seconds to load.
CHAPTER = ["guide", "bucket_test"]
ROOT = Path(__file__).parents[1]


def ran(words: list[str], *, before: str = "", after: str = "", **env: str) -> subprocess.CompletedProcess[bytes]:
    """The command in a process of its own, with its streams as a shell gives them."""
    given = " ".join(f"'{word}'" for word in words)
    return subprocess.run(
        ["sh", "-c", f"{before} {sys.executable} -m trackersim {given} {after}"],
        env={**os.environ, "PYTHONPATH": str(ROOT), **env},
        capture_output=True,
        timeout=120,
        check=False,
    )


@pytest.mark.parametrize("encoding", ["ascii", "latin-1"])
def test_a_terminal_that_knows_few_letters_gets_those(encoding: str) -> None:
    """Once a UnicodeEncodeError."""
    run = ran(BUCKET, PYTHONIOENCODING=encoding, COLUMNS="80")
    assert run.returncode == 0, run.stderr
    printed = run.stdout.decode(encoding)
    assert "In short:" in printed
    assert ("+/-" if encoding == "ascii" else "±") in printed
    assert b"Traceback" not in run.stderr


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this machine")
@pytest.mark.parametrize("words", [BUCKET, ["versions", "--json"], CHAPTER, ["--help"]])
def test_a_full_disk_is_a_sentence(words: list[str]) -> None:
    run = ran(words, after="> /dev/full")
    assert run.returncode != 0
    assert run.stderr.decode() == "The answer could not be written (No space left on device).\n"


def test_a_folder_that_is_gone_is_a_sentence(tmp_path: Path) -> None:
    gone = tmp_path / "gone"
    run = ran(["new", "job.toml"], before=f"mkdir {gone} && cd {gone} && rmdir {gone} &&")
    assert run.returncode == 1
    assert run.stderr.decode().startswith("The folder you are in is no longer there")
    assert run.stderr.count(b"\n") == 1


@pytest.mark.parametrize("columns", ["0", "-3", "wide", ""])
def test_a_width_that_is_none_is_forgotten(columns: str) -> None:
    run = ran(CHAPTER, COLUMNS=columns)
    assert run.returncode == 0
    assert b"# The bucket test" in run.stdout


TABLE = Table(
    header=("rack", "gal/day", "share of ideal", "starts a day", "of it by noon"),
    rows=(("fixed rack", "2,480", "81 %", "1.2", "31 %"), ("ideal tracking rack", "3,060", "100 %", "1.2", "44 %")),
    title="Water a day",
)


@pytest.mark.parametrize("width", [20, 40, 80])
def test_no_figure_of_a_table_is_lost_on_a_narrow_terminal(width: int) -> None:
    """At 40 columns `compare` once showed a table without its water."""
    console = Console(width=width, record=True, file=open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115, PTH123
    say_answer(Answer(headline="Water.", blocks=(TABLE,)), console)
    printed = console.export_text()
    flat = " ".join(printed.split())
    assert "…" not in printed
    for figure in ("2,480", "3,060", "81 %", "100 %", "31 %", "44 %", "gal/day", "starts", "noon"):
        assert figure in flat
    assert all(len(line.rstrip()) <= width for line in printed.splitlines())


def test_heads_stand_in_several_lines_before_a_table_is_told_figure_by_figure() -> None:
    """Twelve months with five short figures once filled 72 lines of a terminal of 80 columns."""
    months = tuple((f"month {n}", "3,000", "1,820", "23", "53", "48") for n in range(12))
    heads = ("month", "wanted gal/day", "pumped gal/day", "short days", "backup hours", "backup kWh a month")
    console = Console(width=60, record=True, file=open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115, PTH123
    say_answer(Answer(headline="Water.", blocks=(Table(header=heads, rows=months),)), console)
    lines = console.export_text().splitlines()
    assert sum("3,000" in line and "1,820" in line and "48" in line for line in lines) == 12
    assert len(lines) <= 20


def test_a_head_is_broken_no_narrower_than_what_stands_below_it() -> None:
    """Each word had a line of its own, above cells with room for three."""
    table = Table(header=("hour", "5 gal in, light cloud"), rows=(("09:00", "29 s, runs 24 min"),))
    assert with_broken_heads(table).header == ("hour", "5 gal in, light\ncloud")
    assert with_broken_heads(replace(table, rows=(("09:00", "29 s"),))).header[1] == "5 gal\nin,\nlight\ncloud"
