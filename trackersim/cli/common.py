"""What every command shares: its arguments, faults told in words, progress, sentences, tables and notices."""

from __future__ import annotations

import datetime as dt
import re
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, TypedDict

import typer
from typer.core import TyperGroup

from trackersim.units import System

if TYPE_CHECKING:
    from trackersim.errors import InputError
    from trackersim.job.model import Job
    from trackersim.report.blocks import Answer
    from trackersim.simulation.result import Result
    from trackersim.simulation.runner import Progress

# The core names what was asked for beside the job in plain words; here it is shown as the option that mends it.
_ASKED = (
    "address", "air", "at", "at_unit", "current", "dask", "date", "draws", "fit", "flow", "flow_error", "gauge_above",
    "job", "light", "out", "pressure", "processes", "rotation", "seconds", "seed", "sky", "stands", "voltage",
    "volume", "wind",
)  # fmt: skip
_OPTIONS = {name: f"--{name.replace('_', '-')}" for name in _ASKED} | {"override": "--set"}

# A library's words for what was typed into an option, and ours.
_OURS = (
    (r"^Value error, ", ""),
    (r"^Input should be (.+) or '(\w+)'$", r"is not one of the words. Choose one of \1 or '\2'."),
    (r"^Input should be a valid integer.*", "is no whole number."),
    (r"^Input should be a valid number.*", "is no number."),
    (r"^Input should be greater than or equal to (\S+)$", r"must be at least \1."),
    (r"^Input should be greater than (\S+)$", r"must be above \1."),
    (r"^Input should be less than or equal to (\S+)$", r"must be at most \1."),
    (r"^(.*) is not one of (.*)\.$", r"\1 is not one of the words. Choose one of \2."),
)


class Commands(TyperGroup):
    """The commands; faults in their options are told as all other faults are."""

    def invoke(self, ctx: Any) -> Any:
        """Run a command. What cannot be an option's value is told in a sentence, with exit code 2."""
        try:
            return super().invoke(ctx)
        except typer.BadParameter as error:
            if error.param is None:
                raise
            name = max(error.param.opts, key=len)
            asked = f"trackersim {error.ctx.info_name} --help" if error.ctx else "trackersim --help"
            told = error.message or f"is missing. {asked} tells what it takes."
            for theirs, ours in _OURS:
                told = re.sub(theirs, ours, told)
            typer.echo(f"One thing to mend:\n  • {name if name.startswith('-') else name.upper()}: {told}", err=True)
            raise typer.Exit(2) from None


app = typer.Typer(
    cls=Commands,
    help="Water lifted by a solar pump on a fixed, ideal-tracking or late-turning passive rack, behind trees.",
    no_args_is_help=True,
    add_completion=True,
    pretty_exceptions_enable=False,
)


def day(text: str) -> dt.datetime:
    """A day as it is typed into an option."""
    from trackersim.clock import day_written

    found = day_written(text)
    if found is None:
        raise typer.BadParameter(f'"{text[:30]}" is not a day. Write it like 2025-03-21 or 3/21/2025.')
    return found


RackChoice = Literal["fixed", "delayed", "thermal", "ideal"]

SkyChoice = Literal["clear", "haze", "cloud", "overcast", "unknown"]
WindChoice = Literal["calm", "breeze", "windy", "unknown"]
StandsChoice = Literal["west", "level", "east"]

JobArg = Annotated[str, typer.Argument(metavar="JOB", help='Path of a job file, or "demo".')]
SetOpt = Annotated[
    list[str] | None, typer.Option("--set", metavar="FIELD=VALUE", help="Override a field, e.g. array.age_years=0.")
]
FromOpt = Annotated[dt.datetime | None, typer.Option("--from", metavar="DAY", parser=day, help="First day.")]
ToOpt = Annotated[dt.datetime | None, typer.Option("--to", metavar="DAY", parser=day, help="Last day, included.")]
UnitsOpt = Annotated[System, typer.Option("--units", help="us: gallons, feet. si: cubic metres, metres.")]
OutOpt = Annotated[Path | None, typer.Option("--out", metavar="DIR", help="Write tables, series, summary, figures.")]
FigureOutOpt = Annotated[Path | None, typer.Option("--out", metavar="DIR", help="Write the figure and the summary.")]
JsonOpt = Annotated[bool, typer.Option("--json", help="Print one JSON object (SI) and nothing else.")]


def load(job: str, overrides: Sequence[str] | None = None) -> Job:
    from trackersim.job.files import load_job

    return load_job(job, overrides or ())


def check_out(out: Path | None, *, is_file: bool = False) -> None:
    """A fault if nothing can be written at `out`, told before an answer is worked out that would be lost."""
    if out is None:
        return
    from trackersim.job.whole_files import check_file_place, check_folder_place

    if is_file:
        check_file_place(out)
    else:
        check_folder_place(out)


class DayRange(TypedDict):
    """First and last day as the engine takes them."""

    first_day: dt.date | None
    last_day: dt.date | None


def days(first: dt.datetime | None, last: dt.datetime | None) -> DayRange:
    """The days that the options name."""
    return {"first_day": first.date() if first else None, "last_day": last.date() if last else None}


def simulated(job: Job, first: dt.datetime | None = None, last: dt.datetime | None = None) -> Result:
    """The job on its own rack, with a bar while it is worked on."""
    from trackersim.simulation.runner import Runner

    with progress_bar() as progress:
        return Runner(job, **days(first, last)).racks([job.rack.kind], progress=progress)[job.rack.kind]


def tell(answer: Answer, *, as_json: bool = False, paths: Sequence[Path] = ()) -> None:
    """Print an answer, or its summary as JSON; then which files were written."""
    if as_json:
        print_json(answer.summary)
        return
    from trackersim.report.terminal import say_answer

    say_answer(answer)
    if paths:
        say(f"Wrote {len(paths)} files to {paths[0].parent}.")


@contextmanager
def progress_bar() -> Iterator[Progress | None]:
    """A bar on stderr while a terminal is watching, else nothing."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("starting", total=1.0)
        yield lambda words, share: bar.update(task, description=words, completed=share)


@contextmanager
def faults_told() -> Iterator[None]:
    """Tell every fault of the input on stderr and leave with exit code 2."""
    from trackersim.errors import InputError

    try:
        yield
    except InputError as error:
        _tell_faults(error)
        raise typer.Exit(2) from None
    except KeyboardInterrupt:
        typer.echo("Stopped. Files appear only when a run is complete.", err=True)
        raise typer.Exit(130) from None


def _tell_faults(error: InputError) -> None:
    count = len(error.faults)
    typer.echo("One thing to mend:" if count == 1 else f"{count} things to mend:", err=True)
    for fault in error.faults:
        typer.echo(f"  • {replace(fault, field=_OPTIONS.get(fault.field, fault.field))}", err=True)


def say(*sentences: str) -> None:
    from rich.console import Console

    Console().print(" ".join(part for part in sentences if part), markup=False, highlight=False)


def print_json(summary: Mapping[str, Any]) -> None:
    from trackersim.report.files import json_text

    typer.echo(json_text(summary))
