"""What stands around the rack in the moving picture: the head with the clock, the sky, the pipe, the day's flow.

Each in two parts: what stands still all day, and what moves. Told apart by shape, hatch and grey value, never by colour
alone.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from trackersim.arrays import FloatArray
from trackersim.constants import MINUTES_A_DAY
from trackersim.report.animation.inks import BARE, HILL, INK, LEAF, PATH, SKY, STEEL, SUN, WARM, WATER, WHITE
from trackersim.report.chart_series import wall_times
from trackersim.report.lettering import shortened
from trackersim.report.moment import DaySky, RackMinute
from trackersim.report.sun_path import compass_words
from trackersim.report.words import first_rack_words
from trackersim.simulation.result import Result
from trackersim.units import System, show

WIDTH_IN, HEIGHT_IN, DPI = 5.4, 7.5, 100
_MARGIN_IN = 0.12
# In the units of the rack, below its floor: corner of the pipe; left, right, lower and upper end of the day's flow.
_PIPE_AT, _FLOW_BOX = (-2.92, -3.42), (-1.05, 2.9, -3.12, -2.42)
# Branches that let this much of the beam through are drawn as bare.
_BARE_PASSES = 0.25
_MARGIN_MIN = 60


def draw_head_still(figure: Figure, result: Result) -> None:
    """Whose rack it is, and which."""
    words: dict[str, Any] = {"fontsize": 12, "ha": "right", "va": "top", "color": INK, "parse_math": False}
    right = 1 - _MARGIN_IN / WIDTH_IN
    name = shortened(result.job.site.name, size_pt=12, room_in=2.5, bold=True)
    figure.text(right, 0.975, name, weight="bold", **words)
    figure.text(right, 0.947, shortened(first_rack_words(result), size_pt=12, room_in=2.5), **words)


def draw_head_moving(figure: Figure, now: RackMinute, system: System) -> None:
    """The clock on the wall, and the sun in words."""
    left = _MARGIN_IN / WIDTH_IN
    figure.text(left, 0.985, f"{now.time:%H:%M}", fontsize=27, weight="bold", va="top", color=INK)
    figure.text(0.265, 0.975, now.zone, fontsize=12, va="top", color=INK)
    figure.text(0.265, 0.947, f"{now.time.day} {now.time:%b %Y}", fontsize=12, va="top", color=INK)
    light = f" · {show(now.light_w_m2, 'light', system)}" if now.up else ""
    figure.text(left, 0.892, now.sun_words + light, fontsize=12.5, weight="bold", va="center", color=INK)


def draw_sky_still(axes: Axes, sky: DaySky) -> None:
    """The sky from the rack: bearings across, height upward; trees, hills and the sun's path."""
    top = min(90.0, max(float(sky.elevation_deg.max()) + 9, 30.0))
    axes.set_facecolor(SKY)
    azimuth, height = sky.azimuth_deg[sky.up][::5], sky.elevation_deg[sky.up][::5]
    # Where the sun leaves one side of the picture for the other, no line goes across.
    cut = np.flatnonzero(np.abs(np.diff(azimuth)) > 180) + 1
    axes.plot(np.insert(azimuth, cut, np.nan), np.insert(height, cut, np.nan), color=PATH, linewidth=1.6, linestyle=":")
    for tree in sky.trees:
        bare = tree.passes >= _BARE_PASSES
        axes.fill_between(
            sky.bearing_deg,
            tree.low_deg,
            np.minimum(tree.high_deg, top),
            facecolor=BARE if bare else LEAF,
            edgecolor=LEAF,
            hatch="////" if bare else None,
            linewidth=0.8,
            zorder=3,
        )
    if sky.horizon_deg.any():
        axes.fill_between(sky.bearing_deg, sky.horizon_deg, color=HILL, zorder=4)
    axes.set_xlim(sky.bearing_deg[0], sky.bearing_deg[-1])
    axes.set_ylim(0, top)
    heights = [height for height in (0, 30, 60) if height < top - 4]
    axes.set_yticks(heights, [f"{height}°" for height in heights])
    middle = round((sky.bearing_deg[0] + sky.bearing_deg[-1]) / 2)
    ticks = [middle - 90, middle - 45, middle, middle + 45, middle + 90]
    axes.set_xticks(ticks, [compass_words(tick) for tick in ticks])
    axes.tick_params(labelsize=12, length=3, pad=2, colors=INK)
    axes.spines[["top", "right"]].set_visible(False)


def draw_sky_moving(axes: Axes, now: RackMinute) -> None:
    """The sun: white where trees or hills hold back more than half its beam."""
    if not now.up:
        return
    axes.plot(
        [now.azimuth_deg],
        [max(now.elevation_deg, 0.0)],
        marker="o",
        markersize=16,
        markerfacecolor=SUN if now.beam_share > 0.5 else WHITE,
        markeredgecolor="black",
        markeredgewidth=1.8,
        linestyle="none",
        zorder=5,
        clip_on=False,
    )


def draw_pipe_still(axes: Axes) -> None:
    """A standing pipe."""
    pipe = np.array([[0.14, 0.30], [0.14, 1.06], [0.62, 1.06]]) + _PIPE_AT
    axes.plot(pipe[:, 0], pipe[:, 1], color=STEEL, linewidth=10, solid_joinstyle="round", solid_capstyle="butt")


