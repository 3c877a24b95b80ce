"""Crowns seen from any place near the axis: hand-worked rays, the moving grid against single rays, margins."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rays import Ray

from trackersim.errors import InputError
from trackersim.sky.crowns import Crown, Grid, dim_grid, highest_sine, in_crown
from trackersim.sky.trees import beam_share

LET_PASS = np.array([0.1])
ROW = Crown(
    bearing_deg=90.0,
    distance_m=20.0,
    half_width_m=30.0,
    base_m=-2.0,
    top_m=8.0,
    round_top=False,
    transmittance_by_day=LET_PASS,
)
BALL = Crown(
    bearing_deg=180.0,
    distance_m=20.0,
    half_width_m=1.0,
    base_m=-1.0,
    top_m=1.0,
    round_top=True,
    transmittance_by_day=LET_PASS,
)


def meets(direction: np.ndarray, crown: Crown, starts: np.ndarray) -> np.ndarray:
    """Whether rays (3, k) from `starts` (3, k) meet the crown: double precision, by the nearest approach to its middle.

    Written apart from the engine."""
    bearing = np.radians(crown.bearing_deg)
    centre = np.array([np.sin(bearing), np.cos(bearing), 0.0]) * crown.distance_m
    centre[2] = (crown.base_m + crown.top_m) / 2
    half = (crown.top_m - crown.base_m) / 2
    if crown.round_top:
        radii = np.array([crown.half_width_m, crown.half_width_m, half])[:, None]
        start, ahead = (starts - centre[:, None]) / radii, direction / radii
        nearest = np.maximum(-(start * ahead).sum(axis=0) / (ahead * ahead).sum(axis=0), 0.0)
        return np.linalg.norm(start + nearest * ahead, axis=0) <= 1
    facing = np.radians(crown.bearing_deg if crown.facing_deg is None else crown.facing_deg)
    across_it, along_it = np.array([np.sin(facing), np.cos(facing)]), np.array([-np.cos(facing), np.sin(facing)])
    gap = across_it @ (centre[:2, None] - starts[:2])
    pace = across_it @ direction[:2]
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = gap / pace
        at = starts + reach * direction
        beside = np.abs(along_it @ (at[:2] - centre[:2, None]))
        return (reach > 0) & (beside <= crown.half_width_m) & (at[2] >= crown.base_m) & (at[2] <= crown.top_m)


def swollen(crown: Crown, by_m: float) -> Crown:
    return replace(crown, half_width_m=crown.half_width_m + by_m, base_m=crown.base_m - by_m, top_m=crown.top_m + by_m)


# --- By hand ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("east_m", [-5.0, -0.5, 0.0, 3.0])
def test_the_top_of_a_row_from_a_place_nearer_to_it(ray: Ray, east_m: float) -> None:
    """From x metres east of the axis the row's top is 8 m up at 20 − x metres: tan(elevation) = 8 / (20 − x)."""
    edge_deg = np.degrees(np.arctan2(8.0, 20.0 - east_m))
    seen = in_crown(ray([edge_deg - 0.01, edge_deg + 0.01], 90.0), ROW, from_m=(east_m, 0.0, 0.0))
    assert seen.tolist() == [True, False]


@pytest.mark.parametrize("up_m", [-1.5, 2.0])
def test_a_place_below_the_axis_sees_trees_higher(ray: Ray, up_m: float) -> None:
    top, bottom = (np.degrees(np.arctan2(height - up_m, 20.0)) for height in (8.0, -2.0))
    seen = in_crown(ray([top - 0.01, top + 0.01], 90.0), ROW, from_m=(0.0, 0.0, up_m))
    assert seen.tolist() == [True, False]
    seen = in_crown(ray([bottom - 0.01, bottom + 0.01], 90.0), ROW, from_m=(0.0, 0.0, up_m))
    assert seen.tolist() == [False, True]


