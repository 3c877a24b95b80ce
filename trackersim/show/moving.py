"""The moving picture of a morning: sky, rack along its axis, canisters, clock and pipe, minute by minute.

Drawn from a simulated day. Told apart by shape, hatch and grey value, never by colour alone; letters are large enough
for a phone. The rack is seen along its axis toward its low end, so that east and west lie as in the sky above it.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from trackersim.constants import MINUTES_A_DAY
from trackersim.show.figures import wall_times
from trackersim.show.lettering import shortened
from trackersim.show.moment import PASSIVE, DaySky, Moment, day_sky, frame_alt_text, moment_of
from trackersim.show.rack_drawing import INK, draw_ground_words, draw_rack
from trackersim.study.result import Result
from trackersim.units import System, show

__all__ = ["frame_alt_text", "morning_frame", "morning_gif"]

FloatArray = npt.NDArray[np.float64]
Progress = Callable[[str, float], None]

WIDTH_IN, HEIGHT_IN, DPI = 5.4, 7.5, 100
# Lower left corner, width and height of the two parts, in shares of the picture.
_SKY, _GROUND = (0.095, 0.715, 0.885, 0.16), (0.0, 0.0, 1.0, 0.67)
# In the units of `draw_rack`, below its floor: corner of the pipe; left, right, lower and upper end of the day's flow.
_PIPE_AT, _FLOW_BOX = (-2.92, -3.42), (-1.05, 2.9, -3.12, -2.42)
_MARGIN_IN = 0.12
_SKY_COLOUR, _LEAF, _BARE, _HILL, _SUN = "#e6eef4", "#33452f", "#a9b3a4", "#8f8a82", "#f5bd1f"
_WATER, _STEEL = "#1d5c7a", "#5d6670"
# Branches that let this much of the beam through are drawn as bare.
_BARE_PASSES = 0.25
_GIF_COLOURS = 48
_GIF_FRAME_MS, _GIF_LAST_MS = 120, 2500
_MARGIN_MIN = 60


def morning_frame(result: Result, day: int, minute: int, system: System) -> Figure:
    """The picture of one minute of day `day` (both from 0). Raises `ValueError` outside the result."""
    return _frame(result, day, minute, system, day_sky(result, day))


def morning_gif(
    result: Result,
    day: int,
    *,
    first_min: int,
    last_min: int,
    step_min: int,
    system: System,
    progress: Progress | None = None,
) -> bytes:
    """The minutes from `first_min` to `last_min`, included, as an endless GIF.

    Raises `ValueError` if they are not minutes of a day in order, or the step is not positive.
    """
    if not (0 <= first_min <= last_min < MINUTES_A_DAY and step_min > 0):
        raise ValueError(f"minutes {first_min} to {last_min} by {step_min} are none of a day.")
    sky = day_sky(result, day)
    minutes = range(first_min, last_min + 1, step_min)
    frames: list[Image.Image] = []
    for number, minute in enumerate(minutes):
        if progress:
            progress("drawing the morning", number / len(minutes))
        frames.append(_pixels(_frame(result, day, minute, system, sky)))
    palette = _common_palette(frames)
    flat = [frame.quantize(palette=palette, dither=Image.Dither.NONE) for frame in frames]
    buffer = io.BytesIO()
    waits = [_GIF_FRAME_MS] * (len(flat) - 1) + [_GIF_LAST_MS]
    flat[0].save(buffer, format="GIF", save_all=True, append_images=flat[1:], duration=waits, loop=0, optimize=False)
    if progress:
        progress("done", 1.0)
    return buffer.getvalue()


def _pixels(figure: Figure) -> Image.Image:
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    return Image.fromarray(np.asarray(canvas.buffer_rgba())[:, :, :3])


def _common_palette(frames: list[Image.Image]) -> Image.Image:
    """One palette for all frames, so that what stands still does not flicker."""
    some = frames[:: max(len(frames) // 4, 1)][:5]
    sheet = Image.new("RGB", (some[0].width, some[0].height * len(some)))
    for number, frame in enumerate(some):
        sheet.paste(frame, (0, number * frame.height))
    return sheet.quantize(_GIF_COLOURS, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)


def _frame(result: Result, day: int, minute: int, system: System, sky: DaySky) -> Figure:
    now = moment_of(result, day, minute, sky)
    figure = Figure(figsize=(WIDTH_IN, HEIGHT_IN), dpi=DPI, facecolor="white")
    _draw_head(figure, result, now, system)
    _draw_sky(figure.add_axes(_SKY), sky, now)
    ground = figure.add_axes(_GROUND)
    draw_rack(ground, now, sky)
    draw_ground_words(ground, now, sky, system, watched=result.rack in PASSIVE and result.canisters is None)
    _draw_pipe(ground, now, float(result.by_day("flow_m3_s")[day].max()), system)
    _draw_flow(ground, result, day, minute, system)
    return figure


def _draw_head(figure: Figure, result: Result, now: Moment, system: System) -> None:
    left, right = _MARGIN_IN / WIDTH_IN, 1 - _MARGIN_IN / WIDTH_IN
    figure.text(left, 0.985, f"{now.time:%H:%M}", fontsize=27, weight="bold", va="top", color=INK)
    figure.text(0.265, 0.975, now.zone, fontsize=12, va="top", color=INK)
    figure.text(0.265, 0.947, f"{now.time.day} {now.time:%b %Y}", fontsize=12, va="top", color=INK)
    words: dict[str, Any] = {"fontsize": 12, "ha": "right", "va": "top", "color": INK, "parse_math": False}
    name = shortened(result.job.site.name, size_pt=12, room_in=2.5, bold=True)
    figure.text(right, 0.975, name, weight="bold", **words)
    figure.text(right, 0.947, shortened(now.rack, size_pt=12, room_in=2.5), **words)
    light = f" · {show(now.light_w_m2, 'light', system)}" if now.up else ""
    figure.text(left, 0.892, now.sun_words + light, fontsize=12.5, weight="bold", va="center", color=INK)


def _draw_sky(axes: Axes, sky: DaySky, now: Moment) -> None:
    """The sky from the rack: bearings across, height upward."""
    path = sky.up
    top = min(90.0, max(float(sky.elevation_deg.max()) + 9, 30.0))
    axes.set_facecolor(_SKY_COLOUR)
    axes.plot(sky.azimuth_deg[path][::5], sky.elevation_deg[path][::5], color="#7a5a00", linewidth=1.6, linestyle=":")
    for tree in sky.trees:
        bare = tree.passes >= _BARE_PASSES
        axes.fill_between(
            sky.bearing_deg,
            tree.low_deg,
            np.minimum(tree.high_deg, top),
            facecolor=_BARE if bare else _LEAF,
            edgecolor=_LEAF,
            hatch="////" if bare else None,
            linewidth=0.8,
            zorder=3,
        )
    if sky.horizon_deg.any():
        axes.fill_between(sky.bearing_deg, sky.horizon_deg, color=_HILL, zorder=4)
    if now.up:
        clear = now.beam_share > 0.5
        axes.plot(
            [now.azimuth_deg],
            [max(now.elevation_deg, 0.0)],
            marker="o",
            markersize=16,
            markerfacecolor=_SUN if clear else "white",
            markeredgecolor="black",
            markeredgewidth=1.8,
            linestyle="none",
            zorder=5,
            clip_on=False,
        )
    axes.set_xlim(sky.bearing_deg[0], sky.bearing_deg[-1])
    axes.set_ylim(0, top)
    heights = [height for height in (0, 30, 60) if height < top - 4]
    axes.set_yticks(heights, [f"{height}°" for height in heights])
    middle = int(sky.bearing_deg[0]) + 140
    ticks = [middle - 90, middle - 45, middle, middle + 45, middle + 90]
    axes.set_xticks(ticks, [_COMPASS[tick % 360] for tick in ticks])
    axes.tick_params(labelsize=12, length=3, pad=2, colors=INK)
    axes.spines[["top", "right"]].set_visible(False)


_COMPASS = {0: "N", 45: "NE", 90: "E", 135: "SE", 180: "S", 225: "SW", 270: "W", 315: "NW"}


def _draw_pipe(axes: Axes, now: Moment, peak_m3_s: float, system: System) -> None:
    """A standing pipe with its stream, as broad as the flow is of the day's best, above a trough."""
    left, floor = _PIPE_AT
    pipe = np.array([[0.14, 0.30], [0.14, 1.06], [0.62, 1.06]]) + _PIPE_AT
    axes.plot(pipe[:, 0], pipe[:, 1], color=_STEEL, linewidth=10, solid_joinstyle="round", solid_capstyle="butt")
    trough = np.array([[0.34, 0.60], [0.34, 0.34], [1.30, 0.34], [1.30, 0.60]]) + _PIPE_AT
    share = now.flow_m3_s / peak_m3_s if peak_m3_s > 0 else 0.0
    if now.flow_m3_s > 0:
        stream = np.array([[0.64, 1.06], [0.76, 0.97], [0.82, 0.80], [0.84, 0.44]]) + _PIPE_AT
        axes.plot(stream[:, 0], stream[:, 1], color=_WATER, linewidth=2 + 8 * share, solid_capstyle="butt")
        axes.fill_between(trough[[0, 2], 0], floor + 0.36, floor + 0.50, color=_WATER, linewidth=0)
    axes.plot(trough[:, 0], trough[:, 1], color=INK, linewidth=2.5)
    words = show(now.flow_m3_s, "flow", system) if now.flow_m3_s > 0 else "no water"
    axes.text(left, floor, words, fontsize=14, weight="bold", va="bottom", color=INK)


