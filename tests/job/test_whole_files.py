"""Files appear whole or not at all, nothing but a file is written over, and leftovers of killed runs go."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from trackersim.errors import InputError
from trackersim.job.whole_files import (
    MARK,
    check_file_place,
    check_folder_place,
    growing_file,
    workshop,
    write_all,
    write_whole,
)

ROOT = Path(__file__).parents[2]


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def full(path: Path) -> None:
    path.write_bytes(b"half")
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def test_a_file_is_replaced_and_keeps_its_permissions(tmp_path: Path) -> None:
    target, link = tmp_path / "job.toml", tmp_path / "link.toml"
    target.write_bytes(b"old")
    target.chmod(0o640)
    link.symlink_to(target)
    write_whole(link, b"new")
    assert target.read_bytes() == b"new"
    assert target.stat().st_mode & 0o777 == 0o640
    assert link.is_symlink()
    assert names(tmp_path) == {"job.toml", "link.toml"}


def test_a_set_of_files_comes_whole_or_not_at_all(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text("old")
    with pytest.raises(InputError, match="No space left"):
        write_all(tmp_path, {"a.txt": lambda path: path.write_text("new"), "b.txt": full})
    assert names(tmp_path) == {"a.txt"}
    assert (tmp_path / "a.txt").read_text() == "old"
    (tmp_path / "daily_x.csv").write_text("stale")
    write_all(tmp_path, {"a.txt": lambda path: path.write_text("new")}, stale=("daily_*.csv",))
    assert names(tmp_path) == {"a.txt"}
    assert (tmp_path / "a.txt").read_text() == "new"


def test_a_growing_file_leaves_the_old_one_until_it_is_whole(tmp_path: Path) -> None:
    (tmp_path / "draws").write_text("old")
    with pytest.raises(OSError, match="No space"), growing_file(tmp_path, "draws") as path:
        full(path)
    assert (tmp_path / "draws").read_text() == "old"
    with growing_file(tmp_path, "draws") as path:
        path.write_text("new")
        assert (tmp_path / "draws").read_text() == "old"
    assert (tmp_path / "draws").read_text() == "new"
    assert names(tmp_path) == {"draws"}


@contextmanager
def another_run(folder: Path) -> Iterator[subprocess.Popen[str]]:
    """A process that is writing into `folder`."""
    code = (
        "import sys, time; from pathlib import Path; from trackersim.job.whole_files import workshop\n"
        "with workshop(Path(sys.argv[1])) as work:\n"
        "    (work / 'file').write_text('half'); print('here', flush=True); time.sleep(60)"
    )
    command = [sys.executable, "-c", code, str(folder)]
    running = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": str(ROOT)})
    try:
        assert running.stdout
        assert running.stdout.readline() == "here\n"
        yield running
    finally:
        running.kill()
        running.communicate()


def test_what_a_killed_run_left_goes_with_the_next_and_a_living_one_is_left_alone(tmp_path: Path) -> None:
    with another_run(tmp_path) as killed, another_run(tmp_path) as living:
        assert len(names(tmp_path)) == 2
        killed.kill()
        killed.wait()
        write_whole(tmp_path / "a.txt", b"a")
        assert len(names(tmp_path)) == 2
        assert any(name.startswith(MARK) for name in names(tmp_path))
        assert living.poll() is None
    with workshop(tmp_path):
        pass
    assert names(tmp_path) == {"a.txt"}


@pytest.mark.parametrize(
    ("name", "words"),
    [("", "is a folder"), ("pipe", "device or a pipe"), ("no/such/file", "No such file"), ("file/x", "Not a directory"),
     ("n" * 300, "File name too long"), ("loop", "cannot be written"), ("a\0b", "no such name")],
)  # fmt: skip
def test_where_no_file_can_be_is_told_before_and_when_it_is_written(tmp_path: Path, name: str, words: str) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "file").write_text("x")
    (tmp_path / "loop").symlink_to("loop")
    before = names(tmp_path)
    for write in (check_file_place, lambda path: write_whole(path, b"new")):
        with pytest.raises(InputError, match=words):
            write(tmp_path / name)
    assert names(tmp_path) == before


@pytest.mark.parametrize("name", ["/dev/null", "/dev/full", "/proc/self/x"])
def test_no_device_is_replaced_by_a_file(name: str) -> None:
    """A file moved to /dev/null would take the place of the device."""
    for write in (check_file_place, lambda path: write_whole(path, b"new")):
        with pytest.raises(InputError, match="cannot be written"):
            write(Path(name))
    assert not Path(name).is_file()


@pytest.mark.parametrize("name", ["file", "file/x", "/proc/x", "/dev/null/x", "n" * 300])
def test_where_no_folder_can_be_is_told(tmp_path: Path, name: str) -> None:
    (tmp_path / "file").write_text("x")
    for write in (check_folder_place, lambda folder: write_all(folder, {"a": lambda path: path.write_text("a")})):
        with pytest.raises(InputError, match="cannot be written to") as told:
            write(tmp_path / name)
        assert [fault.field for fault in told.value.faults] == ["out"]
    assert names(tmp_path) == {"file"}


def test_a_folder_that_can_be_made_is_not_made_yet(tmp_path: Path) -> None:
    check_folder_place(tmp_path / "a" / "b")
    check_file_place(tmp_path / "c.pdf")
    assert names(tmp_path) == set()


@pytest.mark.parametrize(
    "words",
    [["report", "demo", "-o", "gone/x.pdf"], ["run", "demo", "--out", "file"], ["compare", "demo", "--out", "file"],
     ["spread", "demo", "--out", "file"], ["losses", "demo", "--out", "file"], ["shade", "demo", "--out", "file"],
     ["morning", "demo", "--date", "2025-03-21", "--out", "file"], ["tomorrow", "demo", "--out", "file"]],
)  # fmt: skip
def test_a_place_that_cannot_be_written_to_is_told_before_anything_is_worked_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: list[str]
) -> None:
    """`report` once worked for 20 s and then could not write."""
    from typer.testing import CliRunner

    from trackersim.cli import app
    from trackersim.simulation.runner import Runner

    monkeypatch.chdir(tmp_path)
    Path("file").write_text("x")
    monkeypatch.setattr(Runner, "__init__", lambda *given, **more: pytest.fail("it began to simulate"))
    began = time.monotonic()
    outcome = CliRunner().invoke(app, words)
    assert outcome.exit_code == 2, outcome.output
    assert "--out = " in outcome.stderr
    assert "cannot be written" in outcome.stderr
    assert time.monotonic() - began < 10
