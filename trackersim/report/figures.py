"""Figures, as `matplotlib.figure.Figure` (never pyplot, which visitors of a page would share).

matplotlib takes half a second to come and is asked for only when a figure is drawn: most answers are words.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from itertools import cycle
from typing import TYPE_CHECKING

import numpy as np

from trackersim.clock import clock_words
from trackersim.constants import MINUTES_A_DAY
from trackersim.report.chart_series import Chart, day_charts, lit_minutes, months_chart, wall_times
from trackersim.report.lettering import shortened
from trackersim.simulation.result import Result
from trackersim.units import System

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# One look per rack; told apart by dash and hatch as well as by colour (dark, middle, light in grey print).
Dash = str | tuple[int, tuple[int, ...]]
_LOOK: dict[str, tuple[str, Dash, str]] = {
    "fixed": ("#8a8d91", ":", "//"),
    "delayed": ("#b3541e", "-", ""),
    "thermal": ("#5b2a86", "-.", "xx"),
    "ideal": ("#1d5c7a", "--", ".."),
    "logged": ("#2f5d34", (0, (5, 1, 1, 1, 1, 1)), "\\\\"),
}
_SUN = "#d99a00"
_HALF_WIDTH_MONTHS = 0.4
_TITLE_PT = 12
_LETTER_PT = 10.5
# Figures are drawn this wide so that their letters can still be read on a phone, where they shrink to some 5 inches.
WIDTH_IN = 6.0
# Where the names of marks stand above the picture: the last two moments of a morning are often minutes apart.
_MARK_HEIGHTS = (1.02, 1.12, 1.22, 1.32)


def new_figure(width_in: float, height_in: float) -> Figure:
    """An empty figure whose parts find their places themselves."""
    from trackersim.report.lettered_figure import LetteredFigure

    return LetteredFigure(figsize=(width_in, height_in), layout="constrained")


def months_figure(results: Mapping[str, Result], system: System) -> Figure:
    """Water a day by month, a bar for each rack, and the demand as a line."""
    figure = new_figure(WIDTH_IN, 4.2)
    axes: Axes = figure.subplots()
    draw_months(axes, results, system)
    figure.legend(loc="outside lower left", ncols=2, fontsize=_LETTER_PT, frameon=False)
    name = next(iter(results.values())).job.site.name
    axes.set_title(f"{plain_text(name, room_in=3.0)}: water a day, by month", loc="left")
    return figure


def draw_months(axes: Axes, results: Mapping[str, Result], system: System) -> None:
    """The bars of `months_figure`."""
    chart = months_chart(results, system)
    width = 2 * _HALF_WIDTH_MONTHS / len(chart.series)
    for number, series in enumerate(chart.series):
        colour, _, hatch = _LOOK[series.look]
        there = np.flatnonzero(np.isfinite(series.values))
        place = there + 1 - _HALF_WIDTH_MONTHS + (number + 0.5) * width
        axes.bar(place, series.values[there], width, color=colour, hatch=hatch, edgecolor="white", label=series.name)
    if chart.level:
        axes.axhline(chart.level[1], color="black", linewidth=1, label=chart.level[0])
    axes.set_xlim(0.5, 12.5)
    axes.set_xticks(range(1, 13), [month[:3] for month in chart.across])
    axes.set_ylabel(chart.axis)
    tidy(axes)


def day_figure(
    results: Mapping[str, Result],
    system: System,
    *,
    day: int | None = None,
    marks: Mapping[str, int] | None = None,
    span_min: tuple[int, int] | None = None,
) -> Figure:
    """One day: where the sun and the rack point, the light on the modules, and the flow from the pipe.

    `day` counts from the first simulated day; without it, the sunniest day within a month of an equinox is shown.
    `marks` are moments by name, as minutes of the day; `span_min` the minutes to show, by default those with light.
    """
    first = next(iter(results.values()))
    chosen = day if day is not None else show_day(first)
    figure = new_figure(WIDTH_IN, 6.8)
    parts = figure.subplots(3, 1, sharex=True)
    angle, _, flow = parts
    charts = day_charts(results, system, chosen)
    times = wall_times(first, slice(chosen * MINUTES_A_DAY, (chosen + 1) * MINUTES_A_DAY))
    for axes, chart in zip(parts, charts, strict=True):
        draw_curves(axes, chart)
    date = first.times[chosen * MINUTES_A_DAY]
    angle.set_title(f"{plain_text(first.job.site.name)}: {date:%d %B %Y}", loc="left", pad=54 if marks else 6)
    clock_axis(flow, results, chosen, span_min)
    for axes in parts:
        tidy(axes)
        for minute in (marks or {}).values():
            axes.axvline(times[minute], color="#555555", linewidth=0.8, linestyle=(0, (2, 2)))
    figure.legend(
        *angle.get_legend_handles_labels(), loc="outside lower left", ncols=2, fontsize=_LETTER_PT, frameon=False
    )
    for (name, minute), height in zip((marks or {}).items(), cycle(_MARK_HEIGHTS), strict=False):
        angle.annotate(name, (times[minute], height), xycoords=("data", "axes fraction"), fontsize=9, ha="left")
    return figure


def draw_curves(axes: Axes, chart: Chart) -> None:
    """One of `day_charts`."""
    assert chart.times is not None
    for series in chart.series:
        if series.look == "sun":
            axes.plot(chart.times, series.values, color=_SUN, linewidth=4, alpha=0.5, zorder=0, label=series.name)
        else:
            colour, dash, _ = _LOOK[series.look]
            axes.plot(chart.times, series.values, color=colour, linestyle=dash, label=series.name)
    axes.set_ylabel(chart.axis)


def clock_axis(axes: Axes, results: Mapping[str, Result], day: int, span_min: tuple[int, int] | None) -> None:
    """Hours of the clock below, from `span_min` or from the day's light."""
    from matplotlib.dates import DateFormatter, HourLocator, date2num

    result = next(iter(results.values()))
    times = wall_times(result, slice(day * MINUTES_A_DAY, (day + 1) * MINUTES_A_DAY))
    start, stop = lit_minutes(results, day)
    if span_min is not None:
        start, stop = (min(max(minute, 0), MINUTES_A_DAY - 1) for minute in span_min)
    axes.set_xlim(*date2num(times[[start, stop]]))
    axes.set_xlabel(clock_of(result))
    axes.xaxis.set_major_locator(HourLocator(byhour=range(0, 24, 2 if stop - start > 540 else 1)))
    axes.xaxis.set_major_formatter(DateFormatter("%H:%M"))