def test_both_ends_of_a_wide_rack_see_a_tree_at_their_own_bearings(ray: Ray) -> None:
    """A ball of 1 m, 20 m due south. From 5 m east it stands at atan(5/20) = 14.04° west of south, from 5 m west as far
    east of it, 2.78° to either side of that: asin(1/√425)."""
    azimuth = np.array([180.0, 180 + 14.04, 180 - 14.04])
    sun = ray(0.0, azimuth)
    assert in_crown(sun, BALL).tolist() == [True, False, False]
    assert in_crown(sun, BALL, from_m=(5.0, 0.0, 0.0)).tolist() == [False, True, False]
    assert in_crown(sun, BALL, from_m=(-5.0, 0.0, 0.0)).tolist() == [False, False, True]
    edge = np.degrees(np.arctan2(5, 20) + np.arcsin(1 / np.sqrt(425)))
    sides = ray(0.0, [180 + edge - 0.01, 180 + edge + 0.01])
    assert in_crown(sides, BALL, from_m=(5.0, 0.0, 0.0)).tolist() == [True, False]


def test_sun_along_a_row_meets_nothing(ray: Ray) -> None:
    """The screen has no thickness: a sun due north or south passes along a row in the east, from every place."""
    for place in ((0.0, 0.0, 0.0), (19.0, 3.0, 1.0), (20.0, -40.0, 1.0)):
        assert not in_crown(ray([5.0, 5.0], [0.0, 180.0]), ROW, from_m=place).any()


def test_a_row_that_runs_askew(ray: Ray) -> None:
    """Middle at bearing 45°, 20 m, running north and south for 20 m: the plane x = 14.14 m, y from 4.14 to 24.14 m.

    Seen due east from y = 5 m it is 14.14 m away (top at atan(8/14.14) = 29.50°), from the axis it is not there."""
    askew = replace(ROW, bearing_deg=45.0, half_width_m=10.0, facing_deg=90.0)
    sun = ray([29.4, 29.6], 90.0)
    assert in_crown(sun, askew, from_m=(0.0, 5.0, 0.0)).tolist() == [True, False]
    assert not in_crown(sun, askew).any()
    # Its ends from the axis: atan2(14.14, 24.14) = 30.36° and atan2(14.14, 4.14) = 73.68°.
    assert in_crown(ray(0.0, [30.3, 30.4, 73.6, 73.8]), askew).tolist() == [False, True, True, False]


def test_a_row_given_from_its_other_side_is_the_same(ray: Ray) -> None:
    azimuth, elevation = np.meshgrid(np.arange(0, 360, 7.0), np.arange(-10, 80, 7.0))
    sun = ray(elevation.ravel(), azimuth.ravel())
    one, other = (replace(ROW, bearing_deg=60.0, facing_deg=facing) for facing in (100.0, 280.0))
    np.testing.assert_array_equal(in_crown(sun, one), in_crown(sun, other))
    assert in_crown(sun, one).any()


def test_behind_a_tree_the_other_sun_is_hidden(ray: Ray) -> None:
    """A place beyond a near tree sees it where the axis sees nothing."""
    near = replace(BALL, bearing_deg=270.0, distance_m=3.0, base_m=-1.0, top_m=1.0)
    # From 5 m west the ball's middle is 2 m east: its top tangent is asin(1/2) = 30° up.
    sun = ray([10.0, 29.9, 30.1], 90.0)
    assert not in_crown(sun, near).any()
    assert in_crown(sun, near, from_m=(-5.0, 0.0, 0.0)).tolist() == [True, True, False]


def test_from_inside_a_crown_all_is_shade(ray: Ray) -> None:
    assert in_crown(ray([0.0, 45.0, 90.0], [0.0, 100.0, 200.0]), BALL, from_m=(0.3, -20.2, 0.1)).all()


# --- One ray, many rays ----------------------------------------------------------------------------------------------


def some_crown(random: np.random.Generator, farthest_m: float) -> Crown:
    base = random.uniform(-4, 4)
    return Crown(
        bearing_deg=random.uniform(0, 360),
        distance_m=random.uniform(2, farthest_m),
        half_width_m=random.uniform(0.5, 6),
        base_m=base,
        top_m=base + random.uniform(1, 12),
        round_top=bool(random.random() < 0.5),
        transmittance_by_day=LET_PASS,
        facing_deg=random.choice([None, random.uniform(0, 360)]),
    )


