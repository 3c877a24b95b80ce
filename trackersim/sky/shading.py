"""Shade as it crosses the array: the share of the beam at many places of a turning rack, minute by minute.

Trees near the array do not switch it off at once. Only minutes in which a crown's edge may lie on the array are looked
at place by place (`shade_edges`, the same for every rack); in all others the whole array has one share.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from trackersim.arrays import BoolArray, FloatArray, IndexArray
from trackersim.rack.geometry import Axis
from trackersim.sky.crowns import Crown, Grid, dim_grid, highest_sine, in_crown

# A beam weaker than this (with the glow around the sun) is not worth a look at every place [W/m²].
_FAINT_W_M2 = 5.0


@dataclass(frozen=True, kw_only=True)
class ArrayPlaces:
    """Places (p,) on the module plane: metres across (west positive at centre), along the axis (toward its low end)
    and off the axis toward the plane's face. `radius_m` reaches from the middle of the axis to the farthest."""

    across_m: FloatArray
    along_m: FloatArray
    off_axis_m: float

    @property
    def radius_m(self) -> float:
        """Distance from the middle of the axis to the farthest place."""
        return float(np.sqrt(self.across_m**2 + self.along_m**2 + self.off_axis_m**2).max())


@dataclass(frozen=True, kw_only=True)
class ShadeEdges:
    """Sun-up minutes `minutes` (m,), rising, in which some crown's edge may lie on the array.

    For each crown `at_edge` are the rows of `minutes` in which its own edge may, `covered` those in which it covers
    the whole array.
    """

    minutes: IndexArray
    at_edge: tuple[IndexArray, ...]
    covered: tuple[IndexArray, ...]


@dataclass(frozen=True, kw_only=True)
class ModuleShade:
    """Beam share at each place (m, p) in the sun-up minutes `minutes` (m,); elsewhere all places have the axis's."""

    minutes: IndexArray
    share: npt.NDArray[np.float32]


def shade_edges(
    direction: FloatArray, beam_w_m2: FloatArray, crowns: Sequence[Crown], *, radius_m: float
) -> ShadeEdges:
    """Find the minutes in which crowns need to be looked at from every place within `radius_m` of the axis.

    `direction` (3, n) points to the sun, `beam_w_m2` (n,) is the beam and the glow around the sun, square on.

    Parameters
    ----------
    direction : FloatArray
        Shape (3, n). Unit vectors toward the sun: east, north, up.
    beam_w_m2 : FloatArray
        Shape (n,). Beam and the glow around the sun, square on [W/m²].
    crowns : Sequence[Crown]
        Trees and rows, places relative to the rack's axis.
    radius_m : float
        Distance from the middle of the axis to the array's farthest place [m].

    Returns
    -------
    ShadeEdges
        The minutes, and for each crown where its edge or its whole lies on the array.
    """
    low = np.flatnonzero((direction[2] <= highest_sine(crowns, margin_m=radius_m)) & (beam_w_m2 > _FAINT_W_M2))
    seen = direction[:, low]
    touched = [in_crown(seen, crown, margin_m=radius_m) for crown in crowns]
    covered = [in_crown(seen, crown, margin_m=-radius_m) for crown in crowns]
    edges = [some & ~whole for some, whole in zip(touched, covered, strict=True)]
    rows = np.flatnonzero(np.any(edges, axis=0)) if edges else np.zeros(0, dtype=np.intp)
    return ShadeEdges(
        minutes=low[rows],
        at_edge=tuple(np.flatnonzero(edge[rows]) for edge in edges),
        covered=tuple(np.flatnonzero(whole[rows]) for whole in covered),
    )


def module_shade(
    direction: FloatArray,
    day: IndexArray,
    rotation_deg: FloatArray,
    *,
    axis: Axis,
    places: ArrayPlaces,
    crowns: Sequence[Crown],
    edges: ShadeEdges,
    hidden: BoolArray,
) -> ModuleShade:
    """Beam share at every place of the rack turned to `rotation_deg` (n,), in the minutes of `edges`.

    `direction` (3, n) points to the sun; `day` (n,) is the row of each instant in `transmittance_by_day`; `hidden` (n,)
    says that the sun is behind the far horizon, which is the same for the whole array.

    Parameters
    ----------
    direction : FloatArray
        Shape (3, n). Unit vectors toward the sun: east, north, up.
    day : IndexArray
        Shape (n,). Row of each instant in `transmittance_by_day`.
    rotation_deg : FloatArray
        Shape (n,). Rotation of the rack [degrees], + west.
    axis : Axis
        The axis of the rack.
    places : ArrayPlaces
        The p places on the module plane.
    crowns : Sequence[Crown]
        Trees and rows, places relative to the rack's axis.
    edges : ShadeEdges
        What `shade_edges` found for the same suns, crowns and radius.
    hidden : BoolArray
        Shape (n,). Whether the sun is behind the far horizon.

    Returns
    -------
    ModuleShade
        Share of the beam, 0…1, in the m minutes of `edges` at p places.
    """
    minutes = edges.minutes
    whole = np.where(hidden[minutes], 0.0, 1.0)
    for crown, covered in zip(crowns, edges.covered, strict=True):
        whole[covered] *= crown.transmittance_by_day[day[minutes[covered]]]
    # A minute's places lie side by side in memory, since minutes are what is picked out.
    share = np.repeat(whole.astype(np.float32)[:, None], len(places.across_m), axis=1)
    for crown, at_edge in zip(crowns, edges.at_edge, strict=True):
        instants = minutes[at_edge]
        dim_grid(
            share,
            at_edge,
            direction=direction[:, instants],
            crown=crown,
            grid=_grid(rotation_deg[instants], axis, places),
            passes=crown.transmittance_by_day[day[instants]],
        )
    return ModuleShade(minutes=minutes, share=share)


def _grid(rotation_deg: FloatArray, axis: Axis, places: ArrayPlaces) -> Grid:
    rotation = np.radians(rotation_deg)
    cosine, sine = np.cos(rotation), np.sin(rotation)
    normal = np.multiply.outer(axis.centre_normal, cosine) + np.multiply.outer(axis.west, sine)
    return Grid(
        origin=places.off_axis_m * normal,
        across=np.multiply.outer(axis.west, cosine) - np.multiply.outer(axis.centre_normal, sine),
        along=axis.low_end,
        across_m=places.across_m,
        along_m=places.along_m,
    )
