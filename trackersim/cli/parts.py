"""Questions about its parts: trees, wires, the water side."""

from __future__ import annotations

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
    faults_told,
    load,
    progress_bar,
    simulated,
    tell,
)


@app.command()
def shade(
    job: JobArg,
    overrides: SetOpt = None,
    years: Annotated[list[int] | None, typer.Option("--years", min=1, max=100, help="Years ahead.")] = None,
    units: UnitsOpt = "us",
    out: FigureOutOpt = None,
    as_json: JsonOpt = False,
) -> None:
    """When the sun clears the trees each month, what they cost when grown, and which way to string the modules."""
    from trackersim.analysis.tree_shading import YEARS_AHEAD, shade_of
    from trackersim.report.files import write_answer
    from trackersim.report.tree_shading import shade_answer, sky_figure

    with faults_told():
        loaded = load(job, overrides)
        check_out(out)
        with progress_bar() as progress:
            found = shade_of(loaded, years=years or YEARS_AHEAD, progress=progress)
        paths = write_answer(out, "shade", found.summary(), draw=lambda: sky_figure(loaded))

    tell(shade_answer(found, units), as_json=as_json, paths=paths)


@app.command()
def wiring(
    job: JobArg,
    overrides: SetOpt = None,
    units: UnitsOpt = "us",
    as_json: JsonOpt = False,
) -> None:
    """Whether array and controller fit each other, and what every run of wire takes."""
    from trackersim.analysis.wiring import wiring_of

    with faults_told():
        loaded = load(job, overrides)
        result = simulated(loaded)
    from trackersim.report.wiring import wiring_answer

    tell(wiring_answer(wiring_of(result), result, units), as_json=as_json)


@app.command()
def water(
    job: JobArg,
    overrides: SetOpt = None,
    first: FromOpt = None,
    last: ToOpt = None,
    units: UnitsOpt = "us",
    as_json: JsonOpt = False,
) -> None:
    """Lift and friction, where the pump runs, what stopped it, what became of the water, and months that fall short."""
    from trackersim.analysis.hydraulics import water_report

    with faults_told():
        loaded = load(job, overrides)
        result = simulated(loaded, first, last)
    from trackersim.report.hydraulics import water_answer

    tell(water_answer(water_report(result), units), as_json=as_json)
