"""The job's trees and horizon as the rack sees them: true bearings, heights relative to the axis, leaves by day."""

from __future__ import annotations

import datetime as dt

import numpy as np
import numpy.typing as npt

from trackersim.arrays import FloatArray
from trackersim.errors import Notice
from trackersim.job.model import Job
from trackersim.job.place import BearingFrom, Tree
from trackersim.sky.crowns import Crown
from trackersim.sky.trees import HorizonProfile, horizon_elevation_deg, leaf_share

# Full leaf and bare branches where the job gives no dates (assumption for mid latitudes; half a year later south).
_LEAF_ON, _LEAF_OFF = "04-20", "11-01"
_HALF_YEAR_DAYS = 182
_TROPIC_DEG = 23.44
# A stretch of horizon without a measured point is joined by a straight line up to this width, beyond it is level.
_WIDEST_STRETCH_DEG = 90.0
_EDGE_DEG = 0.5


def crowns_of(job: Job, day_of_year: npt.NDArray[np.integer]) -> tuple[Crown, ...]:
    """The job's trees as the rack sees them.

    Parameters
    ----------
    job : Job
        Its trees, rack height, slope and declination are read.
    day_of_year : npt.NDArray[np.integer]
        Shape (days,). Day of the year of each simulated day.

    Returns
    -------
    tuple[Crown, ...]
        True bearings, heights relative to the rack's axis, and transmittance of each day.
    """
    return tuple(_crown(job, tree, day_of_year) for tree in job.trees)


def _crown(job: Job, tree: Tree, day_of_year: npt.NDArray[np.integer]) -> Crown:
    bearing_deg = _true_bearing_deg(tree.bearing_deg, tree.bearing_from, job)
    ground_m = tree.ground_m if tree.ground_m is not None else float(_ground_rise(job, bearing_deg)) * tree.distance_m
    lift_m = ground_m - job.rack.height_m
    runs_deg = tree.runs_deg
    return Crown(
        bearing_deg=bearing_deg,
        distance_m=tree.distance_m,
        half_width_m=tree.width_m / 2,
        base_m=tree.crown_base_m + lift_m,
        top_m=tree.height_m + lift_m,
        round_top=tree.kind == "tree",
        facing_deg=None if runs_deg is None else _true_bearing_deg(runs_deg, tree.bearing_from, job) + 90,
        transmittance_by_day=tree.transmittance_leaf_off
        + (tree.transmittance_leaf_on - tree.transmittance_leaf_off) * _leaf_share(tree, job, day_of_year),
    )


def _leaf_share(tree: Tree, job: Job, day_of_year: npt.NDArray[np.integer]) -> FloatArray:
    if tree.leaf == "evergreen":
        return np.ones(len(day_of_year))
    if tree.leaf_on is not None and tree.leaf_off is not None:
        on, off = _day(tree.leaf_on), _day(tree.leaf_off)
    elif abs(job.site.latitude_deg) < _TROPIC_DEG:
        return np.ones(len(day_of_year))
    else:
        on, off = _assumed_leaf_days(job)
    return leaf_share(day_of_year, leaf_on_day=on, leaf_off_day=off)


def _assumed_leaf_days(job: Job) -> tuple[int, int]:
    """Days of the year, the first in full leaf and the first bare; south of the equator one may lie in the next."""
    shift = 0 if job.site.latitude_deg > 0 else _HALF_YEAR_DAYS
    return _day(_LEAF_ON) + shift, _day(_LEAF_OFF) + shift


def _day(month_day: str) -> int:
    return dt.date.fromisoformat(f"2025-{month_day}").timetuple().tm_yday


def _true_bearing_deg(bearing_deg: float, bearing_from: BearingFrom, job: Job) -> float:
    return (bearing_deg + job.site.to_true_deg(bearing_from)) % 360


def _ground_rise(job: Job, bearing_deg: npt.ArrayLike) -> FloatArray:
    """Metres that the sloping ground rises per metre toward a true bearing; below 0 downhill."""
    steepest = np.tan(np.radians(job.site.slope_deg))
    return np.asarray(-steepest * np.cos(np.radians(np.asarray(bearing_deg) - job.site.downhill_deg)))


