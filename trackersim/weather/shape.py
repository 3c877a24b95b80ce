"""Does each line look like a row of its format? The first that does not is told by its number in the file."""

from __future__ import annotations

import re
from collections.abc import Sequence

from trackersim.errors import InputError
from trackersim.weather.head import check_figures
from trackersim.weather.raw import fault

LONGEST_LINE = 10_000  # letters; the longest that any of the formats knows are the remarks of an EPW
_AGAIN = 'Mend or remove the line, or download the file again; file = "sample:typical-year" gives a first answer.'
_MONTH_DAYS = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_LAST_HOUR = 24

Lines = Sequence[tuple[int, str]]  # the number of each line in the file, from 1, and its text

# How a row begins. Groups name the parts of its date.
TMY3_ROW = re.compile(r"\s*(?P<month>\d\d?)/(?P<day>\d\d?)/\d{4},\s*(?P<hour>\d\d?):\d\d,")
EPW_ROW = re.compile(r"\s*\d{4},\s*(?P<month>\d\d?),\s*(?P<day>\d\d?),\s*(?P<hour>\d\d?),\s*\d\d?,")
PVGIS_ROW = re.compile(r"\d{4}(?P<month>\d\d)(?P<day>\d\d):(?P<hour>\d\d)\d\d,")
TM2_ROW = re.compile(r" \d\d(?P<month>[ \d]\d)(?P<day>[ \d]\d)(?P<hour>[ \d]\d)")


def numbered(text: str) -> list[tuple[int, str]]:
    """The lines of a text with their numbers."""
    return list(enumerate(text.split("\n"), 1))


def check_length(text: str) -> None:
    """`InputError` for a line longer than any weather file has: of such a file nothing is read further."""
    for number, line in enumerate(text.split("\n"), 1):
        if len(line) > LONGEST_LINE:
            reason = f"begins line {number} of the file, which has {len(line):,} letters: no weather file has any such."
            raise fault(line[:40], reason, "Choose another file, or export it again with one row in each line.")


def check_rows(lines: Lines, shape: re.Pattern[str]) -> None:
    """`InputError` for the first line that does not begin with a date and an hour as `shape` has them.

    Blank lines are no rows.
    """
    for number, line in lines:
        if not line.strip():
            continue
        found = shape.match(line)
        if found is None or not _exists(*(int(found[part]) for part in ("month", "day", "hour"))):
            raise _odd(number, line, "does not begin with a date and an hour that exist")
    check_quotes(lines)


def check_quotes(lines: Lines) -> None:
    """`InputError` for a line with a quotation mark that nothing closes: it would swallow the lines below."""
    for number, line in lines:
        if line.count('"') % 2:
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


def check_first_line(cells: Sequence[str], places: Sequence[int], *, layout: str) -> None:
    """`InputError` unless the first line has numbers at the places of latitude, longitude, UTC offset and elevation.

    `layout` names its cells in words.
    """
    try:
        latitude, longitude, offset, elevation = (float(cells[place]) for place in places)
    except (IndexError, ValueError):
        shown = ",".join(cells)[:80]
        raise fault(shown, "is line 1 of the file, which does not tell its place.", f"It has {layout}.") from None
    check_figures(latitude_deg=latitude, longitude_deg=longitude, elevation_m=elevation, offset_h=offset)


def _odd(number: int, line: str, reason: str) -> InputError:
    return fault(line.strip()[:80], f"is line {number} of the file, which {reason}.", _AGAIN)


def _exists(month: int, day: int, hour: int) -> bool:
    return 1 <= month <= len(_MONTH_DAYS) and 1 <= day <= _MONTH_DAYS[month - 1] and hour <= _LAST_HOUR
