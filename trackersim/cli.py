"""The command line. A plain sentence first, then a table, then the notices; faults go to stderr with exit code 2."""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

if TYPE_CHECKING:
    from trackersim.errors import InputError
    from trackersim.job.model import Job
    from trackersim.study.ledger import Ledger
    from trackersim.study.morning import Morning
    from trackersim.study.result import Result
    from trackersim.study.shade import Shade
    from trackersim.study.simulate import Progress
    from trackersim.study.spread import Spread
    from trackersim.study.tomorrow import Tomorrow

app = typer.Typer(
    help="Water lifted by a solar pump on a fixed, ideal-tracking or late-turning passive rack, behind trees.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


Units = Literal["us", "si"]
RackChoice = Literal["fixed", "delayed", "thermal", "ideal"]

SkyChoice = Literal["clear", "haze", "cloud", "overcast", "unknown"]
WindChoice = Literal["calm", "breeze", "windy", "unknown"]
StandsChoice = Literal["west", "level", "east"]

JobArg = Annotated[str, typer.Argument(metavar="JOB", help='Path of a job file, or "demo".')]
SetOpt = Annotated[
    list[str] | None, typer.Option("--set", metavar="FIELD=VALUE", help="Override a field, e.g. array.age_years=0.")
]
FromOpt = Annotated[dt.datetime | None, typer.Option("--from", formats=["%Y-%m-%d"], help="First day.")]
ToOpt = Annotated[dt.datetime | None, typer.Option("--to", formats=["%Y-%m-%d"], help="Last day, included.")]
UnitsOpt = Annotated[Units, typer.Option("--units", help="us: gallons, feet. si: cubic metres, metres.")]
OutOpt = Annotated[Path | None, typer.Option("--out", metavar="DIR", help="Write tables, series, summary, figures.")]
JsonOpt = Annotated[bool, typer.Option("--json", help="Print one JSON object (SI) and nothing else.")]


@app.command()
def new(file: Annotated[Path, typer.Argument(metavar="FILE", help="Where to write it.")]) -> None:
    """Write a commented job file to start from."""
    from trackersim.job.files import write_starter

    with _faults_told():
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
    with _faults_told():
        loaded = _load(job, [*(overrides or []), *own])
        results = _compared(loaded, [loaded.rack.kind], first, last)
        result = results[loaded.rack.kind]
        summary = result.summary()
        paths = _written(out, results, summary, units)
    if as_json:
        _print_json(summary)
        return
    from trackersim.show import words

    _warn(results)
    _say(words.headline(result, units), words.flip_words(result))
    _table(words.month_header(units), words.month_rows(result, units))
    _close(results, result, paths)


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
    from trackersim.study.simulate import RACKS

    with _faults_told():
        loaded = _load(job, overrides or [])
        results = _compared(loaded, RACKS, first, last)
        summary = {"racks": {kind: result.summary() for kind, result in results.items()}}
        paths = _written(out, results, summary, units)
    if as_json:
        _print_json(summary)
        return
    from trackersim.show import words

    kind = loaded.rack.kind
    own = results[kind]
    _warn(results)
    _say(words.headline(own, units), words.flip_words(own), words.compare_words(results, kind, units))
    _table(words.compare_header(), words.compare_rows(results, units), words.compare_title(units))
    _close(results, own, paths)


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
    from trackersim.study.morning import explain_morning

    with _faults_told():
        loaded = _load(job, overrides or [])
        with _progress() as progress:
            explained = explain_morning(loaded, date.date(), progress=progress)
        paths = _morning_written(out, explained, units)
    if as_json:
        _print_json(explained.summary())
        return
    from trackersim.show import morning as show_morning

    _warn({explained.own.rack: explained.own})
    _say(show_morning.morning_sentence(explained, units))
    _table(show_morning.moment_header(), show_morning.moment_rows(explained))
    _say(show_morning.waiting_words(explained), show_morning.temperature_words(explained, units))
    _say(show_morning.SAFETY)
    _close({explained.own.rack: explained.own}, explained.own, paths)


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
    from trackersim.study.shade import YEARS_AHEAD, shade_of

    with _faults_told():
        loaded = _load(job, overrides or [])
        with _progress() as progress:
            found = shade_of(loaded, years=years or YEARS_AHEAD, progress=progress)
        paths = _shade_written(out, found)
    if as_json:
        _print_json(found.summary())
        return
    from trackersim.show import shade as show_shade

    _warn({found.own.rack: found.own})
    _say(show_shade.shade_sentence(found))
    _table(show_shade.shade_header(), show_shade.shade_rows(found))
    _say(show_shade.clock_sentence(found))
    _say(show_shade.growth_words(found, units), show_shade.stringing_words(found))
    _close({found.own.rack: found.own}, found.own, paths)


@app.command()
def wiring(
    job: JobArg,
    overrides: SetOpt = None,
    units: UnitsOpt = "us",
    as_json: JsonOpt = False,
) -> None:
    """Whether array and controller fit each other, and what every run of wire takes."""
    from trackersim.study.wiring import wiring_of

    with _faults_told():
        loaded = _load(job, overrides or [])
        result = _compared(loaded, [loaded.rack.kind], None, None)[loaded.rack.kind]
    found = wiring_of(result)
    if as_json:
        _print_json(found.summary())
        return
    from trackersim.show import wiring as show_wiring

    _warn({result.rack: result})
    _say(show_wiring.voltage_words(found, units))
    _table(show_wiring.wire_header(), show_wiring.wire_rows(found))
    _say(show_wiring.loss_words(found))
    _say(show_wiring.CAUTION)
    _close({result.rack: result}, result, [])


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
    from trackersim.study.water_report import water_report

    with _faults_told():
        loaded = _load(job, overrides or [])
        result = _compared(loaded, [loaded.rack.kind], first, last, account=True)[loaded.rack.kind]
    report = water_report(result)
    if as_json:
        _print_json(report.summary())
        return
    from trackersim.show import water as show_water

    _warn({result.rack: result})
    _say(show_water.head_words(report, units))
    _table(show_water.point_header(units), show_water.point_rows(report, units))
    _say(show_water.stop_words(report), show_water.balance_words(report, units), show_water.short_words(report, units))
    if rows := show_water.short_rows(report, units):
        _table(show_water.short_header(units), rows)
    _say(show_water.CAUTION)
    _close({result.rack: result}, result, [])


@app.command()
def losses(
    job: JobArg,
    overrides: SetOpt = None,
    first: FromOpt = None,
    last: ToOpt = None,
    units: UnitsOpt = "us",
    out: Annotated[Path | None, typer.Option("--out", metavar="DIR", help="Write the figure and the summary.")] = None,
    as_json: JsonOpt = False,
) -> None:
    """Where the water went: an account from an ideal site to the job as it stands, one step for each cause."""
    from trackersim.study.ledger import losses_of

    with _faults_told():
        loaded = _load(job, overrides or [])
        with _progress() as progress:
            found = losses_of(
                loaded,
                first_day=first.date() if first else None,
                last_day=last.date() if last else None,
                progress=progress,
            )
        paths = _losses_written(out, found, units)
    if as_json:
        _print_json(found.summary())
        return
    from trackersim.show import losses as show_losses

    own = {found.result.rack: found.result}
    _warn(own)
    _say(show_losses.losses_sentence(found, units))
    _table(show_losses.losses_header(), show_losses.losses_rows(found, units), show_losses.losses_title(found, units))
    _say(show_losses.order_words(found), show_losses.gain_words(found))
    _close(own, found.result, paths)
    _say(show_losses.closing_words(found, units))


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
    from trackersim.study.options import options_of

    with _faults_told():
        loaded = _load(job, overrides or [])
        with _progress() as progress:
            found = options_of(
                loaded,
                first_day=first.date() if first else None,
                last_day=last.date() if last else None,
                progress=progress,
            )
    if as_json:
        _print_json(found.summary())
        return
    from trackersim.show import options as show_options

    own = {found.own.rack: found.own}
    _warn(own)
    _say(show_options.options_sentence(found, units))
    _table(
        show_options.options_header(found, units),
        show_options.options_rows(found, units),
        show_options.options_title(found, units),
        tight=True,
    )
    _say(show_options.meaning_words(found))
    _say(show_options.tree_words(found, units), show_options.refused_words(found))
    _say(show_options.SAFETY)
    _close(own, found.own, [])
    _say(show_options.verdict_words(found, units))


@app.command()
def weather(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="Path of a job file; it is updated.")],
    url: Annotated[str, typer.Option("--url", help="Another server that answers in the same format.")] = "",
) -> None:
    """Download a typical year and the terrain horizon for the job's place and name them in the job."""
    from trackersim.weather.adopt import adopt_weather

    with _faults_told():
        for line in adopt_weather(job, url=url):
            typer.echo(line)


