"""Files a visitor brings: a job, or weather. Nothing of them is trusted before it has been read."""

from __future__ import annotations

import dataclasses
import re
from pathlib import PurePath
from typing import Protocol

from trackersim.errors import Fault, InputError
from trackersim.job.files import MOST_BYTES as MOST_JOB_BYTES
from trackersim.page.edits import changed
from trackersim.page.state import Desk, keep_file, open_text, replace, settle
from trackersim.page.work import own_year

MOST_BYTES = 10_000_000
_LONGEST_NAME_BYTES = 120


class Brought(Protocol):
    """What a file uploader gives."""

    name: str

    def getvalue(self) -> bytes:
        """The file's bytes."""
        ...


def take_job(desk: Desk, brought: Brought) -> None:
    """Open a job file."""
    content = brought.getvalue()
    if len(content) > MOST_JOB_BYTES:
        desk.faults = [_fault("job file", brought.name, "is larger than 1 MB.", "Choose the job's own file.")]
        return
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        desk.faults = [_fault("job file", brought.name, "is not text in UTF-8.", "Save it as UTF-8 text.")]
        return
    open_text(desk, text)


def take_weather(desk: Desk, brought: Brought) -> None:
    """Take a weather file into the visitor's room and put it into the job, if a year can be simulated with it."""
    content, name = brought.getvalue(), _safe_name(brought.name)
    if len(content) > MOST_BYTES:
        desk.faults = [_fault("weather file", brought.name, "is larger than 10 MB.", "Cut it to one year.")]
        return
    if not content.strip():
        desk.faults = [_fault("weather file", brought.name, "is empty.", "Choose another file.")]
        return
    if b"\x00" in content[:4096]:
        remedy = "Weather files are TMY3, TM2, EPW, PVGIS or CSV."
        desk.faults = [_fault("weather file", brought.name, "is not a text file.", remedy)]
        return
    try:
        keep_file(desk, name, content)
    except InputError as error:
        reason, remedy = "cannot be kept here: there is no room for it.", "Try again later, or ask who runs this page."
        desk.faults = [dataclasses.replace(fault, field="weather file", value=name, reason=reason, remedy=remedy)
                       for fault in error.faults]  # fmt: skip
        return
    replace(desk, changed(changed(desk.data, "weather.clear_sky", ""), "weather.file", name))
    settle(desk, own_year)


def _safe_name(name: str) -> str:
    """The file's own name as a plain one: letters, figures and ". _ -"."""
    plain = re.sub(r"[^\w.\- ]+", "_", PurePath(name.replace("\\", "/")).name).strip(" .")
    stem, dot, ending = plain.rpartition(".")
    short = (stem or "weather").encode()[:_LONGEST_NAME_BYTES].decode(errors="ignore")
    return f"{short}{dot or '.'}{(ending if dot else 'txt')[:8]}"


def _fault(field: str, name: str, reason: str, remedy: str) -> Fault:
    return Fault(field=field, value=name[:60], reason=reason, remedy=remedy)
