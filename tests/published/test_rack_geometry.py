"""Rotation, incidence and plane tilt against printed values and closed forms."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from rays import Ray

from trackersim.rack.fixed import ideal_rotation
from trackersim.rack.geometry import Axis, cos_incidence, cos_plane_tilt, sun_on_axis, west_sign

LEVEL_AXIS = Axis(azimuth_deg=180.0, tilt_deg=0.0)

# Anderson & Mikofski, NREL/TP-5K00-76626 (2020), table of true-tracking angles on a slope; axis azimuth 195,
# axis tilt 9.666. The report's angles follow the right-hand rule about the axis (pvlib's sign).
TRUE_TRACKING = [
    (2.404287, 122.79177, -84.440),
    (18.733558, 145.285552, -59.861),
    (26.810735, 173.931802, -28.764),
    (23.170447, 204.13681, 15.120),
    (9.461862, 229.102218, 61.587),
]


def incidence_deg(direction: np.ndarray, axis: Axis, rotation_deg: float) -> float:
    sun_rotation, reach = sun_on_axis(direction, axis)
    cosine = cos_incidence(sun_rotation_deg=sun_rotation, reach=reach, rotation_deg=rotation_deg)
    return float(np.degrees(np.arccos(cosine[0])))


@pytest.mark.parametrize(("elevation", "azimuth", "expected"), TRUE_TRACKING)
def test_true_tracking_angles_of_the_nrel_report(ray: Ray, elevation: float, azimuth: float, expected: float) -> None:
    axis = Axis(azimuth_deg=195.0, tilt_deg=9.666)
    sun_rotation, _ = sun_on_axis(ray(elevation, azimuth), axis)
    assert west_sign(195.0) * sun_rotation[0] == pytest.approx(expected, abs=2e-3)


@pytest.mark.parametrize(("elevation", "azimuth", "expected"), TRUE_TRACKING)
def test_the_other_end_of_the_same_axis_reverses_pvlibs_sign_only(
    ray: Ray, elevation: float, azimuth: float, expected: float
) -> None:
    # Identity: describing the axis by its other end (azimuth 15, tilt −9.666) is the same rack, so + stays west.
    axis = Axis(azimuth_deg=15.0, tilt_deg=-9.666)
    sun_rotation, _ = sun_on_axis(ray(elevation, azimuth), axis)
    assert sun_rotation[0] == pytest.approx(expected, abs=2e-3)
    assert west_sign(15.0) * sun_rotation[0] == pytest.approx(-expected, abs=2e-3)


def test_stop_at_45_with_the_sun_30_above_the_east(ray: Ray) -> None:
    # Identity: zenith 60 due east, plane stopped at 45° east: 15° of incidence.
    direction = ray(30.0, 90.0)
    sun_rotation, _ = sun_on_axis(direction, LEVEL_AXIS)
    rotation = ideal_rotation(sun_rotation, max_rotation_deg=45.0)
    assert rotation[0] == pytest.approx(-45.0, abs=1e-9)
    assert incidence_deg(direction, LEVEL_AXIS, rotation[0]) == pytest.approx(15.0, abs=1e-6)


def test_tilted_axis_in_the_morning(ray: Ray) -> None:
    # pvlib's test after Marion & Dobos, NREL/TP-6A20-58891 (2013): axis tilt 30 south, zenith 30, azimuth 135.
    axis = Axis(azimuth_deg=180.0, tilt_deg=30.0)
    direction = ray(60.0, 135.0)
    rotation = float(sun_on_axis(direction, axis)[0][0])
    assert rotation == pytest.approx(-20.8812, abs=1e-4)
    assert incidence_deg(direction, axis, rotation) == pytest.approx(7.2862, abs=1e-4)


def astronomical(latitude_deg: float, declination_deg: float, hour_angle_deg: float) -> np.ndarray:
    """East–north–up direction from latitude, declination, hour angle: the textbook rotation, without the engine."""
    phi, delta, omega = np.radians([latitude_deg, declination_deg, hour_angle_deg])
    east = -np.cos(delta) * np.sin(omega)
    north = np.cos(phi) * np.sin(delta) - np.sin(phi) * np.cos(delta) * np.cos(omega)
    up = np.sin(phi) * np.sin(delta) + np.cos(phi) * np.cos(delta) * np.cos(omega)
    return np.array([[east], [north], [up]])


@pytest.mark.parametrize(
    ("latitude", "declination", "hour_angle"),
    list(product((50.0, 20.0, -35.0), (-23.0, 0.0, 15.0), (-80.0, -10.0, 60))),
)
def test_polar_axis_turns_with_the_hour_angle(latitude: float, declination: float, hour_angle: float) -> None:
    # Identity: axis tilted by the latitude toward the equator: rotation = hour angle, incidence = |declination|.
    axis = Axis(azimuth_deg=180.0 if latitude > 0 else 0.0, tilt_deg=abs(latitude))
    direction = astronomical(latitude, declination, hour_angle)
    rotation = float(sun_on_axis(direction, axis)[0][0])
    assert rotation == pytest.approx(hour_angle, abs=1e-9)
    assert incidence_deg(direction, axis, rotation) == pytest.approx(abs(declination), abs=1e-5)


@pytest.mark.parametrize(
    ("latitude", "declination", "hour_angle"), list(product((50.0, 0.0, -35.0), (-20.0, 0.0, 23.0), (-60.0, 0.0, 45)))
)
def test_level_north_south_axis(latitude: float, declination: float, hour_angle: float) -> None:
    # Identity (Duffie & Beckman, eq. 1.7.5a): cos θ = √(cos²θz + cos²δ sin²ω).
    direction = astronomical(latitude, declination, hour_angle)
    _, reach = sun_on_axis(direction, LEVEL_AXIS)
    delta, omega = np.radians([declination, hour_angle])
    expected = np.sqrt(direction[2, 0] ** 2 + (np.cos(delta) * np.sin(omega)) ** 2)
    assert reach[0] == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(("rotation", "azimuth"), [(-10.0, 180 - 27.27317), (10.0, 180 + 27.27317)])
def test_plane_of_a_tilted_axis_turned_ten_degrees(rotation: float, azimuth: float) -> None:
    # Identity: cos β = cos R · cos βa; azimuth from tan = tan R / sin βa.
    normal = Axis(azimuth_deg=180.0, tilt_deg=20.0).normals(rotation)
    tilt_deg = np.degrees(np.arccos(cos_plane_tilt(rotation, axis_tilt_deg=20.0)))
    assert tilt_deg == pytest.approx(22.26874, abs=1e-5)
    assert np.degrees(np.arccos(normal[2])) == pytest.approx(22.26874, abs=1e-5)
    assert np.degrees(np.arctan2(normal[0], normal[1])) % 360 == pytest.approx(azimuth, abs=1e-5)