AtOpt = Annotated[str, typer.Option("--at", metavar="TIME", help='Local time at the site, "2025-03-21 09:15".')]
SkyOpt = Annotated[SkyChoice, typer.Option("--sky", help="What the sky looks like.")]
WindOpt = Annotated[WindChoice, typer.Option("--wind", help="What the wind feels like at the rack.")]
AirOpt = Annotated[str | None, typer.Option("--air", metavar="TEMP", help="Air in the shade, 41F; else the usual.")]
StandsOpt = Annotated[StandsChoice | None, typer.Option("--stands", help="How the rack stands, as you see it.")]


@app.command()
def flip(
    job: JobArg,
    at: AtOpt,
    sky: SkyOpt = "unknown",
    wind: WindOpt = "unknown",
    air: AirOpt = None,
    stands: StandsOpt = None,
    overrides: SetOpt = None,
    units: UnitsOpt = "us",
    as_json: JsonOpt = False,
) -> None:
    """Should it have flipped by now? Early, likely and late time of the morning turn, and what to look at."""
    from trackersim.study.asked import Reading, seen_of
    from trackersim.study.clock import moment_at
    from trackersim.study.flip_check import check_flip

    with _faults_told():
        loaded = _load(job, overrides or [])
        reading = Reading()
        seen = reading.take(lambda: seen_of(sky=sky, wind=wind, air=air), None)
        moment = reading.take(lambda: moment_at(loaded.site, at), None)
        reading.done()
        assert moment is not None
        check = check_flip(loaded, moment, seen=seen, stands=stands)
    if as_json:
        _print_json(check.summary())
        return
    from trackersim.show import flip_check as words

    _say(words.flip_sentence(check))
    _table(words.moment_header(), words.moment_rows(check))
    _say(words.standing_words(check))
    for number, line in enumerate(words.look_words(check), start=1):
        _say(f"{number}. {line}")
    _say(words.SAFETY)
    for note in words.note_words(check, units):
        _say(note)
    _say(words.last_words(check))


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
    from trackersim.job.files import write_whole
    from trackersim.show import words
    from trackersim.show.losses import losses_header, losses_rows
    from trackersim.show.options import sheet_rows
    from trackersim.show.report import day_of, report_pdf
    from trackersim.study.ledger import losses_of
    from trackersim.study.options import options_of

    with _faults_told():
        loaded = _load(job, overrides or [])
        own = loaded.rack.kind
        results = _compared(loaded, list(dict.fromkeys([own, "fixed", "ideal"])), None, None, account=True)
        day = day_of(results[own], date.date()) if date else None
        choices = account = None
        if not quick:
            with _progress() as progress:
                choices = sheet_rows(options_of(loaded, progress=progress), units)
                account = [losses_header(), *losses_rows(losses_of(loaded, progress=progress), units)]
        pdf = report_pdf(results[own], system=units, others=results, day=day, choices=choices, account=account)
        write_whole(out, pdf)
    _warn(results)
    _say(words.headline(results[own], units))
    _say(words.provenance_words(results[own]))
    _say(f"Wrote {out}.")


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
    pressure: Annotated[str | None, typer.Option("--pressure", help='Gauge at the pump\'s head, "35 psi".')] = None,
    gauge_above: Annotated[
        str | None, typer.Option("--gauge-above", help="Gauge's height above the standing water; default 0.")
    ] = None,
    voltage: Annotated[str | None, typer.Option("--voltage", help='At the controller\'s input, "68 V".')] = None,
    stands: StandsOpt = None,
    rotation: Annotated[float | None, typer.Option("--rotation", help="Its angle, west positive.")] = None,
    overrides: SetOpt = None,
    units: UnitsOpt = "us",
    as_json: JsonOpt = False,
) -> None:
    """Is this flow right for this sun? Measured and expected flow, and what would explain a gap."""
    from trackersim.study.asked import Reading, measured_of, readings_of, seen_of
    from trackersim.study.bucket import check_bucket
    from trackersim.study.clock import moment_at

    with _faults_told():
        loaded = _load(job, overrides or [])
        reading = Reading()
        seen = reading.take(lambda: seen_of(sky=sky, wind=wind, air=air), None)
        moment = reading.take(lambda: moment_at(loaded.site, at), None)
        measured = reading.take(
            lambda: measured_of(volume=volume, seconds=seconds or (), flow=flow, flow_error=flow_error), None
        )
        readings = reading.take(
            lambda: readings_of(
                light=light, pressure=pressure, gauge_above=gauge_above, voltage=voltage, stands=stands,
                rotation_deg=rotation,
            ),
            None,
        )  # fmt: skip
        reading.done()
        assert moment is not None
        assert measured is not None
        check = check_bucket(loaded, moment, measured, seen=seen, readings=readings)
    if as_json:
        _print_json(check.summary())
        return
    from trackersim.show import bucket as words

    _say(words.bucket_sentence(check, units))
    _say(words.moment_words(check, units), words.gauge_words(check, units))
    if rows := words.cause_rows(check, units):
        _table(words.cause_header(check), rows)
    for line in (words.look_words(check), words.SAFETY_WORDS, *words.note_words(check)):
        if line:
            _say(line)
    _say(words.last_words(check, units))


