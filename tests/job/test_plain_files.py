"""Only regular files are opened, and no more of them is read than may be; a full disk is a sentence."""

from __future__ import annotations

import datetime as dt
import errno
import os
import re
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path

import pytest
from kept_draws import read_kept

from trackersim.analysis.observations import read_observations
from trackersim.analysis.sample_file import KEPT_FILE, KeptDraws
from trackersim.errors import InputError
from trackersim.job.files import load_job
from trackersim.job.plain_files import TooLargeError, read_bytes, read_text
from trackersim.page.state import first_desk, keep_file
from trackersim.rack.logged import read_rotation_log

Bound = Callable[[int], AbstractContextManager[None]]


def odd_files(folder: Path) -> list[Path]:
    pipe = folder / "pipe.toml"
    os.mkfifo(pipe)
    link = folder / "link.toml"
    link.symlink_to("/dev/zero")
    return [pipe, link, *(Path(name) for name in ("/dev/zero", "/dev/stdin", "/dev/null", "/proc/self/fd/0"))]


# Once without an end: a device was read until the memory was full, a pipe until somebody wrote to it.
def test_a_device_or_a_pipe_is_no_job_file(tmp_path: Path, within_seconds: Bound) -> None:
    for path in odd_files(tmp_path):
        if not path.exists() or path.is_file():  # what the tests' own stdin is, is not known here
            continue
        with within_seconds(5), pytest.raises(InputError, match=r"device or a pipe|cannot be read") as told:
            load_job(path)
        assert [fault.field for fault in told.value.faults] == ["job file"]


def test_a_device_or_a_pipe_holds_no_observations(tmp_path: Path, within_seconds: Bound) -> None:
    job = load_job("demo")
    for path in odd_files(tmp_path)[:3]:
        with within_seconds(5), pytest.raises(InputError, match="device or a pipe"):
            read_observations(path, job)


def test_a_device_or_a_pipe_is_no_rotation_log(tmp_path: Path, within_seconds: Bound) -> None:
    for path in odd_files(tmp_path)[:3]:
        with within_seconds(5), pytest.raises(InputError, match="device or a pipe"):
            read_rotation_log(path, zone=dt.timezone(dt.timedelta(hours=-5)))


# Names, two good lines and a faulty one.
SEEN = ("time,what,value,error", "2025-03-20 09:20,flip,,3 min", "2025-03-21 09:25,flip,,", "2025-03-22 09:30,flop,,")
TURNED = ("time,rotation", "2025-04-15 09:20,-31.5", "2025-04-15 09:30,-20", "2025-04-15 09:40,east")
TABLES: dict[str, tuple[tuple[str, ...], Callable[[Path], object]]] = {
    "observations": (SEEN, lambda path: read_observations(path, load_job("demo"))),
    "rotation log": (TURNED, lambda path: read_rotation_log(path, zone=dt.timezone(dt.timedelta(hours=-5)))),
}
HOLDS_NOTHING = ("\u2028", "," * 200_000, '"', '""", ')
ODD = ("9" * 200_000, '"' + "x" * 200_000, "\x00", '"a", "b', *HOLDS_NOTHING)


@pytest.mark.parametrize("odd", ODD, ids=lambda odd: ascii(odd[:2]))
@pytest.mark.parametrize("table", TABLES)
def test_a_line_of_a_table_is_read_by_itself(tmp_path: Path, table: str, odd: str) -> None:
    """A cell of 131,072 letters once was a traceback, and a quotation mark swallowed the lines below it."""
    (head, first, second, faulty), read_table = TABLES[table]
    path = tmp_path / "table.csv"

    def told_of(*lines: str) -> set[str]:
        """The lines of the table that are told, by number."""
        path.write_bytes("\n".join((*lines, "")).encode())
        try:
            read_table(path)
        except InputError as error:
            return {number for fault in error.faults for number in re.findall(r"line (\d+)", str(fault))}
        return set()

    assert told_of(head, first, second) == set()
    itself = set() if odd in HOLDS_NOTHING else {"3"}
    assert told_of(head, first, odd, second) == itself
    assert told_of(head, first, odd, second, faulty) == itself | {"5"}  # what stands below is read, and counted right
    assert told_of(head, f"{first},{odd}", second, faulty) == {"4"}  # a cell that no column names
    assert {"4"} <= told_of(head, first, f"{odd},{second}", faulty) <= {"3", "4"}
    assert told_of(f"{odd}{head}", first) == set()  # read, or its columns are told


def test_no_more_is_read_than_may_be(tmp_path: Path) -> None:
    path = tmp_path / "file"
    path.write_bytes(b"x" * 100)
    assert read_bytes(path, 100) == b"x" * 100
    with pytest.raises(TooLargeError):
        read_bytes(path, 99)
    with pytest.raises(IsADirectoryError):
        read_bytes(tmp_path, 99)


def test_a_file_that_says_it_is_empty_and_is_not_is_bounded_too() -> None:
    """Files of /proc have size 0 for whoever asks, and hold what they hold."""
    if not Path("/proc/self/maps").exists():
        pytest.skip("no /proc on this machine")
    with pytest.raises(TooLargeError):
        read_bytes(Path("/proc/self/maps"), 50)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this machine")
def test_draws_on_a_full_disk_are_a_sentence(tmp_path: Path) -> None:
    with Path("/dev/full").open("w") as stream:
        kept = KeptDraws(stream=stream)
        with pytest.raises(InputError, match="No space left") as told:
            kept.add({"draw": 0})
    assert [fault.field for fault in told.value.faults] == ["out"]


def test_a_rerun_keeps_the_old_draws_until_the_new_are_whole(tmp_path: Path) -> None:
    """They once were gone with the new run's first line."""
    with KeptDraws.begun(tmp_path, {"draws": 1}) as kept:
        kept.add({"draw": 0})
    with pytest.raises(TypeError), KeptDraws.begun(tmp_path, {"draws": 2}) as kept:
        kept.add({"draw": object()})  # the run fails half-way
    assert read_kept(tmp_path) == ({"draws": 1}, [{"draw": 0}])
    assert [path.name for path in tmp_path.iterdir()] == [KEPT_FILE]


def test_draws_are_kept_whole(tmp_path: Path) -> None:
    with KeptDraws.begun(tmp_path, {"draws": 2}) as kept:
        kept.add({"draw": 0})
    assert read_kept(tmp_path) == ({"draws": 2}, [{"draw": 0}])


def test_a_brought_file_that_finds_no_room_leaves_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Once a traceback, and the part that had found room was taken for the file."""
    desk = first_desk()

    def full(self: Path, target: object) -> Path:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(InputError, match="No space left"):
        keep_file(desk, "year.csv", b"time,ghi\n")
    assert desk.room is not None
    assert [path for path in Path(desk.room.name).rglob("*") if path.is_file()] == []
    assert desk.folder == desk.good.folder


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"a" * 1_500_001, "log = 'the log': is larger than 1.5 MB. Shorten it."),
        (b"\xff\xfea", "log = 'the log': is not text in UTF-8. Save it as CSV in UTF-8."),
        (None, "log = 'the log': cannot be read (No such file or directory). Name another."),
    ],
)
def test_a_text_that_cannot_be_had_is_told_with_what_to_do(tmp_path: Path, content: bytes | None, told: str) -> None:
    path = tmp_path / "log.csv"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(InputError) as error:
        read_text(path, field="log", value="the log", most=1_500_000, large="Shorten it.", unread="Name another.")
    assert str(error.value) == told
