"""Questions about its parts: trees, wires, the water side."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from trackersim.analysis.tree_shading import Shade

from trackersim.cli.common import (
    FromOpt,
    JobArg,
    JsonOpt,
    SetOpt,
    ToOpt,
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
def shade(
    job: JobArg,
    overrides: SetOpt = None,
    years: Annotated[list[int] | None, typer.Option("--years", min=1, max=100, help="Years ahead.")] = None,
    units: UnitsOpt = "us",
    out: Annotated[Path | None, typer.Option("--out", metavar="DIR", help="Write the figure and the summary.")] = None,
    as_json: JsonOpt = False,
) -> None:
    """When the sun clears the trees each month, what they cost when grown, and which way to string the modules."""
    from trackersim.analysis.tree_shading import YEARS_AHEAD, shade_of

    with faults_told():
        loaded = load(job, overrides or [])
        with progress_bar() as progress:
            found = shade_of(loaded, years=years or YEARS_AHEAD, progress=progress)
        paths = _shade_written(out, found)
    if as_json:
        print_json(found.summary())
        return
    from trackersim.report import tree_shading as show_shade

    warn({found.own.rack: found.own})
    say(show_shade.shade_sentence(found))
    table(show_shade.shade_header(), show_shade.shade_rows(found))
    say(show_shade.clock_sentence(found))
    say(show_shade.growth_words(found, units), show_shade.stringing_words(found))
    close({found.own.rack: found.own}, found.own, paths)


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
        loaded = load(job, overrides or [])
        result = compared(loaded, [loaded.rack.kind], None, None)[loaded.rack.kind]
    found = wiring_of(result)
    if as_json:
        print_json(found.summary())
        return
    from trackersim.report import wiring as show_wiring

    warn({result.rack: result})
    say(show_wiring.voltage_words(found, units))
    table(show_wiring.wire_header(), show_wiring.wire_rows(found))
    say(show_wiring.loss_words(found))
    say(show_wiring.CAUTION)
    close({result.rack: result}, result, [])


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
        loaded = load(job, overrides or [])
        result = compared(loaded, [loaded.rack.kind], first, last)[loaded.rack.kind]
    report = water_report(result)
    if as_json:
        print_json(report.summary())
        return
    from trackersim.report import hydraulics as show_water

    warn({result.rack: result})
    say(show_water.head_words(report, units))
    table(show_water.point_header(units), show_water.point_rows(report, units))
    say(show_water.stop_words(report), show_water.balance_words(report, units), show_water.short_words(report, units))
    if rows := show_water.short_rows(report, units):
        table(show_water.short_header(units), rows)
    say(show_water.CAUTION)
    close({result.rack: result}, result, [])


def _shade_written(out: Path | None, found: Shade) -> list[Path]:
    if out is None:
        return []
    from trackersim.report.files import json_text, write_all
    from trackersim.report.tree_shading import sky_figure

    return write_all(
        out,
        {
            "shade.json": lambda path: path.write_text(json_text(found.summary()) + "\n", encoding="utf-8"),
            "shade.png": lambda path: sky_figure(found.job).savefig(path, dpi=150),
        },
    )
