"""The rack seen along its axis: plane on its pole, canisters with liquid and warmth, the sun's direction, the stops."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.patches import Circle, Polygon

from trackersim.show.moment import PASSIVE, Canister, DaySky, Moment
from trackersim.units import System, show

FloatArray = npt.NDArray[np.float64]

INK = "#16202a"
_PLANE, _STEEL, _GROUND, _LIQUID, _SUN = "#2b3c4b", "#5d6670", "#d9d0bf", "#1d5c7a", "#f5bd1f"
_COOL, _WARM = "#ffffff", "#ef9a5d"
# The picture's own lengths: it is a scheme, not to scale.
_HALF_WIDTH, _BOTTOM, _TOP = 3.05, -3.48, 2.195
_PIVOT, _GROUND_LINE, _FLOOR = (0.0, 0.2), -1.22, -2.0
_PLANE_HALF, _CANISTER_OUT, _CANISTER_RADIUS, _PLATE_OUT, _PLATE_HALF = 0.9, 1.17, 0.27, 1.49, 0.33
_ARC = 1.72
# A canister this much warmer than the other is drawn in full warmth.
_WARM_K = 8.0
_WARMER_K = 1.0


def draw_rack(axes: Axes, now: Moment, sky: DaySky) -> None:
    """The rack of one minute, as it stands between its stops, with the sun where it stands across the axis."""
    axes.set_axis_off()
    axes.set_xlim(-_HALF_WIDTH, _HALF_WIDTH)
    axes.set_ylim(_BOTTOM, _TOP)
    axes.fill_between([-_HALF_WIDTH, _HALF_WIDTH], _FLOOR, _GROUND_LINE, color=_GROUND, linewidth=0, zorder=0)
    axes.plot([-_HALF_WIDTH, _HALF_WIDTH], [_GROUND_LINE] * 2, color=INK, linewidth=1.5)
    axes.plot([0, 0], [_GROUND_LINE, _PIVOT[1]], color=_STEEL, linewidth=11, solid_capstyle="butt", zorder=2)
    stop = sky.job.rack.max_rotation_deg
    size = min(1.0, 1.4 / (_PLATE_OUT * np.sin(np.radians(stop)) + 1e-9))
    _draw_arc(axes, stop, sky.west_right)
    if now.up:
        _draw_sun(axes, now, sky.west_right)
    along, normal = _directions(now.rotation_deg, sky.west_right)
    edge = _PLANE_HALF * size
    corners = [-edge * along, edge * along, edge * along + 0.11 * normal, -edge * along + 0.11 * normal]
    axes.plot(*_line(-_PLATE_OUT * size * along, _PLATE_OUT * size * along), color=_STEEL, linewidth=4, zorder=3)
    axes.add_patch(Polygon(np.asarray(corners) + _PIVOT, facecolor=_PLANE, edgecolor="black", zorder=4))
    axes.add_patch(Circle(_PIVOT, 0.1, facecolor="white", edgecolor="black", linewidth=1.5, zorder=5))
    axes.plot(*_line(0.15 * normal, 1.3 * normal), color=INK, linewidth=1.8, zorder=4)
    head = np.array([1.45 * normal, 1.27 * normal + 0.065 * along, 1.27 * normal - 0.065 * along]) + _PIVOT
    axes.add_patch(Polygon(head, facecolor=INK, edgecolor=INK, zorder=4))
    if sky.job.rack.kind in PASSIVE:
        _draw_ends(axes, now, sky, along * size, normal)
    aside = -1 if along[1] * along[0] < 0 else 1  # beside the pole, where the plane stands high
    words = f"faces {now.rack_faces}"
    align = "left" if aside > 0 else "right"
    axes.text(0.14 * aside, _GROUND_LINE + 0.08, words, fontsize=12.5, weight="bold", ha=align, color=INK)


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
    axes.plot(_ARC * np.sin(angle), _PIVOT[1] + _ARC * np.cos(angle), color=_STEEL, linewidth=1.2, linestyle=":")
    for end in (-stop_deg, stop_deg):
        _, normal = _directions(end, west_right)
        axes.plot(*_line((_ARC - 0.09) * normal, (_ARC + 0.09) * normal), color=_STEEL, linewidth=2.5)


def _draw_sun(axes: Axes, now: Moment, west_right: float) -> None:
    """The sun across the axis, and its rays: whole lines where more than half the beam comes through, else dashes."""
    along, toward = _directions(now.sun_rotation_deg, west_right)
    clear = now.beam_share > 0.5
    for aside in (-0.16, 0.0, 0.16):
        ray = _line((_ARC - 0.26) * toward + aside * along, 0.62 * toward + aside * along)
        axes.plot(*ray, color="#8a6500", linewidth=2, linestyle="-" if clear else (0, (1.5, 2.5)), zorder=1)
    face = _SUN if clear else "white"
    place = _point(_ARC * toward)
    axes.add_patch(Circle(place, 0.19, facecolor=face, edgecolor="black", linewidth=1.8, zorder=6, clip_on=False))


def _draw_ends(axes: Axes, now: Moment, sky: DaySky, along: FloatArray, normal: FloatArray) -> None:
    """Canisters at both edges, behind shade plates on the outside."""
    plate = _PLATE_HALF * (sky.job.rack.thermal.shade_plates if now.west is not None else 1.0)
    warmest = max((side.temperature_c for side in (now.west, now.east) if side is not None), default=0.0)
    coldest = min((side.temperature_c for side in (now.west, now.east) if side is not None), default=0.0)
    for sign, canister in ((1, now.west), (-1, now.east)):
        end = sign * _PLATE_OUT * along
        axes.plot(*_line(end - plate * normal, end + plate * normal), color=INK, linewidth=3.5, zorder=4)
        middle = _point(sign * _CANISTER_OUT * along)
        if canister is None:
            empty = Circle(middle, _CANISTER_RADIUS, facecolor="white", edgecolor=INK, linestyle="--", zorder=5)
            axes.add_patch(empty)
            continue
        warmth = (canister.temperature_c - coldest) / _WARM_K if canister.temperature_c == warmest else 0.0
        _draw_canister(axes, middle, canister, min(max(warmth, 0.0), 1.0))


def _draw_canister(axes: Axes, middle: tuple[float, float], canister: Canister, warmth: float) -> None:
    """A canister from its end: liquid below a level surface, vapour above it, dotted and dark as it is the warmer."""
    tint = np.array(to_rgb(_COOL)) + warmth * (np.array(to_rgb(_WARM)) - np.array(to_rgb(_COOL)))
    axes.add_patch(
        Circle(
            middle,
            _CANISTER_RADIUS,
            facecolor=tuple(tint.tolist()),
            edgecolor=INK,
            hatch="...." if warmth > 0.25 else None,
            linewidth=1.0,
            zorder=5,
        )
    )
    surface = liquid_surface(canister.liquid_share)
    angle = np.arccos(np.clip(-surface, -1, 1))
    bottom = np.linspace(-angle, angle, 40)
    pool = np.column_stack([np.sin(bottom), -np.cos(bottom)]) * _CANISTER_RADIUS + middle
    if canister.liquid_share > 0:
        axes.add_patch(Polygon(pool, facecolor=_LIQUID, edgecolor=_LIQUID, zorder=6))
    axes.add_patch(Circle(middle, _CANISTER_RADIUS, fill=False, edgecolor=INK, linewidth=2.2, zorder=7))


def liquid_surface(share: float) -> float:
    """Height of the surface, −1 bottom … 1 top, in a lying round vessel of radius 1 filled to `share` of its area."""
    heights = np.linspace(-1, 1, 401)
    filled = 0.5 + (heights * np.sqrt(1 - heights**2) + np.arcsin(heights)) / np.pi
    return float(np.interp(share, filled, heights))


def draw_ground_words(axes: Axes, now: Moment, sky: DaySky, system: System, *, watched: bool) -> None:
    """Sides of the picture, and what is in the canisters."""
    for side, canister, sign in (("WEST", now.west, sky.west_right), ("EAST", now.east, -sky.west_right)):
        right = sign > 0
        place, align = (_HALF_WIDTH - 0.12 if right else -_HALF_WIDTH + 0.12), ("right" if right else "left")
        style: dict[str, Any] = {"ha": align, "va": "baseline", "color": INK}
        axes.text(place, _GROUND_LINE - 0.29, side, fontsize=13, weight="bold", **style)
        if canister is None:
            continue
        other = now.east if canister is now.west else now.west
        warmer = other is not None and canister.temperature_c - other.temperature_c > _WARMER_K
        warmth = f"canister {show(canister.temperature_c, 'temperature', system)}{', warmer' if warmer else ''}"
        axes.text(place, _GROUND_LINE - 0.50, warmth, fontsize=12, **style)
        axes.text(place, _GROUND_LINE - 0.71, f"{100 * canister.liquid_share:.0f} % of liquid", fontsize=12, **style)
    if watched:
        words = "Canisters drawn empty: a rack as watched\ntells nothing of what is in them."
        axes.text(0, _GROUND_LINE - 0.66, words, fontsize=12, ha="center", color=INK, linespacing=1.25)
