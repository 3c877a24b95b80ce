"""What the page remembers for one visitor: the job as plain data, and the last job without a fault."""

from __future__ import annotations

import hashlib
import tempfile
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import tomlkit

from trackersim.errors import Fault, InputError
from trackersim.job.files import demo_text, job_from_data, parse_job
from trackersim.job.model import Job
from trackersim.page.fields import changed

MOST_BYTES = 10_000_000


@dataclass
class Desk:
    """One visitor's desk. `data` is the job as it is being edited; `good` the last job that had no fault.

    `faults` are those of `data`. `version` grows when the data is replaced as a whole, so that widgets start afresh.
    """

    data: dict[str, Any]
    good: Job
    faults: list[Fault] = field(default_factory=list)
    version: int = 0

    @property
    def stale(self) -> bool:
        """Whether what is on screen belongs to an earlier job than the one being edited."""
        return bool(self.faults)


def first_desk() -> Desk:
    """The demonstration job on the desk."""
    job = parse_job(demo_text())
    return Desk(data=plain(job), good=job)


def plain(job: Job) -> dict[str, Any]:
    """The job as plain data in SI, without what it leaves to defaults that are nothing."""
    return job.model_dump(mode="json", by_alias=True, exclude_none=True)


def edit(desk: Desk, path: str, text: str) -> None:
    """Put `text` at `path` and read the job again; a fault leaves the last good job standing."""
    desk.data = changed(desk.data, path, text)
    read(desk)


def read(desk: Desk) -> None:
    """Read the job from the desk's data."""
    try:
        job = job_from_data(desk.data, folder=Path())
        refuse_server_files(job)
    except InputError as error:
        desk.faults = list(error.faults)
        return
    desk.good, desk.faults = job, []


def open_text(desk: Desk, text: str) -> None:
    """Open a job file's text; on a fault the desk keeps what it had, and tells why."""
    try:
        data = tomllib.loads(text)
        job = job_from_data(data, folder=Path())
        refuse_server_files(job)
    except InputError as error:
        desk.faults = list(error.faults)
        return
    except (ValueError, RecursionError):
        try:
            parse_job(text)
        except InputError as error:
            desk.faults = list(error.faults)
        return
    desk.data, desk.good, desk.faults = plain(job), job, []
    desk.version += 1


def saved_text(job: Job) -> str:
    """The job as the text of a job file; opened again it is the same job."""
    return tomlkit.dumps(plain(job))


def refuse_server_files(job: Job) -> None:
    """Raise `InputError` for weather that is a path of this machine: a visitor may only use samples and uploads."""
    name = job.weather.file
    if not name or name.startswith("sample:") or _is_upload(name):
        return
    remedy = 'Here use file = "sample:typical-year", clear_sky = true, or upload the weather file above.'
    raise InputError.of("weather.file", name, "cannot be read by the page.", remedy)


def keep_weather(desk: Desk, name: str, content: bytes) -> None:
    """Take an uploaded weather file for the job on the desk; its content is checked when the job is simulated."""
    if len(content) > MOST_BYTES:
        desk.faults = [_upload_fault(name, "is larger than 10 MB.", "Cut it to one year.")]
        return
    if not content.strip():
        desk.faults = [_upload_fault(name, "is empty.", "Choose another file.")]
        return
    if b"\x00" in content[:4096]:
        desk.faults = [_upload_fault(name, "is not a text file.", "Weather files are TMY3, TM2, EPW, PVGIS or CSV.")]
        return
    digest = hashlib.sha256(content).hexdigest()[:24]
    path = _folder() / f"{digest}.txt"
    path.write_bytes(content)
    desk.data = changed(changed(desk.data, "weather.clear_sky", ""), "weather.file", str(path))
    read(desk)


def _upload_fault(name: str, reason: str, remedy: str) -> Fault:
    return Fault(field="weather file", value=name[:60], reason=reason, remedy=remedy)


def _folder() -> Path:
    folder = Path(tempfile.gettempdir()) / "trackersim-uploads"
    folder.mkdir(mode=0o700, exist_ok=True)
    return folder


def _is_upload(name: str) -> bool:
    path = Path(name)
    return path.parent == _folder() and path.suffix == ".txt" and path.is_file()
