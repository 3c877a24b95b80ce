"""The file of draws read back."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from trackersim.analysis.sample_file import KEPT_FILE


def read_kept(folder: Path) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """What was asked, and the draws that are whole, of the file in `folder`; a torn last line is left out."""
    lines = (folder / KEPT_FILE).read_text(encoding="utf-8").splitlines(keepends=True)
    about, *rows = [json.loads(line) for line in lines if line.endswith("\n")]
    return about, rows
