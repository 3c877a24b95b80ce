"""What a benchmark keeps: all it promises, and never in place of another record unasked."""

from __future__ import annotations

import json
import os
import platform
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pvlib
import pytest
from keeping import arguments, tell

from trackersim import __version__

FIGURES = {"seconds": 1.25, "inner": {"peak_mb": 300}}


def test_what_was_printed_is_kept_beside_what_it_ran_on(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    tell("walk", lambda: FIGURES, keep=True, folder=tmp_path)
    kept = json.loads((tmp_path / __version__ / "walk.json").read_text())
    assert json.loads(capsys.readouterr().out) == kept.pop("figures") == FIGURES
    assert set(kept) == {
        "version", "date", "python", "numpy", "pvlib", "processor", "cores", "load_before", "load_after",
    }  # fmt: skip
    assert (kept["version"], kept["python"]) == (__version__, platform.python_version())
    assert (kept["numpy"], kept["pvlib"]) == (np.__version__, pvlib.__version__)
    assert kept["processor"]
    assert 1 <= kept["cores"] <= (os.cpu_count() or 1)
    assert min(kept["load_before"], kept["load_after"]) >= 0


def test_the_load_is_read_on_both_sides_of_the_measurement(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    load = [0.1]
    monkeypatch.setattr(os, "getloadavg", lambda: (load[0], 9.0, 9.0))

    def measure() -> Mapping[str, float]:
        load[0] = 1.9
        return {}

    tell("walk", measure, keep=True, folder=tmp_path)
    kept = json.loads((tmp_path / __version__ / "walk.json").read_text())
    assert (kept["load_before"], kept["load_after"]) == (0.1, 1.9)


def test_a_record_is_put_in_place_of_another_only_when_told(tmp_path: Path) -> None:
    tell("walk", lambda: {"run": 1}, keep=True, folder=tmp_path)
    record = tmp_path / __version__ / "walk.json"
    first = record.read_bytes()

    def not_to_be_spent() -> Mapping[str, int]:
        pytest.fail("measured, and only then refused")

    with pytest.raises(SystemExit, match="--again"):
        tell("walk", not_to_be_spent, keep=True, folder=tmp_path)
    assert record.read_bytes() == first
    tell("walk", lambda: {"run": 2}, keep=True, again=True, folder=tmp_path)
    assert json.loads(record.read_text())["figures"] == {"run": 2}


def test_nothing_is_kept_unasked(tmp_path: Path) -> None:
    asked = arguments("A walk.").parse_args([])
    tell("walk", lambda: FIGURES, keep=asked.keep, again=asked.again, folder=tmp_path)
    assert not list(tmp_path.iterdir())
