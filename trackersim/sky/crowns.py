"""Trees in three dimensions: which rays they meet, from any place on the rack.

A tree's crown is an ellipsoid, as broad as it is deep; a row is an upright, flat-topped screen. Places are metres east,
north and up of the middle of the rack's axis.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from trackersim.arrays import BoolArray, FloatArray, component

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
    def along(self) -> FloatArray:
        """Level unit vector (3,) along a row's length."""
        facing = self.facing
        return np.array([facing[1], -facing[0], 0.0])

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
    start = np.asarray(from_m, dtype=float)
    if crown.round_top:
        stretch = 1 + margin_m / float(crown.radii_m.min())
        if stretch <= 0:
            return np.zeros(direction.shape[1], dtype=bool)
        return _meets_ellipsoid(
            direction, (start - crown.centre_m) / (crown.radii_m * stretch), crown.radii_m * stretch
        )
    return _meets_screen(direction, crown, start, margin_m)


def _meets_ellipsoid(direction: FloatArray, offset: FloatArray, radii_m: FloatArray) -> BoolArray:
    """The unit sphere in stretched space: `offset` (3,) is the start seen from the centre there."""
    sky = direction / radii_m[:, None]
    toward = component(offset, sky)
    outside = float(offset @ offset) - 1
    if outside <= 0:
        return np.ones(direction.shape[1], dtype=bool)
    return np.asarray((toward < 0) & (toward**2 >= (sky * sky).sum(axis=0) * outside))


def _meets_screen(direction: FloatArray, crown: Crown, start: FloatArray, margin_m: float) -> BoolArray:
    ahead_m = float((crown.centre_m - start) @ crown.facing)
    if abs(ahead_m) <= abs(margin_m):  # the screen stands among the places: it may be before some and behind others
        return np.full(direction.shape[1], margin_m > 0)
    forward = component(crown.facing, direction)
    seen = forward * np.sign(ahead_m) > _GRAZING
    stretch = np.divide(ahead_m, forward, out=np.zeros_like(forward), where=seen)
    across = float((start - crown.centre_m) @ crown.along) + stretch * (component(crown.along, direction))
    height = start[2] + stretch * direction[2]
    slack = np.divide(margin_m, np.abs(forward), out=np.zeros_like(forward), where=seen)
    return np.asarray(
        seen
        & (np.abs(across) <= crown.half_width_m + slack)
        & (height >= crown.base_m - slack)
        & (height <= crown.top_m + slack)
    )


def grid_in_crown(direction: FloatArray, crown: Crown, grid: Grid) -> BoolArray:
    """Whether the ray along each `direction` (3, k) meets the crown from each place of `grid` (p, k).

    Worked in single precision: places are good to a few micrometres.

    Parameters
    ----------
    direction : FloatArray
        Shape (3, k). Unit vectors toward the sun, one an instant.
    crown : Crown
        The tree or row.
    grid : Grid
        p places at each of the k instants.

    Returns
    -------
    BoolArray
        Shape (k, p).
    """
    return (
        _grid_meets_ellipsoid(direction, crown, grid) if crown.round_top else _grid_meets_screen(direction, crown, grid)
    )


def _grid_meets_ellipsoid(direction: FloatArray, crown: Crown, grid: Grid) -> BoolArray:
    """As `_meets_ellipsoid`; what depends on the place is linear or quadratic in u and v: one matrix product each."""
    radii = crown.radii_m[:, None]
    sky = direction / radii
    sky /= np.sqrt(_dot(sky, sky))
    start, across = (grid.origin - crown.centre_m[:, None]) / radii, grid.across / radii
    along = grid.along / crown.radii_m
    u, v = grid.across_m, grid.along_m
    toward = _product([np.ones_like(u), u, v], [_dot(start, sky), _dot(across, sky), component(along, sky)])
    outside = _product(
        [np.ones_like(u), u, v, u * u, u * v, v * v],
        [
            _dot(start, start) - 1,
            2 * _dot(start, across),
            2 * component(along, start),
            _dot(across, across),
            2 * component(along, across),
            np.full(direction.shape[1], along @ along),
        ],
    )
    meets = toward < 0
    toward *= toward
    meets &= toward >= outside
    meets |= outside <= 0
    return meets


def _grid_meets_screen(direction: FloatArray, crown: Crown, grid: Grid) -> BoolArray:
    """As `_meets_screen`; distance ahead, place beside the middle and height are linear in u and v."""
    places = [np.ones_like(grid.across_m), grid.across_m, grid.along_m]
    offset = crown.centre_m[:, None] - grid.origin
    level = np.ones(direction.shape[1])
    forward = component(crown.facing, direction)
    forward = np.where(np.abs(forward) > _GRAZING, forward, np.inf)
    ahead = [
        component(crown.facing, offset),
        -component(crown.facing, grid.across),
        -(crown.facing @ grid.along) * level,
    ]
    stretch = [part / forward for part in ahead]
    beside = [
        -component(crown.along, offset),
        component(crown.along, grid.across),
        (crown.along @ grid.along) * level,
    ]
    height = [grid.origin[2], grid.across[2], grid.along[2] * level]
    aside, rise = component(crown.along, direction), direction[2]
    meets = _product(places, stretch) > 0
    meets &= (
        np.abs(_product(places, [b + s * aside for b, s in zip(beside, stretch, strict=True)])) <= crown.half_width_m
    )
    at = _product(places, [h + s * rise for h, s in zip(height, stretch, strict=True)])
    meets &= at >= crown.base_m
    meets &= at <= crown.top_m
    return meets


def _product(places: list[FloatArray], factors: list[FloatArray]) -> npt.NDArray[np.float32]:
    """Σ place · factor (k, p). Not by the matrix routine, whose threads cost more than so thin a product."""
    by_place, by_instant = np.stack(places).astype(np.float32), np.stack(factors, axis=1).astype(np.float32)
    return np.asarray(np.einsum("kj,jp->kp", by_instant, by_place))


def _dot(one: FloatArray, other: FloatArray) -> FloatArray:
    return np.asarray((one * other).sum(axis=0))


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
