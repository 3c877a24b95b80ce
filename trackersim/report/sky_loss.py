"""The sky, coloured by the water a rack loses while the sun stands there, against an ideal rack under an open sky."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from trackersim.analysis.sky_seen import sun_over
from trackersim.arrays import FloatArray
from trackersim.errors import counted
from trackersim.report.figures import new_figure, plain_text
from trackersim.report.tree_shading import draw_obstacles, draw_paths, frame_sky
from trackersim.simulation.result import Result
from trackersim.units import System, rounded, show, shown_value, unit_label

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.patches import Patch

BIN_DEG = 5.0
# Classes from little to much: darker, and hatched closer, so that they part in black and white.
_FACES = ("#fbe3c8", "#f3b27a", "#cf6a2c", "#6e2c0c")
_HATCHES = ("", "..", "//", "xx")
_GAIN_FACE, _GAIN_HATCH = "#ffffff", "++"
# Upper ends of the classes but the last, as shares of the largest loss of one bin.
_STEPS = (0.1, 0.3, 0.6)
# Bins that lose less than this share of the largest stay white.
_NOTHING = 0.004
_PATH = "#3a3a3a"
_TEXT_PT = 11


@dataclass(frozen=True, kw_only=True)
class SkyLoss:
    """Water lost [m³] while the sun stood in each bin of `bearing_deg` (n + 1 edges) and `elevation_deg` (m + 1 edges).

    `lost_m3` (m, n) is negative where the rack does better than the reference; `sun_down_m3` was lost while the sun's
    centre was below the level horizon. Together they are all that was lost.
    """

    bearing_deg: FloatArray
    elevation_deg: FloatArray
    lost_m3: FloatArray
    sun_down_m3: float

    @property
    def total_m3(self) -> float:
        """All water lost, less what was gained."""
        return float(self.lost_m3.sum()) + self.sun_down_m3


def sky_loss(own: Result, reference: Result) -> SkyLoss:
    """Where in the sky `own` lifts less than `reference`, a result over the same minutes."""
    if not own.times.equals(reference.times):
        raise ValueError("the two results cover different minutes.")
    sun = sun_over(own.job, own.times)
    lost = (reference.minutes["flow_m3_s"] - own.minutes["flow_m3_s"]) * 60
    north = own.job.site.latitude_deg >= 0
    azimuth = sun.azimuth_deg if north else (sun.azimuth_deg + 180) % 360 - 180
    bearing = np.arange(0, 360 + BIN_DEG, BIN_DEG) - (0 if north else 180)
    elevation = np.arange(0, 90 + BIN_DEG, BIN_DEG)
    up = sun.is_up
    table, _, _ = np.histogram2d(sun.elevation_deg[up], azimuth[up], bins=(elevation, bearing), weights=lost[up])
    return SkyLoss(
        bearing_deg=bearing, elevation_deg=elevation, lost_m3=np.asarray(table), sun_down_m3=float(lost[~up].sum())
    )


def sky_loss_figure(own: Result, reference: Result, system: System) -> Figure:
    """The sun's paths over trees and horizon, and in each 5° of sky the water that `own` loses against `reference`."""
    found = sky_loss(own, reference)
    figure = new_figure(6.4, 6.0)
    axes: Axes = figure.subplots()
    _draw_bins(axes, found)
    draw_obstacles(axes, own.job, filled=False)
    frame_sky(axes, own.job, top_deg=draw_paths(axes, own.job, colour=_PATH))
    for written in axes.texts:
        written.set_fontsize(_TEXT_PT - 1)
    axes.tick_params(labelsize=_TEXT_PT)
    axes.yaxis.label.set_fontsize(_TEXT_PT)
    name = plain_text(own.job.site.name, room_in=5.0)
    axes.set_title(f"{name}\n{_total_words(own, found, system)}", loc="left", fontsize=_TEXT_PT + 1)
    figure.legend(
        handles=_legend(found, system),
        loc="outside lower left",
        ncols=2,
        fontsize=_TEXT_PT,
        title=f"Water lost in 5° × 5° of sky, {unit_label('volume', system)}",
        title_fontsize=_TEXT_PT,
        alignment="left",
        frameon=False,
        handlelength=2.4,
        handleheight=1.3,
    )
    return figure