def draw_pipe_moving(axes: Axes, now: RackMinute, peak_m3_s: float, system: System) -> None:
    """Its stream, as broad as the flow is of the day's best, into a trough."""
    left, floor = _PIPE_AT
    trough = np.array([[0.34, 0.60], [0.34, 0.34], [1.30, 0.34], [1.30, 0.60]]) + _PIPE_AT
    share = now.flow_m3_s / peak_m3_s if peak_m3_s > 0 else 0.0
    if now.flow_m3_s > 0:
        stream = np.array([[0.64, 1.06], [0.76, 0.97], [0.82, 0.80], [0.84, 0.44]]) + _PIPE_AT
        axes.plot(stream[:, 0], stream[:, 1], color=WATER, linewidth=2 + 8 * share, solid_capstyle="butt")
        axes.fill_between(trough[[0, 2], 0], floor + 0.36, floor + 0.50, color=WATER, linewidth=0)
    axes.plot(trough[:, 0], trough[:, 1], color=INK, linewidth=2.5)
    words = show(now.flow_m3_s, "flow", system) if now.flow_m3_s > 0 else "no water"
    axes.text(left, floor, words, fontsize=14, weight="bold", va="bottom", color=INK)


class FlowDiagram:
    """The flow of one day as a small diagram, filled up to the minute shown.

    With the `prompt` result of a rack that turns at once, what that one would have lifted beyond it is hatched.
    """

    def __init__(self, result: Result, day: int, prompt: Result | None = None) -> None:
        self._flow_m3_s = result.by_day("flow_m3_s")[day]
        self._prompt_m3_s = None if prompt is None else prompt.by_day("flow_m3_s")[day]
        lit = np.flatnonzero(result.by_day("plane_w_m2")[day] > 0)
        start, stop = (int(lit[0]), int(lit[-1])) if len(lit) else (0, MINUTES_A_DAY - 1)
        self._start, self._stop = max(start - _MARGIN_MIN, 0), min(stop + _MARGIN_MIN, MINUTES_A_DAY - 1)
        left, right, low, high = _FLOW_BOX
        self._across = left + (right - left) * (np.arange(MINUTES_A_DAY) - self._start) / (self._stop - self._start)
        most = max(self.best_m3_s, 1e-12, 0.0 if self._prompt_m3_s is None else float(self._prompt_m3_s.max()))
        self._up = low + (high - low) * self._flow_m3_s / most
        self._up_prompt = None if self._prompt_m3_s is None else low + (high - low) * self._prompt_m3_s / most
        self._every = np.arange(self._start, self._stop + 1, 3)
        self._wall = wall_times(result, slice(day * MINUTES_A_DAY, (day + 1) * MINUTES_A_DAY))

    @property
    def best_m3_s(self) -> float:
        """The best flow of the day."""
        return float(self._flow_m3_s.max())

    def draw_still(self, axes: Axes, system: System) -> None:
        """The curve over the clock's hours."""
        left, _, low, high = _FLOW_BOX
        axes.plot(self._across[self._every], self._up[self._every], color=INK, linewidth=1)
        hours = np.asarray(self._wall.hour)
        for tick in np.flatnonzero((hours % 3 == 0) & (np.asarray(self._wall.minute) == 0)).tolist():
            if self._start <= tick <= self._stop:
                axes.plot([self._across[tick]] * 2, [low, low - 0.05], color=INK, linewidth=1)
                clock = f"{hours[tick]}:00"
                axes.text(self._across[tick], low - 0.08, clock, fontsize=12, ha="center", va="top", color=INK)
        best = f"Flow over the day, at best {show(self.best_m3_s, 'flow', system)}"
        if self._up_prompt is not None:
            best = f"Flow, at best {show(self.best_m3_s, 'flow', system)}; hatched: lost"
            self._draw_lost(axes, self._up_prompt)
        axes.text(left, high + 0.07, best, fontsize=12, va="bottom", color=INK)

    def _draw_lost(self, axes: Axes, up_prompt: FloatArray) -> None:
        """Between the two curves, where the rack that turned at once lifts more."""
        across, up, above = (each[self._every] for each in (self._across, self._up, up_prompt))
        look: dict[str, Any] = {"facecolor": WARM, "edgecolor": INK, "hatch": "////", "linewidth": 0.0}
        axes.fill_between(across, up, above, where=above > up, interpolate=True, **look)
        axes.plot(across, above, color=INK, linewidth=1, linestyle=(0, (3, 2)))

    def draw_moving(self, axes: Axes, minute: int) -> None:
        """What has flowed until `minute`, and where that is."""
        left, right, low, high = _FLOW_BOX
        past = self._every[self._every <= minute]
        shown = min(max(minute, self._start), self._stop)
        axes.fill_between(self._across[past], self._up[past], low, color=WATER, linewidth=0)
        axes.plot(self._across[past], self._up[past], color=INK, linewidth=1)
        axes.plot([left, right], [low, low], color=INK, linewidth=1)
        axes.plot([self._across[shown]] * 2, [low, high], color=INK, linewidth=2.5)
