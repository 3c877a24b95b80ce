"""Files that ship with the package: the demo, the starter, tables of classes and of units."""

from __future__ import annotations

import csv
from functools import cache
from importlib import resources


@cache  # every faulty edit of a form asks for the demo
def text_of(name: str) -> str:
    """What a file of this folder holds."""
    return resources.files(__name__).joinpath(name).read_text(encoding="utf-8")


def rows_of(name: str) -> list[dict[str, str]]:
    """The rows of a table in this folder, by its heads; lines that begin with # are remarks."""
    return list(csv.DictReader(line for line in text_of(name).splitlines() if not line.startswith("#")))
