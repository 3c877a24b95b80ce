"""Questions that decide: where the water went, what each choice buys, how sure that is, what was seen."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from trackersim.cli.common import (
    FigureOutOpt,
    FromOpt,
    JobArg,
    JsonOpt,
    SetOpt,
    ToOpt,
    UnitsOpt,
    app,
    check_out,
    days,
    faults_told,
    load,
    progress_bar,
    say,
    tell,
)


@app.command()
def losses(
    job: JobArg,
    overrides: SetOpt = None,
    first: FromOpt = None,
    last: ToOpt = None,
    units: UnitsOpt = "us",
    out: FigureOutOpt = None,
    as_json: JsonOpt = False,
) -> None:
    """Where the water went: an account from an ideal site to the job as it stands, one step for each cause."""
    from trackersim.analysis.losses import losses_of
    from trackersim.report.files import write_answer
    from trackersim.report.losses import losses_alt, losses_answer, losses_figure

    with faults_told():
        loaded = load(job, overrides)
        check_out(out)
        with progress_bar() as progress:
            found = losses_of(loaded, **days(first, last), progress=progress)
        text = losses_alt(found, units)
        paths = write_answer(out, "losses", found.summary(), draw=lambda: losses_figure(found, units), text=text)

    tell(losses_answer(found, units), as_json=as_json, paths=paths)


@app.command()
def options(
    job: JobArg,
    overrides: SetOpt = None,
    first: FromOpt = None,
    last: ToOpt = None,
    units: UnitsOpt = "us",
    as_json: JsonOpt = False,
) -> None:
    """What could be done: repair, replace, lock, fell, rewire or add modules; water, money, and what would turn it."""
    from trackersim.analysis.options import options_of

    with faults_told():
        loaded = load(job, overrides)
        with progress_bar() as progress:
            found = options_of(loaded, **days(first, last), progress=progress)
    from trackersim.report.options import options_answer

    tell(options_answer(found, units), as_json=as_json)


@app.command()
def spread(
    job: JobArg,
    draws: Annotated[int, typer.Option("--draws", help="How many; 50 give a fair picture.")] = 50,
    seed: Annotated[int, typer.Option("--seed", help="The same seed gives the same figures.")] = 1,
    racks: Annotated[bool, typer.Option("--racks", help="Hold the other kinds of rack against the job's.")] = False,
    options: Annotated[bool, typer.Option("--options", help="Hold the choices of `options` against it.")] = False,
    overrides: SetOpt = None,
    first: FromOpt = None,
    last: ToOpt = None,
    units: UnitsOpt = "us",
    out: Annotated[Path | None, typer.Option("--out", metavar="DIR", help="Keep every draw there.")] = None,
    as_json: JsonOpt = False,
) -> None:
    """How sure the figures are: weather, trees, rack, age, pipe and wear varied. Ctrl-C keeps the draws done."""
    from trackersim.analysis.options import options_of
    from trackersim.analysis.paying import chances_of_paying
    from trackersim.analysis.sample_file import KEPT_FILE
    from trackersim.analysis.uncertainty import rack_variants
    from trackersim.analysis.uncertainty import spread as spread_of
    from trackersim.report.files import write_answer

    with faults_told():
        loaded = load(job, overrides)
        check_out(out)
        with progress_bar() as progress:
            choices = options_of(loaded, **days(first, last), progress=progress) if options else None
            variants = {**(rack_variants(loaded) if racks else {}), **(choices.jobs if choices else {})}
            found = spread_of(
                loaded,
                variants,
                draws=draws,
                seed=seed,
                **days(first, last),
                progress=progress,
                keep=out,
            )
        paths = write_answer(out, "spread", found.summary())
        paths += [out / KEPT_FILE] if out is not None else []
    from trackersim.report.uncertainty import spread_answer

    chances = chances_of_paying(found, choices) if choices else ()
    tell(spread_answer(found, units, chances=chances), as_json=as_json, paths=paths)
    if found.stopped:
        raise typer.Exit(130)


@app.command()
def learn(
    job: JobArg,
    observed: Annotated[Path, typer.Argument(metavar="OBSERVED", help="CSV: time,what,value,error.")],
    fit: Annotated[str, typer.Option("--fit", metavar="FIELDS", help="Such as rack.flip_threshold,rack.flip_dose.")],
    out: Annotated[Path | None, typer.Option("-o", "--out", metavar="FILE", help="Write a job file with it.")] = None,
    clear: Annotated[bool, typer.Option("--clear", help="Take the days observed as cloudless.")] = False,
    units: UnitsOpt = "us",
    as_json: JsonOpt = False,
) -> None:
    """Learn from what was seen: flips, arrivals, flows, angles and voltages adjust some fields of the job."""
    from trackersim.analysis.calibrated_file import check_new, write_learned
    from trackersim.analysis.calibration import learn as learn_from
    from trackersim.analysis.observations import read_observations

    with faults_told():
        loaded = load(job, ['weather.file=""', "weather.clear_sky=true"] if clear else [])
        if out is not None:
            check_new(out)
        check_out(out, is_file=True)
        keys = [key.strip() for key in fit.split(",") if key.strip()]
        seen = read_observations(observed, loaded)
        with progress_bar() as progress:
            learned = learn_from(loaded, seen, keys, progress=progress)
        if out is not None:
            write_learned(job, out, learned, units)
    from trackersim.report.calibration import learn_answer

    tell(learn_answer(learned, units), as_json=as_json)
    if out is not None and not as_json:
        say(f"Wrote {out}.")
