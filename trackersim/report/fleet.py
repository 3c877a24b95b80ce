"""Many sites: the racks that take most water, the sites that failed, and the tables as files."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import pandas as pd

from trackersim import __version__
from trackersim.analysis.fleet import Fleet, FleetProgress
from trackersim.analysis.fleet_rows import Row
from trackersim.errors import InputError, counted
from trackersim.job.whole_files import write_all
from trackersim.report.blocks import Answer, Block, Caution, Listing, Note, Table, sentences
from trackersim.report.site_losses import NOTHING_M3
from trackersim.simulation.workers import at_hand
from trackersim.units import System, own_first, show, shown_number, unit_label

_MOST_FAULTS, _MOST_DANGERS, _FAULT = 20, 20, 300
# Counts, which stay whole numbers in a column where some site has none.
_COUNTS = ("days", "month", "days_flipped", "days_meeting_demand")


def fleet_answer(found: Fleet, system: System) -> Answer:
    """The page on a fleet: how many, the worst racks, what failed."""
    return Answer(
        headline=_headline(found),
        blocks=(*_worst(found, system), *_failed(found), *_cautions(found), *_closing(found)),
        dangers=_dangers(found, system),
        summary=found.summary(),
    )


def _headline(found: Fleet) -> str:
    done = f"{counted(len(found.found), 'site')} of {len(found.sites)} worked out"
    earlier = f", {found.kept} of them by a run before" if found.kept else ""
    failed = f"; {counted(len(found.failed), 'site')} failed" if found.failed else ""
    return f"{done}{earlier}{failed}."


def _worst(found: Fleet, system: System) -> tuple[Block, ...]:
    kind = "volume_per_day"
    rows = [row for row in found.worst() if row["late_m3_per_day"] >= NOTHING_M3]
    if not rows:
        return sentences("No rack takes any water against one that follows the sun." if found.found else "")
    taken = sum(row["late_m3_per_day"] for row in found.found)
    repaired = sum(row["repair_wins_back_m3_per_day"] or 0.0 for row in found.found)
    words = (
        f"Against racks that follow the sun, these racks take {show(taken, kind, system)} together; repairs would win "
        f"back {show(repaired, kind, system)}."
    )
    header = ("Where", "Site", "Rack", "Water", "Rack takes", "of all", "Repair", "Trees take", "Turned")
    title = f"The racks that take most water, in {unit_label(kind, system)}; turned: days of all"
    return (
        *sentences(words),
        Table(header=header, rows=tuple(_worst_row(row, system) for row in rows), title=title, tight=True),
    )


def _worst_row(row: Row, system: System) -> tuple[str, ...]:
    def water(name: str) -> str:
        value = row[name]
        return "–" if value is None else shown_number(value, "volume_per_day", system)

    whole, turned = row["open_and_prompt_m3_per_day"], row["days_flipped"]
    return (
        row["source"],
        row["site"],
        row["rack"],
        water("water_m3_per_day"),
        water("late_m3_per_day"),
        f"{100 * row['late_m3_per_day'] / whole:.0f} %" if whole > 0 else "–",
        water("repair_wins_back_m3_per_day"),
        water("trees_m3_per_day"),
        "–" if turned is None else f"{turned}/{row['days']}",
    )


def _cut(line: str) -> str:
    return line if len(line) <= _FAULT else f"{line[:_FAULT]}… (the rest stands in the table)"


def _failed(found: Fleet) -> tuple[Block, ...]:
    if not found.failed:
        return ()
    lines = [_cut(f"{row['source']}: {row['fault']}") for row in found.failed[:_MOST_FAULTS]]
    more = len(found.failed) - len(lines)
    return (
        *sentences("Failed, and to be mended in the job or its weather; a new run tries them again:"),
        Listing(lines=(*lines, *([f"and {more} more, in the column fault"] if more > 0 else []))),
    )


def _dangers(found: Fleet, system: System) -> tuple[Caution, ...]:
    """The sites where something may hurt somebody or a part breaks, by name, with what it is."""
    lines = [_cut(own_first(f"{row['source']}: {row['dangers']}", system)) for row in found.found if row.get("dangers")]
    more = len(lines) - _MOST_DANGERS
    shown = [*lines[:_MOST_DANGERS], *([f"{counted(more, 'site')} more, in the column dangers"] if more > 0 else [])]
    return tuple(Caution(text=f"WARNING: {line}", level="danger") for line in shown)


def _cautions(found: Fleet) -> tuple[Block, ...]:
    """Cautions of single sites are too many to tell here, and too many not to be pointed at."""
    warned = sum(bool(row["cautions"]) for row in found.found)
    if not warned:
        return ()
    told = f"{counted(warned, 'site')} {'has' if warned == 1 else 'have'} cautions, in the column of that name"
    return (Caution(text=f"{told}: read them before anybody works there or promises water.", level="caution"),)


def _closing(found: Fleet) -> tuple[Block, ...]:
    return (Note(text=f"trackersim {__version__} · question: {found.question}"),) if found.sites else ()


def fleet_pdf(found: Fleet, system: System) -> bytes:
    """The page on paper, letter in US units, else A4."""
    from trackersim.report.paper import Document, Lead, Shortened, pdf, usual_paper

    answer = fleet_answer(found, system)
    front = [
        Shortened(block=block, most=10, more="{} more in the table") if isinstance(block, Listing | Table) else block
        for block in answer.blocks
    ]
    last_day = max((row["last_day"] for row in found.found), default="2000-01-01")
    document = Document(
        title="A fleet of solar pumps",
        name="A fleet of solar pumps",
        subtitle=f"{counted(len(found.sites), 'site')}, question: {found.question}",
        program=f"trackersim {__version__}",
        foot=f"trackersim {__version__}",
        date=dt.date.fromisoformat(last_day),
        front=[*answer.dangers, Lead(text=answer.headline), *front],
        appendix_name="Sites that failed",
        appendix=_failed(found) or sentences("None."),
    )
    return pdf(document, paper=usual_paper(system))


def progress_words(told: FleetProgress) -> str:
    """How far a fleet is: "37 of 50 sites (12 by a run before), 3 min left"."""
    kept = f" ({told.kept} by a run before)" if told.kept else ""
    left = "" if told.left_s is None or told.done == told.sites else f", {_duration(told.left_s)} left"
    return f"{told.done} of {counted(told.sites, 'site')}{kept}{left}"


def _duration(seconds: float) -> str:
    if seconds < 90:
        return f"{max(seconds, 1):.0f} s"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 90 else f"{minutes // 60} h {minutes % 60:02d} min"


def check_fleet_file(out: Path) -> None:
    """`InputError` for an output of no known kind; asked before a night's work."""
    if out.suffix not in (".csv", ".parquet"):
        raise InputError.of("out", str(out), "is no kind of table.", "End its name in .csv or .parquet.")
    if out.suffix == ".parquet" and not at_hand("pyarrow"):
        remedy = "pip install 'trackersim[fleet]', or end the name in .csv."
        raise InputError.of("out", str(out), "needs pyarrow, which is not installed.", remedy)


