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

from trackersim.arrays import BoolArray, FloatArray, IndexArray, check_array
from trackersim.compiled import compiled, kept
from trackersim.errors import Fault, InputError

Place = tuple[float, float, float]

AT_THE_AXIS: Place = (0.0, 0.0, 0.0)
# Rays this nearly parallel to a row's screen are taken to miss it: it has no thickness.
_GRAZING = 1e-9


@dataclass(frozen=True, kw_only=True)
class Crown:
    """One tree (`round_top`) or row; heights are relative to the rack's axis.

    `transmittance_by_day` (days,) is the share of light that passes on each simulated day. `facing_deg` is the true
    bearing at right angles to a row's length; None for a row that faces the rack, and for trees. Raises `InputError`
    for a crown that no tree can have.
    """

    bearing_deg: float
    distance_m: float
    half_width_m: float
    base_m: float
    top_m: float
    round_top: bool
    transmittance_by_day: FloatArray
    facing_deg: float | None = None

    def __post_init__(self) -> None:
        passes = self.transmittance_by_day
        sound = {
            "bearing_deg": np.isfinite(self.bearing_deg),
            "distance_m": 0 <= self.distance_m < np.inf,
            "half_width_m": 0 < self.half_width_m < np.inf,
            "base_m": np.isfinite(self.base_m),
            "top_m": self.base_m <= self.top_m < np.inf,
            "transmittance_by_day": isinstance(passes, np.ndarray)
            and passes.ndim == 1
            and bool(((passes >= 0) & (passes <= 1)).all()),
            "facing_deg": self.facing_deg is None or np.isfinite(self.facing_deg),
        }
        remedy = "Distance is 0 or more, width above 0, the top not below the base; an array (days,) of shares 0 to 1."
        faults = [
            Fault(field=f"crown.{name}", value=getattr(self, name), reason="is that of no crown.", remedy=remedy)
            for name, is_sound in sound.items()
            if not is_sound
        ]
        if faults:
            raise InputError(faults)

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

    Raises
    ------
    InputError
        For a `direction` of another shape, or with what is no finite number.
    """
    check_array("direction", direction, (3, "n"))
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

    Returns
    -------
    None
        All is written into `share`.
    """
    _dim(
        _shape(crown, 0.0), np.require(direction, float, ["C", "W"]), grid.origin, grid.across, np.array(grid.along),
        grid.across_m, grid.along_m, passes.astype(np.float32), rows, share,
    )  # fmt: skip


class _Shape(NamedTuple):
    """A crown as numbers: an ellipsoid with half its extents, or a screen with a level vector toward its front.

    `margin_m` stands for all places within it, as `in_crown` has it; the extents of an ellipsoid are stretched by it.
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
    east, north, up = crown.centre_m.tolist()
    front_east, front_north, _ = crown.facing.tolist()
    return (
        float(crown.round_top), east, north, up, width * stretch, height * stretch, front_east, front_north,
        float(margin_m),
    )  # fmt: skip


@kept
def _find_met(shape: tuple[float, ...], direction: FloatArray, place: FloatArray, met: BoolArray) -> None:
    crown = _Shape(*shape)
    start = _seen_from(crown, _Vector(place[0], place[1], place[2]))
    for n in range(len(met)):
        met[n] = _meets(crown, start, _stretched(crown, _Vector(direction[0, n], direction[1, n], direction[2, n])))


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
    down = _stretched(crown, _Vector(along[0], along[1], along[2]))
    for k in range(len(rows)):
        ray = _stretched(crown, _Vector(direction[0, k], direction[1, k], direction[2, k]))
        middle = _seen_from(crown, _Vector(origin[0, k], origin[1, k], origin[2, k]))
        side = _stretched(crown, _Vector(across[0, k], across[1, k], across[2, k]))
        row = share[rows[k]]
        for p in range(len(across_m)):
            u, v = across_m[p], along_m[p]
            start = _Vector(
                middle.east + u * side.east + v * down.east,
                middle.north + u * side.north + v * down.north,
                middle.up + u * side.up + v * down.up,
            )
            if _meets(crown, start, ray):
                row[p] *= passes[k]


class _Vector(NamedTuple):
    """A place or a direction; seen from an ellipsoid, in space stretched so that that is the unit sphere."""

    east: float
    north: float
    up: float


@compiled
def _seen_from(crown: _Shape, place: _Vector) -> _Vector:
    """A place seen from the crown's centre."""
    return _stretched(
        crown,
        _Vector(place.east - crown.centre_east_m, place.north - crown.centre_north_m, place.up - crown.centre_up_m),
    )


@compiled
def _stretched(crown: _Shape, vector: _Vector) -> _Vector:
    if not crown.round_top:
        return vector
    width_m, height_m = crown.half_width_m, crown.half_height_m
    return _Vector(vector.east / width_m, vector.north / width_m, vector.up / height_m)


@compiled
def _meets(crown: _Shape, start: _Vector, ray: _Vector) -> bool:
    """Whether a ray meets the crown, from a place seen from there."""
    if crown.round_top:
        if not (crown.half_width_m > 0 and crown.half_height_m > 0):  # none is left of it
            return False
        outside = start.east * start.east + start.north * start.north + start.up * start.up - 1
        toward = start.east * ray.east + start.north * ray.north + start.up * ray.up
        length = ray.east * ray.east + ray.north * ray.north + ray.up * ray.up
        return outside <= 0 or (toward < 0 and toward * toward >= length * outside)
    return _meets_screen(crown, start, ray)


@compiled
def _meets_screen(crown: _Shape, start: _Vector, ray: _Vector) -> bool:
    """Where the ray passes through the plane of the screen."""
    ahead_m = -(start.east * crown.facing_east + start.north * crown.facing_north)
    if abs(ahead_m) <= abs(crown.margin_m):  # it stands among the places: it may be before some and behind others
        return crown.margin_m > 0
    forward = crown.facing_east * ray.east + crown.facing_north * ray.north
    if (forward if ahead_m > 0 else -forward) <= _GRAZING:
        return False
    stretch, slack = ahead_m / forward, crown.margin_m / abs(forward)
    # Along its length, to the right of someone who faces it.
    beside_m = start.east * crown.facing_north - start.north * crown.facing_east
    beside_m += stretch * (ray.east * crown.facing_north - ray.north * crown.facing_east)
    above_m = start.up + stretch * ray.up
    return abs(beside_m) <= crown.half_width_m + slack and abs(above_m) <= crown.half_height_m + slack


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
