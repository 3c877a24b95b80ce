"""Draws written to a file as they are done; it takes its name when the run ends or is stopped, and until then an older
one stays.

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
from trackersim.job.whole_files import growing_file

KEPT_FILE = "draws.jsonl"


@dataclass(frozen=True, kw_only=True)
class KeptDraws:
    """An open file of draws; without a stream nothing is kept."""

    stream: TextIO | None

    @classmethod
    @contextmanager
    def begun(cls, folder: Path | None, about: Mapping[str, Any]) -> Iterator[KeptDraws]:
        """A new file for `folder` (made if missing). Raises `InputError` if there can be none."""
        if folder is None:
            yield cls(stream=None)
            return
        with growing_file(folder, KEPT_FILE) as path, path.open("w", encoding="utf-8", newline="\n") as stream:
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
            reason = f"could not be filled ({error.strerror}); what was there before was kept."
            with suppress(OSError):  # what is left in the buffer would be written again
                self.stream.close()
            raise InputError.of("out", KEPT_FILE, reason, "Free some space or choose another folder.") from None
