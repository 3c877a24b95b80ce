"""The sheet for the customer, one page, and the appendix for the file, as one PDF.

A pure function of results: the same results give the same bytes, since nothing of clock or machine goes in.
"""

from __future__ import annotations

import datetime as dt
import io
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages

from trackersim.analysis.hydraulics import water_report
from trackersim.analysis.wiring import wiring_of
from trackersim.constants import MINUTES_A_DAY
from trackersim.errors import InputError, Notice
from trackersim.report import hydraulics as show_water
from trackersim.report import wiring as show_wiring
from trackersim.report import words
from trackersim.report.figures import clock_axis, draw_months, look_of, show_day, tidy, wall_times
from trackersim.report.lettering import printable, shortened
from trackersim.report.sheet import ROOM_IN, Sheet
from trackersim.report.sheet_inputs import default_words, input_rows
from trackersim.report.tree_shading import draw_sky
from trackersim.simulation.result import Result
from trackersim.units import System, show, shown_value, unit_label
from trackersim.weather.calendar import in_year
from trackersim.weather.load import native_weather

Rows = Sequence[tuple[str, ...]]

TITLE = "Water from the solar pump"
_FINE_PT = 8.0
_NAME_IN = 4.0
# Tried in turn until the front page holds everything: size of letters [pt] with the height of the picture [inch].
_SIZES = ((9.5, 3.2), (9.5, 2.6), (9.0, 2.6), (8.5, 2.3), (8.0, 2.0), (7.5, 2.0))
_MOST_CHOICES = 8
# matplotlib's settings belong to everybody in the process: one sheet at a time.
_LOCK = threading.Lock()


def report_pdf(
    result: Result,
    *,
    system: System,
    others: Mapping[str, Result] | None = None,
    choices: Rows | None = None,
    account: Rows | None = None,
    open_sky: Result | None = None,
    day: int | None = None,
    question: str = "",
) -> bytes:
    """The sheet and its appendix on `result`, of which the sheet speaks.

    `others` are results of the same job on other racks, by kind, to stand beside it in words and bars; `open_sky` is
    the job without its trees, for what they cost. `choices` and `account` are tables whose first row is the head.
    `day` (from 0) is the day pictured; without it the sky with its trees, or a sunny day where nothing stands in it.
    """
    results = {result.rack: result, **{kind: other for kind, other in (others or {}).items() if kind != result.rack}}
    front, whole = _front(result, results, system, choices or (), open_sky, day, question)
    appendix = Sheet()
    _appendix(appendix, result, results, system, account or (), () if whole else choices or ())
    front.pages += appendix.pages
    front.feet(words.provenance_words(result))
    return _written(front, result)


def day_of(result: Result, date: dt.date) -> int:
    """The day (from 0) of `date` in a result; typical years and clear skies stand for any year.

    Raises `InputError` if the result does not hold it.
    """
    days = [stamp.date() for stamp in result.times[::MINUTES_A_DAY]]
    asked = date
    if date not in days and native_weather(result.job).typical:
        asked = in_year(date, days[0].year)
    if asked not in days:
        raise InputError.of("date", str(date), "is not in the weather.", f"It covers {days[0]} to {days[-1]}.")
    return days.index(asked)


def _written(sheet: Sheet, result: Result) -> bytes:
    origin = result.provenance
    # The days simulated stand for the date: a clock would make two sheets of one result differ.
    date = dt.datetime.combine(dt.date.fromisoformat(origin.last_day), dt.time(), tzinfo=dt.UTC)
    about = {
        "Title": f"{TITLE}, job {origin.job_sha256[:12]}",
        "Creator": f"trackersim {origin.version}",
        "CreationDate": date,
        "ModDate": date,
    }
    buffer = io.BytesIO()
    # Type 42 keeps letters as letters, to be searched and read aloud.
    letters: dict[Any, Any] = {"pdf.fonttype": 42, "pdf.compression": 6}
    with _LOCK, matplotlib.rc_context(letters), PdfPages(buffer, metadata=about) as pdf:
        for page in sheet.pages:
            pdf.savefig(page)
    return buffer.getvalue()


@dataclass(frozen=True, kw_only=True)
class _Front:
    """How the front page is tried: size of letters, height of the picture, remarks and their lines, rows of choices."""

    size_pt: float
    picture_in: float
    remarks: int
    remark_lines: int
    choices: int


def _front(
    result: Result,
    results: Mapping[str, Result],
    system: System,
    choices: Rows,
    open_sky: Result | None,
    day: int | None,
    question: str,
) -> tuple[Sheet, bool]:
    """The customer's page, the largest with which everything fits; and whether it holds all choices."""
    most = min(len(choices), _MOST_CHOICES + 1)
    sizes = [
        _Front(size_pt=size, picture_in=picture, remarks=remarks, remark_lines=lines, choices=rows)
        for rows in (most, 0)
        for remarks in (len(_remarks(results)), 6, 3, 0)
        for lines in (6, 2)
        for size, picture in _SIZES
    ]
    for front in sizes:
        sheet = Sheet()
        place = _front_words(sheet, result, results, system, choices, open_sky, question, front)
        if len(sheet.pages) == 1:
            break
    sheet.at_in = place
    _pictures(sheet, results, system, day, front.picture_in)
    whole = front.choices == len(choices) and all(_short_cells(row) == _printed(row) for row in choices)
    return sheet, whole


