"""Trees and hills before the canisters: crowns of any sort, seen from each canister's own place."""

from __future__ import annotations

import numpy as np
import pytest
from rays import Ray

from trackersim.rack.canister import canister_places_m
from trackersim.rack.geometry import Axis
from trackersim.simulation.canister_shade import canister_beam_share
from trackersim.sky.crowns import Crown
from trackersim.sky.trees import HorizonProfile

AXIS, LEVER_M, STOP_DEG = Axis(azimuth_deg=180.0, tilt_deg=25.0), 1.2, 50.0
PASSES = 0.25
# A hedge that runs north and south in the plane x = 40 sin 15° = 10.35 m east, long enough to pass the rack.
HEDGE = Crown(bearing_deg=15.0, distance_m=40.0, half_width_m=50.0, base_m=-2.0, top_m=7.0, round_top=False,
              transmittance_by_day=np.array([PASSES]), facing_deg=90.0)  # fmt: skip
# Its middle is 9 m off, its nearest twigs 1 m.
OAK = Crown(bearing_deg=95.0, distance_m=9.0, half_width_m=8.0, base_m=0.0, top_m=8.0, round_top=True,
            transmittance_by_day=np.array([PASSES]))  # fmt: skip


def shares(sun: np.ndarray, *crowns: Crown, horizon: HorizonProfile | None = None) -> np.ndarray:
    day = np.zeros(sun.shape[1], dtype=np.intp)
    return canister_beam_share(sun, day, crowns, horizon, axis=AXIS, lever_m=LEVER_M, max_rotation_deg=STOP_DEG)


def places() -> np.ndarray:
    """Of the west and the east canister at the east stop, centre and west stop (3, 2, 3)."""
    turned = (-STOP_DEG, 0.0, STOP_DEG)
    return np.stack([canister_places_m(AXIS, lever_m=LEVER_M, rotation_deg=angle) for angle in turned])


def test_the_top_of_an_oblique_hedge_hides_the_sun_from_each_canister(ray: Ray) -> None:
    """Due east the hedge is as far off as its plane, not as its middle: tan(elevation) = (7 − z) / (10.35 − x)."""
    for stop, both in enumerate(places()):
        for side, (east_m, _, up_m) in enumerate(both):
            edge_deg = np.degrees(np.arctan2(7.0 - up_m, 40 * np.sin(np.radians(15)) - east_m))
            sun = ray([edge_deg - 0.1, edge_deg + 0.1], 90.0)
            assert shares(sun, HEDGE)[stop, side].tolist() == [PASSES, 1.0], (stop, side)


@pytest.mark.parametrize("crown", [HEDGE, OAK], ids=["hedge", "oak"])
def test_a_ray_to_any_place_within_a_crown_is_weakened(crown: Crown) -> None:
    chance = np.random.default_rng(4)
    if crown.round_top:
        inside = chance.normal(size=(3, 400))
        inside *= 0.99 * chance.random(400) ** (1 / 3) / np.linalg.norm(inside, axis=0)
        inside = crown.centre_m[:, None] + crown.radii_m[:, None] * inside
    else:
        along, up = chance.uniform(-49, 49, 400), chance.uniform(-1.9, 6.9, 400)
        bearing = np.radians(15.0)
        inside = np.stack([np.full(400, 40 * np.sin(bearing)), 40 * np.cos(bearing) + along, up])
    for stop, both in enumerate(places()):
        for side, place in enumerate(both):
            toward = inside - place[:, None]
            sun = toward / np.linalg.norm(toward, axis=0)
            assert (shares(sun[:, sun[2] > 0], crown)[stop, side] == PASSES).all(), (stop, side)


def test_hills_hide_the_sun_from_both_canisters_at_once(ray: Ray) -> None:
    hills = HorizonProfile(bearing_deg=np.arange(0.0, 360.0, 90.0), elevation_deg=np.array([0.0, 10.0, 0.0, 0.0]))
    sun = ray([9.9, 10.1, 9.9, 60.0], [90.0, 90.0, 270.0, 90.0])
    assert (shares(sun, horizon=hills) == [0.0, 1.0, 1.0, 1.0]).all()
    # Behind a tree and a hill it is dark, whatever the tree lets pass.
    low = ray([9.9, 10.1], 90.0)
    assert (shares(low, HEDGE, horizon=hills) == [0.0, PASSES]).all()
