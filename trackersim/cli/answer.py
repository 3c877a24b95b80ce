"""Questions about the job as it stands: water, racks side by side, one morning, the sheet."""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from trackersim.analysis.comparison import Comparison
    from trackersim.simulation.result import Result
    from trackersim.units import System

from trackersim.cli.common import (
    FigureOutOpt,
    FromOpt,
    JobArg,
    JsonOpt,
    OutOpt,
    RackChoice,
    SetOpt,
    ToOpt,
    UnitsOpt,
    app,
    check_out,
    day,
    days,
    faults_told,
    load,
    progress_bar,
    say,
    simulated,
    tell,
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
        check_out(out)
        result = simulated(loaded, first, last)
        paths = _written(out, {loaded.rack.kind: result}, result, units)
    from trackersim.report.run import run_answer

    tell(run_answer(result, units), as_json=as_json, paths=paths)


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
    from trackersim.analysis.comparison import compare_racks

    with faults_told():
        loaded = load(job, overrides)
        check_out(out)
        with progress_bar() as progress:
            found = compare_racks(loaded, **days(first, last), progress=progress)
        paths = _written(out, found.racks, found, units)
    from trackersim.report.comparison import comparison_answer

    tell(comparison_answer(found, units), as_json=as_json, paths=paths)


@app.command()
def rack(job: JobArg, overrides: SetOpt = None, as_json: JsonOpt = False) -> None:
    """Which numbers of the thermal rack matter: minutes of flip and arrival with each 30 % lower and higher."""
    from trackersim.analysis.rack_numbers import rack_numbers

    with faults_told():
        loaded = load(job, overrides)
        with progress_bar() as progress:
            found = rack_numbers(loaded, progress=progress)
    from trackersim.report.rack_numbers import rack_answer

    tell(rack_answer(found), as_json=as_json)


@app.command()
def morning(
    job: JobArg,
    date: Annotated[
        dt.datetime | None,
        typer.Option("--date", metavar="DAY", parser=day, help="The morning to explain; without, one that tells most."),
    ] = None,
    overrides: SetOpt = None,
    units: UnitsOpt = "us",
    out: FigureOutOpt = None,
    as_json: JsonOpt = False,
) -> None:
    """One morning: sunrise, sun on the rack, the turn east, what it waited for and what that cost."""
    from trackersim.analysis.first_look import look_at
    from trackersim.analysis.morning import explain_morning
    from trackersim.report.blocks import Sentence
    from trackersim.report.files import write_answer
    from trackersim.report.morning import chosen_words, morning_answer, morning_figure

    with faults_told():
        loaded = load(job, overrides)
        check_out(out)
        with progress_bar() as progress:
            if date is None:
                look = look_at(loaded, progress=progress)
                asked, why = look.telling_day, chosen_words(look)
            else:
                asked, why = date.date(), ""
            explained = explain_morning(loaded, asked, progress=progress)
        summary = explained.summary()
        paths = write_answer(out, "morning", summary, draw=lambda: morning_figure(explained, units))

    answer = morning_answer(explained, units)
    if why:
        answer = replace(answer, blocks=(Sentence(text=why), *answer.blocks))
    tell(answer, as_json=as_json, paths=paths)


@app.command()
def weather(
    job: Annotated[str, typer.Argument(metavar="JOB", help="Path of a job file; without --check it is updated.")],
    check: Annotated[bool, typer.Option("--check", help="Look at the weather the job names; fetch nothing.")] = False,
    url: Annotated[str, typer.Option("--url", help="Another server that answers in the same format.")] = "",
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="With --check: write the picture and the summary.")
    ] = None,
    units: UnitsOpt = "us",
    as_json: JsonOpt = False,
) -> None:
    """Download a typical year and the terrain horizon for the job's place into the job, or check what it has."""
    if check:
        _check_weather(job, out, units, as_json)
        return
    from trackersim.weather.adopt import adopt_weather

    with faults_told():
        for line in adopt_weather(Path(job), url=url):
            typer.echo(line)


