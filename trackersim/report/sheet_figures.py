"""The small figures of the customer's sheet, two of which stand side by side."""

from __future__ import annotations

from collections.abc import Mapping

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from trackersim.constants import MINUTES_A_DAY
from trackersim.job.model import Job
from trackersim.report import words
from trackersim.report.chart_series import day_charts
from trackersim.report.figures import clock_axis, draw_curves, draw_months, new_figure, show_day, tidy
from trackersim.report.tree_shading import draw_sky
from trackersim.simulation.result import Result
from trackersim.units import System

# Flat, so that on a full page it keeps its width, and its letters the size in which they can be read.
_PICTURE_IN = (3.5, 1.5)


def _small_figure() -> tuple[Figure, Axes]:
    figure = new_figure(*_PICTURE_IN)
    axes: Axes = figure.subplots()
    return figure, axes


def _small_letters(axes: Axes, title: str) -> None:
    axes.set_title(title, loc="left", fontsize=8.5)
    axes.tick_params(labelsize=7)
    axes.yaxis.label.set_fontsize(7.5)
    axes.xaxis.label.set_fontsize(7.5)
    for written in axes.texts:
        written.set_fontsize(6.5)


def _legend(axes: Axes) -> None:
    axes.set_ylim(0, max(axes.get_ylim()[1], 1e-9) * 1.42)
    axes.legend(framealpha=1, edgecolor="none", fontsize=6.5, ncols=2, loc="upper left", borderaxespad=0.1)


def small_months(results: Mapping[str, Result], system: System) -> Figure:
    """Water a day by month, a bar for each rack."""
    figure, axes = _small_figure()
    draw_months(axes, results, system)
    axes.set_xticks(range(1, 13), [month[0] for month in words.MONTHS])
    _legend(axes)
    _small_letters(axes, "Water a day, month by month")
    return figure


def small_sky(job: Job) -> Figure:
    """Trees and the sun's way, seen from the rack."""
    figure, axes = _small_figure()
    draw_sky(axes, job, few=True)
    _small_letters(axes, "Trees and the sun's way, seen from the rack")
    return figure


def small_day(results: Mapping[str, Result], system: System, day: int | None) -> Figure:
    """The flow of one day (from 0) on every rack; without `day`, of a sunny one."""
    figure, axes = _small_figure()
    first = next(iter(results.values()))
    chosen = show_day(first) if day is None else day
    draw_curves(axes, day_charts(results, system, chosen)[2])
    clock_axis(axes, results, chosen, None)
    tidy(axes)
    _legend(axes)
    _small_letters(axes, f"Flow on {first.times[chosen * MINUTES_A_DAY]:%d %B %Y}")
    return figure
