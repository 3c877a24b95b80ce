"""Trees in three dimensions: which rays they meet, from any place on the rack.

A tree's crown is an ellipsoid, as broad as it is deep; a row is an upright, flat-topped screen. Places are metres east,
north and up of the middle of the rack's axis.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from trackersim.arrays import BoolArray, FloatArray, IndexArray
from trackersim.compiled import compiled, kept

Place = tuple[float, float, float]

AT_THE_AXIS: Place = (0.0, 0.0, 0.0)
# Rays this nearly parallel to a row's screen are taken to miss it: it has no thickness.
_GRAZING = 1e-9


@dataclass(frozen=True, kw_only=True)
class Crown:
    """One tree (`round_top`) or row; heights are relative to the rack's axis.

    `transmittance_by_day` (days,) is the share of light that passes on each simulated day. `facing_deg` is the true
    bearing at right angles to a row's length; None for a row that faces the rack, and for trees.
    """

    bearing_deg: float
    distance_m: float
    half_width_m: float
    base_m: float
    top_m: float
    round_top: bool
    transmittance_by_day: FloatArray
    facing_deg: float | None = None

    @property
    def centre_m(self) -> FloatArray:
        """Its middle (3,)."""
        bearing = np.radians(self.bearing_deg)
        level = self.distance_m * np.array([np.sin(bearing), np.cos(bearing)])
        return np.array([*level, (self.top_m + self.base_m) / 2])

    @property
    def radii_m(self) -> FloatArray:
        """Half its extent east, north and up (3,)."""
        return np.array([self.half_width_m, self.half_width_m, (self.top_m - self.base_m) / 2])

    @property
    def facing(self) -> FloatArray:
        """Level unit vector (3,) at right angles to a row's screen."""
        bearing = np.radians(self.bearing_deg if self.facing_deg is None else self.facing_deg)
        return np.array([np.sin(bearing), np.cos(bearing), 0.0])

    @property
    def nearest_m(self) -> float:
        """Level distance from the axis to its nearest part, or less; 0 over the axis."""
        if self.round_top:
            return max(self.distance_m - self.half_width_m, 0.0)
        return abs(float(self.centre_m @ self.facing))


@dataclass(frozen=True, kw_only=True)
class Grid:
    """Places on a moving plane at k instants: `origin` + u · `across` + v · `along`.

    `origin` and `across` are (3, k), the unit vector `along` is (3,); `across_m` and `along_m` (p,) are u and v of p
    places.
    """

    origin: FloatArray
    across: FloatArray
    along: FloatArray
    across_m: FloatArray
    along_m: FloatArray


def in_crown(direction: FloatArray, crown: Crown, *, from_m: Place = AT_THE_AXIS, margin_m: float = 0.0) -> BoolArray:
    """Whether the rays along `direction` (3, n) that start at `from_m` meet the crown (n,).

    With `margin_m` > 0 it is met whenever a ray from any place within that distance meets it, perhaps a little more
    often; with `margin_m` < 0 only when the rays from all such places do, perhaps a little less often.

    Parameters
    ----------
    direction : FloatArray
        Shape (3, n). Unit vectors toward the sun: east, north, up.
    crown : Crown
        The tree or row.
    from_m : Place
        Where the rays start [m]: east, north and up of the middle of the axis.
    margin_m : float
        Distance around the start within which all rays are meant [m]; see above.

    Returns
    -------
    BoolArray
        Shape (n,).
    """
    met = np.zeros(direction.shape[1], dtype=bool)
    place = np.array(from_m, dtype=float)
    _find_met(_shape(crown, margin_m), np.require(direction, float, ["C", "W"]), place, met)
    return met


def dim_grid(
    share: npt.NDArray[np.float32],
    rows: IndexArray,
    *,
    direction: FloatArray,
    crown: Crown,
    grid: Grid,
    passes: FloatArray,
) -> None:
    """Weaken the light at places of a grid wherever their rays meet the crown.

    Parameters
    ----------
    share : npt.NDArray[np.float32]
        Shape (m, p). Share of the beam at p places, multiplied in place.
    rows : IndexArray
        Shape (k,). Which of the m are the k instants.
    direction : FloatArray
        Shape (3, k). Unit vectors toward the sun, one an instant.
    crown : Crown
        The tree or row.
    grid : Grid
        p places at each of the k instants.
    passes : FloatArray
        Shape (k,). Share of the beam that passes the crown, 0…1.
    """
    _dim(
        _shape(crown, 0.0), np.require(direction, float, ["C", "W"]), grid.origin, grid.across, np.array(grid.along),
        grid.across_m, grid.along_m, passes.astype(np.float32), rows, share,
    )  # fmt: skip


