"""Horizon and trees: which share of the beam passes, and which share of the sky a tilted plane still sees.

Light that passes several crowns is weakened by each.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from trackersim.arrays import BoolArray, FloatArray, IndexArray, check_array
from trackersim.sky.crowns import AT_THE_AXIS, Crown, Place, highest_sine, in_crown

# Leaves come and go over this many days before the dates of full leaf and of bare branches (assumption).
_LEAFING_DAYS = 14.0
_PATCH_ELEVATION_DEG = 0.5
_PATCH_AZIMUTH_DEG = 1.0
# The band near the horizon whose brightening the sky model speaks of (Perez et al., Solar Energy 39, 1987).
_HORIZON_BAND_DEG = 6.5


@dataclass(frozen=True, kw_only=True)
class HorizonProfile:
    """Far horizon: rising true bearings in 0…360° and the elevation at each, joined by straight lines."""

    bearing_deg: FloatArray
    elevation_deg: FloatArray


def leaf_share(day_of_year: npt.ArrayLike, *, leaf_on_day: int, leaf_off_day: int) -> FloatArray:
    """Share of full leaf, 0…1: full from `leaf_on_day`, bare from `leaf_off_day`, 14-day ramps before each.

    Parameters
    ----------
    day_of_year : npt.ArrayLike
        Any shape. Day of the year, 1…366.
    leaf_on_day : int
        Day of the year of full leaf.
    leaf_off_day : int
        Day of the year of bare branches.

    Returns
    -------
    FloatArray
        Shape of `day_of_year`; 0…1.
    """
    days = [leaf_on_day - _LEAFING_DAYS, leaf_on_day, leaf_off_day - _LEAFING_DAYS, leaf_off_day]
    return np.asarray(np.interp(np.asarray(day_of_year, dtype=float), days, [0.0, 1.0, 1.0, 0.0], period=365))


def horizon_elevation_deg(bearing_deg: npt.ArrayLike, horizon: HorizonProfile | None) -> FloatArray:
    """Elevation of the far horizon at `bearing_deg`, looked up around the full circle.

    Parameters
    ----------
    bearing_deg : npt.ArrayLike
        Any shape. True bearing [degrees].
    horizon : HorizonProfile | None
        The far horizon; None for an open, level one.

    Returns
    -------
    FloatArray
        Shape of `bearing_deg`; elevation [degrees], 0 for an open horizon.
    """
    if horizon is None or not len(horizon.bearing_deg):
        return np.zeros(np.shape(bearing_deg))
    return np.asarray(
        np.interp(np.asarray(bearing_deg, dtype=float), horizon.bearing_deg, horizon.elevation_deg, period=360)
    )


def behind_horizon(direction: FloatArray, horizon: HorizonProfile | None) -> BoolArray:
    """Whether each `direction` (3, n) points below the far horizon (n,).

    Parameters
    ----------
    direction : FloatArray
        Shape (3, n). Unit vectors toward the sun: east, north, up.
    horizon : HorizonProfile | None
        The far horizon; None for an open, level one.

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
    if horizon is None or not len(horizon.bearing_deg):
        return np.zeros(direction.shape[1], dtype=bool)
    azimuth = np.degrees(np.arctan2(direction[0], direction[1]))
    return np.asarray(np.degrees(np.arcsin(direction[2])) < horizon_elevation_deg(azimuth, horizon))


