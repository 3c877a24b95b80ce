"""Trees in words, in a table, and as the rack sees them before the sun's paths."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from trackersim.analysis.light_moments import LightDay
from trackersim.analysis.sky_seen import horizon_over, trees_over
from trackersim.analysis.tree_shading import Shade
from trackersim.clock import clock_words, hhmm, offset_words, on_clock, wall_time_or_none
from trackersim.errors import counted
from trackersim.job.model import Job
from trackersim.report.alt import sky_alt
from trackersim.report.blocks import Answer, Picture, Sentence, Table, sentences
from trackersim.report.figures import WIDTH_IN, new_figure, plain_text
from trackersim.report.remarks import closing_of, dangers_of
from trackersim.report.sun_path import (
    SunPath,
    compass_words,
    half_width_deg,
    middle_deg,
    name_places,
    sky_directions,
    sun_path,
)
from trackersim.report.words import FULL_SUN, MONTHS, first_light_words, listed, the_pumps
from trackersim.simulation.obstacles import horizon_of
from trackersim.units import System, show

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Annotation

_PATHS = (
    ("Jun", "-"), ("May, Jul", "--"), ("Apr, Aug", "-."), ("Mar, Sep", ":"), ("Feb, Oct", "-."), ("Jan, Nov", "--"),
    ("Dec", "-"),
)  # fmt: skip
_SUN, _TREE, _HILL = "#b07800", "#41583c", "#8a8d91"
_STEP_DEG = 0.25
_ON_WHITE = {"boxstyle": "square,pad=0.15", "facecolor": "white", "edgecolor": "none"}
_BEHIND_NAME = {"boxstyle": "square,pad=0.05", "facecolor": "white", "edgecolor": "none", "alpha": 0.75}
_SAME_KWH = 0.002


def shade_answer(shade: Shade, system: System) -> Answer:
    """When the sun clears the trees, what they cost when grown, and which way to string the modules."""
    return Answer(
        headline=shade_sentence(shade),
        blocks=(
            shade_table(shade),
            Sentence(text=clock_sentence(shade)),
            *sentences(" ".join(filter(None, (growth_words(shade, system), stringing_words(shade))))),
            Picture(draw=lambda: sky_figure(shade.job), alt=sky_alt(shade.job), name="shade"),
            *closing_of(system, shade.own),
        ),
        dangers=dangers_of(system, shade.own),
        summary=shade.summary(),
    )


def shade_sentence(shade: Shade) -> str:
    """The trees in a sentence or two for the customer."""
    if not shade.job.trees and horizon_of(shade.job) is None:
        return f"{shade.job.site.name}: no tree is given, so none stands before the sun."
    told = [day for day in shade.days if day.sunrise is not None and day.full_sun is not None]
    if not told:
        what = "trees" if shade.job.trees else "hills"
        return f"{shade.job.site.name}: the sun never stands clear of the {what} for the whole array before noon."
    early, late = (choose(told, key=_wait) for choose in (min, max))
    never = _never_words(shade)
    if not shade.job.trees:
        return (
            f"{shade.job.site.name}: no tree is given. Past the hills full sun comes {_wait(early)} min "
            f"after sunrise in {_month(early)} and {_wait(late)} min after it in {_month(late)}.{never}"
        )
    if not never and all(day.full_sun == day.first_light for day in told):
        return f"{shade.job.site.name}: the trees never stand before the morning sun."
    crossing = max((day.full_sun or 0) - (day.first_module or 0) for day in told)
    return (
        f"{shade.job.site.name}: full sun, past the trees at the whole array, comes {_wait(early)} min after "
        f"sunrise in {_month(early)} and {_wait(late)} min after it in {_month(late)}; their shade takes up to "
        f"{crossing} min to cross the array.{never}"
    )


def _never_words(shade: Shade) -> str:
    """The months without full sun before noon on a day on which the sun is up; empty if there are none."""
    never = [day for day in shade.days if day.full_sun is None and (day.first_module, day.sunset) != (None, None)]
    return f" In {listed([_month(day) for day in never])} it does not come before noon at all." if never else ""


def _wait(day: LightDay) -> int:
    return (day.full_sun or 0) - (day.sunrise or 0)


def _month(day: LightDay) -> str:
    return MONTHS[day.date.month - 1]


def shade_table(shade: Shade) -> Table:
    """The clearing of each month in clock time."""
    heads = {
        "sunrise": "sunrise",
        "first_light": first_light_words(shade.job).replace(" the branches", "\nthe branches"),
        "full_sun": FULL_SUN,
        "shaded_from": "shaded\nagain",
        "sunset": "sunset",
    }
    site = shade.job.site
    rows = (
        (_month(day), *(hhmm(wall_time_or_none(site, day.date, getattr(day, name))) for name in heads))
        for day in shade.days
    )
    return Table(header=("the 21st of", *heads.values()), rows=tuple(rows))


def clock_sentence(shade: Shade) -> str:
    """Which clock the table shows, and how the rack stands in it."""
    stands = {
        "fixed": "standing as it does",
        "ideal": "following the sun",
    }.get(shade.job.rack.kind, "waiting at its west stop")
    branches = ", be it through branches" if shade.job.trees else ""
    dash = " A dash stands for what does not happen that day: for full sun, not before noon."
    return (
        f"{clock_words(shade.job.site)}, on cloudless days, with the rack {stands}. First light is the first sunshine "
        f"(direct light of 120 W/m²) at its middle{branches}; from full sun until noon nothing stands "
        f"before the sun at any module.{dash if any('–' in row for row in shade_table(shade).rows) else ''}"
    )


def growth_words(shade: Shade, system: System) -> str:
    """Water now and with the trees grown; empty for trees that do not grow."""
    if not shade.by_years:
        return ""
    now = show(shade.own.water_m3_per_day, "volume_per_day", system)
    later = [
        f"{show(result.water_m3_per_day, 'volume_per_day', system)} in {counted(years, 'year')}"
        for years, result in shade.by_years.items()
    ]
    lifts = the_pumps(shade.own.job, "lift")
    return f"With the trees growing as given, {lifts} {now} today, {' and '.join(later)}; nothing else aged."


def stringing_words(shade: Shade) -> str:
    """Which way of stringing loses less here; empty where there is no choice."""
    if shade.other_stringing is None:
        return ""
    own, other = (float(r.daily["array_kwh"].sum()) for r in (shade.own, shade.other_stringing))
    way = shade.job.array.laid_out.strung_by
    ways = {"rows": "along rows (east–west)", "columns": "down columns (along the axis)"}
    other_way = "columns" if way == "rows" else "rows"
    gap, span = abs(own - other), f"in {counted(shade.own.days, 'day')}"
    if own <= 0 or gap < _SAME_KWH * own:
        return (
            f"Strings {ways[way]} or {ways[other_way]}: no difference worth rewiring for here ({gap:.1f} kWh {span})."
        )
    best = way if own > other else other_way
    return f"Strings {ways[best]} lose less here: {gap:.0f} kWh ({100 * gap / own:.1f} %) more {span}."


def sky_figure(job: Job) -> Figure:
    """The sun's paths by month, with trees and hills as they stand before the middle of the rack, trees in leaf."""
    figure = new_figure(WIDTH_IN, 4.0)
    axes: Axes = figure.subplots()
    draw_sky(axes, job)
    axes.set_title(f"{plain_text(job.site.name, room_in=2.8)}: the sun's way on the 21st", loc="left")
    return figure


