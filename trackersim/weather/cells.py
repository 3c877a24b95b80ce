"""How many cells a line of a table has: a decimal comma between commas shifts every cell after it."""

from __future__ import annotations

import csv
from collections.abc import Iterable

from trackersim.weather.raw import fault

_REMEDY = "Write decimals with a point, or separate the cells by semicolons or tabs."


def check_width(lines: Iterable[tuple[int, str]], *, width: int, separator: str = ",") -> None:
    """`InputError` for the first line that has more cells than the head names, unless the others are empty.

    `lines` are pairs of the line's number in the file, from 1, and its text. A line with fewer cells is one that was
    cut off: its missing cells are gaps.
    """
    for number, line in lines:
        if line.count(separator) < width:
            continue
        cells = next(csv.reader([line], delimiter=separator), [])
        if any(cell.strip() for cell in cells[width:]):
            reason = f"is line {number} of the file, with {len(cells)} cells where {width} have a name"
            why = ": it is damaged, or decimals with commas shift them." if separator == "," else "."
            raise fault(line.strip()[:80], reason + why, _REMEDY)


def check_table(text: str, *, head: str = "", width: int = 0) -> None:
    """`check_width` for the rows of a text separated by commas: its lines that begin with a digit.

    Rows stand below the line that begins with `head` and have as many cells as it; without `head` they have `width`.
    """
    lines = list(enumerate(text.split("\n"), 1))
    if head:
        at, names = next((each for each in lines if each[1].startswith(head)), (0, ""))
        lines, width = lines[at:], names.count(",") + 1
    if width > 1:
        check_width((each for each in lines if each[1][:1].isdigit()), width=width)