class _Shape(NamedTuple):
    """A crown as numbers: an ellipsoid with half its extents, or a screen with a level vector toward its front.

    `margin_m` stands for all places within it, as `in_crown` has it; half the extents are stretched by it.
    """

    round_top: float
    centre_east_m: float
    centre_north_m: float
    centre_up_m: float
    half_width_m: float
    half_height_m: float
    facing_east: float
    facing_north: float
    margin_m: float


def _shape(crown: Crown, margin_m: float) -> tuple[float, ...]:
    width, _, height = crown.radii_m.tolist()
    stretch = max(1 + margin_m / min(width, height), 0.0) if crown.round_top else 1.0
    return tuple(
        float(each)
        for each in (
            crown.round_top, *crown.centre_m, width * stretch, height * stretch, *crown.facing[:2], margin_m,
        )
    )  # fmt: skip


@kept
def _find_met(shape: tuple[float, ...], direction: FloatArray, place: FloatArray, met: BoolArray) -> None:
    crown = _Shape(*shape)
    for n in range(len(met)):
        met[n] = _meets(crown, direction[0, n], direction[1, n], direction[2, n], place[0], place[1], place[2])


@kept
def _dim(
    shape: tuple[float, ...],
    direction: FloatArray,
    origin: FloatArray,
    across: FloatArray,
    along: FloatArray,
    across_m: FloatArray,
    along_m: FloatArray,
    passes: npt.NDArray[np.float32],
    rows: IndexArray,
    share: npt.NDArray[np.float32],
) -> None:
    crown = _Shape(*shape)
    for k in range(len(rows)):
        east, north, up = direction[0, k], direction[1, k], direction[2, k]
        for p in range(len(across_m)):
            u, v = across_m[p], along_m[p]
            from_east = origin[0, k] + u * across[0, k] + v * along[0]
            from_north = origin[1, k] + u * across[1, k] + v * along[1]
            from_up = origin[2, k] + u * across[2, k] + v * along[2]
            if _meets(crown, east, north, up, from_east, from_north, from_up):
                share[rows[k], p] *= passes[k]


@compiled
def _meets(
    crown: _Shape, east: float, north: float, up: float, from_east: float, from_north: float, from_up: float
) -> bool:
    """Whether a ray from a place, along a unit vector toward the sun, meets the crown."""
    from_east -= crown.centre_east_m
    from_north -= crown.centre_north_m
    from_up -= crown.centre_up_m
    if crown.round_top:
        return _meets_ellipsoid(crown, east, north, up, from_east, from_north, from_up)
    return _meets_screen(crown, east, north, up, from_east, from_north, from_up)


@compiled
def _meets_ellipsoid(
    crown: _Shape, east: float, north: float, up: float, from_east: float, from_north: float, from_up: float
) -> bool:
    """From a place seen from its centre: in space stretched so that it is the unit sphere."""
    width_m, height_m = crown.half_width_m, crown.half_height_m
    if not (width_m > 0 and height_m > 0):
        return False
    east, north, up = east / width_m, north / width_m, up / height_m
    from_east, from_north, from_up = from_east / width_m, from_north / width_m, from_up / height_m
    outside = from_east * from_east + from_north * from_north + from_up * from_up - 1
    if outside <= 0:
        return True
    toward = from_east * east + from_north * north + from_up * up
    return toward < 0 and toward * toward >= (east * east + north * north + up * up) * outside


@compiled
def _meets_screen(
    crown: _Shape, east: float, north: float, up: float, from_east: float, from_north: float, from_up: float
) -> bool:
    """From a place seen from its middle: where the ray passes through the plane of the screen."""
    ahead_m = -(from_east * crown.facing_east + from_north * crown.facing_north)
    if abs(ahead_m) <= abs(crown.margin_m):  # it stands among the places: it may be before some and behind others
        return crown.margin_m > 0
    forward = crown.facing_east * east + crown.facing_north * north
    if (forward if ahead_m > 0 else -forward) <= _GRAZING:
        return False
    stretch, slack = ahead_m / forward, crown.margin_m / abs(forward)
    # Along its length, to the right of someone who faces it.
    beside = from_east * crown.facing_north - from_north * crown.facing_east
    beside += stretch * (east * crown.facing_north - north * crown.facing_east)
    return abs(beside) <= crown.half_width_m + slack and abs(from_up + stretch * up) <= crown.half_height_m + slack


def highest_sine(crowns: Sequence[Crown], *, margin_m: float = 0.0) -> float:
    """Sine of an elevation above which no crown stands, seen from any place within `margin_m` of the axis's middle.

    Parameters
    ----------
    crowns : Sequence[Crown]
        Trees and rows, places relative to the rack's axis.
    margin_m : float
        Distance from the middle of the axis within which the places lie [m].

    Returns
    -------
    float
        0…1; 0 without crowns.
    """
    tops = [np.arctan2(max(crown.top_m + margin_m, 0.0), max(crown.nearest_m - margin_m, 0.0)) for crown in crowns]
    return float(np.sin(max([0.0, *tops])))
