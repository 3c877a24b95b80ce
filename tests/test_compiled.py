"""What is kept of compiled functions can be read whatever a later version calls its classes."""

from __future__ import annotations

import os
import pickle
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import trackersim

MARCH = (
    "from trackersim import load_job, simulate; import datetime as dt; "
    "simulate(load_job('demo', ['rack.kind=thermal']), first_day=dt.date(2025, 3, 1), last_day=dt.date(2025, 3, 1))"
)


def test_what_is_kept_names_no_class_of_ours(tmp_path: Path) -> None:
    package = Path(trackersim.__file__).parents[1]
    env = {**os.environ, "NUMBA_CACHE_DIR": str(tmp_path), "PYTHONPATH": str(package)}
    subprocess.run([sys.executable, "-c", MARCH], check=True, env=env, cwd=tmp_path)
    kept = list(tmp_path.rglob("*.nbi"))
    names = {each.name.split("-")[0] for each in kept}
    declared = {
        f"{path.stem}.{name}"
        for path in (package / "trackersim").rglob("*.py")
        for name in re.findall(r"^@kept\ndef (\w+)", path.read_text("utf-8"), re.MULTILINE)
    }
    assert {"thermal_march.follow", "balance_minutes.run_minutes", "strings._find_best"} <= names
    assert names <= declared  # and nothing that they call
    rooms: set[str] = set()

    class Reader(pickle.Unpickler):
        def find_class(self, module: str, name: str) -> Any:
            rooms.add(module.split(".")[0])
            return super().find_class(module, name)

    for each in kept:
        with each.open("rb") as file:
            Reader(file).load()  # numba's version
            Reader(file).load()  # the file's time and size, and what was compiled for which types
    assert "numba" in rooms
    assert "trackersim" not in rooms


def test_where_nothing_can_be_kept_it_is_compiled_all_the_same(tmp_path: Path) -> None:
    """Every kept function goes one way, so that one which is soon compiled, and calls another of its file, will do."""
    nowhere = (
        "from numba.core import caching; caching.CacheImpl._locator_classes = []; "
        "import numpy as np; from trackersim.arrays import between; "
        "print(between(np.array([1.0, 3.0, 3.0]), np.array([0, 1]), np.array([0.25, 0.5])))"
    )
    env = {**os.environ, "PYTHONPATH": str(Path(trackersim.__file__).parents[1])}
    run = subprocess.run([sys.executable, "-c", nowhere], check=True, capture_output=True, env=env, cwd=tmp_path)
    assert run.stdout.split() == [b"[1.5", b"3.", b"]"]
