"""The rack seen along its axis: plane on its pole, canisters with liquid and warmth, the sun's direction, the stops.

What stands still all day and what moves are drawn apart, so that a day's pictures share the first.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.patches import Circle, FancyBboxPatch, Polygon, Rectangle

from trackersim.arrays import FloatArray
from trackersim.job.rack import PASSIVE
from trackersim.report.animation.inks import COOL, GROUND, INK, PLANE, RAY, STEEL, SUN, WARM, WATER, WHITE
from trackersim.report.moment import Canister, DaySky, RackMinute
from trackersim.units import System

# The picture's own lengths: it is a scheme, not to scale.
_HALF_WIDTH, _BOTTOM, _TOP = 3.05, -3.48, 2.195
_PIVOT, _GROUND_LINE, _FLOOR = (0.0, 0.2), -1.22, -2.0
_PLANE_HALF, _CANISTER_OUT, _CANISTER_RADIUS, _PLATE_OUT, _PLATE_HALF = 0.9, 1.17, 0.27, 1.49, 0.33
_ARC = 1.72
# The ghost of the rack that turned at once is drawn where it stands this far from the rack, or farther.
_SAME_DEG = 4.0
GHOST_WORDS = "Dashed: had it\nturned at once"
# All the liquid of a new charge fills this much of a canister as drawn: more than in truth, so that its level is seen
# to move, and never all of it, so that there is a level to see.
FULL = 0.8
# A canister this much warmer than the other is drawn in full warmth.
_WARM_K = 8.0
_DOTTED_FROM = 0.25
_WARMER_K = 1.0
# The two thermometers: from the middle, above the floor, height, half width, how far the column stands in the cold; a
# day that stays within this many kelvin does not fill them.
_GLASS_OUT, _GLASS_UP, _GLASS_TALL, _GLASS_HALF, _GLASS_EMPTY, _GLASS_LEAST_K = 0.22, 0.12, 0.6, 0.065, 0.28, 10.0


def draw_rack_still(axes: Axes, sky: DaySky, *, watched: bool, ghost: bool = False) -> None:
    """Ground, pole and stops. `watched` says why the canisters are empty, `ghost` what is dashed."""
    axes.set_axis_off()
    axes.set_xlim(-_HALF_WIDTH, _HALF_WIDTH)
    axes.set_ylim(_BOTTOM, _TOP)
    axes.fill_between([-_HALF_WIDTH, _HALF_WIDTH], _FLOOR, _GROUND_LINE, color=GROUND, linewidth=0, zorder=0)
    axes.plot([-_HALF_WIDTH, _HALF_WIDTH], [_GROUND_LINE] * 2, color=INK, linewidth=1.5)
    axes.plot([0, 0], [_GROUND_LINE, _PIVOT[1]], color=STEEL, linewidth=11, solid_capstyle="butt", zorder=2)
    _draw_arc(axes, sky.job.rack.max_rotation_deg, sky.west_right)
    for side, sign in (("WEST", sky.west_right), ("EAST", -sky.west_right)):
        axes.text(_side(sign), _GROUND_LINE - 0.25, side, fontsize=13, weight="bold", **_words(sign))
    if ghost:
        axes.text(_side(-1), _TOP, GHOST_WORDS, fontsize=12, ha="left", va="top", color=INK, linespacing=1.25)
    if watched:
        words = "Canisters drawn empty: a rack as watched\ntells nothing of what is in them."
        axes.text(0, _GROUND_LINE - 0.66, words, fontsize=12, ha="center", color=INK, linespacing=1.25)


def draw_rack_moving(axes: Axes, now: RackMinute, sky: DaySky, warmth_c: tuple[float, float], system: System) -> None:
    """The rack of one minute, as it stands between its stops, with the sun where it stands across the axis.

    `warmth_c` are the coldest and the warmest of the day's canisters, between which the thermometers rise.
    """
    size = _size(sky)
    if now.up:
        _draw_sun(axes, now, sky.west_right)
    along, normal = _directions(now.rotation_deg, sky.west_right)
    edge = _PLANE_HALF * size
    corners = [-edge * along, edge * along, edge * along + 0.11 * normal, -edge * along + 0.11 * normal]
    axes.plot(*_line(-_PLATE_OUT * size * along, _PLATE_OUT * size * along), color=STEEL, linewidth=4, zorder=3)
    axes.add_artist(Polygon(np.asarray(corners) + _PIVOT, facecolor=PLANE, edgecolor="black", zorder=4))
    axes.add_artist(Circle(_PIVOT, 0.1, facecolor=WHITE, edgecolor="black", linewidth=1.5, zorder=5))
    axes.plot(*_line(0.15 * normal, 1.3 * normal), color=INK, linewidth=1.8, zorder=4)
    head = np.array([1.45 * normal, 1.27 * normal + 0.065 * along, 1.27 * normal - 0.065 * along]) + _PIVOT
    axes.add_artist(Polygon(head, facecolor=INK, edgecolor=INK, zorder=4))
    if sky.job.rack.kind in PASSIVE:
        _draw_ends(axes, now, sky, along * size, normal)
    aside = -1 if along[1] * along[0] < 0 else 1  # beside the pole, where the plane stands high
    words = f"faces {now.rack_faces}"
    align = "left" if aside > 0 else "right"
    axes.text(0.14 * aside, _GROUND_LINE + 0.08, words, fontsize=12.5, weight="bold", ha=align, color=INK)
    _draw_canister_words(axes, now, sky, warmth_c, system)


def draw_ghost(axes: Axes, rotation_deg: float, ghost_deg: float, sky: DaySky) -> None:
    """The plane as it would stand if it had turned at once; nothing where it stands much as it does."""
    if abs(rotation_deg - ghost_deg) < _SAME_DEG:
        return
    along, normal = _directions(ghost_deg, sky.west_right)
    edge = _PLANE_HALF * _size(sky)
    corners = [-edge * along, edge * along, edge * along + 0.11 * normal, -edge * along + 0.11 * normal]
    look: dict[str, Any] = {"edgecolor": INK, "linewidth": 1.6, "linestyle": (0, (3, 2)), "zorder": 1.5}
    axes.add_artist(Polygon(np.asarray(corners) + _PIVOT, facecolor="none", **look))
    axes.plot(*_line(0.15 * normal, 1.3 * normal), color=INK, linewidth=1.6, linestyle=(0, (3, 2)), zorder=1.5)


def _size(sky: DaySky) -> float:
    """How large the plane is drawn, so that its lower edge stays above the ground."""
    return float(min(1.0, 1.4 / (_PLATE_OUT * np.sin(np.radians(sky.job.rack.max_rotation_deg)) + 1e-9)))


def _directions(rotation_deg: float, west_right: float) -> tuple[FloatArray, FloatArray]:
    """Unit vectors of the picture along the plane toward its west edge, and out of its face."""
    angle = np.radians(rotation_deg)
    along = np.array([west_right * np.cos(angle), -np.sin(angle)])
    return along, np.array([west_right * np.sin(angle), np.cos(angle)])


def _line(start: FloatArray, end: FloatArray) -> tuple[list[float], list[float]]:
    points = np.stack([start, end]) + _PIVOT
    return points[:, 0].tolist(), points[:, 1].tolist()


def _point(place: FloatArray) -> tuple[float, float]:
    return _PIVOT[0] + float(place[0]), _PIVOT[1] + float(place[1])


def _draw_arc(axes: Axes, stop_deg: float, west_right: float) -> None:
    """Where the face can point: from stop to stop."""
    angle = np.radians(np.linspace(-stop_deg, stop_deg, 60))
    axes.plot(_ARC * np.sin(angle), _PIVOT[1] + _ARC * np.cos(angle), color=STEEL, linewidth=1.2, linestyle=":")
    for end in (-stop_deg, stop_deg):
        _, normal = _directions(end, west_right)
        axes.plot(*_line((_ARC - 0.09) * normal, (_ARC + 0.09) * normal), color=STEEL, linewidth=2.5)


def _draw_sun(axes: Axes, now: RackMinute, west_right: float) -> None:
    """The sun across the axis, and its rays: whole lines where more than half the beam comes through, else dashes."""
    along, toward = _directions(now.sun_rotation_deg, west_right)
    clear = now.beam_share > 0.5
    for aside in (-0.16, 0.0, 0.16):
        ray = _line((_ARC - 0.26) * toward + aside * along, 0.62 * toward + aside * along)
        axes.plot(*ray, color=RAY, linewidth=2, linestyle="-" if clear else (0, (1.5, 2.5)), zorder=1)
    face = SUN if clear else WHITE
    place = _point(_ARC * toward)
    axes.add_artist(Circle(place, 0.19, facecolor=face, edgecolor="black", linewidth=1.8, zorder=6, clip_on=False))


def _draw_ends(axes: Axes, now: RackMinute, sky: DaySky, along: FloatArray, normal: FloatArray) -> None:
    """Canisters at both edges, behind shade plates on the outside."""
    thermal = sky.job.rack.thermal
    plate = _PLATE_HALF * (thermal.shade_plates if now.west is not None else 1.0)
    for sign, canister, other in ((1, now.west, now.east), (-1, now.east, now.west)):
        end = sign * _PLATE_OUT * along
        axes.plot(*_line(end - plate * normal, end + plate * normal), color=INK, linewidth=3.5, zorder=4)
        middle = _point(sign * _CANISTER_OUT * along)
        if canister is None or other is None:
            empty = Circle(middle, _CANISTER_RADIUS, facecolor=WHITE, edgecolor=INK, linestyle="--", zorder=5)
            axes.add_artist(empty)
            continue
        warmth = min(max((canister.temperature_c - other.temperature_c) / _WARM_K, 0.0), 1.0)
        _draw_canister(axes, middle, min(FULL * thermal.charge * canister.liquid_share, 1.0), warmth)


def _draw_canister(axes: Axes, middle: tuple[float, float], filled: float, warmth: float) -> None:
    """A canister from its end: liquid below a level surface, vapour above it, dotted and dark as it is the warmer."""
    tint = np.array(to_rgb(COOL)) + warmth * (np.array(to_rgb(WARM)) - np.array(to_rgb(COOL)))
    axes.add_artist(
        Circle(
            middle,
            _CANISTER_RADIUS,
            facecolor=tuple(tint.tolist()),
            edgecolor=INK,
            hatch="...." if warmth > _DOTTED_FROM else None,
            linewidth=1.0,
            zorder=5,
        )
    )
    angle = np.arccos(np.clip(-liquid_surface(filled), -1, 1))
    bottom = np.linspace(-angle, angle, 40)
    pool = np.column_stack([np.sin(bottom), -np.cos(bottom)]) * _CANISTER_RADIUS + middle
    if filled > 0:
        axes.add_artist(Polygon(pool, facecolor=WATER, edgecolor=WATER, zorder=6))
    axes.add_artist(Circle(middle, _CANISTER_RADIUS, fill=False, edgecolor=INK, linewidth=2.2, zorder=7))


def liquid_surface(share: float) -> float:
    """Height of the surface, −1 bottom … 1 top, in a lying round vessel of radius 1 filled to `share` of its area."""
    heights = np.linspace(-1, 1, 401)
    filled = 0.5 + (heights * np.sqrt(1 - heights**2) + np.arcsin(heights)) / np.pi
    return float(np.interp(share, filled, heights))


def _draw_canister_words(
    axes: Axes, now: RackMinute, sky: DaySky, warmth_c: tuple[float, float], system: System
) -> None:
    """What is in the canisters, and how warm they are, below them in the ground."""
    for canister, other, sign in ((now.west, now.east, sky.west_right), (now.east, now.west, -sky.west_right)):
        if canister is None or other is None:
            continue
        warmer = canister.temperature_c - other.temperature_c > _WARMER_K
        warmth = f"canister {canister.warmth(system)}{', warmer' if warmer else ''}"
        axes.text(_side(sign), _GROUND_LINE - 0.50, warmth, fontsize=12, **_words(sign))
        liquid = f"{100 * canister.liquid_share:.0f} % of liquid"
        axes.text(_side(sign), _GROUND_LINE - 0.745, liquid, fontsize=12, **_words(sign))
        _draw_thermometer(axes, sign * _GLASS_OUT, _risen(canister, warmth_c))


def _risen(canister: Canister, warmth_c: tuple[float, float]) -> float:
    coldest, warmest = warmth_c
    return float(np.clip((canister.temperature_c - coldest) / max(warmest - coldest, _GLASS_LEAST_K), 0, 1))


def _draw_thermometer(axes: Axes, across: float, risen: float) -> None:
    """A glass whose column has risen by this share, on its bulb."""
    left, low = across - _GLASS_HALF, _FLOOR + _GLASS_UP
    glass: dict[str, Any] = {"boxstyle": f"round,pad=0,rounding_size={_GLASS_HALF}", "edgecolor": INK}
    tube = FancyBboxPatch((left, low), 2 * _GLASS_HALF, _GLASS_TALL, facecolor=WHITE, linewidth=1.5, zorder=3, **glass)
    axes.add_artist(tube)
    column = (_GLASS_EMPTY + (1 - _GLASS_EMPTY) * risen) * (_GLASS_TALL - _GLASS_HALF)
    inside = 0.55 * _GLASS_HALF
    axes.add_artist(Rectangle((across - inside, low), 2 * inside, column, facecolor=INK, linewidth=0, zorder=4))
    axes.add_artist(Circle((across, low + 0.04), 1.6 * _GLASS_HALF, facecolor=INK, edgecolor=INK, zorder=4))


def _side(sign: float) -> float:
    """Where words of a side begin or end: the right one if `sign` is positive."""
    return _HALF_WIDTH - 0.12 if sign > 0 else -_HALF_WIDTH + 0.12


def _words(sign: float) -> dict[str, Any]:
    return {"ha": "right" if sign > 0 else "left", "va": "baseline", "color": INK}
