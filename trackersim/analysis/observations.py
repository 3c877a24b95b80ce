"""Observations at a site from a CSV file: columns time, what, value, and perhaps error; lines with # are remarks.

Times are those of the site's clock, "2025-03-21 09:15". A flip (passing centre) or an arrival (within 5° of where it
belongs) is a moment and needs no value; flow, rotation (west positive) and voltage (at the controller) need a value
with its unit. Errors are one standard deviation, "3 min" or "4 %"; where none is given, an assumed one is taken.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal, NamedTuple, get_args

from trackersim.analysis.typed_input import Reading, quantity
from trackersim.clock import Moment, moment_at
from trackersim.errors import Fault, InputError
from trackersim.job.model import Job
from trackersim.job.plain_files import cells_of, read_text, told_lines
from trackersim.weather.calendar import DAYS_FIELD, days_between
from trackersim.weather.load import native_weather
from trackersim.weather.weather import Weather

What = Literal["flip", "arrival", "flow", "rotation", "voltage"]
_COLUMNS = ("time", "what")
_EXAMPLE = "time,what,value,error"
_MOST_BYTES = 1_000_000


class _Kind(NamedTuple):
    """How one kind of observation is read, and its usual error (assumption): in the unit, or a share of the value."""

    unit: str
    least: float
    most: float
    example: str
    error: float
    relative: bool


_KINDS: Mapping[str, _Kind] = {
    "flip": _Kind("min", 0, 1440, "5 min", 5.0, False),
    "arrival": _Kind("min", 0, 1440, "10 min", 10.0, False),
    "flow": _Kind("m**3/s", 0, 1, "12 gpm", 0.05, True),
    "rotation": _Kind("deg", -90, 90, "35 deg", 5.0, False),
    "voltage": _Kind("V", 0, 1500, "68 V", 0.03, True),
}
MOMENTS = ("flip", "arrival")
_FLIPS_IT = ("flip_delay", "flip_threshold", "flip_dose")
_LEAST_FLOW_M3_S = 3e-6  # no flow is told better than this


@dataclass(frozen=True, kw_only=True)
class Observation:
    """One line of the file (`row`, counted from 1). `minute` is that of the standard day, with its seconds.

    `value` and its standard error are in m³/s, degrees or volts; of flips and arrivals they are minutes of the day.
    """

    row: int
    what: What
    moment: Moment
    minute: float
    value: float
    error: float


def mornings_behind(keys: Sequence[str], observations: Sequence[Observation]) -> dict[str, int]:
    """From how many mornings those of the fields `keys` come that say when a rack flips: `flip_mornings` of each rack.

    Mornings are days with a flip or an arrival; without any, days on which its angle was read.
    """
    days = [{seen.moment.date for seen in observations if seen.what in kinds} for kinds in (MOMENTS, ("rotation",))]
    count = len(days[0] or days[1])
    racks = [section for section, _, last in (key.rpartition(".") for key in keys) if last in _FLIPS_IT]
    return {f"{rack}.flip_mornings": count for rack in racks} if count else {}


def read_observations(path: Path, job: Job) -> tuple[Observation, ...]:
    """The observations in the CSV file `path`. Raises one `InputError` with every line that cannot be used."""
    rows = table_rows(path, columns=_COLUMNS, example=_EXAMPLE)
    reading = Reading()
    found = [reading.take(lambda row=row, n=n: _observation(n, row, job), None) for n, row in rows]  # type: ignore[misc]
    kept = [observation for observation in found if observation is not None]
    reading.faults += _outside(kept, native_weather(job))
    if not rows:
        remedy = "Write one observation a line: time,what,value,error."
        reading.faults.append(Fault(field=path.name, value="", reason="holds no observation.", remedy=remedy))
    reading.faults.sort(key=lambda fault: _row_of(fault.field))
    reading.done()
    return tuple(kept)


def _row_of(field: str) -> int:
    number = field.removeprefix("line ").split(",")[0]
    return int(number) if number.isdecimal() else 0


def table_rows(
    path: Path, *, columns: Sequence[str], example: str, known: Sequence[str] = ()
) -> list[tuple[int, dict[str, str]]]:
    """Number and cells of each line that holds something, by the names in the first line.

    `columns` are needed; if any are `known`, no others are taken. `example` is a first line. Raises `InputError`.
    """
    unread = f"Give the path of a CSV file with the columns {', '.join(example.split(','))}."
    large = "A few dozen lines do."
    text = read_text(path, field="observations", value=str(path), most=_MOST_BYTES, large=large, unread=unread)
    told = [(n, line) for n, line in told_lines(text) if not line.lstrip().startswith("#")]
    table = [cells_of(line) for _, line in told]
    head = [cell.strip().lower() for cell in table[0]] if table else []
    lacking = [name for name in columns if name not in head]
    if lacking:
        reason = f"has no column {' and no column '.join(lacking)}."
        raise InputError.of(path.name, ",".join(head), reason, f"The first line names them: {example}.")
    strange = [name for name in head if known and name not in known]
    if strange:
        reason = "has a column that is not known." if len(strange) == 1 else "has columns that are not known."
        raise InputError.of(path.name, ", ".join(strange), reason, f"Known: {', '.join(known)}.")
    twice = sorted({name for name in head if head.count(name) > 1})
    if known and twice:
        raise InputError.of(path.name, ", ".join(twice), "stands in the first line twice.", "Name each column once.")
    cells = [dict(zip(head, (cell.strip() for cell in row), strict=False)) for row in table[1:]]
    long = [n for (n, _), row in zip(told[1:], table[1:], strict=True) if known and len(row) > len(head)]
    if long:
        reason = f"has more cells than the first line has names ({len(head)})."
        raise InputError.of(f"line {long[0]}", "", reason, "Leave no comma inside a cell.")
    return [(n, row) for (n, _), row in zip(told[1:], cells, strict=True) if any(row.values())]


def _observation(number: int, row: Mapping[str, str], job: Job) -> Observation:
    """One line; every fault of it at once, each named with the line."""
    reading, field = Reading(), f"line {number}"
    what = row.get("what", "").lower()
    if what not in _KINDS:
        fault = Fault(field=f"{field}, what", value=what, reason="is not known.", remedy=f"Known: {', '.join(_KINDS)}.")
        reading.faults.append(fault)
    moment = reading.take(lambda: _moment(f"{field}, time", row.get("time", ""), job), None)
    value, error = 0.0, 1.0
    if what in _KINDS:
        value = reading.take(lambda: _value(f"{field}, value", what, row.get("value", "")), 0.0)
        error = reading.take(lambda: _error(f"{field}, error", what, row.get("error", ""), value), 1.0)
    reading.done()
    assert moment is not None
    minute = moment.minute + moment.wall.second / 60
    kind: What = next(name for name in get_args(What) if name == what)
    return Observation(
        row=number, what=kind, moment=moment, minute=minute, value=minute if what in MOMENTS else value, error=error
    )


def _moment(field: str, text: str, job: Job) -> Moment:
    try:
        return moment_at(job.site, text)
    except InputError as error:
        reason = "is missing." if not text else error.faults[0].reason
        raise InputError([replace(error.faults[0], field=field, reason=reason)]) from None


def _value(field: str, what: str, text: str) -> float:
    kind = _KINDS[what]
    if what in MOMENTS:
        if text:
            raise InputError.of(field, text, f"belongs to no {what}.", "Its time says all: leave the value empty.")
        return 0.0
    if not text:
        raise InputError.of(field, text, "is missing.", f'Write it with its unit, "{kind.example}".')
    return quantity(field, text, kind.unit, least=kind.least, most=kind.most, example=kind.example)


def _error(field: str, what: str, text: str, value: float) -> float:
    """The standard error as told (in the unit, or a share of the value), else the usual one."""
    kind = _KINDS[what]
    if not text:
        told = kind.error * abs(value) if kind.relative else kind.error
    elif text.endswith("%") and what not in MOMENTS:
        told = quantity(field, text, "", least=0, most=1, above=True, example="5 %") * abs(value)
    else:
        told = quantity(field, text, kind.unit, least=0, most=abs(kind.most), above=True, example=kind.example)
    least = _LEAST_FLOW_M3_S if what == "flow" else 0.1
    return max(told, least)


def _outside(observations: list[Observation], weather: Weather) -> list[Fault]:
    """Observations on days that the weather does not cover."""
    faults = []
    for seen in observations:
        try:
            days_between(weather, seen.moment.date, seen.moment.date)
        except InputError as error:
            if error.faults[0].field != DAYS_FIELD:
                raise
            slots = 1440 // weather.step_min
            first, last = weather.times[0].date(), weather.times[(weather.days - 1) * slots].date()
            remedy = f"The weather covers {first} to {last}; take another file, or take clear days as cloudless."
            faults.append(
                Fault(field=f"line {seen.row}, time", value=str(seen.moment.date), reason="is not in the weather.",
                      remedy=remedy)
            )  # fmt: skip
    return faults
