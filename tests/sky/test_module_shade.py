"""Shade as it crosses a turning array: hand-worked edges with their signs, and the shortcut against every minute."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from rays import Ray
from test_crowns_near import meets, swollen

from trackersim.rack.geometry import Axis
from trackersim.sky.crowns import Crown
from trackersim.sky.shading import ArrayPlaces, ModuleShade, ShadeEdges, module_shade, shade_edges
from trackersim.sky.sun import sun_at
from trackersim.sky.trees import beam_share

SOUTH = Axis(azimuth_deg=180.0, tilt_deg=0.0)
EVERGREEN = np.array([0.05])
# Its top 8 m above the axis, 20 m east.
ROW = Crown(
    bearing_deg=90.0, distance_m=20.0, half_width_m=200.0, base_m=-5.0, top_m=8.0, round_top=False,
    transmittance_by_day=EVERGREEN,
)  # fmt: skip
TREE = Crown(
    bearing_deg=180.0,
    distance_m=20.0,
    half_width_m=1.0,
    base_m=-1.0,
    top_m=1.0,
    round_top=True,
    transmittance_by_day=EVERGREEN,
)


def places(across_m: list[float], along_m: list[float] | None = None, off_axis_m: float = 0.0) -> ArrayPlaces:
    along = [0.0] * len(across_m) if along_m is None else along_m
    return ArrayPlaces(across_m=np.array(across_m), along_m=np.array(along), off_axis_m=off_axis_m)


def shaded(
    sun: np.ndarray, at: ArrayPlaces, *crowns: Crown, rotation_deg: float = 0.0, axis: Axis = SOUTH
) -> list[bool]:
    """Which places one sun (3, 1) does not reach in full, with the engine's own choice of what to look at."""
    beam = np.array([800.0])
    edges = shade_edges(sun, beam, crowns, radius_m=at.radius_m)
    found = module_shade(
        sun, np.zeros(1, dtype=np.intp), np.array([rotation_deg]), axis=axis, places=at, crowns=crowns, edges=edges,
        hidden=np.zeros(1, dtype=bool),
    )  # fmt: skip
    if not len(found.minutes):  # all places have the axis's share
        share = beam_share(sun, np.zeros(1, dtype=np.intp), crowns)
        return [bool(share[0] < 1)] * len(at.across_m)
    return (found.share[0] < 1).tolist()


# --- By hand ---------------------------------------------------------------------------------------------------------


def test_edge_of_a_row_s_shadow_on_a_level_rack(ray: Ray) -> None:
    """A ray to the sun, due east at elevation e, from x metres east of the axis is at height (20 − x) · tan e where it
    meets the row: shade where that is below 8 m, x > 20 − 8 / tan e. With tan e = 8/20.5 the edge lies at x = −0.5 m:
    0.5 m west of the axis (`across` is west positive). The west of the rack is lit first as the sun rises."""
    at = places([2.0, 0.51, 0.49, 0.0, -2.0])
    assert shaded(ray(np.degrees(np.arctan(8 / 20.5)), 90.0), at, ROW) == [False, False, True, True, True]
    # tan e = 8/19.5: x = 0.5, the edge has gone on to the east.
    at = places([2.0, -0.49, -0.51, -2.0])
    assert shaded(ray(np.degrees(np.arctan(8 / 19.5)), 90.0), at, ROW) == [False, False, True, True]


def test_module_plane_above_the_axis_is_lit_earlier(ray: Ray) -> None:
    """0.4 m above the axis, the row is 7.6 m high: tan e = 7.6/20 puts the edge on the axis's line, 8/20 past it."""
    sun = ray(np.degrees(np.arctan(7.8 / 20)), 90.0)
    assert shaded(sun, places([0.0], off_axis_m=0.4), ROW) == [False]
    assert shaded(sun, places([0.0]), ROW) == [True]


@pytest.mark.parametrize(
    ("rotation_deg", "west_first"),
    [pytest.param(30.0, False, id="facing-west"), pytest.param(-30.0, True, id="facing-east")],
)
def test_a_turned_rack_has_one_edge_high(ray: Ray, rotation_deg: float, west_first: bool) -> None:
    """Turned west by R, the place u metres across sinks by u·sin R and is u·cos R west of the axis. With the sun at the
    row's top as seen from the axis (tan e = 0.4) it is shaded where (20 + u·cos R)·0.4 − u·sin R < 8, so where
    u·(0.4·cos R − sin R) < 0. R = 30°: 0.346 − 0.5 = −0.154, the low west edge is in shade. R = −30°: 0.846, the low
    east edge is."""
    at = places([1.5, 0.1, -0.1, -1.5])
    sun = ray(np.degrees(np.arctan(0.4)), 90.0)
    expected = [not west_first] * 2 + [west_first] * 2
    assert shaded(sun, at, ROW, rotation_deg=rotation_deg) == expected