def horizon_of(job: Job) -> HorizonProfile | None:
    """The job's far horizon and the hillside it stands on, whichever is higher.

    Parameters
    ----------
    job : Job
        Its horizon, slope and declination are read.

    Returns
    -------
    HorizonProfile | None
        None where both are level all round.
    """
    measured = _measured_horizon(job)
    if job.site.slope_deg == 0:
        return measured
    bearing = np.arange(0.0, 360.0, 2.0)
    if measured is not None:
        bearing = np.union1d(bearing, measured.bearing_deg % 360)
    hillside = np.degrees(np.arctan(np.maximum(_ground_rise(job, bearing), 0.0)))
    return HorizonProfile(
        bearing_deg=bearing, elevation_deg=np.maximum(hillside, horizon_elevation_deg(bearing, measured))
    )


def _measured_horizon(job: Job) -> HorizonProfile | None:
    if not any(elevation > 0 for _, elevation in job.horizon.points):
        return None
    points = sorted(
        (_true_bearing_deg(bearing, job.horizon.bearing_from, job), elevation)
        for bearing, elevation in job.horizon.points
    )
    points = sorted(
        point for before, point in zip([points[-1], *points], points, strict=False) for point in _joined(before, point)
    )
    return HorizonProfile(bearing_deg=np.array([p[0] for p in points]), elevation_deg=np.array([p[1] for p in points]))


def _joined(before: tuple[float, float], point: tuple[float, float]) -> list[tuple[float, float]]:
    """A measured point, and the level ends of the stretch before it if nothing was measured there for long."""
    gap = (point[0] - before[0]) % 360 or 360.0
    if gap <= _WIDEST_STRETCH_DEG:
        return [point]
    return [((before[0] + _EDGE_DEG) % 360, 0.0), ((point[0] - _EDGE_DEG) % 360, 0.0), point]


def _has_unmeasured_stretch(job: Job) -> bool:
    bearings = sorted(bearing % 360 for bearing, _ in job.horizon.points)
    gaps = [
        (after - before) % 360 or 360.0 for before, after in zip(bearings, [*bearings[1:], *bearings[:1]], strict=True)
    ]
    return bool(gaps) and max(gaps) > _WIDEST_STRETCH_DEG


def obstacle_notices(job: Job, *, cut_by_hills: bool = False) -> tuple[Notice, ...]:
    """Remarks on what was assumed about trees and bearings.

    Parameters
    ----------
    job : Job
        The job simulated.
    cut_by_hills : bool
        Whether its weather is without the sun that the terrain hides already.

    Returns
    -------
    tuple[Notice, ...]
        Remarks, and a caution where bearings may be wrong.
    """
    notices = []
    undated = [
        tree.name or f"tree {n + 1}" for n, tree in enumerate(job.trees) if tree.leaf == "leafy" and not tree.leaf_on
    ]
    if undated and abs(job.site.latitude_deg) < _TROPIC_DEG:
        text = f"In the tropics, and without leaf dates, {', '.join(undated)} stays in leaf all year."
        notices.append(Notice(text=text, field="trees"))
    elif undated:
        on, off = (f"{dt.date(2025, 1, 1) + dt.timedelta(day - 1):%m-%d}" for day in _assumed_leaf_days(job))
        text = f"No leaf dates given for {', '.join(undated)}: full leaf from {on}, bare from {off} is assumed."
        notices.append(Notice(text=text, field="trees"))
    if horizon_of(job) is not None and _has_unmeasured_stretch(job):
        text = f"Where the horizon has no point for more than {_WIDEST_STRETCH_DEG:.0f}°, it is taken as level."
        notices.append(Notice(text=text, field="horizon.points"))
    if horizon_of(job) is not None and cut_by_hills:
        text = (
            "The weather file is already without the sun behind the hills, by its maker's terrain, and the job's "
            "horizon takes it away again: some per cent too little water among hills. Fetch the weather anew, or take "
            "the horizon's points out."
        )
        notices.append(Notice(text=text, field="horizon.points", level="caution"))
    magnetic = job.horizon.bearing_from == "magnetic" or any(tree.bearing_from == "magnetic" for tree in job.trees)
    if magnetic and job.site.magnetic_declination_deg == 0:
        text = "Bearings are magnetic but magnetic_declination is 0: they were used as true bearings."
        notices.append(Notice(text=text, field="site.magnetic_declination", level="caution"))
    elif not magnetic and job.site.magnetic_declination_deg != 0 and (job.trees or job.horizon.points):
        text = (
            "magnetic_declination is given, but no bearing is marked as a compass's (bearing_from): they were used as "
            "true bearings."
        )
        notices.append(Notice(text=text, field="site.magnetic_declination", level="caution"))
    return tuple(notices)
