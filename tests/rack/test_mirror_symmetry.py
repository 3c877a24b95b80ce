"""East and west mirrored: the rotation changes its sign and nothing else, whichever way the axis is described."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from rays import Ray

from trackersim.rack.fixed import fixed_rotation, ideal_rotation
from trackersim.rack.geometry import (
    Axis,
    cos_incidence,
    cos_plane_tilt,
    sun_on_axis,
    west_sign,
    wrapped_deg,
)

AXES = [
    pytest.param(Axis(azimuth_deg=180.0, tilt_deg=0.0), id="level-south"),
    pytest.param(Axis(azimuth_deg=0.0, tilt_deg=0.0), id="level-north"),
    pytest.param(Axis(azimuth_deg=180.0, tilt_deg=25.0), id="northern-hemisphere"),
    pytest.param(Axis(azimuth_deg=0.0, tilt_deg=25.0), id="southern-hemisphere"),
]
ELEVATIONS = np.repeat(np.linspace(-20, 90, 12), 24)
AZIMUTHS = np.tile(np.arange(0, 360, 15.0) + 0.5, 12)


@pytest.mark.parametrize("axis", AXES)
def test_mirrored_sun_mirrors_the_rotation_and_keeps_the_light(ray: Ray, axis: Axis) -> None:
    rotation, reach = sun_on_axis(ray(ELEVATIONS, AZIMUTHS), axis)
    mirrored, mirrored_reach = sun_on_axis(ray(ELEVATIONS, -AZIMUTHS), axis)
    assert np.abs(wrapped_deg(rotation + mirrored)).max() < 1e-9
    assert mirrored_reach == pytest.approx(reach, abs=1e-12)
    for turned in (-50.0, -7.0, 0.0, 33.0):
        light = cos_incidence(sun_rotation_deg=rotation, reach=reach, rotation_deg=turned)
        other = cos_incidence(sun_rotation_deg=mirrored, reach=mirrored_reach, rotation_deg=-turned)
        assert other == pytest.approx(light, abs=1e-12)


@pytest.mark.parametrize("axis", AXES)
def test_morning_is_east_and_negative_evening_west_and_positive(ray: Ray, axis: Axis) -> None:
    morning, noon, evening = (sun_on_axis(ray(30.0, azimuth), axis)[0][0] for azimuth in (90, axis.azimuth_deg, 270))
    assert morning < 0 < evening
    assert noon == pytest.approx(0.0, abs=1e-9)
    assert axis.normals(30.0)[0] < 0 < axis.normals(-30.0)[0]  # + faces west, i.e. away from east


def test_both_hemispheres_mirror_north_and_south(ray: Ray) -> None:
    north = sun_on_axis(ray(ELEVATIONS, AZIMUTHS), Axis(azimuth_deg=180.0, tilt_deg=30.0))
    south = sun_on_axis(ray(ELEVATIONS, 180 - AZIMUTHS), Axis(azimuth_deg=0.0, tilt_deg=30.0))
    assert np.abs(wrapped_deg(south[0] - north[0])).max() < 1e-9
    assert south[1] == pytest.approx(north[1], abs=1e-12)


@pytest.mark.parametrize(("azimuth", "sign"), [(180, 1), (195, 1), (120, 1), (0, -1), (330, -1), (45, -1)])
def test_pvlibs_sign_is_known_in_one_place(azimuth: float, sign: float) -> None:
    assert west_sign(azimuth) == sign


@pytest.mark.parametrize("axis", AXES)
def test_pvlibs_tracker_agrees_after_the_change_of_sign(ray: Ray, axis: Axis) -> None:
    # Computed with pvlib.tracking.singleaxis without backtracking.
    from pvlib import tracking

    elevation, azimuth = np.array([5.0, 20, 40, 60, 35, 12]), np.array([80.0, 100, 130, 200, 250, 275])
    sun_rotation, reach = sun_on_axis(ray(elevation, azimuth), axis)
    rotation = ideal_rotation(sun_rotation, max_rotation_deg=50.0)
    theirs = tracking.singleaxis(
        90 - elevation, azimuth, axis_tilt=axis.tilt_deg, axis_azimuth=axis.azimuth_deg, max_angle=50, backtrack=False
    )
    assert west_sign(axis.azimuth_deg) * rotation == pytest.approx(theirs["tracker_theta"], abs=1e-6)
    cosine = cos_incidence(sun_rotation_deg=sun_rotation, reach=reach, rotation_deg=rotation)
    assert cosine == pytest.approx(np.maximum(np.cos(np.radians(theirs["aoi"])), 0), abs=1e-9)
    tilt_cosine = cos_plane_tilt(rotation, axis_tilt_deg=axis.tilt_deg)
    assert tilt_cosine == pytest.approx(np.cos(np.radians(theirs["surface_tilt"])), abs=1e-9)


@given(
    azimuth=st.floats(0, 360),
    tilt=st.floats(0, 75),
    rotation=st.floats(-90, 90),
    sun_azimuth=st.floats(0, 360),
    elevation=st.floats(-90, 90),
)
def test_incidence_is_the_angle_to_the_normal(
    ray: Ray, azimuth: float, tilt: float, rotation: float, sun_azimuth: float, elevation: float
) -> None:
    # Identity: cos θ = normal · sun, never below 0, and always a number.
    axis = Axis(azimuth_deg=azimuth, tilt_deg=tilt)
    direction = ray(elevation, sun_azimuth)
    sun_rotation, reach = sun_on_axis(direction, axis)
    cosine = cos_incidence(sun_rotation_deg=sun_rotation, reach=reach, rotation_deg=rotation)
    normal = axis.normals(rotation)
    assert np.linalg.norm(normal) == pytest.approx(1.0, abs=1e-12)
    assert cosine[0] == pytest.approx(max(float(normal @ direction[:, 0]), 0.0), abs=1e-12)
    assert cos_plane_tilt(rotation, axis_tilt_deg=tilt) == pytest.approx(normal[2], abs=1e-12)
    assert -180 <= sun_rotation[0] <= 180
    assert 0 <= reach[0] <= 1 + 1e-12


@pytest.mark.parametrize("axis", AXES)
def test_the_sun_along_the_axis_gives_numbers(axis: Axis) -> None:
    along = np.cross(axis.west, axis.centre_normal)[:, None]
    rotation, reach = sun_on_axis(along, axis)
    assert np.isfinite(rotation).all()
    assert reach[0] == pytest.approx(0.0, abs=1e-12)


def test_ideal_rack_follows_between_the_stops_and_waits_at_them() -> None:
    sun = np.array([-170.0, -90.0, -50.1, -20.0, 0.0, 49.9, 90.0, 179.0])
    rotation = ideal_rotation(sun, max_rotation_deg=50.0)
    assert rotation.tolist() == [-50.0, -50.0, -50.0, -20.0, 0.0, 49.9, 50.0, 50.0]


def test_ideal_rack_is_never_beaten_by_another_angle(ray: Ray) -> None:
    sun_rotation, reach = sun_on_axis(ray(ELEVATIONS, AZIMUTHS), Axis(azimuth_deg=180.0, tilt_deg=20.0))
    best = cos_incidence(
        sun_rotation_deg=sun_rotation, reach=reach, rotation_deg=ideal_rotation(sun_rotation, max_rotation_deg=50.0)
    )
    for other in np.linspace(-50, 50, 41):
        light = cos_incidence(sun_rotation_deg=sun_rotation, reach=reach, rotation_deg=other)
        assert (light <= best + 1e-12).all()


def test_fixed_rack_stands_still() -> None:
    sun = np.linspace(-180, 180, 24).reshape(2, 12)
    rotation = fixed_rotation(sun, rotation_deg=-12.5)
    assert rotation.shape == sun.shape
    assert (rotation == -12.5).all()


def test_wrapped_angles() -> None:
    assert wrapped_deg(np.array([-190.0, -180.0, 0.0, 179.0, 180.0, 540.0, 725.0])).tolist() == [
        170.0, -180.0, 0.0, 179.0, -180.0, -180.0, 5.0,
    ]  # fmt: skip