def beam_share(
    direction: FloatArray,
    day: npt.NDArray[np.integer],
    crowns: Sequence[Crown],
    horizon: HorizonProfile | None = None,
    *,
    from_m: Place = AT_THE_AXIS,
) -> FloatArray:
    """Share of the direct beam, 0…1 (n,), that reaches a place `from_m` metres (east, north, up) from the axis.

    `direction` (3, n) points to the sun, `day` (n,) is its row in `transmittance_by_day`. Exactly 1 where
    nothing stands in the way.

    Parameters
    ----------
    direction : FloatArray
        Shape (3, n). Unit vectors toward the sun: east, north, up.
    day : npt.NDArray[np.integer]
        Shape (n,). Row of each instant in `transmittance_by_day`.
    crowns : Sequence[Crown]
        Trees and rows, places relative to the rack's axis.
    horizon : HorizonProfile | None
        The far horizon; None for an open, level one.
    from_m : Place
        Where the rays start [m]: east, north and up of the middle of the axis.

    Returns
    -------
    FloatArray
        Shape (n,); 0…1.

    Raises
    ------
    InputError
        For arrays of other shapes, and for a `day` that the crowns have no transmittance of.
    """
    check_array("direction", direction, (3, "n"))
    share = np.ones(direction.shape[1])
    last = min((len(crown.transmittance_by_day) - 1 for crown in crowns), default=np.inf)
    check_array("day", day, share.shape, least=0, most=last)
    low = _not_above(direction, crowns, within_m=float(np.linalg.norm(from_m)))
    for crown in crowns:
        hit = low[in_crown(direction[:, low], crown, from_m=from_m)]
        share[hit] *= crown.transmittance_by_day[day[hit]]
    share[behind_horizon(direction, horizon)] = 0.0
    return share


def near_crowns(direction: FloatArray, crowns: Sequence[Crown], *, within_m: float) -> IndexArray:
    """Instants at which a crown may stand before some place around the middle of the axis.

    Parameters
    ----------
    direction : FloatArray
        Shape (3, n). Unit vectors toward the sun: east, north, up.
    crowns : Sequence[Crown]
        Trees and rows, places relative to the rack's axis.
    within_m : float
        How far such places lie from the middle of the axis [m].

    Returns
    -------
    IndexArray
        Shape (k,), rising: all instants at which the sun is behind a crown for a place, and perhaps some more.

    Raises
    ------
    InputError
        For a `direction` of another shape, or with what is no finite number.
    """
    check_array("direction", direction, (3, "n"))
    low = _not_above(direction, crowns, within_m=within_m)
    before = np.zeros(len(low), dtype=bool)
    for crown in crowns:
        before |= in_crown(direction[:, low], crown, margin_m=within_m)
    return low[before]


def _not_above(direction: FloatArray, crowns: Sequence[Crown], *, within_m: float) -> IndexArray:
    """Instants (k,) of suns (3, n) that do not stand above every crown, which need not be looked at one by one."""
    return np.flatnonzero(direction[2] <= highest_sine(crowns, margin_m=within_m + 0.01))


@dataclass(frozen=True, kw_only=True)
class SkyView:
    """What a plane still sees, tabulated over its normals (k) and over kinds of day (j).

    `sky_share` (k, j): isotropic sky seen, relative to an open horizon. `horizon_share` (k, j): brightened horizon
    band seen, likewise. `kind_of_day` (days,) gives j for each simulated day.
    """

    sky_share: FloatArray
    horizon_share: FloatArray
    kind_of_day: IndexArray


