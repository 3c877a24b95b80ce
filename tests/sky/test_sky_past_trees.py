"""Which share of the sky a plane still sees, and its lookup at the plane's rotation."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from trackersim.rack.geometry import Axis
from trackersim.sky.crowns import Crown
from trackersim.sky.irradiance import rotation_grid_deg, view_at
from trackersim.sky.trees import HorizonProfile, SkyView, sky_view

AXIS = Axis(azimuth_deg=180.0, tilt_deg=20.0)
ROTATIONS = np.array([-50.0, -10.0, 0.0, 10.0, 50.0])
EAST_ROW = Crown(
    bearing_deg=90.0,
    distance_m=15.0,
    half_width_m=30.0,
    base_m=0.0,
    top_m=9.0,
    round_top=False,
    transmittance_by_day=np.array([0.05, 0.45, 0.05, 1.0]),
)


def test_without_trees_the_shares_are_exactly_one() -> None:
    view = sky_view(AXIS.normals(ROTATIONS), 3, [])
    assert view.sky_share.tolist() == np.ones((5, 1)).tolist()
    assert view.horizon_share.tolist() == np.ones((5, 1)).tolist()
    assert view.kind_of_day.tolist() == [0, 0, 0]


def test_a_crown_that_lets_everything_pass_leaves_exactly_one() -> None:
    view = sky_view(AXIS.normals(ROTATIONS), 1, [replace(EAST_ROW, transmittance_by_day=np.ones(1))])
    assert (view.sky_share == 1.0).all()
    assert (view.horizon_share == 1.0).all()


def test_equal_days_share_one_kind() -> None:
    view = sky_view(AXIS.normals(ROTATIONS), 4, [EAST_ROW])
    assert view.sky_share.shape == (5, 3)
    assert view.kind_of_day[0] == view.kind_of_day[2]
    assert len(set(view.kind_of_day.tolist())) == 3
    assert (view.sky_share[:, view.kind_of_day[3]] == 1.0).all()  # the day that lets everything pass


def test_covered_sky_grows_with_the_density_of_the_crown() -> None:
    view = sky_view(AXIS.normals(ROTATIONS), 4, [EAST_ROW])
    dense, thin = (1 - view.sky_share[:, view.kind_of_day[day]] for day in (0, 1))
    assert dense == pytest.approx(thin * 0.95 / 0.55, abs=1e-12)


def test_a_plane_turned_to_the_trees_loses_more_sky_than_one_turned_away() -> None:
    share = sky_view(AXIS.normals(ROTATIONS), 4, [EAST_ROW]).sky_share[:, 0]
    assert np.all(np.diff(share) > 0)  # from the east stop to the west stop
    assert share[0] < 0.9


def test_trees_mirrored_east_to_west_mirror_the_view() -> None:
    east = sky_view(AXIS.normals(ROTATIONS), 4, [EAST_ROW])
    west = sky_view(AXIS.normals(-ROTATIONS), 4, [replace(EAST_ROW, bearing_deg=270.0)])
    assert west.sky_share == pytest.approx(east.sky_share, abs=1e-9)
    assert west.horizon_share == pytest.approx(east.horizon_share, abs=1e-9)


def test_horizon_band_goes_where_the_far_horizon_covers_it() -> None:
    level = np.array([[0.0], [0.0], [1.0]])
    hills = HorizonProfile(bearing_deg=np.array([0.0, 180.0]), elevation_deg=np.array([7.0, 7.0]))
    assert sky_view(level, 1, [], hills).horizon_share[0, 0] == pytest.approx(0.0, abs=1e-12)


def test_horizon_behind_the_plane_leaves_its_band() -> None:
    upright_south = Axis(azimuth_deg=180.0, tilt_deg=90.0).normals([0.0])
    hills = HorizonProfile(
        bearing_deg=np.array([0.0, 89.0, 91.0, 269.0, 271.0]), elevation_deg=np.array([20.0, 20.0, 0.0, 0.0, 20.0])
    )
    view = sky_view(upright_south, 1, [], hills)
    assert view.horizon_share[0, 0] == pytest.approx(1.0, abs=2e-3)
    assert view.sky_share[0, 0] == pytest.approx(1.0, abs=2e-3)


@pytest.mark.parametrize("stop", [50.0, 47.3, 0.5, 85.0])
def test_grid_reaches_past_the_stop(stop: float) -> None:
    grid = rotation_grid_deg(stop)
    assert grid[0] <= -stop
    assert grid[-1] >= stop
    assert np.allclose(np.diff(grid), 1.0)
    assert np.array_equal(grid, -grid[::-1])


def test_view_is_interpolated_between_degrees_and_held_past_the_stop() -> None:
    grid = rotation_grid_deg(2.0)
    table = np.stack([grid / 10 + 0.5, grid**2 / 10], axis=1)
    view = SkyView(sky_share=table, horizon_share=1 - table, kind_of_day=np.array([0, 1]))
    sky, horizon = view_at(view, day=np.array([0, 0, 0, 1, 0]), rotation_deg=np.array([-2.0, 0.25, 2.0, 1.5, 9.0]))
    assert sky == pytest.approx([0.3, 0.525, 0.7, 0.25, 0.7])
    assert horizon == pytest.approx(1 - sky)


def test_a_view_of_one_rotation_is_used_as_it_is() -> None:
    view = SkyView(sky_share=np.array([[0.9, 0.8]]), horizon_share=np.array([[0.5, 0.4]]), kind_of_day=np.array([1, 0]))
    sky, horizon = view_at(view, day=np.array([0, 1]), rotation_deg=np.array([33.0, 33.0]))
    assert sky.tolist() == [0.8, 0.9]
    assert horizon.tolist() == [0.4, 0.5]


def test_interpolated_view_is_near_the_direct_integral() -> None:
    grid = rotation_grid_deg(50.0)
    table = sky_view(AXIS.normals(grid), 4, [EAST_ROW])
    wanted = np.array([-33.4, 0.5, 21.7])
    direct = sky_view(AXIS.normals(wanted), 4, [EAST_ROW])
    sky, _ = view_at(table, day=np.zeros(3, dtype=int), rotation_deg=wanted)
    assert sky == pytest.approx(direct.sky_share[:, direct.kind_of_day[0]], abs=2e-4)