def _front_words(
    sheet: Sheet,
    result: Result,
    results: Mapping[str, Result],
    system: System,
    choices: Rows,
    open_sky: Result | None,
    question: str,
    front: _Front,
) -> float:
    """Everything on the front page but the pictures; the place [inch from the top] that is left for them."""
    size = front.size_pt
    sheet.text(TITLE, size_pt=size + 7, bold=True)
    sheet.text(result.job.site.name, size_pt=size + 2, most_lines=2)
    for notice in _of_level(results, "danger"):
        sheet.gap(0.04)
        sheet.text(str(notice), size_pt=size + 0.5, bold=True, most_lines=4)
    sheet.heading("The question", size_pt=size + 1.5)
    sheet.text(question or _question(result, system), size_pt=size, most_lines=4)
    sheet.heading("The answer", size_pt=size + 1.5)
    for number, sentence in enumerate(_answers(result, results, system, open_sky)):
        sheet.text(sentence, size_pt=size + 1.5 if number == 0 else size, bold=number == 0)
    sheet.gap(0.1)
    place = sheet.at_in
    sheet.gap(front.picture_in + 0.05)
    if choices:
        sheet.heading("The choices", size_pt=size + 1.5)
    if front.choices:
        sheet.table([_short_cells(row) for row in choices[: front.choices]], size_pt=size)
    if front.choices < len(choices):
        sheet.text("All choices stand in the appendix.", size_pt=size)
    sheet.heading("What was assumed", size_pt=size + 1.5)
    told = _remarks(results)
    for notice in told[: front.remarks]:
        sheet.text(_remark_words(notice), size_pt=size, bullet=True, most_lines=front.remark_lines)
    if len(told) > front.remarks:
        sheet.text(f"Further remarks in the appendix: {len(told) - front.remarks}.", size_pt=size, bullet=True)
    sheet.heading("Cautions", size_pt=size + 1.5)
    for caution in words.CAUTIONS:
        sheet.text(caution, size_pt=size, bullet=True)
    return place


def _question(result: Result, system: System) -> str:
    demand = result.job.store.demand_m3_per_day
    wanted = f", and does it cover the {show(demand, 'volume_per_day', system)} wanted" if demand > 0 else ""
    return f"How much water does this pump lift here on its {words.rack_words(result)}, month by month{wanted}?"


def _answers(result: Result, results: Mapping[str, Result], system: System, open_sky: Result | None) -> list[str]:
    """The headline, the morning turn, and the comparison with the other racks."""
    name = result.job.site.name
    short = shortened(name, size_pt=12, room_in=_NAME_IN)
    told = [words.headline(result, system).replace(name, short, 1), words.flip_words(result)]
    if len(results) > 1:
        told.append(words.compare_words(results, result.rack, system, open_sky=open_sky))
    return [sentence for sentence in told if sentence]


def _of_level(results: Mapping[str, Result], level: str) -> list[Notice]:
    return [notice for notice in words.all_notices(results) if notice.level == level]


def _remarks(results: Mapping[str, Result]) -> list[Notice]:
    return [notice for notice in words.all_notices(results) if notice.level != "danger"]


def _remark_words(notice: Notice) -> str:
    return notice.text if notice.level == "note" else str(notice)


def _printed(row: Sequence[str]) -> tuple[str, ...]:
    return tuple(printable(cell).strip() for cell in row)


def _short_cells(row: Sequence[str]) -> tuple[str, ...]:
    return tuple(shortened(cell, size_pt=9, room_in=5.0) for cell in row)


def _pictures(sheet: Sheet, results: Mapping[str, Result], system: System, day: int | None, height_in: float) -> None:
    """Months on the left; on the right the day asked for, or the sky, or a sunny day."""
    first = next(iter(results.values()))
    half = ROOM_IN / 2
    frame = {"width_in": half - 0.9, "height_in": height_in - 0.66}
    sheet.gap(0.24)
    months = sheet.picture(left_in=0.6, **frame)
    draw_months(months, results, system)
    months.set_ylim(0, months.get_ylim()[1] * 1.32)
    months.legend(frameon=False, fontsize=6.5, ncols=2, loc="upper left", borderaxespad=0.1)
    months.set_title("Water a day, month by month", loc="left", fontsize=8.5)
    right = sheet.picture(left_in=half + 0.7, **frame)
    job = first.job
    if day is None and (job.trees or job.horizon.points):
        draw_sky(right, job, few=True)
        right.set_title("Trees and the sun's way, seen from the rack", loc="left", fontsize=8.5)
    else:
        _draw_day(right, results, system, show_day(first) if day is None else day)
    for axes in (months, right):
        axes.tick_params(labelsize=7)
        axes.yaxis.label.set_fontsize(7.5)
        axes.xaxis.label.set_fontsize(7.5)
        for written in axes.texts:
            written.set_fontsize(6.5)


