"""Questions about the job as it stands: water, racks side by side, one morning, the sheet."""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from trackersim.analysis.morning import Morning
    from trackersim.simulation.result import Result

from trackersim.cli.common import (
    FromOpt,
    JobArg,
    JsonOpt,
    OutOpt,
    RackChoice,
    SetOpt,
    ToOpt,
    Units,
    UnitsOpt,
    app,
    close,
    compared,
    faults_told,
    load,
    print_json,
    progress_bar,
    say,
    table,
    warn,
)


@app.command()
def new(file: Annotated[Path, typer.Argument(metavar="FILE", help="Where to write it.")]) -> None:
    """Write a commented job file to start from."""
    from trackersim.job.files import write_starter

    with faults_told():
        write_starter(file)
    typer.echo(f"Wrote {file}. Change what differs at your site, then: trackersim run {file}")


@app.command()
def run(
    job: JobArg,
    rack: Annotated[RackChoice | None, typer.Option("--rack", help="Instead of the job's own rack.")] = None,
    overrides: SetOpt = None,
    first: FromOpt = None,
    last: ToOpt = None,
    units: UnitsOpt = "us",
    out: OutOpt = None,
    as_json: JsonOpt = False,
) -> None:
    """Water a day, month by month, on the job's rack."""
    own = [f"rack.kind={rack}"] if rack else []
    with faults_told():
        loaded = load(job, [*(overrides or []), *own])
        results = compared(loaded, [loaded.rack.kind], first, last)
        result = results[loaded.rack.kind]
        summary = result.summary()
        paths = _written(out, results, summary, units)
    if as_json:
        print_json(summary)
        return
    from trackersim.report import words

    warn(results)
    say(words.headline(result, units), words.flip_words(result))
    table(words.month_header(units), words.month_rows(result, units))
    close(results, result, paths)


@app.command()
def compare(
    job: JobArg,
    overrides: SetOpt = None,
    first: FromOpt = None,
    last: ToOpt = None,
    units: UnitsOpt = "us",
    out: OutOpt = None,
    as_json: JsonOpt = False,
) -> None:
    """The same pump on a fixed, a late-turning (as watched, and by physics) and an ideal tracking rack."""
    from trackersim.simulation.runner import RACKS, prepare, without_trees

    with faults_told():
        loaded = load(job, overrides or [])
        scene = prepare(loaded, first_day=first and first.date(), last_day=last and last.date())
        results = compared(loaded, RACKS, first, last, scene=scene)
        open_sky = without_trees(loaded, scene)
        summary: dict[str, Any] = {"racks": {kind: result.summary() for kind, result in results.items()}}
        if open_sky is not None:
            summary["without_trees"] = open_sky.summary()
        paths = _written(out, results, summary, units)
    if as_json:
        print_json(summary)
        return
    from trackersim.report import words

    kind = loaded.rack.kind
    own = results[kind]
    warn(results)
    say(words.headline(own, units), words.flip_words(own))
    say(words.compare_words(results, kind, units, open_sky=open_sky))
    table(words.compare_header(), words.compare_rows(results, units), words.compare_title(units))
    close(results, own, paths)


@app.command()
def morning(
    job: JobArg,
    date: Annotated[dt.datetime, typer.Option("--date", formats=["%Y-%m-%d"], help="The morning to explain.")],
    overrides: SetOpt = None,
    units: UnitsOpt = "us",
    out: Annotated[Path | None, typer.Option("--out", metavar="DIR", help="Write the figure and the summary.")] = None,
    as_json: JsonOpt = False,
) -> None:
    """One morning: sunrise, sun on the rack, the turn east, what it waited for and what that cost."""
    from trackersim.analysis.morning import explain_morning

    with faults_told():
        loaded = load(job, overrides or [])
        with progress_bar() as progress:
            explained = explain_morning(loaded, date.date(), progress=progress)
        paths = _morning_written(out, explained, units)
    if as_json:
        print_json(explained.summary())
        return
    from trackersim.report import morning as show_morning

    warn({explained.own.rack: explained.own})
    say(show_morning.morning_sentence(explained, units))
    table(show_morning.moment_header(), show_morning.moment_rows(explained))
    say(show_morning.waiting_words(explained), show_morning.temperature_words(explained, units))
    say(show_morning.SAFETY)
    close({explained.own.rack: explained.own}, explained.own, paths)


@app.command()
def weather(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="Path of a job file; it is updated.")],
    url: Annotated[str, typer.Option("--url", help="Another server that answers in the same format.")] = "",
) -> None:
    """Download a typical year and the terrain horizon for the job's place and name them in the job."""
    from trackersim.weather.adopt import adopt_weather

    with faults_told():
        for line in adopt_weather(job, url=url):
            typer.echo(line)


@app.command()
def report(
    job: JobArg,
    out: Annotated[Path, typer.Option("-o", "--out", metavar="FILE", help="Where to write the PDF.")],
    date: Annotated[dt.datetime | None, typer.Option("--date", formats=["%Y-%m-%d"], help="A day to picture.")] = None,
    quick: Annotated[bool, typer.Option("--quick", help="Without the choices and the account of losses.")] = False,
    overrides: SetOpt = None,
    units: UnitsOpt = "us",
) -> None:
    """The sheet for the customer, one page, with an appendix for the file, as a PDF."""
    from trackersim.analysis.losses import losses_of
    from trackersim.analysis.options import options_of
    from trackersim.job.files import write_whole
    from trackersim.report import words
    from trackersim.report.customer_sheet import day_of, report_pdf
    from trackersim.report.losses import losses_header, losses_rows
    from trackersim.report.options import sheet_rows
    from trackersim.simulation.runner import prepare, without_trees

    with faults_told():
        loaded = load(job, overrides or [])
        own = loaded.rack.kind
        scene = prepare(loaded)
        kinds = list(dict.fromkeys([own, "fixed", "ideal"]))
        results = compared(loaded, kinds, None, None, scene=scene)
        open_sky = without_trees(loaded, scene)
        day = day_of(results[own], date.date()) if date else None
        choices = account = None
        if not quick:
            with progress_bar() as progress:
                choices = sheet_rows(options_of(loaded, progress=progress), units)
                account = [losses_header(), *losses_rows(losses_of(loaded, progress=progress), units)]
        pdf = report_pdf(
            results[own],
            system=units,
            others=results,
            open_sky=open_sky,
            day=day,
            choices=choices,
            account=account,
        )
        write_whole(out, pdf)
    warn(results)
    say(words.headline(results[own], units))
    say(words.provenance_words(results[own]))
    say(f"Wrote {out}.")


def _written(out: Path | None, results: Mapping[str, Result], summary: Mapping[str, Any], units: Units) -> list[Path]:
    if out is None:
        return []
    from trackersim.report.files import write_run

    if sys.stderr.isatty():
        typer.echo("writing files …", err=True)
    return write_run(out, results, summary, units)


def _morning_written(out: Path | None, explained: Morning, units: Units) -> list[Path]:
    if out is None:
        return []
    from trackersim.report.files import json_text, write_all
    from trackersim.report.morning import morning_figure

    return write_all(
        out,
        {
            "morning.json": lambda path: path.write_text(json_text(explained.summary()) + "\n", encoding="utf-8"),
            "morning.png": lambda path: morning_figure(explained, units).savefig(path, dpi=150),
        },
    )