@app.command()
def tomorrow(
    job: JobArg,
    date: Annotated[
        dt.datetime | None, typer.Option("--date", formats=["%Y-%m-%d"], help="Another day than tomorrow.")
    ] = None,
    overrides: SetOpt = None,
    units: UnitsOpt = "us",
    out: Annotated[Path | None, typer.Option("--out", metavar="DIR", help="Write the card: text and figure.")] = None,
    as_json: JsonOpt = False,
) -> None:
    """The card to leave with the owner: when the rack should turn, water start, flow by the hour, when to call."""
    from trackersim.study.tomorrow import card_for

    with _faults_told():
        card = card_for(_load(job, overrides or []), date.date() if date else None)
        paths = _card_written(out, card, units)
    if as_json:
        _print_json(card.summary())
        return
    from trackersim.show import tomorrow as words

    _say(words.card_sentence(card, units), words.total_words(card, units))
    _table(words.moment_header(), words.moment_rows(card))
    _table(words.hour_header(units), words.hour_rows(card, units))
    for line in (*words.call_words(card, units), words.SAFETY, *words.note_words(card)):
        _say(line)
    if paths:
        _say(f"Wrote {len(paths)} files to {paths[0].parent}.")
    _say(words.last_words(card))


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
    from trackersim.study.options import option_variants
    from trackersim.study.spread import rack_variants
    from trackersim.study.spread import spread as spread_of

    with _faults_told():
        loaded = _load(job, overrides or [])
        variants = {**(rack_variants(loaded) if racks else {}), **(option_variants(loaded) if options else {})}
        with _progress() as progress:
            found = spread_of(
                loaded,
                variants,
                draws=draws,
                seed=seed,
                first_day=first.date() if first else None,
                last_day=last.date() if last else None,
                progress=progress,
                keep=out,
            )
        paths = _spread_written(out, found)
    if as_json:
        _print_json(found.summary())
    else:
        from trackersim.show import spread as words

        _say(words.spread_sentence(found, units))
        _table(words.spread_header(), words.spread_rows(found, units), words.spread_title(found, units))
        _table(words.varied_header(), words.varied_rows(found))
        _say(words.limits_words(found), words.stopped_words(found))
        _say(words.origin_words(found))
        if paths:
            _say(f"Wrote {len(paths)} files to {paths[0].parent}.")
        _say(words.last_words(found, units))
    if found.stopped:
        raise typer.Exit(130)