def draw_sky(axes: Axes, job: Job, *, few: bool = False) -> None:
    """Trees, hills and paths of `sky_figure`; with `few` only three paths, for a small picture."""
    names = _draw_obstacles(axes, job)
    hours: list[Annotation] = []
    drawn = _PATHS[::3] if few else _PATHS
    # Of two months with much the same path the first is drawn.
    paths = [sun_path(job, _month_number(months)) for months, _ in drawn]
    for (months, dash), path, place in zip(drawn, paths, name_places(paths, job), strict=True):
        if place is not None:
            names.append(axes.annotate(months, place, fontsize=8, ha="center", va="center", bbox=_ON_WHITE))
        hours += _draw_path(axes, job, path, dash, told=months in ("Jun", "Dec"))
    top_deg = max(float(path.height_deg.max()) for path in paths)
    _frame_sky(axes, job, half_width=half_width_deg(paths, job), top_deg=top_deg)
    _hide_below(names, hours, axes)


def _hide_below(names: Sequence[Annotation], hours: Sequence[Annotation], axes: Axes) -> None:
    """Hide the hours that would lie on a name: they can be counted from their neighbours."""
    figure = axes.get_figure(root=True)
    assert figure is not None
    figure.draw_without_rendering()
    taken = [name.get_window_extent() for name in names]
    for hour in hours:
        place = hour.get_window_extent()
        hour.set_visible(not any(place.overlaps(each) for each in taken))