def _draw_flow(axes: Axes, result: Result, day: int, minute: int, system: System) -> None:
    """The flow of the whole day, filled up to the minute shown."""
    flow = result.by_day("flow_m3_s")[day]
    lit = np.flatnonzero(result.by_day("plane_w_m2")[day] > 0)
    start, stop = (int(lit[0]), int(lit[-1])) if len(lit) else (0, MINUTES_A_DAY - 1)
    start, stop = max(start - _MARGIN_MIN, 0), min(stop + _MARGIN_MIN, MINUTES_A_DAY - 1)
    shown = min(max(minute, start), stop)
    left, right, low, high = _FLOW_BOX
    across = left + (right - left) * (np.arange(MINUTES_A_DAY) - start) / (stop - start)
    up = low + (high - low) * flow / max(float(flow.max()), 1e-12)
    every = np.arange(start, stop + 1, 3)
    past = every[every <= minute]
    axes.fill_between(across[past], up[past], low, color=_WATER, linewidth=0)
    axes.plot(across[every], up[every], color=INK, linewidth=1)
    axes.plot([left, right], [low, low], color=INK, linewidth=1)
    axes.plot([across[shown]] * 2, [low, high], color=INK, linewidth=2.5)
    wall = wall_times(result, slice(day * MINUTES_A_DAY, (day + 1) * MINUTES_A_DAY))
    hours = np.asarray(wall.hour)
    for tick in np.flatnonzero((hours % 3 == 0) & (np.asarray(wall.minute) == 0)).tolist():
        if start <= tick <= stop:
            axes.plot([across[tick]] * 2, [low, low - 0.05], color=INK, linewidth=1)
            clock = f"{hours[tick]}:00"
            axes.text(across[tick], low - 0.08, clock, fontsize=12, ha="center", va="top", color=INK)
    best = f"Flow over the day, at best {show(float(flow.max()), 'flow', system)}"
    axes.text(left, high + 0.07, best, fontsize=12, va="bottom", color=INK)