def _check_weather(job: str, out: Path | None, units: System, as_json: bool) -> None:
    from trackersim.analysis.weather_check import check_weather
    from trackersim.report.files import write_answer
    from trackersim.report.weather_check import carpet_alt, carpet_figure, weather_answer

    with faults_told():
        loaded = load(job)
        check_out(out)
        found = check_weather(loaded)
        paths = write_answer(out, "weather", found.summary(), draw=lambda: carpet_figure(found), text=carpet_alt(found))

    tell(weather_answer(found, units), as_json=as_json, paths=paths)


@app.command()
def report(
    job: JobArg,
    out: Annotated[
        Path, typer.Option("-o", "--out", metavar="FILE", help="A .pdf, or an .html that any browser opens.")
    ],
    date: Annotated[
        dt.datetime | None, typer.Option("--date", metavar="DAY", parser=day, help="A day to picture.")
    ] = None,
    quick: Annotated[bool, typer.Option("--quick", help="Without the choices and the account of losses.")] = False,
    visit: Annotated[
        dt.datetime | None, typer.Option("--visit", metavar="DAY", parser=day, help="The day somebody looked.")
    ] = None,
    by: Annotated[str, typer.Option("--by", metavar="NAME", help="Who looked.")] = "",
    readings: Annotated[list[str] | None, typer.Option("--reading", metavar="TEXT", help="Taken on site.")] = None,
    findings: Annotated[list[str] | None, typer.Option("--finding", metavar="TEXT", help="What was found.")] = None,
    unchecked: Annotated[list[str] | None, typer.Option("--not-checked", metavar="TEXT", help="What was not.")] = None,
    overrides: SetOpt = None,
    units: UnitsOpt = "us",
) -> None:
    """The sheet for the customer, one page, with an appendix for the file: a PDF, or a web page to send."""
    from trackersim.analysis.losses import losses_of, site_losses
    from trackersim.analysis.morning import day_of
    from trackersim.analysis.options import options_of
    from trackersim.errors import InputError
    from trackersim.job.whole_files import write_whole
    from trackersim.report.customer_sheet import sheet_document
    from trackersim.report.losses import losses_header, losses_rows
    from trackersim.report.options import sheet_rows
    from trackersim.report.paper import pdf, usual_paper
    from trackersim.report.remarks import dangers_of
    from trackersim.report.run import run_answer
    from trackersim.report.verdict import first_words
    from trackersim.report.visit import Visit
    from trackersim.report.web_page import web_page
    from trackersim.simulation.runner import Runner

    with faults_told():
        loaded = load(job, overrides)
        is_page = out.suffix.lower() in (".html", ".htm")
        if not is_page and out.suffix.lower() != ".pdf":
            raise InputError.of("out", str(out), "ends neither in .pdf nor in .html.", 'Name it "sheet.pdf".')
        check_out(out, is_file=True)
        own = loaded.rack.kind
        runner = Runner(loaded)
        with progress_bar() as progress:
            results = runner.racks(list(dict.fromkeys([own, "fixed", "ideal"])), progress=progress)
            site = site_losses(runner)
            pictured = day_of(results[own], date.date()) if date else None
            choices, account, verdict = None, None, ""
            if not quick:
                options = options_of(loaded, progress=progress, runner=runner)
                choices, verdict = sheet_rows(options, units), first_words(options, units)
                found = losses_of(loaded, progress=progress, runner=runner)
                account = [losses_header(), *losses_rows(found, units)]
        noted = Visit(
            date=visit.date() if visit else None,
            by=by,
            readings=tuple(readings or ()),
            findings=tuple(findings or ()),
            not_checked=tuple(unchecked or ()),
        )
        document = sheet_document(
            results[own],
            system=units,
            others=results,
            site=site,
            day=pictured,
            choices=choices,
            account=account,
            verdict=verdict,
            visit=noted,
        )
        write_whole(out, web_page(document) if is_page else pdf(document, paper=usual_paper(units)), field="out")
    told = run_answer(results[own], units)
    tell(replace(told, blocks=told.blocks[-1:], dangers=dangers_of(units, *results.values())))
    say(f"Wrote {out}.")


def _written(out: Path | None, results: Mapping[str, Result], found: Result | Comparison, units: System) -> list[Path]:
    if out is None:
        return []
    from trackersim.report.files import write_run

    if sys.stderr.isatty():
        typer.echo("writing files …", err=True)
    return write_run(out, results, found.summary(), units)