def _spread_written(out: Path | None, found: Spread) -> list[Path]:
    """The summary beside the draws that are there already."""
    if out is None:
        return []
    from trackersim.show.files import json_text, write_all
    from trackersim.study.kept import KEPT_FILE

    text = json_text(found.summary()) + "\n"
    return [*write_all(out, {"spread.json": lambda path: path.write_text(text, encoding="utf-8")}), out / KEPT_FILE]


@app.command()
def learn(
    job: JobArg,
    observed: Annotated[Path, typer.Argument(metavar="OBSERVED", help="CSV: time,what,value,error.")],
    fit: Annotated[str, typer.Option("--fit", metavar="FIELDS", help="Up to four, rack.flip_delay,rack.lag.")],
    out: Annotated[Path | None, typer.Option("-o", metavar="FILE", help="Write a job file with it.")] = None,
    clear: Annotated[bool, typer.Option("--clear", help="Take the days observed as cloudless.")] = False,
    units: UnitsOpt = "us",
    as_json: JsonOpt = False,
) -> None:
    """Learn from what was seen: flips, arrivals, flows, angles and voltages adjust some fields of the job."""
    from trackersim.study.learn import learn as learn_from
    from trackersim.study.learned_file import write_learned
    from trackersim.study.observed import read_observations

    with _faults_told():
        loaded = _load(job, ['weather.file=""', "weather.clear_sky=true"] if clear else [])
        keys = [key.strip() for key in fit.split(",") if key.strip()]
        seen = read_observations(observed, loaded)
        with _progress() as progress:
            learned = learn_from(loaded, seen, keys, progress=progress)
        if out is not None:
            write_learned(job, out, learned, units)
    if as_json:
        _print_json(learned.summary())
        return
    from trackersim.show import learn as words

    _say(words.learn_sentence(learned, units))
    _table(words.learn_header(), words.learn_rows(learned, units))
    _say(words.apart_words(learned))
    _table(words.seen_header(), words.seen_rows(learned, units))
    for notice in learned.notices:
        _say(str(notice))
    if out is not None:
        _say(f"Wrote {out}.")
    _say(words.last_words(learned, units))


