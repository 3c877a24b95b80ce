"""The axis that a rack turns on, and the sun along it in a scene."""

from __future__ import annotations

from dataclasses import dataclass

from trackersim.arrays import FloatArray
from trackersim.job.model import Job
from trackersim.rack.geometry import Axis, sun_on_axis
from trackersim.simulation.reuse import Reuse, worked_anew
from trackersim.simulation.scene import Scene


@dataclass(frozen=True, kw_only=True, eq=False)
class Orientation:
    """One axis in a scene, and the sun along it at all minutes.

    `sun_rotation_deg` (days · 1440,) is the true-tracking angle, west positive; `reach` (days · 1440,) the cosine of
    incidence at that angle.
    """

    axis: Axis
    sun_rotation_deg: FloatArray
    reach: FloatArray


def axis_of(unit: Job) -> Axis:
    """The axis that the rack turns on; of a fixed plane, the axis at the plane's own tilt and azimuth.

    Parameters
    ----------
    unit : Job
        A job of one unit; its rack, and the side of the equator, are read.

    Returns
    -------
    Axis
        Tilt and azimuth of the axis.
    """
    rack, azimuth, tilt = unit.rack, unit.axis_azimuth_deg, unit.rack.axis_tilt_taken_deg
    if rack.kind == "fixed":
        tilt = tilt if rack.fixed_tilt_deg is None else rack.fixed_tilt_deg
        azimuth = azimuth if rack.fixed_azimuth_deg is None else rack.fixed_azimuth_deg
    return Axis(azimuth_deg=azimuth, tilt_deg=tilt)


def orientation_of(unit: Job, scene: Scene, *, reuse: Reuse = worked_anew) -> Orientation:
    """The rack's axis in the scene.

    Parameters
    ----------
    unit : Job
        A job of one unit.
    scene : Scene
        Where the sun and the trees stand at every sun-up minute.
    reuse : Reuse
        Keeps what other jobs share; by default nothing is kept.

    Returns
    -------
    Orientation
        True-tracking angle and reach at all minutes.
    """
    axis = axis_of(unit)
    sun_rotation, reach = reuse("axis", (scene.place.key, axis), lambda: sun_on_axis(scene.sun.direction, axis))
    return Orientation(axis=axis, sun_rotation_deg=sun_rotation, reach=reach)
