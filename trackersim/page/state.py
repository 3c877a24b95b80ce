"""What the page remembers for one visitor: the job as plain data, and the last job that could be simulated."""

from __future__ import annotations

import dataclasses
import hashlib
import os
import shutil
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import tomlkit

from trackersim.errors import Fault, InputError
from trackersim.job.files import demo_text, job_from_data, parse_job, starter_text
from trackersim.job.folders import ClosedFolder
from trackersim.job.former_names import current_data
from trackersim.job.model import Job
from trackersim.job.unit import UNIT_SECTIONS
from trackersim.job.whole_files import write_whole
from trackersim.page.edits import changed
from trackersim.page.fields import GROUPS, MOST_ENTRIES

MOST_UNDONE = 30
# More than any job has; the writer of job files takes time with their square.
MOST_KEYS = 1000
_SAVED_HEAD = "Saved by the page of trackersim. Bare numbers are in m, m³, m³/s, W, V, A, °C and degrees."


# Where a visitor's files lie who has brought none: no file can lie there.
_NOWHERE = ClosedFolder(os.devnull)


@dataclass
class Desk:
    """One visitor's desk. `data` is the job as it is being edited; `good` the last job that had no fault.

    `faults` are those of `data`. `tried` is the last job that was simulated, to which the page returns if `good` turns
    out to be impossible only then. `version` grows when the data is replaced as a whole, so that widgets start afresh.
    `room` holds the visitor's own weather files, each in a folder of its own so that none replaces another that an
    earlier job still needs; it is made for the first of them, and goes when the desk goes. `folder` is the one in which
    `data` looks for its file. `unsaved` says that it was changed since it was opened. `undone` holds what was on the
    desk before, latest last, and `read_last` what was read last.
    """

    data: dict[str, Any]
    good: Job
    tried: Job
    folder: Path
    room: TemporaryDirectory[str] | None = None
    faults: list[Fault] = field(default_factory=list)
    version: int = 0
    unsaved: bool = False
    read_last: tuple[dict[str, Any], Path] | None = None
    undone: list[tuple[dict[str, Any], Path]] = field(default_factory=list)

    @property
    def own(self) -> bool:
        """Whether the job is the visitor's own, and not the demonstration as it came."""
        return bool(self.undone) or self.unsaved

    @property
    def stale(self) -> bool:
        """Whether what is on screen belongs to an earlier job than the one being edited."""
        return bool(self.faults)


def first_desk() -> Desk:
    """The demonstration job on the desk."""
    job = parse_job(demo_text(), folder=_NOWHERE)
    data = job.plain()
    return Desk(data=data, good=job, tried=job, folder=job.folder, read_last=(data, job.folder))


def edit(desk: Desk, path: str, value: object) -> None:
    """Put text, or a value as it is, at `path` and read the job again; a fault leaves the last good job standing."""
    desk.data = changed(desk.data, path, value)
    read(desk)


def replace(desk: Desk, data: dict[str, Any]) -> None:
    """Put other data on the desk as a whole, and read it."""
    desk.data = data
    desk.version += 1
    read(desk)


def read(desk: Desk) -> None:
    """Read the job from the desk's data."""
    desk.data = _first_unit_as_common(desk.data)
    _remember(desk)
    try:
        job = job_from_data(desk.data, folder=desk.folder)
    except InputError as error:
        desk.faults = list(error.faults)
        return
    desk.good, desk.faults = job, []


def _remember(desk: Desk) -> None:
    """Keep what was on the desk before, if it is another job now."""
    if desk.read_last is not None and desk.read_last[0] != desk.data:
        desk.unsaved = True
        desk.undone = [*desk.undone, desk.read_last][-MOST_UNDONE:]
    desk.read_last = (desk.data, desk.folder)


def undo(desk: Desk) -> None:
    """Lay on the desk what was there before."""
    if desk.undone:
        desk.data, desk.folder = desk.undone.pop()
        desk.read_last = None
        desk.version += 1
        read(desk)


def _first_unit_as_common(data: dict[str, Any]) -> dict[str, Any]:
    """Of several units, each whole, the first one's sections as those of the job: words and trees go by these."""
    units = data.get("unit")
    return {**data, **{name: units[0][name] for name in UNIT_SECTIONS if name in units[0]}} if units else data


def settle(desk: Desk, simulated: Callable[[Job], object]) -> None:
    """Simulate the good job; if it turns out impossible, tell its faults and go back to the last that was not."""
    if desk.good is desk.tried:
        return
    try:
        simulated(desk.good)
    except InputError as error:
        desk.faults += [_without_folder(fault, desk.folder) for fault in error.faults]
        desk.good = desk.tried
        return
    desk.tried = desk.good
    _tidy(desk)