def _total_words(own: Result, found: SkyLoss, system: System) -> str:
    span = "a year" if own.days == 365 else f"in {counted(own.days, 'day')}"
    verb = "lost" if found.total_m3 >= 0 else "gained"
    return f"Where in the sky {show(abs(found.total_m3), 'volume', system)} {span} are {verb}"


def class_of(lost_m3: FloatArray) -> npt.NDArray[np.int64]:
    """Class of each bin: −1 a gain, 0 nothing to speak of, 1 … 4 from little to much."""
    top = float(np.abs(lost_m3).max(initial=0.0))
    if top <= 0:
        return np.zeros(lost_m3.shape, dtype=np.int64)
    kind = 1 + np.searchsorted(np.array(_STEPS) * top, lost_m3)
    kind = np.where(lost_m3 < _NOTHING * top, 0, kind)
    return np.asarray(np.where(lost_m3 < -_NOTHING * top, -1, kind), dtype=np.int64)


def _draw_bins(axes: Axes, found: SkyLoss) -> None:
    from matplotlib.patches import Rectangle

    kind = class_of(found.lost_m3)
    for row, column in np.argwhere(kind != 0).tolist():
        face, hatch = _look(int(kind[row, column]))
        corner = (float(found.bearing_deg[column]), float(found.elevation_deg[row]))
        edge = _hatch_colour(face)
        axes.add_patch(
            Rectangle(corner, BIN_DEG, BIN_DEG, facecolor=face, edgecolor=edge, hatch=hatch, linewidth=0.3, zorder=0)
        )


def _look(kind: int) -> tuple[str, str]:
    return (_GAIN_FACE, _GAIN_HATCH) if kind < 0 else (_FACES[kind - 1], _HATCHES[kind - 1])


def _hatch_colour(face: str) -> str:
    return "#ffffff" if face == _FACES[-1] else "#7a4a28"


def class_words(found: SkyLoss, system: System) -> dict[int, str]:
    """The classes of `class_of` that are in the sky, from little to much and a gain last, with what each means."""
    kind = class_of(found.lost_m3)
    top = float(np.abs(found.lost_m3).max(initial=0.0))
    ends = [_NOTHING * top, *(step * top for step in _STEPS), top]
    told = [rounded(shown_value(end, "volume", system), 2) for end in ends]
    names = {number + 1: f"{told[number]} to {told[number + 1]}" for number in range(len(_FACES))}
    names[-1] = "more than the ideal rack lifts"
    present = sorted(set(kind.ravel().tolist()) - {0}, key=lambda number: (number < 0, number))
    return {number: names[number] for number in present}


def _legend(found: SkyLoss, system: System) -> list[Patch]:
    from matplotlib.patches import Patch

    handles = []
    for number, words in class_words(found, system).items():
        face, hatch = _look(number)
        handles.append(Patch(facecolor=face, edgecolor=_hatch_colour(face), hatch=hatch, label=words))
    return handles or [Patch(facecolor="white", edgecolor="#7a4a28", label="none")]


def sky_loss_alt(own: Result, reference: Result, system: System) -> str:
    """For `sky_loss.sky_loss_figure`: how much is lost in all, and how much of it in the morning half of the sky."""
    found = sky_loss(own, reference)
    total = found.total_m3
    if total <= 0:
        return f"The sky seen from the rack: it loses no water against the rack it is held against, {_days(own)}."
    middle = (found.bearing_deg[0] + found.bearing_deg[-1]) / 2
    centres = (found.bearing_deg[:-1] + found.bearing_deg[1:]) / 2
    morning = centres < middle if own.job.site.latitude_deg >= 0 else centres > middle
    row, column = np.unravel_index(int(np.argmax(found.lost_m3)), found.lost_m3.shape)
    low, left = found.elevation_deg[row], found.bearing_deg[column] % 360
    share = 100 * float(found.lost_m3[:, morning].sum()) / total
    return (
        f"The sky seen from the rack, darker where more water is lost: {show(total, 'volume', system)} {_days(own)}, "
        f"{share:.0f} % of it with the sun in the eastern half. Most is lost with the sun {low:.0f}° to {low + 5:.0f}° "
        f"high at bearings of {left:.0f}° to {left + 5:.0f}°."
    )


def _days(result: Result) -> str:
    return "in a year" if result.days == 365 else f"in {counted(result.days, 'day')}"