def write_fleet(out: Path, found: Fleet) -> list[Path]:
    """Write the sites to `out` and the months beside it ("fleet.csv", "fleet-months.csv"); whole or not at all."""
    check_fleet_file(out)
    months = f"{out.stem}-months{out.suffix}"
    tables = {out.name: _table(found.sites), months: _table(found.months)}
    writers: Mapping[str, Callable[[Path], Any]] = {
        name: _writer(table, as_parquet=out.suffix == ".parquet") for name, table in tables.items()
    }
    return write_all(out.parent, writers)


def _writer(table: pd.DataFrame, *, as_parquet: bool) -> Callable[[Path], Any]:
    def write(path: Path) -> None:
        buffer = io.BytesIO()
        if as_parquet:
            table.to_parquet(buffer, index=False, engine="pyarrow")
        else:
            table.to_csv(buffer, index=False, lineterminator="\n")
        path.write_bytes(buffer.getvalue())

    return write


def _table(rows: Sequence[Row]) -> pd.DataFrame:
    """Rows as a table: a column for each name, in the order in which names come first."""
    names = list(dict.fromkeys(name for row in rows for name in row))
    table = pd.DataFrame([{name: row.get(name) for name in names} for row in rows], columns=names)
    counts = [name for name in _COUNTS if name in table]
    return table.astype(dict.fromkeys(counts, "Int64"))