def _draw_day(axes: Axes, results: Mapping[str, Result], system: System, day: int) -> None:
    """The flow of one day on every rack."""
    first = next(iter(results.values()))
    window = slice(day * MINUTES_A_DAY, (day + 1) * MINUTES_A_DAY)
    times = wall_times(first, window)
    for kind, result in results.items():
        colour, dash, _ = look_of(kind)
        flow = shown_value(np.asarray(result.minutes["flow_m3_s"][window]), "flow", system)
        axes.plot(times, flow, color=colour, linestyle=dash, label=words.rack_words(result))
    clock_axis(axes, first, window, None)
    axes.set_ylabel(f"Flow, {unit_label('flow', system)}")
    axes.set_ylim(0, max(axes.get_ylim()[1], 1e-9) * 1.3)
    tidy(axes, legend=False)
    axes.legend(frameon=False, fontsize=6.5, ncols=2, loc="upper left", borderaxespad=0.1)
    axes.set_title(f"Flow on {first.times[window.start]:%d %B %Y}", loc="left", fontsize=8.5)


def _appendix(
    sheet: Sheet, result: Result, results: Mapping[str, Result], system: System, account: Rows, choices: Rows
) -> None:
    sheet.text("For the file", size_pt=14, bold=True)
    _origin(sheet, result)
    _heading(sheet, "Month by month")
    sheet.table([words.month_header(system), *words.month_rows(result, system)], size_pt=_FINE_PT)
    if len(results) > 1:
        _heading(sheet, "The racks beside each other")
        sheet.table([words.compare_header(), *words.compare_rows(results, system)], size_pt=_FINE_PT)
        sheet.text(words.compare_title(system) + ".", size_pt=_FINE_PT)
    for title, rows in (("The account", account), ("All choices", choices)):
        if rows:
            _heading(sheet, title)
            sheet.table(rows, size_pt=_FINE_PT)
    _checks(sheet, result, system)
    _heading(sheet, "All remarks")
    for notice in words.all_notices(results):
        sheet.text(str(notice), size_pt=_FINE_PT, bullet=True, most_lines=12)
    _inputs(sheet, result, system)


def _heading(sheet: Sheet, title: str) -> None:
    sheet.gap(0.05)
    sheet.heading(title, size_pt=10)


def _origin(sheet: Sheet, result: Result) -> None:
    origin = result.provenance
    _heading(sheet, "What the figures come from")
    rows = [
        ("Program", f"trackersim {origin.version}"),
        ("Job, SHA-256", origin.job_sha256),
        ("Weather", origin.weather_name),
        ("Weather, SHA-256", origin.weather_sha256),
        ("Days", f"{origin.first_day} to {origin.last_day}, {result.days} in all"),
        ("Rack", words.rack_words(result)),
    ]
    sheet.table(rows, size_pt=_FINE_PT, head=False, left=2)


def _checks(sheet: Sheet, result: Result, system: System) -> None:
    wiring, water = wiring_of(result), water_report(result)
    _heading(sheet, "Check: voltage and wires")
    sheet.text(show_wiring.voltage_words(wiring, system), size_pt=_FINE_PT)
    if wiring.runs:
        sheet.table([show_wiring.wire_header(), *show_wiring.wire_rows(wiring)], size_pt=_FINE_PT, left=2)
    sheet.text(show_wiring.loss_words(wiring), size_pt=_FINE_PT)
    sheet.text(show_wiring.CAUTION, size_pt=_FINE_PT)
    _heading(sheet, "Check: the water side")
    sheet.text(show_water.head_words(water, system), size_pt=_FINE_PT)
    sheet.table([show_water.point_header(system), *show_water.point_rows(water, system)], size_pt=_FINE_PT)
    told = (
        show_water.stop_words(water),
        show_water.balance_words(water, system),
        show_water.short_words(water, system),
    )
    for sentence in told:
        sheet.text(sentence, size_pt=_FINE_PT)
    if rows := show_water.short_rows(water, system):
        sheet.table([show_water.short_header(system), *rows], size_pt=_FINE_PT)
    sheet.text(show_water.CAUTION, size_pt=_FINE_PT)


def _inputs(sheet: Sheet, result: Result, system: System) -> None:
    """The fields given, two beside each other, and the names of the rest."""
    _heading(sheet, "What was given")
    rows = input_rows(result.job, system)
    half = (len(rows) + 1) // 2
    beside = [*rows[half:], ("", "")][:half]
    sheet.table([(*one, *other) for one, other in zip(rows, beside, strict=False)], size_pt=7.5, head=False, left=4)
    sheet.gap(0.06)
    sheet.text(f"Left at the defaults of this version: {default_words(result.job)}", size_pt=7.5)
