"""The sheet for the customer, one page, and the appendix for the file: a PDF, or a page for any browser.

A pure function of results: the same results give the same bytes, since nothing of clock or machine goes in.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from trackersim.analysis.hydraulics import water_report
from trackersim.analysis.losses import LATE, SiteLosses, rack_cause
from trackersim.analysis.wiring import wiring_of
from trackersim.errors import Notice
from trackersim.report import hydraulics as show_water
from trackersim.report import wiring as show_wiring
from trackersim.report import words
from trackersim.report.alt import flow_alt, months_alt, sky_alt
from trackersim.report.blocks import Block, Caution, Heading, Listing, Note, Picture, Sentence, Table, sentences
from trackersim.report.comparison import turning_words
from trackersim.report.lettering import printable
from trackersim.report.paper import Document, FrontBlock, KeyFigures, Lead, Shortened
from trackersim.report.safety import cautions
from trackersim.report.sheet_figures import small_day, small_months, small_sky
from trackersim.report.sheet_inputs import default_words, input_rows
from trackersim.report.site_losses import NOTHING_M3, in_steps, site_words
from trackersim.report.visit import Visit, visit_lines
from trackersim.simulation.result import Result
from trackersim.units import System, own_first, show

Rows = Sequence[tuple[str, ...]]

TITLE = "Water from the solar pump"
# The front page gives the beginning of what is longer; the appendix gives the whole.
_NAME, _CELL, _REMARK, _DANGER, _QUESTION = 90, 90, 260, 330, 400
_NOTED, _VERDICT = 400, 400
_MORE_REMARKS = (
    "Remarks on weather, rack and water that had no room here: {}. They stand in the appendix, under “All remarks”."
)
_MOST_DANGERS, _MOST_CHOICES, _MOST_REMARKS = 3, 8, 8
# The appendix cuts very long text too; the job file and the command line give the whole.
_WHOLE_CELL, _WHOLE_REMARK = 300, 1200


def sheet_document(
    result: Result,
    *,
    system: System,
    others: Mapping[str, Result] | None = None,
    choices: Rows | None = None,
    account: Rows | None = None,
    site: SiteLosses | None = None,
    day: int | None = None,
    question: str = "",
    verdict: str = "",
    visit: Visit | None = None,
) -> Document:
    """The sheet and its appendix on `result`, of which the sheet speaks, for `paper.pdf` or `web_page.web_page`.

    `others` are results of the same job on other racks, by kind, to stand beside it in words and bars; `site` is
    what trees and the late flip take, `visit` what was found there, with a place to sign. `choices` and `account` are
    tables whose first row is the head; `verdict` says above the choices what to do first. `day` (from 0) is the day
    pictured; without it the sky with its trees, or a sunny day where nothing stands in it.
    """
    results = {result.rack: result, **{kind: other for kind, other in (others or {}).items() if kind != result.rack}}
    origin = result.provenance
    front: list[FrontBlock] = [
        *_answer(result, results, system, site, question),
        *_pictures(results, system, day),
        *_choices(choices or (), verdict),
        *_visited(visit or Visit()),
        *_assumed(results, system),
        *_cautions(result),
    ]
    appendix: list[Block] = [
        *_origin(result),
        Heading(text="Month by month"),
        words.month_table(result, system),
        Sentence(text=words.energy_words(result)),
        *_racks(results, system),
        *_tables(("The account", account or ()), ("All choices", choices or ())),
        *_checks(result, system),
        *_remarks_in_full(results, system),
        *_inputs(result, system),
    ]
    return Document(
        title=f"{TITLE}, job {origin.job_sha256[:12]}",
        name=TITLE,
        subtitle=_cut(result.job.site.name, _NAME),
        program=f"trackersim {origin.version}",
        foot=_cut(words.provenance_words(result), 2 * _NAME),
        date=dt.date.fromisoformat(origin.last_day),
        front=front,
        appendix_name="For the file",
        appendix=appendix,
    )


def _answer(
    result: Result, results: Mapping[str, Result], system: System, site: SiteLosses | None, question: str
) -> Iterator[FrontBlock]:
    """Dangers, the question, the headline with its key figures, the morning turn and the comparison of racks."""
    dangers = [notice for notice in words.all_notices(results.values()) if notice.level == "danger"]
    for notice in dangers[:_MOST_DANGERS]:
        yield Caution(text=_cut(own_first(notice.text, system), _DANGER), level="danger")
    if len(dangers) > _MOST_DANGERS:
        yield Caution(text=f"{len(dangers) - _MOST_DANGERS} more in the appendix: read them all.", level="danger")
    yield Heading(text="The question")
    yield Sentence(text=_cut(question, _QUESTION) if question else _question(result, system))
    yield Heading(text="The answer")
    name = result.job.site.name
    yield Lead(text=words.headline(result, system).replace(name, _cut(name, _NAME), 1))
    yield KeyFigures(figures=tuple(_key_figures(result, system, site)))
    if flip := words.flip_words(result):
        yield Sentence(text=flip)
    if site is not None:
        yield from sentences(site_words(site, system))
    yield from sentences(turning_words(results, result.rack, system))


def _key_figures(result: Result, system: System, site: SiteLosses | None) -> Iterator[tuple[str, str]]:
    """Water a day; in the worst month; what is lost by turning late, and by trees, where that can be said."""

    def shown(m3_per_day: float) -> str:
        return show(m3_per_day, "volume_per_day", system)

    own = result.water_m3_per_day
    yield shown(own), "on an average day"
    months = words.water_per_day_by_month(result)
    if len(months) > 1:
        worst = min(months, key=months.__getitem__)
        yield shown(months[worst]), f"in {words.MONTHS[worst - 1]}, the worst month"
    if site is not None and site.late_m3_per_day >= NOTHING_M3:
        yield (
            in_steps(site.late_m3_per_day, system),
            "lost by turning late" if rack_cause(result.job) == LATE else "lost by this rack",
        )
    if site is not None and result.job.trees and site.trees_m3_per_day >= NOTHING_M3:
        yield in_steps(site.trees_m3_per_day, system), "lost to the trees"


def _question(result: Result, system: System) -> str:
    demand = words.wanted_words(result, system)
    wanted = f", and does it cover the {demand} wanted" if demand else ""
    do, whose = ("does", "its") if len(result.job.units) == 1 else ("do", "their")
    pumps, racks = words.pumps_words(result.job), words.rack_words(result)
    return f"How much water {do} {pumps} lift here on {whose} {racks}, month by month{wanted}?"


def _pictures(results: Mapping[str, Result], system: System, day: int | None) -> Iterator[Picture]:
    """Months on the left; on the right the day asked for, or the sky, or a sunny day."""
    job = next(iter(results.values())).job
    yield Picture(draw=lambda: small_months(results, system), alt=months_alt(results, system), name="months")
    if day is None and (job.trees or job.horizon.points):
        yield Picture(draw=lambda: small_sky(job), alt=sky_alt(job), name="sky")
    else:
        alt = flow_alt(results, system, day=day)
        yield Picture(draw=lambda: small_day(results, system, day), alt=alt, name="day")


def _choices(choices: Rows, verdict: str) -> Iterator[FrontBlock]:
    """What to do first, and the choices that it is chosen from."""
    if len(choices) > 1:
        yield Heading(text="The choices: what to do first")
        first, _, rest = _cut(verdict, _VERDICT).partition(". ")
        if first:
            yield Lead(text=f"{first}." if rest else first)
        yield from sentences(rest)
        rows = [tuple(_cut(cell, _CELL) for cell in row) for row in choices]
        table = Table(header=rows[0], rows=tuple(rows[1:]))
        more = "All choices stand in the appendix; left out here: {}."
        yield Shortened(block=table, most=_MOST_CHOICES, more=more)


def _visited(visit: Visit) -> Iterator[FrontBlock]:
    yield Heading(text="On site")
    yield Listing(lines=tuple(_cut(line, _NOTED) for line in visit_lines(visit)))


def _assumed(results: Mapping[str, Result], system: System) -> Iterator[FrontBlock]:
    remarks = [notice for notice in words.all_notices(results.values()) if notice.level != "danger"]
    if remarks:
        yield Heading(text="What was assumed")
        lines = tuple(_cut(own_first(_remark_words(notice), system), _REMARK) for notice in remarks)
        yield Shortened(block=Listing(lines=lines), most=_MOST_REMARKS, more=_MORE_REMARKS)


def _cautions(result: Result) -> Iterator[FrontBlock]:
    yield Heading(text="Cautions")
    for caution in cautions(result.job):
        yield Caution(text=caution)


def _remark_words(notice: Notice) -> str:
    return notice.text if notice.level == "note" else str(notice)


def _cut(text: str, longest: int) -> str:
    """The text made printable, its beginning if it is longer."""
    whole = " ".join(printable(text).split())
    return whole if len(whole) <= longest else f"{whole[: longest - 1].rstrip()}…"


def _origin(result: Result) -> Iterator[Block]:
    origin = result.provenance
    yield Heading(text="What the figures come from")
    rows = (
        ("Program", f"trackersim {origin.version}"),
        ("Job, SHA-256", origin.job_sha256),
        ("Weather", origin.weather_name),
        ("Weather, SHA-256", origin.weather_sha256),
        ("Days", f"{origin.first_day} to {origin.last_day}, {result.days} in all"),
        ("Rack", words.rack_words(result)),
    )
    yield Table(header=("Origin", "Name, version or hash"), rows=rows)


def _racks(results: Mapping[str, Result], system: System) -> Iterator[Block]:
    if len(results) > 1:
        yield Heading(text="The racks beside each other")
        table = words.compare_table(results, system)
        yield replace(table, title=f"{table.title}.")


def _tables(*tables: tuple[str, Rows]) -> Iterator[Block]:
    """Tables whose first row is their head, those that have a second."""
    for title, rows in tables:
        if len(rows) > 1:
            yield Heading(text=title)
            yield Table(header=rows[0], rows=tuple(tuple(_cut(cell, _WHOLE_CELL) for cell in row) for row in rows[1:]))


def _checks(result: Result, system: System) -> Iterator[Block]:
    wiring, water = wiring_of(result), water_report(result)
    yield Heading(text="Check: voltage and wires")
    yield Sentence(text=show_wiring.voltage_words(wiring, system))
    if wiring.runs:
        yield show_wiring.wire_table(wiring)
    yield Sentence(text=show_wiring.loss_words(wiring))
    yield from show_wiring.ratings_blocks(wiring)
    yield Caution(text=show_wiring.CAUTION)
    yield Heading(text="Check: the water side")
    yield Sentence(text=show_water.head_words(water, system))
    yield show_water.point_table(water, system)
    told = (
        show_water.stop_words(water),
        show_water.balance_words(water, system),
        show_water.short_words(water, system),
    )
    yield from (Sentence(text=sentence) for sentence in told if sentence)
    yield from show_water.short_tables(water, system)
    yield Caution(text=show_water.CAUTION)


def _remarks_in_full(results: Mapping[str, Result], system: System) -> Iterator[Block]:
    if notices := words.all_notices(results.values()):
        yield Heading(text="All remarks")
        yield Listing(lines=tuple(_cut(own_first(str(notice), system), _WHOLE_REMARK) for notice in notices))


def _inputs(result: Result, system: System) -> Iterator[Block]:
    """The fields given, two beside each other, and the names of the rest."""
    yield Heading(text="What was given")
    rows = input_rows(result.job, system)
    half = (len(rows) + 1) // 2
    beside = [*rows[half:], ("", "")][:half]
    pairs = tuple((*one, *other) for one, other in zip(rows[:half], beside, strict=True))
    yield Table(header=("Field", "Given", "Field, continued", "Given, continued"), rows=pairs)
    yield Note(text=f"Left at the defaults of this version: {default_words(result.job)}")