def main() -> None:
    """Entry point of the `trackersim` command."""
    app()


def _load(job: str, overrides: list[str]) -> Job:
    from trackersim.job.files import load_job

    return load_job(job, overrides)


def _compared(
    job: Job, kinds: Any, first: dt.datetime | None, last: dt.datetime | None, *, account: bool = False
) -> dict[str, Result]:
    from trackersim.study.simulate import compare as compare_racks

    with _progress() as progress:
        return compare_racks(
            job,
            kinds=kinds,
            first_day=first.date() if first else None,
            last_day=last.date() if last else None,
            account=account,
            progress=progress,
        )


def _written(out: Path | None, results: Mapping[str, Result], summary: Mapping[str, Any], units: Units) -> list[Path]:
    if out is None:
        return []
    from trackersim.show.files import write_run

    if sys.stderr.isatty():
        typer.echo("writing files …", err=True)
    return write_run(out, results, summary, units)


def _morning_written(out: Path | None, explained: Morning, units: Units) -> list[Path]:
    if out is None:
        return []
    from trackersim.show.files import json_text, write_all
    from trackersim.show.morning import morning_figure

    return write_all(
        out,
        {
            "morning.json": lambda path: path.write_text(json_text(explained.summary()) + "\n", encoding="utf-8"),
            "morning.png": lambda path: morning_figure(explained, units).savefig(path, dpi=150),
        },
    )


