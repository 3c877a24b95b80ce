"""Mornings that somebody watched at a rack, as typed: from a CSV file, one line a morning, or from fields of the same
names; lines with # are remarks.

Columns: date, and any of sky (clear, haze, cloud, overcast), wind (calm, breeze, windy), air ("41F", in the shade),
flip and facing (clock times at which it passed its centre and at which it faced the sun; "not by 11:00" if it had not),
east (how far east of centre it stood at the most, "45 deg"), and yes or no under bangs, stiff, oily and bent.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from trackersim.analysis.observations import table_rows
from trackersim.analysis.observed_sky import Seen
from trackersim.analysis.rack_conditions import SIGNS
from trackersim.analysis.typed_input import Reading, quantity, seen_of
from trackersim.clock import check_year, day_written, moment_at
from trackersim.errors import Fault, InputError
from trackersim.job.model import Job

COLUMNS = ("date", "sky", "wind", "air", "flip", "facing", "east", *SIGNS)
_EXAMPLE = "date,sky,wind,air,flip,facing,east"
_MOST = 60  # mornings
NOT_BY = "not by "
_YES, _NO = ("yes", "y", "true", "1"), ("no", "n", "false", "0")


@dataclass(frozen=True, kw_only=True)
class SeenMoment:
    """A moment of the standard day [min]; `not_yet` means that it had not happened by then."""

    minute: float
    not_yet: bool = False


@dataclass(frozen=True, kw_only=True)
class SeenMorning:
    """One row as typed; what is None or lacks was not looked at."""

    date: dt.date
    seen: Seen
    flip: SeenMoment | None = None
    facing: SeenMoment | None = None
    east_deg: float | None = None
    signs: Mapping[str, bool] = field(default_factory=dict)

    @property
    def looked_at(self) -> frozenset[str]:
        """Which columns of how it moves and of signs it tells."""
        moves = {"flip": self.flip, "facing": self.facing, "east": self.east_deg}
        return frozenset(self.signs) | {name for name, seen in moves.items() if seen is not None}


def read_mornings(path: Path, job: Job) -> tuple[SeenMorning, ...]:
    """The mornings in the CSV file. Raises one `InputError` with every line that cannot be used."""
    rows = table_rows(path, columns=("date",), known=COLUMNS, example=_EXAMPLE)
    return typed_mornings(rows, job, row_word="line", whole=path.name)


def typed_mornings(
    rows: Sequence[tuple[int, Mapping[str, str]]], job: Job, *, row_word: str, whole: str
) -> tuple[SeenMorning, ...]:
    """The mornings in rows of typed text.

    Parameters
    ----------
    rows : Sequence[tuple[int, Mapping[str, str]]]
        The number of each row and its text by the names in `COLUMNS`; empty text is as none.
    job : Job
        Whose site's clock was read.
    row_word, whole : str
        What a row and all of them are called in faults: "line", the file's name.

    Raises
    ------
    InputError
        With every fault of every row, named "line 2, facing"; also if there is no row, or more than 60.
    """
    reading = Reading()
    found = [reading.take(partial(_morning, f"{row_word} {number}", row, job), None) for number, row in rows]
    if not rows:
        remedy = f"Write one morning a line: {_EXAMPLE}."
        reading.faults.append(Fault(field=whole, value="", reason="holds no morning.", remedy=remedy))
    if len(rows) > _MOST:
        reason = f"are more mornings than {_MOST}."
        reading.faults.append(Fault(field=whole, value=len(rows), reason=reason, remedy="A handful will do."))
    reading.done()
    return tuple(morning for morning in found if morning is not None)


def _morning(place: str, row: Mapping[str, str], job: Job) -> SeenMorning:
    reading = Reading()
    date = reading.take(lambda: _date(f"{place}, date", row.get("date", "")), None)
    seen = reading.take(lambda: _seen(place, row), Seen())
    moments = {
        name: reading.take(partial(_moment, f"{place}, {name}", row.get(name, ""), date, job), None)
        for name in ("flip", "facing")
    }
    east = reading.take(lambda: _east(f"{place}, east", row.get("east", "")), None)
    signs = {name: reading.take(partial(_yes, f"{place}, {name}", row.get(name, "")), None) for name in SIGNS}
    told = {name: seen_ for name, seen_ in signs.items() if seen_ is not None}
    if not reading.faults and not told and east is None and not any(moments.values()):
        remedy = "Give at least one of flip, facing, east, " + ", ".join(SIGNS) + "."
        reading.faults.append(
            Fault(field=place, value=row.get("date", ""), reason="says nothing of the rack.", remedy=remedy)
        )
    _in_order(place, moments, row.get("facing", ""), reading.faults)
    reading.done()
    assert date is not None
    return SeenMorning(date=date, seen=seen, flip=moments["flip"], facing=moments["facing"], east_deg=east, signs=told)


def _in_order(place: str, moments: Mapping[str, SeenMoment | None], typed: str, faults: list[Fault]) -> None:
    flip, facing = moments["flip"], moments["facing"]
    if flip is None or facing is None or facing.not_yet:
        return
    if flip.not_yet or facing.minute < flip.minute:
        reason = "comes before the rack had flipped."
        remedy = "It faces the sun in the east only after its flip: look at both times again."
        faults.append(Fault(field=f"{place}, facing", value=typed, reason=reason, remedy=remedy))


def _date(name: str, text: str) -> dt.date:
    found = day_written(text)
    if found is None:
        raise InputError.of(name, text, "is missing." if not text else "is no date.", 'Write it "2026-03-21".')
    check_year(name, found.date())
    return found.date()


def _seen(place: str, row: Mapping[str, str]) -> Seen:
    words = {name: row.get(name) or "unknown" for name in ("sky", "wind")}
    try:
        return seen_of(**words, air=row.get("air") or None)
    except InputError as error:
        raise InputError([_at(place, fault) for fault in error.faults]) from None


def _at(place: str, fault: Fault) -> Fault:
    return Fault(field=f"{place}, {fault.field}", value=fault.value, reason=fault.reason, remedy=fault.remedy)


def _moment(name: str, text: str, date: dt.date | None, job: Job) -> SeenMoment | None:
    if not text or date is None:
        return None
    clock = text.strip().lower()
    not_yet = clock.startswith(NOT_BY)
    try:
        moment = moment_at(job.site, f"{date} {clock.removeprefix(NOT_BY).strip()}")
    except InputError:
        reason = "is no clock time."
        raise InputError.of(name, text, reason, 'Write it "8:42", or "not by 11:00" if it had not.') from None
    return SeenMoment(minute=moment.minute + moment.wall.second / 60, not_yet=not_yet)


def _east(name: str, text: str) -> float | None:
    if not text:
        return None
    return quantity(name, text, "deg", least=-90, most=90, example="45 deg")


def _yes(name: str, text: str) -> bool | None:
    word = text.strip().lower()
    if not word:
        return None
    if word not in (*_YES, *_NO):
        raise InputError.of(name, text, "is neither yes nor no.", "Write yes or no, or leave it empty.")
    return word in _YES
