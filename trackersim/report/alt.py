"""What each figure shows, in a sentence or two for a screen reader."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from trackersim.analysis.sky_seen import horizon_summit
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.model import Job
from trackersim.report.chart_series import Chart, wall_times
from trackersim.report.figures import clock_of, show_day
from trackersim.report.lettering import printable
from trackersim.report.moment import tree_outlines
from trackersim.report.words import MONTHS, rack_words, wanted_words, water_per_day_by_month
from trackersim.simulation.result import Result
from trackersim.units import System, rounded, show, shown_number, unit_label


def months_alt(results: Mapping[str, Result], system: System) -> str:
    """For `figures.months_figure`: the most and the least of every rack, and the demand."""
    first = next(iter(results.values()))
    told = [f"Bar chart of {printable(first.job.site.name)}: water a day, month by month"]
    for result in results.values():
        told.append(f"{_capital(rack_words(result))}: {_range_words(result, system)}")
    if len(set(first.job.store.demands_m3_per_day)) == 1 and (wanted := wanted_words(first, system)):
        told.append(f"A line marks the {wanted} wanted")
    return ". ".join(told) + "."


def _range_words(result: Result, system: System) -> str:
    per_day = water_per_day_by_month(result)
    worst, best = min(per_day, key=per_day.__getitem__), max(per_day, key=per_day.__getitem__)
    least, most = (shown_number(per_day[month], "volume_per_day", system) for month in (worst, best))
    unit = unit_label("volume_per_day", system)
    if worst == best:
        return f"{least} {unit} in {MONTHS[worst - 1]}"
    return f"from {least} in {MONTHS[worst - 1]} to {most} {unit} in {MONTHS[best - 1]}"


def day_alt(results: Mapping[str, Result], system: System, *, day: int | None = None) -> str:
    """For `figures.day_figure`: hours of flow and the best flow of every rack."""
    first = next(iter(results.values()))
    window = _window(first, day)
    told = [
        f"Three curves over the hours of {_date_words(first, window)}: where sun and rack point, light on the modules, "
        "and flow",
        *_flow_parts(results, system, window),
    ]
    return ". ".join(told) + "."


def flow_alt(results: Mapping[str, Result], system: System, *, day: int | None = None) -> str:
    """For the flow of one day alone: its hours and the best flow of every rack."""
    first = next(iter(results.values()))
    window = _window(first, day)
    told = [f"Flow over the hours of {_date_words(first, window)}", *_flow_parts(results, system, window)]
    return ". ".join(told) + "."


def curves_alt(chart: Chart) -> str:
    """For one of `chart_series.day_charts`: the least and the most of every curve."""
    told = [f"{chart.axis.split(',')[0]} over the hours of the same day"]
    for series in chart.series:
        least, most = (rounded(float(value)) for value in (np.nanmin(series.values), np.nanmax(series.values)))
        told.append(f"{_capital(printable(series.name))}: from {least} to {most} {chart.unit}")
    return ". ".join(told) + "."


def _window(first: Result, day: int | None) -> slice:
    chosen = show_day(first) if day is None else day
    return slice(chosen * MINUTES_A_DAY, (chosen + 1) * MINUTES_A_DAY)


def _date_words(first: Result, window: slice) -> str:
    date = first.times[window.start]
    return f"{date.day} {date:%B %Y}, {_lower(clock_of(first))}"


def _flow_parts(results: Mapping[str, Result], system: System, window: slice) -> list[str]:
    times = wall_times(next(iter(results.values())), window)
    told = []
    for result in results.values():
        flow = result.flow_by_day_m3_s.ravel()[window]
        running = np.flatnonzero(flow > 0)
        name = _capital(rack_words(result))
        if not running.size:
            told.append(f"{name}: no water on this day")
            continue
        begin, end = times[running[0]], times[running[-1]]
        water = show(float(flow.sum()) * 60, "volume", system)
        best = show(float(flow.max()), "flow", system)
        told.append(f"{name}: {water} between {begin:%H:%M} and {end:%H:%M}, at most {best}")
    return told


def sky_alt(job: Job) -> str:
    """For `shade.sky_figure`: what stands where, and how high it reaches."""
    told = [f"The sky seen from the rack at {printable(job.site.name)}, with the sun's paths from June to December"]
    bearing = np.arange(0.0, 360.0)
    for number, (tree, outline) in enumerate(zip(job.trees, tree_outlines(job, 172, bearing), strict=True), start=1):
        name = _capital(printable(tree.name) or f"tree {number}")
        stands = np.flatnonzero(np.isfinite(outline.high_deg))
        if not stands.size:
            told.append(f"{name}: below the level of the rack")
            continue
        highest = stands[np.argmax(outline.high_deg[stands])]
        told.append(f"{name}: up to {outline.high_deg[highest]:.0f}° high at a bearing of {bearing[highest]:.0f}°")
    summit = horizon_summit(job)
    if summit is not None:
        told.append(f"Horizon: up to {summit[1]:.0f}° high at {summit[0]:.0f}°")
    if not job.trees and summit is None:
        told.append("Nothing stands before the sun")
    return ". ".join(told) + "."


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:]
