"""The hash of all that an answer on a job depends on beside the program: the job, and the files it names."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from pathlib import Path

from trackersim.errors import InputError
from trackersim.job.folders import path_in
from trackersim.job.model import Job
from trackersim.job.plain_files import read_bytes

_MOST_BYTES = 200_000_000  # of a file that a job names
_SAMPLE = "sample:"  # how the name of a bundled file begins: it changes with the program only


def fingerprint(job: Job, *, remedy: str = "Put it where the job says.") -> str:
    """Hash of the canonical text and of the files that the job names.

    Raises `InputError` with `remedy` where such a file cannot be read.
    """
    logs = [_file_hash(job, "rack.log", unit.rack.log, remedy) for unit in job.units if unit.rack.kind == "logged"]
    told = "".join([job.canonical_text(), _file_hash(job, "weather.file", job.weather.file, remedy), *logs])
    return hashlib.sha256(told.encode()).hexdigest()


def _file_hash(job: Job, field: str, name: str | None, remedy: str) -> str:
    if not name or name.startswith(_SAMPLE):
        return ""
    path = path_in(job.folder, name)
    try:
        if path is None:
            return hashlib.sha256(b"").hexdigest()
        stat = path.stat()
        return _hash_of(path, (stat.st_ino, stat.st_size, stat.st_mtime_ns))
    except (OSError, ValueError):
        raise InputError.of(field, name, "is gone.", remedy) from None


@lru_cache(maxsize=256)
def _hash_of(path: Path, stamp: tuple[int, int, int]) -> str:
    """`stamp` only tells a changed file from the one read before: a fleet asks for the same file at every site."""
    return hashlib.sha256(read_bytes(path, _MOST_BYTES)).hexdigest()
