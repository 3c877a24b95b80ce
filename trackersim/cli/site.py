"""Questions on site, with a watch and a bucket."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from trackersim.cli.common import (
    JobArg,
    JsonOpt,
    SetOpt,
    SkyChoice,
    StandsChoice,
    UnitsOpt,
    WindChoice,
    app,
    check_out,
    day,
    faults_told,
    load,
    progress_bar,
    tell,
)

AtOpt = Annotated[str, typer.Option("--at", metavar="TIME", help='Local time at the site, "2025-03-21 09:15".')]
SkyOpt = Annotated[SkyChoice, typer.Option("--sky", help="What the sky looks like.")]
WindOpt = Annotated[WindChoice, typer.Option("--wind", help="What the wind feels like at the rack.")]
AirOpt = Annotated[
    str | None, typer.Option("--air", metavar="TEMP", help="Air in the shade, 41F or 5C; else the usual.")
]
StandsOpt = Annotated[StandsChoice | None, typer.Option("--stands", help="How the rack stands, as you see it.")]


@app.command()
def flip(
    job: JobArg,
    at: AtOpt,
    sky: SkyOpt = "unknown",
    wind: WindOpt = "unknown",
    air: AirOpt = None,
    stands: StandsOpt = None,
    at_unit: Annotated[str | None, typer.Option("--at-unit", help="Which unit's rack: name or number.")] = None,
    overrides: SetOpt = None,
    units: UnitsOpt = "us",
    as_json: JsonOpt = False,
) -> None:
    """Should it have flipped by now? Early, likely and late time of the morning turn, and what to look at."""
    from trackersim.analysis.flip_check import check_flip
    from trackersim.analysis.typed_input import Reading, seen_of, unit_called
    from trackersim.clock import moment_at

    with faults_told():
        loaded = load(job, overrides)
        reading = Reading()
        seen = reading.take(lambda: seen_of(sky=sky, wind=wind, air=air), None)
        moment = reading.take(lambda: moment_at(loaded.site, at), None)
        place = reading.take(lambda: unit_called(at_unit, loaded.unit_names), 0)
        reading.done()
        assert moment is not None
        check = check_flip(loaded if at_unit is None else loaded.alone(place), moment, seen=seen, stands=stands)
    from trackersim.report.flip_check import flip_answer

    tell(flip_answer(check, units), as_json=as_json)


@app.command()
def bucket(
    job: JobArg,
    at: AtOpt,
    sky: SkyOpt = "unknown",
    wind: WindOpt = "unknown",
    air: AirOpt = None,
    volume: Annotated[str | None, typer.Option("--volume", help='What one fill holds, "5 gal".')] = None,
    seconds: Annotated[list[str] | None, typer.Option("--seconds", help="Seconds of a fill; once for each.")] = None,
    flow: Annotated[str | None, typer.Option("--flow", help='A meter\'s reading instead of fills, "28 gpm".')] = None,
    flow_error: Annotated[str | None, typer.Option("--flow-error", help="What that may be off by, 5 %.")] = None,
    light: Annotated[str | None, typer.Option("--light", help='Measured on the module plane, "760 W/m2".')] = None,
    pressure: Annotated[
        str | None, typer.Option("--pressure", help='Gauge at the pump\'s head, or on the common main, "35 psi".')
    ] = None,
    gauge_above: Annotated[
        str | None,
        typer.Option(
            "--gauge-above", help="Its height above the job's standing water, or above where the pumps' pipes meet."
        ),
    ] = None,
    voltage: Annotated[str | None, typer.Option("--voltage", help='At the controller\'s input, "68 V".')] = None,
    current: Annotated[str | None, typer.Option("--current", help='There too, "8.2 A".')] = None,
    at_unit: Annotated[
        str | None, typer.Option("--at-unit", help="Where light, voltage and current were read: name or number.")
    ] = None,
    stands: StandsOpt = None,
    rotation: Annotated[
        str | None, typer.Option("--rotation", metavar="DEG", help='Its angle in degrees, "20 west".')
    ] = None,
    overrides: SetOpt = None,
    units: UnitsOpt = "us",
    as_json: JsonOpt = False,
) -> None:
    """Is this flow right for this sun? Measured and expected flow, and what would explain a gap."""
    from trackersim.analysis.flow_check import check_flow
    from trackersim.analysis.typed_input import Reading, measured_of, readings_of, seen_of
    from trackersim.clock import moment_at

    with faults_told():
        loaded = load(job, overrides)
        reading = Reading()
        seen = reading.take(lambda: seen_of(sky=sky, wind=wind, air=air), None)
        moment = reading.take(lambda: moment_at(loaded.site, at), None)
        measured = reading.take(
            lambda: measured_of(volume=volume, seconds=seconds or (), flow=flow, flow_error=flow_error), None
        )
        readings = reading.take(
            lambda: readings_of(
                light=light, pressure=pressure, gauge_above=gauge_above, voltage=voltage, current=current, unit=at_unit,
                names=loaded.unit_names, stands=stands, rotation=rotation,
            ),
            None,
        )  # fmt: skip
        reading.done()
        assert moment is not None
        assert measured is not None
        check = check_flow(loaded, moment, measured, seen=seen, readings=readings)
    from trackersim.report.flow_check import flow_answer

    tell(flow_answer(check, units), as_json=as_json)


@app.command()
def tomorrow(
    job: JobArg,
    date: Annotated[
        dt.datetime | None, typer.Option("--date", metavar="DAY", parser=day, help="Another day than tomorrow.")
    ] = None,
    air: Annotated[
        str | None, typer.Option("--air", metavar="TEMP", help="Air expected at sunrise, 41F or 5C; else the usual.")
    ] = None,
    overrides: SetOpt = None,
    units: UnitsOpt = "us",
    out: Annotated[Path | None, typer.Option("--out", metavar="DIR", help="Write the card: text and figure.")] = None,
    as_json: JsonOpt = False,
) -> None:
    """The card to leave with the owner: when the rack should turn, water start, flow by the hour, when to call."""
    from trackersim.analysis.day_ahead import card_for
    from trackersim.analysis.typed_input import seen_of
    from trackersim.report.day_ahead import card_figure, card_text, day_answer
    from trackersim.report.files import write_answer

    with faults_told():
        loaded = load(job, overrides)
        check_out(out)
        air_c = seen_of(sky="clear", wind="unknown", air=air).air_c
        card = card_for(loaded, date.date() if date else None, air_c=air_c)
        text = card_text(card, units)
        paths = write_answer(out, "tomorrow", card.summary(), draw=lambda: card_figure(card, units), text=text)

    tell(day_answer(card, units), as_json=as_json, paths=paths)


@app.command()
def diagnose(
    job: JobArg,
    mornings: Annotated[
        Path, typer.Argument(metavar="MORNINGS", help="CSV, one morning a line: date,sky,wind,air,flip,facing,east.")
    ],
    at_unit: Annotated[str | None, typer.Option("--at-unit", help="Which unit's rack: name or number.")] = None,
    water: Annotated[bool, typer.Option("--water/--no-water", help="Say what a repair wins; takes longer.")] = True,
    overrides: SetOpt = None,
    units: UnitsOpt = "us",
    as_json: JsonOpt = False,
) -> None:
    """What ails the rack? How likely it is sound, leaked, stiff, bent or out of balance, and what to look at next."""
    from trackersim.analysis.diagnosis import check_turns, diagnose
    from trackersim.analysis.losses import site_losses
    from trackersim.analysis.rack_as_watched import job_as_watched
    from trackersim.analysis.typed_input import unit_called
    from trackersim.analysis.watched_mornings import read_mornings
    from trackersim.simulation.runner import Runner

    with faults_told(), progress_bar() as progress:
        loaded = load(job, overrides)
        place = unit_called(at_unit, loaded.unit_names)
        alone = loaded.alone(place)
        check_turns(alone)
        found = diagnose(alone, read_mornings(mornings, alone), progress=progress)
        site = site_losses(Runner(job_as_watched(loaded, place, found.watched))) if water else None
    from trackersim.report.diagnosis import diagnosis_answer

    tell(diagnosis_answer(found, units, site=site), as_json=as_json)