def test_on_edge_toward_the_sun_the_edge_of_shade_stands_still(ray: Ray) -> None:
    """tan R = 0.4, the plane holds the sun's ray: all of it passes the row's top together."""
    turned = float(np.degrees(np.arctan(0.4)))
    at = places([1.5, 0.7, -0.7, -1.5])
    for slope, dark in ((0.399, True), (0.401, False)):
        assert shaded(ray(np.degrees(np.arctan(slope)), 90.0), at, ROW, rotation_deg=turned) == [dark] * 4


def test_the_low_end_of_a_tilted_axis_lies_lower(ray: Ray) -> None:
    """Axis 30° down to the south: v metres along it are v·sin 30° lower. The sun at the row's top over the axis
    leaves what lies lower in shade."""
    tilted = Axis(azimuth_deg=180.0, tilt_deg=30.0)
    at = places([0.0] * 4, [1.5, 0.1, -0.1, -1.5])
    sun = ray(np.degrees(np.arctan(0.4)), 90.0)
    assert shaded(sun, at, ROW, axis=tilted) == [True, True, False, False]
    # 1.5 m south is 0.75 m lower: it clears the row when tan e = 8.75/20.
    low = places([0.0], [1.5])
    for slope, dark in ((8.74 / 20, True), (8.76 / 20, False)):
        assert shaded(ray(np.degrees(np.arctan(slope)), 90.0), low, ROW, axis=tilted) == [dark]


def test_south_of_the_equator_the_low_end_points_north_and_west_stays_west(ray: Ray) -> None:
    north = Axis(azimuth_deg=0.0, tilt_deg=30.0)
    sun = ray(np.degrees(np.arctan(8 / 20.5)), 90.0)
    assert shaded(sun, places([0.51, 0.49]), ROW, axis=north) == [False, True]
    level_sun = ray(np.degrees(np.arctan(0.4)), 90.0)
    assert shaded(level_sun, places([0.0, 0.0], [1.5, -1.5]), ROW, axis=north) == [True, False]
    # Due north stands a ball; the low end, north of the axis, is 1 m nearer to a sun that it hides.
    ball = replace(TREE, bearing_deg=0.0, distance_m=5.0, base_m=-2.0, top_m=0.0)
    assert shaded(ray(1.0, 0.0), places([0.0, 0.0], [2.0, -2.0]), ball, axis=north) == [True, False]


def test_both_ends_of_a_wide_rack_lose_the_sun_at_their_own_times(ray: Ray) -> None:
    """A ball of 1 m radius 20 m due south. From 5 m east it stands at azimuth 194.04°, from 5 m west at 165.96°."""
    at = places([5.0, 0.0, -5.0])
    for azimuth, expected in (
        (180 - 14.04, [True, False, False]),
        (180.0, [False, True, False]),
        (180 + 14.04, [False, False, True]),
        (187.0, [False, False, False]),
    ):
        assert shaded(ray(0.5, azimuth), at, TREE) == expected


def test_a_low_tree_under_the_edge_of_the_rack(ray: Ray) -> None:
    """Three metres east, top 1 m below the axis, under a rack that reaches 5 m. Level, nothing of the rack is below it.
    Turned 50° east its edge is 3.21 m east and 3.83 m down: a sun in the west at 60° shines on it through the crown,
    for 0.71 m toward it the ray is at (2.5, −2.6), inside the ball of 1 m about (3, −2)."""
    low = replace(TREE, bearing_deg=90.0, distance_m=3.0, base_m=-3.0, top_m=-1.0)
    at = places([5.0, 0.0, -5.0])
    sun = ray(60.0, 270.0)
    assert shaded(sun, at, low) == [False, False, False]
    assert shaded(sun, at, low, rotation_deg=-50.0) == [False, False, True]
    assert shaded(sun, at, low, rotation_deg=50.0) == [False, False, False]


def test_a_tree_behind_the_array_shades_only_what_lies_behind_it(ray: Ray) -> None:
    """A ball of 1 m, 4 m west: the morning sun reaches all of a narrow rack. On one of 6 m to either side the west end
    lies 2 m beyond the ball, in its shade up to asin(1/2) = 30°. In the evening it shades the narrow one: from its
    east end, 6 m away, up to asin(1/6) = 9.59°."""
    behind = replace(TREE, bearing_deg=270.0, distance_m=4.0)
    assert shaded(ray(20.0, 90.0), places([1.5, 0.0, -1.5]), behind) == [False, False, False]
    assert shaded(ray(29.0, 90.0), places([6.0, 0.0, -6.0]), behind) == [True, False, False]
    assert shaded(ray(31.0, 90.0), places([6.0, 0.0, -6.0]), behind) == [False, False, False]
    assert shaded(ray(9.5, 270.0), places([2.0, 0.0, -2.0]), behind) == [True, True, True]
    assert shaded(ray(9.7, 270.0), places([2.0, 0.0, -2.0]), behind) == [True, True, False]


