"""The axis of a rack, and the sun as seen along it.

Rotation is + to the west of centre and − to the east, everywhere. `west_sign` says where the right-hand rule about the
axis, pvlib's, has the other sign.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from trackersim.arrays import FloatArray, check_array, component


@dataclass(frozen=True, kw_only=True)
class Axis:
    """A rotation axis whose low end points to compass `azimuth_deg` and lies `tilt_deg` below level.

    A fixed plane is an axis at the plane's own azimuth and tilt, with the rack at rotation 0.
    """

    azimuth_deg: float
    tilt_deg: float

    @property
    def centre_normal(self) -> FloatArray:
        """Unit normal (east, north, up) of the plane at rotation 0."""
        azimuth, tilt = np.radians([self.azimuth_deg, self.tilt_deg])
        return np.array([np.sin(azimuth) * np.sin(tilt), np.cos(azimuth) * np.sin(tilt), np.cos(tilt)])

    @property
    def west(self) -> FloatArray:
        """Unit vector, level and at right angles to the axis, toward which positive rotation turns the face."""
        azimuth = np.radians(self.azimuth_deg)
        right = np.array([np.cos(azimuth), -np.sin(azimuth), 0.0])  # of someone looking along the axis
        return np.asarray(west_sign(self.azimuth_deg) * right)

    @property
    def low_end(self) -> FloatArray:
        """Unit vector along the axis toward its low end."""
        azimuth, tilt = np.radians([self.azimuth_deg, self.tilt_deg])
        level = np.cos(tilt)
        return np.array([np.sin(azimuth) * level, np.cos(azimuth) * level, -np.sin(tilt)])

    def normals(self, rotation_deg: npt.ArrayLike) -> FloatArray:
        """Unit normals (3, …) of the plane at `rotation_deg` (…)."""
        rotation = np.radians(np.asarray(rotation_deg, dtype=float))
        parts = np.multiply.outer(self.centre_normal, np.cos(rotation)), np.multiply.outer(self.west, np.sin(rotation))
        return np.asarray(parts[0] + parts[1])


def west_sign(axis_azimuth_deg: float) -> float:
    """+1 for an axis whose low end points south of the east–west line, −1 north of it.

    Times a rotation, + west, it is the rotation by the right-hand rule about the axis, pvlib's; and the reverse.

    Parameters
    ----------
    axis_azimuth_deg : float
        True bearing of the axis's low end [degrees].

    Returns
    -------
    float
        +1 or −1.
    """
    return 1.0 if np.cos(np.radians(axis_azimuth_deg)) <= 0 else -1.0


def sun_on_axis(direction: FloatArray, axis: Axis) -> tuple[FloatArray, FloatArray]:
    """The sun seen along the axis.

    `direction` (3, n) points to the sun. Returns `sun_rotation_deg` (n), −180…180, + west: the rotation at which the
    plane would face the sun most squarely; and `reach` (n), 0…1: the cosine of incidence at that rotation. At any
    rotation the cosine of incidence is reach · cos(sun_rotation − rotation). Identity; the same rotation as equation
    (5) of Anderson & Mikofski, NREL/TP-5K00-76626 (2020).

    Parameters
    ----------
    direction : FloatArray
        Shape (3, n). Unit vectors toward the sun: east, north, up.
    axis : Axis
        The axis of the rack.

    Returns
    -------
    tuple[FloatArray, FloatArray]
        True-tracking angle (n,) [degrees], + west, and the cosine of incidence at it (n,).

    Raises
    ------
    InputError
        For a `direction` of another shape, or with what is no finite number.
    """
    check_array("direction", direction, (3, "n"))
    toward_normal = component(axis.centre_normal, direction)
    toward_west = component(axis.west, direction)
    return np.degrees(np.arctan2(toward_west, toward_normal)), np.hypot(toward_normal, toward_west)


def cos_incidence(*, sun_rotation_deg: FloatArray, reach: FloatArray, rotation_deg: npt.ArrayLike) -> FloatArray:
    """Cosine of the angle between sun and plane normal, 0 when the sun is behind the plane. Shapes broadcast.

    Parameters
    ----------
    sun_rotation_deg : FloatArray
        True-tracking angle of the sun [degrees], + west.
    reach : FloatArray
        Cosine of incidence at the true-tracking angle.
    rotation_deg : npt.ArrayLike
        Rotation of the rack [degrees], + west.

    Returns
    -------
    FloatArray
        0…1.
    """
    return np.asarray(np.maximum(reach * np.cos(np.radians(sun_rotation_deg - np.asarray(rotation_deg))), 0.0))


def cos_plane_tilt(rotation_deg: npt.ArrayLike, *, axis_tilt_deg: float) -> FloatArray:
    """Cosine of the tilt of the plane, cos R · cos βa.

    Parameters
    ----------
    rotation_deg : npt.ArrayLike
        Any shape. Rotation of the rack [degrees].
    axis_tilt_deg : float
        Tilt of the axis [degrees].

    Returns
    -------
    FloatArray
        Shape of `rotation_deg`; −1…1.
    """
    return np.asarray(np.cos(np.radians(np.asarray(rotation_deg, dtype=float))) * np.cos(np.radians(axis_tilt_deg)))


def wrapped_deg(angle_deg: FloatArray) -> FloatArray:
    """An angle brought into −180…180°.

    Parameters
    ----------
    angle_deg : FloatArray
        Any shape [degrees].

    Returns
    -------
    FloatArray
        Shape of `angle_deg` [degrees].
    """
    return (angle_deg + 180.0) % 360.0 - 180.0
