"""One question for many sites."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

if TYPE_CHECKING:
    from trackersim.analysis.fleet import FleetProgress

from trackersim.cli.common import (
    FromOpt,
    JsonOpt,
    ToOpt,
    UnitsOpt,
    app,
    check_out,
    faults_told,
    progress_bar,
    say,
    tell,
)

SOME_FAILED = 3
# Without a terminal that watches, a line so often [s].
_TOLD_EVERY_S = 60.0
# A matrix routine's own threads only take the cores from the processes beside them.
_ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")

QuestionChoice = Literal["compare", "losses", "options"]


@app.command()
def fleet(
    sites: Annotated[Path, typer.Argument(metavar="FOLDER|TABLE", help="Job files, or a CSV with one site a row.")],
    out: Annotated[Path, typer.Option("-o", "--out", metavar="FILE", help="Table of the sites: .csv or .parquet.")],
    job: Annotated[str, typer.Option("--job", metavar="JOB", help="For a table: the job that each row changes.")] = "",
    question: Annotated[QuestionChoice, typer.Option("--question", help="What is asked of each site.")] = "compare",
    processes: Annotated[
        int | None, typer.Option("--processes", min=1, help="How many; by default one a core.")
    ] = None,
    dask: Annotated[str, typer.Option("--dask", metavar="ADDRESS", help="Dask scheduler with workers elsewhere.")] = "",
    page: Annotated[Path | None, typer.Option("--page", metavar="FILE", help="The worst racks on paper, PDF.")] = None,
    first: FromOpt = None,
    last: ToOpt = None,
    units: UnitsOpt = "us",
    as_json: JsonOpt = False,
) -> None:
    """One question for many sites: a row a site, one a month, and the worst racks. It goes on after a kill."""
    os.environ.update({name: "1" for name in _ONE_THREAD if name not in os.environ})  # before numpy is loaded
    from trackersim.analysis.finished_sites import FinishedSites
    from trackersim.analysis.fleet import fleet_of
    from trackersim.job.fleet_sites import fleet_sites
    from trackersim.job.whole_files import write_whole
    from trackersim.report.fleet import check_fleet_file, fleet_answer, fleet_pdf, write_fleet
    from trackersim.simulation.processes import cores
    from trackersim.simulation.workers import at_hand

    with faults_told():
        check_fleet_file(out)
        check_out(out, is_file=True)
        check_out(page, is_file=True)
        found_sites = fleet_sites(sites, job=job)
        if processes is None:
            processes = cores() if at_hand("joblib") else 1
        with FinishedSites.beside(out) as finished:
            with _told() as progress:
                found = fleet_of(
                    found_sites,
                    question,
                    days=(first.date() if first else None, last.date() if last else None),
                    processes=min(processes, len(found_sites)),
                    scheduler=dask,
                    finished=finished,
                    progress=progress,
                )
            paths = write_fleet(out, found)
            if page is not None:
                write_whole(page, fleet_pdf(found, units), field="page")
            finished.remove()
    tell(fleet_answer(found, units), as_json=as_json)
    if not as_json:
        say(f"Wrote {' and '.join(path.name for path in [*paths, *([page] if page else [])])}.")
    if found.failed:
        raise typer.Exit(SOME_FAILED)


@contextmanager
def _told() -> Iterator[Callable[[FleetProgress], None]]:
    """A bar while a terminal is watching, else a line on stderr now and then."""
    from trackersim.report.fleet import progress_words

    with progress_bar() as bar:
        next_s = time.monotonic() + _TOLD_EVERY_S

        def told(progress: FleetProgress) -> None:
            nonlocal next_s
            if bar is not None:
                bar(progress_words(progress), progress.done / progress.sites)
            elif time.monotonic() >= next_s:
                print(progress_words(progress), file=sys.stderr, flush=True)
                next_s = time.monotonic() + _TOLD_EVERY_S

        yield told
