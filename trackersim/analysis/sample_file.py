"""Draws written to a file as they are done, so that a run that is killed leaves what it has.

JSON lines: the first says what was asked (job, seed, draws, names), every other one holds a draw, in order, draw 0
being the run with everything as the job says.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TextIO

from trackersim.errors import InputError

KEPT_FILE = "draws.jsonl"


@dataclass(frozen=True, kw_only=True)
class KeptDraws:
    """An open file of draws; without a stream nothing is kept."""

    stream: TextIO | None

    @classmethod
    @contextmanager
    def begun(cls, folder: Path | None, about: Mapping[str, Any]) -> Iterator[KeptDraws]:
        """A new file in `folder` (made if missing), an older one replaced. Raises `InputError` if that cannot be."""
        if folder is None:
            yield cls(stream=None)
            return
        try:
            folder.mkdir(parents=True, exist_ok=True)
            stream = (folder / KEPT_FILE).open("w", encoding="utf-8", newline="\n")
        except OSError as error:
            reason = f"cannot be written to ({error.strerror})."
            raise InputError.of("out", str(folder), reason, "Give a folder that exists or can be made.") from None
        with stream:
            kept = cls(stream=stream)
            kept.add(about)
            yield kept

    def add(self, row: Mapping[str, Any]) -> None:
        """Write one line, at once and whole."""
        if self.stream is None:
            return
        try:
            self.stream.write(json.dumps(row, ensure_ascii=False, allow_nan=False) + "\n")
            self.stream.flush()
        except OSError as error:
            reason = f"could not be filled ({error.strerror}); the draws already there are whole."
            with suppress(OSError):  # what is left in the buffer would be written again
                self.stream.close()
            raise InputError.of("out", KEPT_FILE, reason, "Free some space or choose another folder.") from None