def _shade_written(out: Path | None, found: Shade) -> list[Path]:
    if out is None:
        return []
    from trackersim.show.files import json_text, write_all
    from trackersim.show.shade import sky_figure

    return write_all(
        out,
        {
            "shade.json": lambda path: path.write_text(json_text(found.summary()) + "\n", encoding="utf-8"),
            "shade.png": lambda path: sky_figure(found.job).savefig(path, dpi=150),
        },
    )


def _losses_written(out: Path | None, found: Ledger, units: Units) -> list[Path]:
    if out is None:
        return []
    from trackersim.show.files import json_text, write_all
    from trackersim.show.losses import losses_alt, losses_figure

    return write_all(
        out,
        {
            "losses.json": lambda path: path.write_text(json_text(found.summary()) + "\n", encoding="utf-8"),
            "losses.png": lambda path: losses_figure(found, units).savefig(path, dpi=150),
            "losses.txt": lambda path: path.write_text(losses_alt(found, units) + "\n", encoding="utf-8"),
        },
    )


def _card_written(out: Path | None, card: Tomorrow, units: Units) -> list[Path]:
    if out is None:
        return []
    from trackersim.show.files import json_text, write_all
    from trackersim.show.tomorrow import card_figure, card_text

    return write_all(
        out,
        {
            "tomorrow.txt": lambda path: path.write_text(card_text(card, units), encoding="utf-8"),
            "tomorrow.json": lambda path: path.write_text(json_text(card.summary()) + "\n", encoding="utf-8"),
            "tomorrow.png": lambda path: card_figure(card, units).savefig(path, dpi=150),
        },
    )


@contextmanager
def _progress() -> Iterator[Progress | None]:
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
def _faults_told() -> Iterator[None]:
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
        typer.echo(f"  • {fault}", err=True)


def _say(*sentences: str) -> None:
    from rich.console import Console

    Console().print(" ".join(part for part in sentences if part), markup=False, highlight=False)


def _table(header: tuple[str, ...], rows: list[tuple[str, ...]], title: str = "", *, tight: bool = False) -> None:
    from rich.box import SIMPLE
    from rich.console import Console
    from rich.table import Table

    table = Table(box=SIMPLE, pad_edge=False, title=title or None, title_justify="left", title_style="")
    table.collapse_padding = tight
    for number, words in enumerate(header):
        table.add_column(words, justify="left" if number == 0 else "right", no_wrap=True)
    for row in rows:
        table.add_row(*row)
    Console().print(table)


def _warn(results: Mapping[str, Result]) -> None:
    """Dangers, before anything else is said."""
    from trackersim.show.words import all_notices

    for notice in all_notices(results):
        if notice.level == "danger":
            _say(str(notice))


def _close(results: Mapping[str, Result], own: Result, paths: list[Path]) -> None:
    """The other notices, the line to trace figures by, and where files went."""
    from trackersim.show.words import all_notices, provenance_words

    for notice in all_notices(results):
        if notice.level != "danger":
            _say(str(notice))
    _say(provenance_words(own))
    if paths:
        _say(f"Wrote {len(paths)} files to {paths[0].parent}.")


def _print_json(summary: Mapping[str, Any]) -> None:
    from trackersim.show.files import json_text

    typer.echo(json_text(summary))


if __name__ == "__main__":
    main()