def _without_folder(fault: Fault, folder: Path) -> Fault:
    """A fault that names a brought file as its owner named it."""
    here = f"{folder}/"
    value = str(fault.value).replace(here, "") if here in str(fault.value) else fault.value
    return dataclasses.replace(
        fault, value=value, reason=fault.reason.replace(here, ""), remedy=fault.remedy.replace(here, "")
    )


def go_back(desk: Desk) -> None:
    """Let go of what could not be read: the data is the last good job's again."""
    desk.data, desk.folder, desk.faults = desk.good.plain(), desk.good.folder, []
    desk.version += 1
    _remember(desk)


def keep_file(desk: Desk, name: str, content: bytes) -> None:
    """Lay a brought file where the job on the desk looks for its own. Files of earlier jobs stay as they are.

    Raises `InputError`, and leaves no part of the file, if there is no room for it.
    """
    try:
        if desk.room is None:
            desk.room = TemporaryDirectory(prefix="trackersim-")
        folder = ClosedFolder(desk.room.name) / hashlib.sha256(content).hexdigest()[:16]
        folder.mkdir(exist_ok=True)
    except OSError as error:
        reason = f"cannot be kept here ({error.strerror})."
        raise InputError.of("file", name, reason, "Try again later, or ask whoever runs this page.") from None
    write_whole(folder / name, content)
    desk.folder = folder


def _tidy(desk: Desk) -> None:
    """Files that no job of the desk names any more go."""
    if desk.room is None:
        return
    needed = {desk.folder, desk.good.folder, *(folder for _, folder in desk.undone)}
    for folder in Path(desk.room.name).iterdir():
        if folder not in needed:
            shutil.rmtree(folder, ignore_errors=True)


def open_text(desk: Desk, text: str) -> None:
    """Open a job file's text. One with faults is laid on the desk to be mended, if the form can show it at all."""
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError):
        try:
            parse_job(text)  # its words for what is no TOML
        except InputError as error:
            desk.faults = list(error.faults)
        return
    try:
        job = job_from_data(data, folder=desk.folder)
    except InputError as error:
        listed = _with_lists(current_data(data))
        if _has_the_shape_of_a_job(listed) and _can_be_saved(listed):
            desk.data = listed
            desk.version += 1
            _remember(desk)
            desk.unsaved = False
        desk.faults = list(error.faults)
        return
    desk.data, desk.good, desk.faults = job.plain(), job, []
    desk.version += 1
    _remember(desk)
    desk.unsaved = False


def start_new(desk: Desk) -> None:
    """A job to start from: everything generic, an open site, nothing of anybody's farm."""
    data = tomllib.loads(starter_text())
    data.pop("trees", None)
    open_text(desk, tomlkit.dumps(data))


_LISTS = ("trees", *(name for group in GROUPS for name, _ in group.lists))


def _with_lists(data: Mapping[str, Any]) -> dict[str, Any]:
    """The data with the only entry of a list, which a job file may write as a section, in a list."""
    return {key: [value] if key in _LISTS and isinstance(value, dict) else value for key, value in data.items()}


def _has_the_shape_of_a_job(data: Mapping[str, Any]) -> bool:
    """Whether every section is one, and every list a list of them, no longer than the form can draw."""
    for name in {*_LISTS, *(name for group in GROUPS for name in group.sections)}:
        found = data.get(name)
        if name in _LISTS and found is not None:
            if not isinstance(found, list) or not all(isinstance(entry, dict) for entry in found):
                return False
            if len(found) > MOST_ENTRIES:
                return False
        elif found is not None and not isinstance(found, dict):
            return False
    return not data.get("unit")  # units take what they lack from the job: no form of their own until they are read


def _can_be_saved(data: Mapping[str, Any]) -> bool:
    """Whether it can be written again, and soon; what is nested or named by the thousand cannot."""
    try:
        if _keys_in(data) > MOST_KEYS:
            return False
        saved_text(data)
    except RecursionError:
        return False
    return True


def _keys_in(value: object) -> int:
    if isinstance(value, Mapping):
        return len(value) + sum(map(_keys_in, value.values()))
    return sum(map(_keys_in, value)) if isinstance(value, list) else 0


def saved_text(data: Mapping[str, Any]) -> str:
    """A job's plain data as the text of a job file; opened again it is the same job, or the same faults."""
    document = tomlkit.document()
    document.add(tomlkit.comment(_SAVED_HEAD))
    document.update(data)
    return tomlkit.dumps(document)