def some_grid(random: np.random.Generator, instants: int, places: int) -> tuple[Grid, np.ndarray]:
    """A grid that turns on a tilted axis, and its places (3, places, instants) worked out on their own."""
    azimuth, tilt = np.radians(random.uniform(120, 240)), np.radians(random.uniform(0, 40))
    low_end = np.array([np.sin(azimuth) * np.cos(tilt), np.cos(azimuth) * np.cos(tilt), -np.sin(tilt)])
    west = np.array([np.cos(azimuth), -np.sin(azimuth), 0.0])
    if west[0] > 0:
        west = -west
    upward = np.cross(low_end, west)
    upward *= np.sign(upward[2])
    turn = np.radians(random.uniform(-60, 60, instants))
    across = np.outer(west, np.cos(turn)) - np.outer(upward, np.sin(turn))
    normal = np.outer(upward, np.cos(turn)) + np.outer(west, np.sin(turn))
    off, u, v = random.uniform(-0.3, 0.6), random.uniform(-5, 5, places), random.uniform(-3, 3, places)
    grid = Grid(origin=off * normal, across=across, along=low_end, across_m=u, along_m=v)
    at = off * normal[:, None] + across[:, None] * u[:, None] + (low_end[:, None] * v)[:, :, None]
    return grid, at


def some_rays(random: np.random.Generator, count: int) -> np.ndarray:
    made = random.normal(size=(3, count))
    made[2] = np.abs(made[2]) * 0.5
    return made / np.linalg.norm(made, axis=0)


def aimed(random: np.random.Generator, crown: Crown, count: int) -> np.ndarray:
    """Rays from about the axis to about the crown's outline, so that hits, misses and edges all occur."""
    target = crown.centre_m[:, None] + random.uniform(-1.3, 1.3, (3, count)) * crown.radii_m[:, None]
    made = target - random.uniform(-4, 4, (3, count))
    return made / np.linalg.norm(made, axis=0)


def grid_in_crown(direction: np.ndarray, crown: Crown, grid: Grid) -> np.ndarray:
    """Where the rays from a grid are dimmed (places, instants)."""
    instants = direction.shape[1]
    share = np.ones((instants, len(grid.across_m)), dtype=np.float32)
    dim_grid(share, np.arange(instants), direction=direction, crown=crown, grid=grid, passes=np.full(instants, 0.25))
    assert set(np.unique(share)) <= {0.25, 1.0}
    return share.T < 1


def disagreements(farthest_m: float, within_m: float, rounds: int) -> tuple[int, int, int]:
    """How often the grid differs from single rays beyond `within_m` of an edge; hits; places looked at."""
    random = np.random.default_rng(42)
    wrong = hits = looked = 0
    for _ in range(rounds):
        crown = some_crown(random, farthest_m)
        grid, at = some_grid(random, 60, 25)
        direction = np.concatenate([aimed(random, crown, 40), some_rays(random, 20)], axis=1)
        got = grid_in_crown(direction, crown, grid)
        starts, rays = at.reshape(3, -1), np.tile(direction, 25)
        inner, outer = (meets(rays, swollen(crown, by), starts).reshape(25, 60) for by in (-within_m, within_m))
        wrong += int((inner & ~got).sum() + (got & ~outer).sum())
        hits += int(got.sum())
        looked += got.size
    return wrong, hits, looked


def test_the_moving_grid_sees_what_single_rays_see() -> None:
    """Beyond a tenth of a millimetre of an edge they never differ."""
    wrong, hits, looked = disagreements(30.0, 1e-4, 400)
    assert 0.1 < hits / looked < 0.6
    assert wrong == 0


def test_far_trees_on_the_moving_grid() -> None:
    wrong, hits, looked = disagreements(300.0, 1e-4, 200)
    assert hits > 0.1 * looked
    assert wrong == 0


def test_single_rays_from_any_place_against_the_nearest_approach() -> None:
    random = np.random.default_rng(5)
    for _ in range(300):
        crown = some_crown(random, 60.0)
        direction = np.concatenate([aimed(random, crown, 30), some_rays(random, 10)], axis=1)
        place = random.uniform(-5, 5, 3)
        starts = np.repeat(place[:, None], 40, axis=1)
        got = in_crown(direction, crown, from_m=tuple(place))
        inner, outer = (meets(direction, swollen(crown, by), starts) for by in (-1e-7, 1e-7))
        assert not (inner & ~got).any()
        assert not (got & ~outer).any()


