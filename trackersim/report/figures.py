"""Figures, as `matplotlib.figure.Figure` (never pyplot, which visitors of a page would share).

matplotlib takes half a second to come and is asked for only when a figure is drawn: most answers are words.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from itertools import cycle
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from trackersim.clock import clock_words, on_clock
from trackersim.constants import MINUTES_A_DAY
from trackersim.report.lettering import shortened
from trackersim.report.words import MONTHS, rack_words, water_per_day_by_month
from trackersim.simulation.result import Result
from trackersim.units import System, shown_value, unit_label

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
_SUN, _LIGHT = "#d99a00", "#e8c468"
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
    draw_months(axes, results, system, legend=False)
    figure.legend(loc="outside lower left", ncols=2, fontsize=_LETTER_PT, frameon=False)
    name = next(iter(results.values())).job.site.name
    axes.set_title(f"{plain_text(name, room_in=3.0)}: water a day, by month", loc="left")
    return figure


def draw_months(axes: Axes, results: Mapping[str, Result], system: System, *, legend: bool = True) -> None:
    """The bars of `months_figure`."""
    width = 2 * _HALF_WIDTH_MONTHS / len(results)
    for number, (kind, result) in enumerate(results.items()):
        per_day = water_per_day_by_month(result)
        months = np.array(list(per_day))
        water = shown_value(np.array(list(per_day.values())), "volume_per_day", system)
        colour, _, hatch = _LOOK[kind]
        place = months - _HALF_WIDTH_MONTHS + (number + 0.5) * width
        axes.bar(place, water, width, color=colour, hatch=hatch, edgecolor="white", label=rack_words(result))
    result = next(iter(results.values()))
    demand = shown_value(result.job.store.demand_m3_per_day, "volume_per_day", system)
    if demand > 0:
        axes.axhline(demand, color="black", linewidth=1, label="wanted")
    axes.set_xlim(0.5, 12.5)
    axes.set_xticks(range(1, 13), [month[:3] for month in MONTHS])
    axes.set_ylabel(f"Water, {unit_label('volume_per_day', system)}")
    tidy(axes, legend=legend)


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
    angle, light, flow = figure.subplots(3, 1, sharex=True)
    window = slice(chosen * MINUTES_A_DAY, (chosen + 1) * MINUTES_A_DAY)
    times = wall_times(first, window)
    for kind, result in results.items():
        colour, dash, _ = _LOOK[kind]
        look = {"color": colour, "linestyle": dash, "label": rack_words(result)}
        angle.plot(times, result.minutes["rotation_deg"][window], **look)
        light.plot(times, result.minutes["plane_w_m2"][window], **look)
        flow.plot(times, shown_value(result.minutes["flow_m3_s"][window], "flow", system), **look)
    sun = first.minutes["sun_rotation_deg"][window]
    angle.plot(
        times, np.where(np.abs(sun) <= 90, sun, np.nan), color=_SUN, linewidth=4, alpha=0.5, zorder=0, label="sun"
    )
    angle.set_ylabel("Angle from centre, °\n(east −, west +)")
    light.set_ylabel("Light on modules,\nW/m²")
    flow.set_ylabel(f"Flow, {unit_label('flow', system)}")
    angle.set_title(
        f"{plain_text(first.job.site.name)}: {first.times[window.start]:%d %B %Y}", loc="left", pad=54 if marks else 6
    )
    clock_axis(flow, first, window, span_min)
    for axes in (angle, light, flow):
        tidy(axes, legend=False)
        for minute in (marks or {}).values():
            axes.axvline(times[minute], color="#555555", linewidth=0.8, linestyle=(0, (2, 2)))
    figure.legend(
        *angle.get_legend_handles_labels(), loc="outside lower left", ncols=2, fontsize=_LETTER_PT, frameon=False
    )
    for (name, minute), height in zip((marks or {}).items(), cycle(_MARK_HEIGHTS), strict=False):
        angle.annotate(name, (times[minute], height), xycoords=("data", "axes fraction"), fontsize=9, ha="left")
    return figure


def clock_axis(axes: Axes, result: Result, window: slice, span_min: tuple[int, int] | None) -> None:
    """Hours of the clock below, from `span_min` or from the day's light."""
    from matplotlib.dates import DateFormatter, HourLocator, date2num

    times = wall_times(result, window)
    lit = np.flatnonzero(result.minutes["plane_w_m2"][window] > 0)
    if span_min is None:
        span_min = (int(lit[0]) - 45, int(lit[-1]) + 45) if len(lit) else (0, MINUTES_A_DAY)
    start, stop = (min(max(minute, 0), MINUTES_A_DAY - 1) for minute in span_min)
    axes.set_xlim(*date2num(times[[start, stop]]))
    axes.set_xlabel(clock_of(result))
    axes.xaxis.set_major_locator(HourLocator(byhour=range(0, 24, 2 if stop - start > 540 else 1)))
    axes.xaxis.set_major_formatter(DateFormatter("%H:%M"))


def wall_times(result: Result, window: slice) -> pd.DatetimeIndex:
    """Times of a window as the clock on the wall shows them, if the job names its zone; else standard time."""
    return on_clock(result.job.site, result.times[window]).tz_localize(None)


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


def look_of(kind: str) -> tuple[str, Dash, str]:
    """Colour, dash and hatch of one kind of rack."""
    return _LOOK[kind]


def tidy(axes: Axes, *, legend: bool = True) -> None:
    """No frame above and at the right, quiet lines behind, and the legend."""
    axes.spines[["top", "right"]].set_visible(False)
    axes.grid(axis="y", color="#dddddd", linewidth=0.6)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=_LETTER_PT)
    for label in (axes.xaxis.label, axes.yaxis.label):
        label.set_fontsize(_LETTER_PT)
    if legend:
        axes.legend(frameon=False, fontsize=_LETTER_PT)