def sky_view(normals: FloatArray, days: int, crowns: Sequence[Crown], horizon: HorizonProfile | None = None) -> SkyView:
    """Integrate the covered part of the dome for each of the `normals` (3, k), once per distinct day.

    Patches of 0.5° by 1° with exact solid-angle moments; the open sky is the closed form π(1 + cos β)/2, so without
    trees the shares are exactly 1. Accuracy 1e-4 for horizons that follow the grid, about 1e-3 for trees.

    Parameters
    ----------
    normals : FloatArray
        Shape (3, k). Unit normals of the plane: east, north, up.
    days : int
        Simulated days; as many as `transmittance_by_day` has.
    crowns : Sequence[Crown]
        Trees and rows, places relative to the rack's axis.
    horizon : HorizonProfile | None
        The far horizon; None for an open, level one.

    Returns
    -------
    SkyView
        Shares 0…1 for each normal and each kind of day.

    Raises
    ------
    InputError
        For `normals` of another shape, and for crowns of another number of days.
    """
    check_array("normals", normals, (3, "k"))
    for crown in crowns:
        check_array("crown.transmittance_by_day", crown.transmittance_by_day, (days,))
    kinds, kind_of_day = _kinds_of_day(crowns, days)
    directions, moments = _dome()
    hidden = behind_horizon(directions, horizon)
    hits = [in_crown(directions, crown) for crown in crowns]
    touched = np.flatnonzero(np.any([hidden, *hits], axis=0))
    passes = np.ones((kinds.shape[1], len(touched)))
    for passed, hit in zip(kinds, hits, strict=True):
        passes[:, hit[touched]] *= passed[:, None]
    passes[:, hidden[touched]] = 0.0
    low = directions[2] < np.sin(np.radians(_HORIZON_BAND_DEG))
    seen, in_band = _seen(normals, moments[:, touched]), low[touched]
    open_sky = np.pi * (1 + normals[2]) / 2
    band = _seen(normals, moments[:, low]).sum(axis=1)
    return SkyView(
        sky_share=_open_share(seen, 1 - passes, open_sky),
        horizon_share=_open_share(seen[:, in_band], 1 - passes[:, in_band], band),
        kind_of_day=kind_of_day,
    )


def _seen(normals: FloatArray, moments: FloatArray) -> FloatArray:
    """What each plane (k) sees of each patch (p), none of those behind it: (k, p)."""
    return np.asarray(np.maximum(np.einsum("ik,ip->kp", normals, moments), 0.0))


def _open_share(seen: FloatArray, covered: FloatArray, whole: FloatArray) -> FloatArray:
    """Share (k, j) of what planes see in `whole` (k,) that is left of patches seen (k, p) and covered (j, p).

    Not by the matrix routine, whose threads cost more than so small a product.
    """
    lost = np.einsum("kp,jp->kj", seen, covered)
    return np.asarray(
        np.clip(1 - np.divide(lost, whole[:, None], out=np.zeros_like(lost), where=whole[:, None] > 1e-12), 0, 1)
    )


def _kinds_of_day(crowns: Sequence[Crown], days: int) -> tuple[FloatArray, IndexArray]:
    """Distinct columns of transmission (crowns, kinds), and which kind each day is."""
    if not crowns:
        return np.ones((0, 1)), np.zeros(days, dtype=np.intp)
    by_day = np.stack([crown.transmittance_by_day for crown in crowns])
    kinds, kind_of_day = np.unique(np.round(by_day, 6), axis=1, return_inverse=True)
    return kinds, kind_of_day.reshape(-1)


def _dome() -> tuple[FloatArray, FloatArray]:
    """Centre direction (3, p) and exact moment ∫ s dΩ (3, p) of every patch of the upper half-sphere."""
    elevation = np.radians(np.arange(0, 90 + _PATCH_ELEVATION_DEG / 2, _PATCH_ELEVATION_DEG))
    azimuth = np.radians(np.arange(0, 360 + _PATCH_AZIMUTH_DEG / 2, _PATCH_AZIMUTH_DEG))
    level = (np.diff(elevation) / 2 + np.diff(np.sin(2 * elevation)) / 4)[:, None]
    upward = (np.diff(np.sin(elevation) ** 2) / 2)[:, None]
    moments = np.stack([level * -np.diff(np.cos(azimuth)), level * np.diff(np.sin(azimuth)), upward * np.diff(azimuth)])
    mid_e = ((elevation[:-1] + elevation[1:]) / 2)[:, None]
    mid_a = (azimuth[:-1] + azimuth[1:]) / 2
    centres = np.stack(
        [np.cos(mid_e) * np.sin(mid_a), np.cos(mid_e) * np.cos(mid_a), np.sin(mid_e) * np.ones_like(mid_a)]
    )
    return centres.reshape(3, -1), moments.reshape(3, -1)