def clock_of(result: Result) -> str:
    """Which clock `wall_times` shows."""
    offset = result.times[0].utcoffset() or dt.timedelta()
    return clock_words(result.job.site, offset / dt.timedelta(hours=1))


def show_day(result: Result) -> int:
    """The day to show: the one with most light on the plane within 31 days of an equinox, else of all."""
    light = result.daily["plane_kwh_m2"].to_numpy()
    of_year = np.asarray(result.times[::MINUTES_A_DAY].day_of_year)
    near = (np.abs(of_year - 80) <= 31) | (np.abs(of_year - 266) <= 31)
    return int(np.argmax(np.where(near, light, -1.0) if near.any() else light))


def plain_text(text: str, *, room_in: float = 3.8) -> str:
    """A name in a job shown as text only, cut to `room_in` as in a title: matplotlib would read $…$ as formulas."""
    return shortened(text, size_pt=_TITLE_PT, room_in=room_in).replace("$", r"\$")


def tidy(axes: Axes) -> None:
    """No frame above and at the right, and quiet lines behind."""
    axes.spines[["top", "right"]].set_visible(False)
    axes.grid(axis="y", color="#dddddd", linewidth=0.6)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=_LETTER_PT)
    for label in (axes.xaxis.label, axes.yaxis.label):
        label.set_fontsize(_LETTER_PT)
