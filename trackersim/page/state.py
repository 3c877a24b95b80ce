"""What the page remembers for one visitor: the job as plain data, and the last job that could be simulated."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import tomlkit

from trackersim.errors import Fault, InputError
from trackersim.job.files import demo_text, job_from_data, parse_job
from trackersim.job.model import Job
from trackersim.page.fields import GROUPS, changed, value_at

_SAVED_HEAD = "Saved by the page of trackersim. Bare numbers are in m, m³, m³/s, W, V, A, °C and degrees."


def _room() -> TemporaryDirectory[str]:
    return TemporaryDirectory(prefix="trackersim-")


@dataclass
class Desk:
    """One visitor's desk. `data` is the job as it is being edited; `good` the last job that had no fault.

    `faults` are those of `data`. `tried` is the last job that was simulated, to which the page returns if `good` turns
    out to be impossible only then. `version` grows when the data is replaced as a whole, so that widgets start afresh.
    `room` holds the visitor's own weather files; it goes when the desk goes.
    """

    data: dict[str, Any]
    good: Job
    tried: Job
    faults: list[Fault] = field(default_factory=list)
    version: int = 0
    room: TemporaryDirectory[str] = field(default_factory=_room)

    @property
    def stale(self) -> bool:
        """Whether what is on screen belongs to an earlier job than the one being edited."""
        return bool(self.faults)

    @property
    def folder(self) -> Path:
        """Where the visitor's own weather files are, and no other visitor's."""
        return Path(self.room.name)


def first_desk() -> Desk:
    """The demonstration job on the desk."""
    job = parse_job(demo_text())
    return Desk(data=plain(job), good=job, tried=job)


def plain(job: Job) -> dict[str, Any]:
    """The job as plain data in SI, without what it leaves to defaults that are nothing."""
    return job.model_dump(mode="json", by_alias=True, exclude_none=True)


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
    try:
        job = _job_of(desk.data, desk.folder)
    except InputError as error:
        desk.faults = list(error.faults)
        return
    desk.good, desk.faults = job, []


def settle(desk: Desk, simulated: Callable[[Job], object]) -> None:
    """Simulate the good job; if it turns out impossible, tell its faults and go back to the last that was not."""
    if desk.good is desk.tried:
        return
    try:
        simulated(desk.good)
    except InputError as error:
        desk.faults, desk.good = list(error.faults), desk.tried
        return
    desk.tried = desk.good


def go_back(desk: Desk) -> None:
    """Let go of what could not be read: the data is the last good job's again."""
    desk.data, desk.faults = plain(desk.good), []
    desk.version += 1


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
        job = _job_of(data, desk.folder)
    except InputError as error:
        listed = _with_lists(data)
        if _has_the_shape_of_a_job(listed):
            desk.data = listed
            desk.version += 1
        desk.faults = list(error.faults)
        return
    desk.data, desk.good, desk.faults = plain(job), job, []
    desk.version += 1


_STAND_IN = "sample:typical-year"  # for weather that is not there, to find what else is wrong
_LISTS = ("trees", *(name for group in GROUPS for name, _ in group.lists))


def _with_lists(data: Mapping[str, Any]) -> dict[str, Any]:
    """The data with the only entry of a list, which a job file may write as a section, in a list."""
    return {key: [value] if key in _LISTS and isinstance(value, dict) else value for key, value in data.items()}


def _has_the_shape_of_a_job(data: Mapping[str, Any]) -> bool:
    """Whether every section is one, and every list a list of them."""
    for name in {*_LISTS, *(name for group in GROUPS for name in group.sections)}:
        found = data.get(name)
        if name in _LISTS and found is not None:
            if not isinstance(found, list) or not all(isinstance(entry, dict) for entry in found):
                return False
        elif found is not None and not isinstance(found, dict):
            return False
    return not data.get("unit")  # units take what they lack from the job: no form of their own until they are read


def saved_text(job: Job) -> str:
    """The job as the text of a job file; opened again it is the same job."""
    document = tomlkit.document()
    document.add(tomlkit.comment(_SAVED_HEAD))
    document.update(plain(job))
    return tomlkit.dumps(document)


def _job_of(data: Mapping[str, Any], folder: Path) -> Job:
    """The job of plain data, whose weather may only be a sample or a file the visitor brought."""
    fault = _weather_fault(value_at(data, "weather.file"), folder)
    if fault is None:
        return job_from_data(data, folder=folder)
    try:
        job_from_data(changed(data, "weather.file", _STAND_IN), folder=folder)
    except InputError as error:
        raise InputError([fault, *error.faults]) from None
    raise InputError([fault])


def _weather_fault(name: object, folder: Path) -> Fault | None:
    if not isinstance(name, str) or not name or name.startswith("sample:"):
        return None
    if not is_plain_name(name):
        reason = "cannot be read by the page: it is a path."
        remedy = 'Bring the file itself under "Files" above, or write sample:typical-year.'
    elif not (folder / name).is_file():
        reason = "is a file the page has not been given."
        remedy = 'Bring it under "Files" above; it stays on this machine.'
    else:
        return None
    return Fault(field="weather.file", value=name, reason=reason, remedy=remedy)


def is_plain_name(name: str) -> bool:
    """Whether `name` is that of a file in the visitor's own room, and no way out of it."""
    return name.isprintable() and Path(name).name == name and name[0] not in "~." and "\\" not in name
