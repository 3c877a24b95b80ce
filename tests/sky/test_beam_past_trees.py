"""Which share of the beam passes trees and a far horizon, regime by regime."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from rays import Ray

from trackersim.sky.crowns import Crown, in_crown
from trackersim.sky.trees import HorizonProfile, beam_share, horizon_elevation_deg, leaf_share

EAST_TREE = Crown(
    bearing_deg=90.0,
    distance_m=20.0,
    half_width_m=4.0,
    base_m=2.0,
    top_m=10.0,
    round_top=True,
    transmittance_by_day=np.array([0.05, 0.45]),
)
EAST_ROW = replace(EAST_TREE, round_top=False, half_width_m=20.0)
IN_LEAF = np.zeros(1, dtype=int)


def test_without_trees_the_whole_beam_passes_exactly(ray: Ray) -> None:
    direction = ray(np.linspace(-5, 90, 50), np.linspace(0, 359, 50))
    assert (beam_share(direction, np.zeros(50, dtype=int), []) == 1.0).all()


def test_a_crown_that_lets_everything_pass_is_no_crown(ray: Ray) -> None:
    glass = replace(EAST_TREE, transmittance_by_day=np.ones(1))
    direction = ray(np.linspace(0.1, 89, 200), 90.0)
    assert in_crown(direction, glass).any()
    assert (beam_share(direction, np.zeros(200, dtype=int), [glass]) == 1.0).all()


def test_share_is_that_of_the_day(ray: Ray) -> None:
    direction = np.repeat(ray(17.0, 90.0), 2, axis=1)
    assert beam_share(direction, np.array([0, 1]), [EAST_TREE]).tolist() == [0.05, 0.45]


def test_a_tree_behind_the_array_does_not_shade_the_morning_sun(ray: Ray) -> None:
    west_tree = replace(EAST_TREE, bearing_deg=270.0)
    assert beam_share(ray(17.0, 90.0), IN_LEAF, [west_tree])[0] == 1.0
    assert beam_share(ray(17.0, 270.0), IN_LEAF, [west_tree])[0] == 0.05


@pytest.mark.parametrize("crown", [EAST_TREE, EAST_ROW], ids=["round", "row"])
def test_low_sun_passes_under_the_crown_and_high_sun_over_it(ray: Ray, crown: Crown) -> None:
    under, inside, over = (np.degrees(np.arctan2(height, 20.0)) for height in (1.5, 6.0, 10.6))
    shares = beam_share(ray([under, inside, over], 90.0), np.zeros(3, dtype=int), [crown])
    assert shares.tolist() == [1.0, 0.05, 1.0]


def test_the_top_of_a_row_is_seen_at_its_height_and_a_round_crown_at_its_tangent(ray: Ray) -> None:
    """Identity: a line from the origin touches an ellipse centred at (d, m) with half axes a, b where
    (d² − a²) s² − 2 d m s + m² − b² = 0 for its slope s."""
    d, a, m, b = 20.0, 4.0, 6.0, 4.0
    slope = max(np.roots([d * d - a * a, -2 * d * m, m * m - b * b]))
    for crown, tangent in ((EAST_ROW, 10.0 / 20.0), (EAST_TREE, slope)):
        at = np.degrees(np.arctan(tangent))
        assert in_crown(ray([at - 0.01, at + 0.01], 90.0), crown).tolist() == [True, False]


def test_a_round_crown_lets_the_corner_pass_that_a_row_blocks(ray: Ray) -> None:
    square = replace(EAST_TREE, round_top=False)
    aside = 3.6 / 20  # 90 % of the half width
    elevation = np.degrees(np.arctan2(9.6, np.hypot(20.0, 3.6)))
    corner = ray(elevation, 90 + np.degrees(np.arctan(aside)))
    assert not in_crown(corner, EAST_TREE)[0]
    assert in_crown(corner, square)[0]


@pytest.mark.parametrize(
    ("crown", "edge"),
    [(EAST_TREE, np.arcsin(4 / 20)), (replace(EAST_ROW, half_width_m=4.0), np.arctan(4 / 20))],
)
def test_width_is_seen_at_the_trees_distance(ray: Ray, crown: Crown, edge: float) -> None:
    """Identity: a ball of radius r subtends asin(r/d), a flat screen atan(r/d), to either side, for level rays."""
    level = replace(crown, base_m=-4.0, top_m=4.0)
    edge_deg = np.degrees(edge)
    assert in_crown(ray(0.0, [90 - edge_deg + 0.01, 90 + edge_deg - 0.01]), level).all()
    assert not in_crown(ray(0.0, [90 - edge_deg - 0.01, 90 + edge_deg + 0.01]), level).any()


def test_two_crowns_weaken_one_after_the_other(ray: Ray) -> None:
    behind = replace(EAST_ROW, distance_m=40.0, top_m=20.0, base_m=0.0, transmittance_by_day=np.array([0.5, 1.0]))
    assert beam_share(ray(17.0, 90.0), IN_LEAF, [EAST_TREE, behind])[0] == pytest.approx(0.05 * 0.5)


def test_a_crown_that_spans_north_is_whole(ray: Ray) -> None:
    north = replace(EAST_TREE, bearing_deg=0.0)
    assert in_crown(ray(16.0, [355.0, 0.0, 5.0, 365.0]), north).all()
    assert in_crown(ray(16.0, [355.0, 5.0]), replace(north, bearing_deg=360.0)).all()


def test_horizon_lookup_goes_round_through_north() -> None:
    horizon = HorizonProfile(bearing_deg=np.array([10.0, 350.0]), elevation_deg=np.array([10.0, 20.0]))
    looked_up = horizon_elevation_deg([350.0, 355.0, 0.0, 5.0, 10.0, 370.0, -5.0, 180.0], horizon)
    assert looked_up == pytest.approx([20.0, 17.5, 15.0, 12.5, 10.0, 10.0, 17.5, 15.0])


def test_no_horizon_is_level() -> None:
    empty = HorizonProfile(bearing_deg=np.array([]), elevation_deg=np.array([]))
    assert (horizon_elevation_deg([0.0, 90.0], None) == 0).all()
    assert (horizon_elevation_deg([0.0, 90.0], empty) == 0).all()


def test_a_hill_hides_the_sun_wholly_until_it_clears(ray: Ray) -> None:
    hill = HorizonProfile(bearing_deg=np.array([0.0, 180.0]), elevation_deg=np.array([15.0, 15.0]))
    shares = beam_share(ray([14.9, 15.1], 90.0), np.zeros(2, dtype=int), [], hill)
    assert shares.tolist() == [0.0, 1.0]


NORTH = {"leaf_on_day": 110, "leaf_off_day": 309}
SOUTH = {"leaf_on_day": 293, "leaf_off_day": 125}  # October to May: in leaf across new year


@pytest.mark.parametrize(
    ("dates", "day", "share"),
    [
        pytest.param(NORTH, 20, 0.0, id="north-winter"),
        pytest.param(NORTH, 96, 0.0, id="north-buds"),
        pytest.param(NORTH, 103, 0.5, id="north-half-out"),
        pytest.param(NORTH, 110, 1.0, id="north-leaf-on"),
        pytest.param(NORTH, 200, 1.0, id="north-summer"),
        pytest.param(NORTH, 295, 1.0, id="north-last-full-day"),
        pytest.param(NORTH, 302, 0.5, id="north-half-fallen"),
        pytest.param(NORTH, 309, 0.0, id="north-bare"),
        pytest.param(SOUTH, 1, 1.0, id="south-new-year"),
        pytest.param(SOUTH, 365, 1.0, id="south-old-year"),
        pytest.param(SOUTH, 200, 0.0, id="south-winter"),
        pytest.param(SOUTH, 286, 0.5, id="south-half-out"),
        pytest.param(SOUTH, 118, 0.5, id="south-half-fallen"),
    ],
)
def test_leaves_come_and_go(dates: dict[str, int], day: int, share: float) -> None:
    assert float(leaf_share(day, **dates)) == pytest.approx(share, abs=1e-9)


@pytest.mark.parametrize(("on", "off"), [(5, 200), (360, 150), (150, 3), (293, 125), (110, 309)])
def test_leaf_share_stays_within_bounds_and_never_jumps(on: int, off: int) -> None:
    shares = leaf_share(np.arange(0, 731), leaf_on_day=on, leaf_off_day=off)
    assert shares.min() == 0.0
    assert shares.max() == 1.0
    assert np.abs(np.diff(shares)).max() <= 1 / 14 + 1e-9
    assert float(leaf_share(on, leaf_on_day=on, leaf_off_day=off)) == pytest.approx(1.0)
    assert float(leaf_share(off, leaf_on_day=on, leaf_off_day=off)) == pytest.approx(0.0)
