"""The sky, coloured by the water a rack loses while the sun stands there, against an ideal rack under an open sky."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from trackersim.arrays import FloatArray
from trackersim.errors import counted
from trackersim.simulation.result import Result
from trackersim.units import System, show, shown_number

BIN_DEG = 5.0
# Upper ends of the classes but the last, as shares of the largest loss of one bin.
_STEPS = (0.1, 0.3, 0.6)
# Bins that lose less than this share of the largest stay white.
_NOTHING = 0.004


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
    sun = own.stages.scene.sun
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


def class_of(lost_m3: FloatArray) -> npt.NDArray[np.int64]:
    """Class of each bin: −1 a gain, 0 nothing to speak of, 1 … 4 from little to much."""
    top = float(np.abs(lost_m3).max(initial=0.0))
    if top <= 0:
        return np.zeros(lost_m3.shape, dtype=np.int64)
    kind = 1 + np.searchsorted(np.array(_STEPS) * top, lost_m3)
    kind = np.where(lost_m3 < _NOTHING * top, 0, kind)
    return np.asarray(np.where(lost_m3 < -_NOTHING * top, -1, kind), dtype=np.int64)


def class_words(found: SkyLoss, system: System) -> dict[int, str]:
    """The classes of `class_of` that are in the sky, from little to much and a gain last, with what each means."""
    kind = class_of(found.lost_m3)
    top = float(np.abs(found.lost_m3).max(initial=0.0))
    ends = [_NOTHING * top, *(step * top for step in _STEPS), top]
    told = [shown_number(end, "volume", system, digits=2) for end in ends]
    names = {number + 1: f"{least} to {most}" for number, (least, most) in enumerate(pairwise(told))}
    names[-1] = "more than a rack that follows the sun lifts"
    present = sorted(set(kind.ravel().tolist()) - {0}, key=lambda number: (number < 0, number))
    return {number: names[number] for number in present}


def sky_loss_alt(own: Result, found: SkyLoss, system: System) -> str:
    """For the picture of what `own` loses: how much in all, and how much of it in the morning half of the sky."""
    total = found.total_m3
    if total <= 0:
        return f"The sky seen from the rack: it loses no water against the rack it is held against, {days_words(own)}."
    middle = (found.bearing_deg[0] + found.bearing_deg[-1]) / 2
    centres = (found.bearing_deg[:-1] + found.bearing_deg[1:]) / 2
    morning = centres < middle if own.job.site.latitude_deg >= 0 else centres > middle
    row, column = np.unravel_index(int(np.argmax(found.lost_m3)), found.lost_m3.shape)
    low, left = found.elevation_deg[row], found.bearing_deg[column] % 360
    share = 100 * float(found.lost_m3[:, morning].sum()) / total
    return (
        "The sky seen from the rack, darker where more water is lost: "
        f"{show(total, 'volume', system)} {days_words(own)}, {share:.0f} % of it with the sun in the eastern half. "
        f"Most is lost with the sun {low:.0f}° to {low + 5:.0f}° high at bearings of {left:.0f}° to {left + 5:.0f}°."
    )


def days_words(result: Result) -> str:
    """The time over which a figure is added up."""
    return "in a year" if result.days == 365 else f"in {counted(result.days, 'day')}"
