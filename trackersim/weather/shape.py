"""Does each line look like a row of its format? The first that does not is told by its number in the file."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import chain

import numpy as np

from trackersim.errors import InputError
from trackersim.weather.head import check_figures
from trackersim.weather.raw import HeadPlace, IntArray, fault

LONGEST_LINE = 10_000  # letters; the longest that any of the formats knows are the remarks of an EPW
_AGAIN = 'Mend or remove the line, or download the file again; file = "sample:typical-year" gives a first answer.'
_MONTH_DAYS = np.array([31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
_LAST_HOUR = 24

Lines = Sequence[tuple[int, str]]  # the number of each line in the file, from 1, and its text

# How a row begins. Groups name the parts of its date.
TMY3_ROW = re.compile(
    r"\s*(?P<month>\d\d?)/(?P<day>\d\d?)/(?P<year>\d{4}),\s*(?P<hour>\d\d?):(?P<minute>\d\d),", re.ASCII
)
EPW_ROW = re.compile(
    r"\s*(?P<year>\d{4}),\s*(?P<month>\d\d?),\s*(?P<day>\d\d?),\s*(?P<hour>\d\d?),\s*(?P<minute>\d\d?),", re.ASCII
)
PVGIS_ROW = re.compile(r"(?P<year>\d{4})(?P<month>\d\d)(?P<day>\d\d):(?P<hour>\d\d)\d\d,", re.ASCII)
TM2_ROW = re.compile(r" (?P<year>\d\d)(?P<month>[ \d]\d)(?P<day>[ \d]\d)(?P<hour>[ \d]\d)", re.ASCII)


def numbered(text: str) -> list[tuple[int, str]]:
    """The lines of a text with their numbers."""
    return list(enumerate(text.split("\n"), 1))


def check_length(text: str) -> None:
    """`InputError` for a line longer than any weather file has: of such a file nothing is read further."""
    for number, line in enumerate(text.split("\n"), 1):
        if len(line) > LONGEST_LINE:
            reason = f"begins line {number} of the file, which has {len(line):,} letters: no weather file has any such."
            raise fault(line[:40], reason, "Choose another file, or export it again with one row in each line.")


def row_dates(lines: Lines, shape: re.Pattern[str]) -> dict[str, IntArray]:
    """What `shape` finds at the beginning of each line: year, month, day, hour, for some formats minute; each (n,).

    `InputError` for the first line that does not begin with a date and an hour that exist. Blank lines are no rows.
    """
    rows = [each for each in lines if each[1] and not each[1].isspace()]
    found = [shape.match(line) for _, line in rows]
    shaped = found.index(None) if None in found else len(found)
    parts = chain.from_iterable(each.groups() for each in found[:shaped] if each)
    table = np.fromiter(map(int, parts), dtype=np.int64).reshape(shaped, shape.groups)
    dates = {name: table[:, place - 1] for name, place in shape.groupindex.items()}
    last_day = _MONTH_DAYS[np.clip(dates["month"], 1, 12) - 1]
    exists = (dates["month"] >= 1) & (dates["month"] <= 12) & (dates["day"] >= 1) & (dates["day"] <= last_day)
    exists &= dates["hour"] <= _LAST_HOUR
    if shaped < len(rows) or not exists.all():
        odd = int(np.argmin(exists)) if not exists.all() else shaped
        raise _odd(*rows[odd], "does not begin with a date and an hour that exist")
    check_quotes(rows)
    return dates


def check_quotes(lines: Lines) -> None:
    """`InputError` for a line with a quotation mark that nothing closes: it would swallow the lines below."""
    for number, line in lines:
        if '"' in line and line.count('"') % 2:
            raise _odd(number, line, "has a quotation mark that nothing closes")


def check_numbers(lines: Lines, *, cells: int) -> None:
    """`InputError` for the first line that has not `cells` cells, or whose cells after the first are no numbers."""
    for number, line in lines:
        parts = line.split(",")
        if len(parts) != cells:
            raise _odd(number, line, f"has {len(parts)} cells where {cells} have a name")
        for part in parts[1:]:
            try:
                float(part)
            except ValueError:
                raise _odd(number, line, f'has "{part.strip()[:20]}" where a number belongs') from None


def first_line_place(cells: Sequence[str], places: Sequence[int], *, layout: str) -> HeadPlace:
    """What the first line tells of a file's place.

    `places` are those of latitude, longitude, UTC offset and elevation among its cells; `InputError` unless numbers
    stand there. `layout` names the cells in words.
    """
    try:
        latitude, longitude, offset, elevation = (float(cells[place]) for place in places)
    except (IndexError, ValueError):
        shown = ",".join(cells)[:80]
        raise fault(shown, "is line 1 of the file, which does not tell its place.", f"It has {layout}.") from None
    told = HeadPlace(latitude_deg=latitude, longitude_deg=longitude, elevation_m=elevation, offset_h=offset)
    check_figures(**told)
    return told


def _odd(number: int, line: str, reason: str) -> InputError:
    return fault(line.strip()[:80], f"is line {number} of the file, which {reason}.", _AGAIN)
