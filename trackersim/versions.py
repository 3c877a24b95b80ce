"""What is installed and which data is at hand: for a report of a fault, and to trace figures by."""

from __future__ import annotations

import hashlib
import platform
import re
from importlib.metadata import PackageNotFoundError, requires, version

from trackersim import __version__


def at_hand() -> dict[str, dict[str, str]]:
    """Versions of the program, of Python, of every package it declares, and the hashes of the samples."""
    from trackersim.job.files import demo_text
    from trackersim.weather.samples import SAMPLES, sample_path

    samples = {name: _hash(sample_path(name).read_bytes()) for name in SAMPLES}
    return {
        "program": {"trackersim": __version__, "python": platform.python_version(), "system": platform.platform()},
        "packages": {name: _installed(name) for name in _declared()},
        "samples (SHA-256)": {"demo.toml": _hash(demo_text().encode()), **samples},
    }


def _hash(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:12]


def _declared() -> list[str]:
    """Names of what trackersim needs, and of what its extras for users need."""
    lines = [line for line in requires("trackersim") or () if "extra ==" not in line or "test" not in line]
    names = [re.split(r"[^A-Za-z0-9._-]", line, maxsplit=1)[0].lower() for line in lines]
    return sorted({name for name in names if name != "trackersim"})


def _installed(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "not installed"