def test_a_row_taller_than_the_noon_sun(ray: Ray) -> None:
    """Ten metres south, 8 m high: a noon sun of 30° does not clear it, one of 45° does. With tan e = 8/10.4 the edge
    lies 0.4 m north of the axis (`along` is south positive): the north end, farther away, is lit first."""
    south = replace(ROW, bearing_deg=180.0, distance_m=10.0)
    at = places([0.0] * 3, [1.0, 0.0, -1.0])
    assert shaded(ray(30.0, 180.0), at, south) == [True, True, True]
    assert shaded(ray(45.0, 180.0), at, south) == [False, False, False]
    edge = np.degrees(np.arctan(8 / 10.4))
    assert shaded(ray(edge, 180.0), places([0.0] * 3, [-0.41, -0.39, 0.0]), south) == [False, True, True]


def test_sun_in_the_plane_of_the_row_reaches_all(ray: Ray) -> None:
    assert shaded(ray(5.0, 180.0), places([5.0, 0.0, -5.0]), ROW) == [False, False, False]


# --- The shortcut against every minute -------------------------------------------------------------------------------

LATITUDE, LONGITUDE = 36.1, -79.95


def days_of_sun() -> tuple[np.ndarray, np.ndarray]:
    """Sun-up directions (3, n) of three days of the year, and the row of each instant's day."""
    directions, days = [], []
    for number, date in enumerate(("2025-01-20", "2025-04-15", "2025-06-21")):
        times = pd.date_range(f"{date} 00:00:30", periods=1440, freq="min", tz="Etc/GMT+5")
        sun = sun_at(times, latitude_deg=LATITUDE, longitude_deg=LONGITUDE)
        directions.append(sun.direction[:, sun.is_up])
        days.append(np.full(int(sun.is_up.sum()), number))
    return np.concatenate(directions, axis=1), np.concatenate(days)


def some_trees(seed: int) -> list[Crown]:
    random = np.random.default_rng(seed)
    made = []
    for _ in range(4):
        base, distance = random.uniform(-3, 1), random.uniform(6, 40)
        made.append(
            Crown(
                bearing_deg=random.uniform(60, 300),
                distance_m=distance,
                half_width_m=random.uniform(1, min(0.6 * distance, 15)),
                base_m=base,
                top_m=base + random.uniform(2, 15),
                round_top=bool(random.random() < 0.6),
                transmittance_by_day=random.uniform(0, 0.9, 3),
                facing_deg=random.choice([None, random.uniform(0, 360)]),
            )
        )
    return made


def on_plane(at: ArrayPlaces, rotation_deg: np.ndarray, tilt_deg: float) -> np.ndarray:
    """Places (p, 3, n) east, north, up for an axis down to the south: west is −x, the low end (0, −cos, −sin)."""
    turn, tilt = np.radians(rotation_deg), np.radians(tilt_deg)
    u, v, off = at.across_m[:, None], at.along_m[:, None], at.off_axis_m
    sideways, lift = u * np.cos(turn) + off * np.sin(turn), off * np.cos(turn) - u * np.sin(turn)
    # `lift` is along the normal at centre, (0, −sin tilt, cos tilt).
    north = -v * np.cos(tilt) - lift * np.sin(tilt)
    return np.stack([-sideways, north, -v * np.sin(tilt) + lift * np.cos(tilt)], axis=1)


@pytest.fixture(scope="module")
def sky() -> tuple[np.ndarray, np.ndarray]:
    return days_of_sun()


ARRAY = places([-1.8, -0.6, 0.6, 1.8] * 3, [-1.2] * 4 + [0.0] * 4 + [1.2] * 4, off_axis_m=0.15)


def crossing(sky: tuple[np.ndarray, np.ndarray], crowns: list[Crown], seed: int) -> tuple[ModuleShade, np.ndarray]:
    direction, day = sky
    rotation = np.random.default_rng(seed).uniform(-50, 50, len(day))
    edges = shade_edges(direction, np.full(len(day), 700.0), crowns, radius_m=ARRAY.radius_m)
    hidden = direction[2] < np.sin(np.radians(3.0))
    shade = module_shade(
        direction, day, rotation, axis=Axis(azimuth_deg=180.0, tilt_deg=25.0), places=ARRAY, crowns=crowns,
        edges=edges, hidden=hidden,
    )  # fmt: skip
    return shade, rotation