# --- Margins ---------------------------------------------------------------------------------------------------------


@settings(max_examples=300)
@given(seed=st.integers(0, 10**6), margin_m=st.floats(0.01, 6.0))
def test_a_margin_covers_every_place_within_it(seed: int, margin_m: float) -> None:
    """`margin_m` > 0: met from any place in the ball → met. < 0: met → met from every place in the ball."""
    random = np.random.default_rng(seed)
    crown, middle = some_crown(random, 40.0), random.uniform(-2, 2, 3)
    direction = aimed(random, crown, 40)
    perhaps = in_crown(direction, crown, from_m=tuple(middle), margin_m=margin_m)
    surely = in_crown(direction, crown, from_m=tuple(middle), margin_m=-margin_m)
    assert (surely <= perhaps).all()
    for _ in range(15):
        step = random.normal(size=3)
        step *= margin_m * random.random() ** 0.1 / np.linalg.norm(step)
        seen = meets(direction, crown, np.repeat((middle + step)[:, None], 40, axis=1))
        assert (seen <= perhaps).all()
        assert (surely <= seen).all()


def test_margins_are_not_idle(ray: Ray) -> None:
    """A row 8 m up at 20 m: with 2 m to either side its edge is looked for only near its edge."""
    sun = ray(np.arange(1.0, 60.0), 90.0)
    perhaps, surely = (in_crown(sun, ROW, margin_m=margin) for margin in (2.0, -2.0))
    edge = np.flatnonzero(perhaps & ~surely) + 1.0
    assert surely.sum() > 12
    assert edge.min() > 15
    assert edge.max() < np.degrees(np.arctan2(10.5, 18))


@settings(max_examples=200)
@given(seed=st.integers(0, 10**6), margin_m=st.floats(0, 6))
def test_no_crown_stands_above_the_highest_sine(seed: int, margin_m: float) -> None:
    random = np.random.default_rng(seed)
    crowns = [some_crown(random, 20.0) for _ in range(3)]
    ceiling = highest_sine(crowns, margin_m=margin_m)
    for crown in crowns:
        direction = aimed(random, crown, 60)
        for _ in range(5):
            step = random.normal(size=3)
            step *= margin_m / max(np.linalg.norm(step), 1e-9)
            seen = meets(direction, crown, np.repeat(step[:, None], 60, axis=1))
            assert (direction[2][seen] <= ceiling + 1e-12).all()


def test_share_from_a_place_is_the_product_over_the_crowns_it_sees() -> None:
    random = np.random.default_rng(9)
    for _ in range(50):
        crowns = [replace(some_crown(random, 25.0), transmittance_by_day=random.uniform(0, 1, 2)) for _ in range(3)]
        direction = np.concatenate([aimed(random, crown, 30) for crown in crowns], axis=1)
        direction[2] = np.abs(direction[2])
        day, place = random.integers(0, 2, direction.shape[1]), tuple(random.uniform(-4, 4, 3))
        by_hand = np.ones(direction.shape[1])
        for crown in crowns:
            by_hand *= np.where(in_crown(direction, crown, from_m=place), crown.transmittance_by_day[day], 1.0)
        np.testing.assert_allclose(beam_share(direction, day, crowns, from_m=place), by_hand, rtol=1e-12)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("bearing_deg", np.nan),
        ("distance_m", -5.0),
        ("half_width_m", 0.0),
        ("top_m", -100.0),
        ("transmittance_by_day", 0.17),
        ("transmittance_by_day", np.array([1.7])),
        ("transmittance_by_day", np.array([0.2, np.nan])),
        ("facing_deg", np.inf),
    ],
)
def test_a_crown_that_no_tree_has_is_refused(name: str, value: Any) -> None:
    """It passed more than all light, or NaN, or nothing met it."""
    with pytest.raises(InputError) as caught:
        replace(BALL, **{name: value})
    assert [fault.field for fault in caught.value.faults] == [f"crown.{name}"]
