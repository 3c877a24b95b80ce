"""The sites of a fleet: a folder of job files, or one job and a table of what differs from site to site."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from trackersim.errors import Fault, InputError, counted
from trackersim.job.faults import UNKNOWN_FIELD
from trackersim.job.files import demo_text, job_text, parse_job
from trackersim.job.former_names import current_key
from trackersim.job.model import Job
from trackersim.job.plain_files import read_text, told_lines

_MOST_BYTES = 50_000_000  # of a table: a hundred thousand sites
_MOST_LETTERS = 20_000  # of a row: a whole horizon fits, as in an override
_SHOWN_ROWS = 3
_SEPARATORS = ",;\t"


@dataclass(frozen=True, kw_only=True)
class FleetSite:
    """One site: where it is written ("farm.toml", "row 7"), and its job, or the faults that leave it without one."""

    source: str
    job: Job | None = None
    faults: tuple[Fault, ...] = ()


def fleet_sites(source: Path, *, job: str = "") -> tuple[FleetSite, ...]:
    """The sites in `source`.

    Parameters
    ----------
    source
        A folder, whose job files (`*.toml`) are taken in the order of their names, or a table (CSV).
    job
        For a table, the job file that every row starts from, or "demo".

    Returns
    -------
    tuple[FleetSite, ...]
        At least one. A job file of a folder that cannot be read is a site with faults.

    Raises
    ------
    InputError
        Where there is no site, or with every fault of the table: row, column, value, reason, remedy. A table is
        refused as a whole, since somebody has just written it and is there to mend it.
    """
    if source.is_dir():
        if job:
            reason = "belongs to a table, and a folder of job files was given."
            raise InputError.of("job", job, reason, "Leave it out, or give a table.")
        return _sites_in_folder(source)
    return _sites_in_table(source, job)


def _sites_in_folder(folder: Path) -> tuple[FleetSite, ...]:
    paths = sorted(path for path in folder.glob("*.toml") if path.is_file())
    if not paths:
        raise InputError.of("fleet", str(folder), "holds no job file.", "Job files end in .toml.")
    return tuple(_site_in_file(path) for path in paths)


def _site_in_file(path: Path) -> FleetSite:
    try:
        return FleetSite(source=path.name, job=parse_job(job_text(path), folder=path.resolve().parent))
    except InputError as error:
        return FleetSite(source=path.name, faults=error.faults)


def _sites_in_table(path: Path, job: str) -> tuple[FleetSite, ...]:
    if not job:
        reason = "is a table, and a table needs the job that its rows start from."
        raise InputError.of("job", None, f"{path.name} {reason}", "Name a job file, or a folder instead of the table.")
    text, folder = (demo_text(), Path()) if job == "demo" else (job_text(Path(job)), Path(job).resolve().parent)
    parse_job(text, folder=folder)  # its own faults are told once, and not for every row
    header, rows = _table(path)
    faults = _header_faults(path, header)
    if not rows:
        faults.append(Fault(field=path.name, value=None, reason="holds no site.", remedy="Write one site a row."))
    if faults:
        raise InputError(faults)
    sites: list[FleetSite] = []
    found: list[tuple[int, Fault]] = []
    for number, cells in rows:
        told = [f"{column}={cell}" for column, cell in zip(header, cells, strict=False) if cell and column]
        try:
            found += [(number, fault) for fault in _row_faults(header, cells)]
            sites.append(FleetSite(source=f"row {number}", job=parse_job(text, folder=folder, overrides=told)))
        except InputError as error:
            found += [(number, fault) for fault in error.faults]
    if found:
        raise InputError(_told_by_row(header, found))
    return tuple(sites)


def _table(path: Path) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """Heads of the columns, and number and cells of every row that holds something, as a spreadsheet counts rows."""
    large = "Divide it into several tables."
    unread = "Give a folder of job files, or a table (CSV) with one site a row."
    text = read_text(path, field="fleet", value=str(path), most=_MOST_BYTES, large=large, unread=unread)
    lines = told_lines(text)
    if not lines:
        return [], []
    separator = max(_SEPARATORS, key=lines[0][1].count)  # a spreadsheet writes ; where the comma is for decimals
    table = [(number, _cells(line, separator)) for number, line in lines]
    return table[0][1], table[1:]


def _cells(line: str, separator: str) -> list[str]:
    found: Iterator[list[str]] = csv.reader([line[:_MOST_LETTERS]], delimiter=separator, skipinitialspace=True)
    return [cell.strip() for cell in next(found, [])]


def _header_faults(path: Path, header: Sequence[str]) -> list[Fault]:
    """Heads that stand twice."""
    remedy = "Each field has one column."
    twice = sorted({name for name in header if name and header.count(name) > 1})
    faults = [Fault(field=f"{path.name}, row 1", value=name, reason="stands twice.", remedy=remedy) for name in twice]
    if not any(header):
        remedy = "The first row names the fields that differ: site.name,pump.lift,rack.kind."
        faults.append(Fault(field=path.name, value=None, reason="has no heads of columns.", remedy=remedy))
    return faults


def _row_faults(header: Sequence[str], cells: Sequence[str]) -> list[Fault]:
    """Cells that stand under no head."""
    homeless = [cell for place, cell in enumerate(cells) if cell and (place >= len(header) or not header[place])]
    remedy = "Name a field in the first row, or empty the cell; text with commas stands in quotes."
    return [Fault(field="", value=cell, reason="stands under no head.", remedy=remedy) for cell in homeless]


def _told_by_row(header: Sequence[str], found: Sequence[tuple[int, Fault]]) -> list[Fault]:
    """Every fault at its row and column; one that many rows share is told once, with the rows that have it."""
    rows: dict[tuple[str, str, str], list[int]] = {}
    first: dict[tuple[str, str, str], Fault] = {}
    for number, fault in found:
        column = _column_of(header, fault.field)
        if column in header and fault.reason == UNKNOWN_FIELD:  # the head's fault, and no row's
            number, column, fault = 1, "", replace(fault, value=column)
        key = (column, repr(fault.value), fault.reason)
        first.setdefault(key, fault)
        if number not in rows.setdefault(key, []):
            rows[key].append(number)
    return [
        replace(fault, field=f"{_rows_named(rows[key])}, {key[0]}" if key[0] else _rows_named(rows[key]))
        for key, fault in first.items()
    ]


def _column_of(header: Sequence[str], field: str) -> str:
    """The head of the column that a fault belongs to; the field itself where none is at fault alone."""
    bare = re.sub(r"^unit\.\d+\.", "", field)
    named = (name for name in header if name and current_key(name) in (field, bare))
    inside = (name for name in header if name.startswith(f"{field}."))  # of a section that is not known
    return next(named, next(inside, field))


def _rows_named(numbers: Sequence[int]) -> str:
    if len(numbers) == 1:
        return f"row {numbers[0]}"
    shown = ", ".join(map(str, numbers[:_SHOWN_ROWS]))
    more = len(numbers) - _SHOWN_ROWS
    return f"rows {shown}" if more <= 0 else f"rows {shown} and {counted(more, 'more row')}"