def _month_number(months: str) -> int:
    return [name[:3] for name in MONTHS].index(months[:3]) + 1


def _draw_obstacles(axes: Axes, job: Job) -> list[Annotation]:
    """Trees and hills over bearing and height above level; the names of the trees."""
    bearing = np.arange(-180, 180 + _STEP_DEG, _STEP_DEG) + middle_deg(job)
    names = _draw_trees(axes, job, bearing, np.arange(0, 90, _STEP_DEG))
    horizon = horizon_over(job, bearing)
    if horizon.any():
        axes.fill_between(bearing, horizon, color=_HILL, label="horizon")
    return names


def _frame_sky(axes: Axes, job: Job, *, half_width: float, top_deg: float) -> None:
    """Bearings below to either side of the middle, heights at the side, up to a little over `top_deg`."""
    middle = middle_deg(job)
    axes.set_xlim(middle - half_width, middle + half_width)
    axes.set_ylim(0, min(90, 10 * np.ceil(top_deg / 10 + 0.3)))
    ticks = [int(middle) + turn for turn in range(-180, 181, 30) if abs(turn) <= half_width]
    axes.set_xticks(ticks, [compass_words(tick) for tick in ticks])
    axes.set_ylabel("Height above level, °")
    clock = job.site.timezone or offset_words(job.site.standard_offset_h)
    axes.set_xlabel(f"Compass direction; dots are full hours ({clock})")
    axes.spines[["top", "right"]].set_visible(False)


def _draw_trees(axes: Axes, job: Job, bearing: np.ndarray, elevation: np.ndarray) -> list[Annotation]:
    names: list[Annotation] = []
    direction = sky_directions(bearing, elevation)
    summer = 172 if job.site.latitude_deg >= 0 else 355
    shape = (len(elevation), len(bearing))
    for seen, tree in zip(trees_over(job, direction, np.array([summer])), job.trees, strict=True):
        covered = seen.covers.reshape(shape)
        hatch = ["//" if tree.leaf == "leafy" else ""]
        axes.contourf(bearing, elevation, covered, levels=[0.5, 1.5], colors=[_TREE], alpha=0.75, hatches=hatch)
        if covered.any():
            rows, columns = np.nonzero(covered)
            # A tree across the seam stands at both sides: the name goes to a place that it covers.
            at_top = np.sort(columns[rows == rows.max()])
            place = (bearing[at_top[len(at_top) // 2]], elevation[rows.max()])
            name = plain_text(tree.name, room_in=1.7)
            names.append(
                axes.annotate(name, place, fontsize=8, ha="center", va="bottom", color=_TREE, bbox=_BEHIND_NAME)
            )
    return names


def _draw_path(axes: Axes, job: Job, path: SunPath, dash: str, *, told: bool) -> list[Annotation]:
    """One path with a dot at each full hour; the hours that are `told` beside the dots."""
    from matplotlib.patheffects import withStroke

    for piece in path.pieces:
        axes.plot(piece[:, 0], piece[:, 1], color=_SUN, linestyle=dash, linewidth=1.3)
    clock = on_clock(job.site, path.times)
    hours = np.flatnonzero(path.up & (clock.minute == 0))
    azimuth, height = path.bearing_deg, path.height_deg
    axes.plot(azimuth[hours], height[hours], ".", color=_SUN, markersize=5)
    return [
        axes.annotate(
            f"{clock.hour[hour]}",
            (azimuth[hour], height[hour]),
            fontsize=7,
            xytext=(0, 4),
            textcoords="offset points",
            path_effects=[withStroke(linewidth=2, foreground="white")],
        )
        for hour in (hours.tolist() if told else ())
    ]