@pytest.mark.parametrize("seed", range(8))
def test_shares_of_all_places_in_all_minutes(sky: tuple[np.ndarray, np.ndarray], seed: int) -> None:
    """Every place in every sun-up minute by single rays: in the minutes of edges the same shares (but where an edge
    lies within a millimetre), outside them the axis's at every place."""
    direction, day = sky
    crowns = some_trees(seed)
    shade, rotation = crossing(sky, crowns, seed)
    at = on_plane(ARRAY, rotation, 25.0)
    hidden = direction[2] < np.sin(np.radians(3.0))
    whole = np.tile(np.where(hidden, 0.0, 1.0), (len(ARRAY.across_m), 1))
    sure = np.ones_like(whole, dtype=bool)
    for number, starts in enumerate(at):
        for crown in crowns:
            hit = meets(direction, crown, starts)
            whole[number] *= np.where(hit, crown.transmittance_by_day[day], 1.0)
            sure[number] &= meets(direction, swollen(crown, 1e-3), starts) == meets(
                direction, swollen(crown, -1e-3), starts
            )
    axis_share = beam_share(direction, day, crowns)
    axis_share[hidden] = 0.0
    found = np.tile(axis_share, (len(ARRAY.across_m), 1))
    found[:, shade.minutes] = shade.share.T
    assert sure.mean() > 0.99
    np.testing.assert_allclose(found[sure], whole[sure], atol=1e-6)
    # The shortcut saves something, and something crosses the array.
    assert 0 < len(shade.minutes) < 0.9 * len(day)
    assert np.ptp(shade.share, axis=1).max() > 0.05


def test_a_faint_beam_is_not_looked_at(sky: tuple[np.ndarray, np.ndarray]) -> None:
    direction, _ = sky
    beam = np.full(direction.shape[1], 4.9)
    assert len(shade_edges(direction, beam, some_trees(0), radius_m=2.0).minutes) == 0
    assert len(shade_edges(direction, beam + 0.2, some_trees(0), radius_m=2.0).minutes) > 0


def test_no_trees_no_minutes(sky: tuple[np.ndarray, np.ndarray]) -> None:
    direction, day = sky
    edges = shade_edges(direction, np.full(len(day), 700.0), [], radius_m=2.0)
    assert len(edges.minutes) == 0
    shade, _ = crossing(sky, [], 0)
    assert shade.share.shape == (0, 12)


def test_more_minutes_than_needed_change_nothing(sky: tuple[np.ndarray, np.ndarray]) -> None:
    """All minutes looked at for every crown, against the chosen ones."""
    direction, day = sky
    crowns = some_trees(3)
    few, rotation = crossing(sky, crowns, 3)
    every, none = np.arange(len(day)), np.zeros(0, dtype=np.intp)
    all_of_them = module_shade(
        direction, day, rotation, axis=Axis(azimuth_deg=180.0, tilt_deg=25.0), places=ARRAY, crowns=crowns,
        edges=ShadeEdges(minutes=every, at_edge=(every,) * 4, covered=(none,) * 4),
        hidden=direction[2] < np.sin(np.radians(3.0)),
    )  # fmt: skip
    np.testing.assert_allclose(all_of_them.share[few.minutes], few.share, rtol=1e-6)


def test_mirrored_east_to_west(ray: Ray) -> None:
    """Trees, sun, rotation and places mirrored: the same shade."""
    random = np.random.default_rng(1)
    tilted = Axis(azimuth_deg=180.0, tilt_deg=20.0)
    mixed = 0
    for seed in range(40):
        crowns = [replace(crown, transmittance_by_day=EVERGREEN) for crown in some_trees(seed)]
        mirrored = [
            replace(
                crown,
                bearing_deg=360 - crown.bearing_deg,
                facing_deg=None if crown.facing_deg is None else 360 - crown.facing_deg,
            )
            for crown in crowns
        ]
        elevation, azimuth, turn = random.uniform(2, 50), random.uniform(80, 280), random.uniform(-50, 50)
        here = shaded(ray(elevation, azimuth), ARRAY, *crowns, rotation_deg=turn, axis=tilted)
        there = shaded(
            ray(elevation, 360 - azimuth), replace(ARRAY, across_m=-ARRAY.across_m), *mirrored, rotation_deg=-turn,
            axis=tilted,
        )  # fmt: skip
        assert here == there
        mixed += 0 < sum(here) < len(here)
    assert mixed > 3
