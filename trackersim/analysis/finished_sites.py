"""Sites of a fleet that are done, in a file beside the output, so that a run that was killed is gone on with.

JSON lines, one a site, under a key: the hash of all that its answer depends on. A line that a kill has cut short is
dropped. The file goes when the output is written.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

from trackersim.analysis.fleet_rows import SiteRows
from trackersim.errors import InputError

try:
    import fcntl
except ImportError:  # a machine without such locks: nothing keeps two runs apart
    fcntl = None  # type: ignore[assignment]

_ENDING = ".finished.jsonl"


@dataclass(kw_only=True)
class FinishedSites:
    """An open file of finished sites, and what runs before have left in it. Without a stream nothing is kept."""

    path: Path | None = None
    stream: BinaryIO | None = None
    known: dict[str, SiteRows] = field(default_factory=dict)

    @classmethod
    @contextmanager
    def beside(cls, out: Path) -> Iterator[FinishedSites]:
        """The file beside `out`, made if missing. Raises `InputError` if there can be none or another run has it."""
        path = out.with_name(f"{out.name}{_ENDING}")
        try:
            stream = path.open("a+b")
        except OSError as error:
            remedy = "Name a file in a folder that exists and is writable."
            raise InputError.of("out", str(out), f"cannot be written ({error.strerror}).", remedy) from None
        with stream:
            _locked(stream, out)
            yield cls(path=path, stream=stream, known=_read(stream))

    def add(self, key: str, rows: SiteRows) -> None:
        """Write one site, at once and whole."""
        if self.stream is None:
            return
        line = json.dumps({"key": key, "site": rows.site, "months": rows.months}, ensure_ascii=False, allow_nan=False)
        try:
            self.stream.write(line.encode() + b"\n")
            self.stream.flush()
        except OSError as error:
            with suppress(OSError):  # what is left in the buffer would be written again
                self.stream.close()
            reason = f"could not be filled ({error.strerror}); the sites before stay in it."
            remedy = "Free some space and start again."
            raise InputError.of("out", str(self.path), reason, remedy) from None

    def remove(self) -> None:
        """Remove the file: the output is written."""
        if self.path is not None:
            self.path.unlink(missing_ok=True)


def _locked(stream: BinaryIO, out: Path) -> None:
    if fcntl is None:
        return
    try:
        fcntl.flock(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        remedy = "Wait for it, or name another file."
        raise InputError.of("out", str(out), "is worked on by another run.", remedy) from None


def _read(stream: BinaryIO) -> dict[str, SiteRows]:
    """What earlier runs left; the file is cut behind its last whole line."""
    known: dict[str, SiteRows] = {}
    stream.seek(0)
    whole = 0
    for line in stream:
        try:
            told = json.loads(line)
            rows = SiteRows(site=dict(told["site"]), months=tuple(dict(row) for row in told["months"]))
        except (ValueError, TypeError, KeyError):
            break
        if not line.endswith(b"\n"):
            break
        known[told["key"]] = rows
        whole += len(line)
    stream.truncate(whole)
    stream.seek(0, os.SEEK_END)
    return known
