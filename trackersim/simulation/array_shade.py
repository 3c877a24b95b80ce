"""Shade on the job's array: the places looked at on its modules, and what crosses them as the rack turns."""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce

import numpy as np

from trackersim.arrays import FloatArray, IndexArray
from trackersim.job.array import Array
from trackersim.simulation.orientation import Orientation
from trackersim.simulation.scene import Scene
from trackersim.sky.shading import ArrayPlaces, ModuleShade, ShadeEdges, module_shade

# Where a substring is looked at: shares of its long and short side (its outer cells, about).
_LONG, _SHORT = (0.1, 0.5, 0.9), (0.2, 0.8)


@dataclass(frozen=True, kw_only=True)
class SubstringShade:
    """Minutes (m,) in which shade may lie unevenly on the array, and the beam share then.

    `mean` (m,) over the whole array; `substring` (m, strings, substrings) of the darkest place of each substring:
    cells in series pass what the weakest of them bears.
    """

    minutes: IndexArray
    mean: FloatArray
    substring: FloatArray

    def over(self, beam_share: FloatArray) -> FloatArray:
        """The beam share of the whole array (n,), given that at the axis (n,)."""
        share = beam_share.copy()
        share[self.minutes] = self.mean
        return share


def array_shade(
    array: Array,
    scene: Scene,
    orientation: Orientation,
    rotation_deg: FloatArray,
    *,
    places: ArrayPlaces,
    edges: ShadeEdges,
) -> SubstringShade:
    """The shade on the array of a rack as it turns.

    Parameters
    ----------
    array : Array
        Its strings are read.
    scene : Scene
        Where the sun and the trees stand at every sun-up minute.
    orientation : Orientation
        Its axis in the scene.
    rotation_deg : FloatArray
        Shape (n,). Rotation in sun-up minutes [degrees], + west.
    places : ArrayPlaces
        Where on the array trees are looked at, as `array_places` gives it.
    edges : ShadeEdges
        When they are looked at there.

    Returns
    -------
    SubstringShade
        Only of minutes in which shade may lie unevenly on it.
    """
    shade = module_shade(
        scene.up_direction,
        scene.up_day,
        rotation_deg,
        axis=orientation.axis,
        places=places,
        crowns=scene.crowns,
        edges=edges,
        hidden=scene.hidden,
    )
    return _by_substring(array, shade)


def array_places(array: Array) -> ArrayPlaces:
    """Places looked at on an array, ordered by place in a substring, then string, module in it, and its substring.

    Parameters
    ----------
    array : Array
        Its modules and how they lie are read.

    Returns
    -------
    ArrayPlaces
        Metres across and along the axis, and off it.
    """
    out = array.laid_out
    row, column = np.divmod(np.arange(array.module_count), out.columns)
    if out.strung_by == "columns":
        column, row = np.divmod(np.arange(array.module_count), out.rows)
    pitch_across, pitch_along = out.module_width_m + out.gap_across_m, out.module_height_m + out.gap_along_m
    corner_across = -out.width_m / 2 + column * pitch_across
    corner_along = -out.height_m / 2 + row * pitch_along
    inside_across, inside_along = _in_module(max(array.diodes, 1), out.module_width_m, out.module_height_m)
    return ArrayPlaces(
        across_m=(corner_across[:, None] + inside_across[:, None, :]).ravel(),
        along_m=(corner_along[:, None] + inside_along[:, None, :]).ravel(),
        off_axis_m=out.above_axis_m,
    )


def _in_module(substrings: int, width_m: float, height_m: float) -> tuple[FloatArray, FloatArray]:
    """Places (in substring, substrings) in one module from its corner: they lie along its long side, side by side."""
    short, long = np.meshgrid(np.array(_SHORT), np.array(_LONG))
    from_side = (short.reshape(-1, 1) + np.arange(substrings)) / substrings
    from_end = long.reshape(-1, 1) + np.zeros(substrings)
    across, along = (from_side, from_end) if width_m <= height_m else (from_end, from_side)
    return across * width_m, along * height_m


def _by_substring(array: Array, shade: ModuleShade) -> SubstringShade:
    """Shade of places gathered to substrings and strings."""
    minutes, substrings = len(shade.minutes), max(array.diodes, 1) * array.in_series
    places = shade.share.reshape(minutes, len(_LONG) * len(_SHORT), array.in_parallel * substrings)
    darkest = reduce(np.minimum, places.swapaxes(0, 1))
    return SubstringShade(
        minutes=shade.minutes,
        mean=shade.share.mean(axis=1, dtype=np.float64),
        substring=darkest.reshape(minutes, array.in_parallel, substrings).astype(np.float64),
    )
