"""What a benchmark found: printed, and with `--keep` kept for this version with what it ran on."""

from __future__ import annotations

import argparse
import json
import os
import platform
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

from trackersim import __version__
from trackersim.job.whole_files import write_whole

KEPT = Path(__file__).parent / "kept"


def arguments(about: str) -> argparse.ArgumentParser:
    """What every benchmark is asked with."""
    parser = argparse.ArgumentParser(description=about)
    parser.add_argument("--keep", action="store_true", help=f"keep what was found in {KEPT}/VERSION")
    parser.add_argument("--again", action="store_true", help="with --keep: in place of what this version has there")
    return parser


def tell(
    name: str, measure: Callable[[], Mapping[str, Any]], *, keep: bool, again: bool = False, folder: Path = KEPT
) -> None:
    """Measure, print, and keep if asked; a record that is there already is refused before the minutes are spent."""
    record = folder / __version__ / f"{name}.json"
    if keep and record.exists() and not again:
        raise SystemExit(f"{record} is there already; --again puts this run in its place.")
    on, before = _ran_on(), _load()
    figures = measure()
    print(json.dumps(figures, indent=2))
    if keep:
        record.parent.mkdir(parents=True, exist_ok=True)
        kept = {**on, "load_before": before, "load_after": _load(), "figures": figures}
        write_whole(record, (json.dumps(kept, indent=2) + "\n").encode())


def _ran_on() -> dict[str, str | int]:
    return {
        "version": __version__,
        "date": datetime.now(UTC).date().isoformat(),
        "python": platform.python_version(),
        "numpy": version("numpy"),
        "pvlib": version("pvlib"),
        "processor": _processor(),
        "cores": len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1,
    }


def _processor() -> str:
    """The model, where the system tells it (Linux); else the kind."""
    told = Path("/proc/cpuinfo")
    lines = told.read_text(encoding="utf-8").splitlines() if told.exists() else []
    models = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
    return models[0] if models else platform.processor() or platform.machine()


def _load() -> float:
    """Processes that ran or waited for a core, on the mean of the last minute."""
    return round(os.getloadavg()[0], 2)
