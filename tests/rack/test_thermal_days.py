"""Many days of the thermal rack, one after the other: as a plain loop of steps takes them, and bounded."""

from __future__ import annotations

import datetime as dt
from functools import cache, partial
from typing import NamedTuple
from unittest.mock import patch

import numpy as np
import numpy.typing as npt
import pytest
from thermal_makers import clear_scene, course, drive_at, make_rack, make_weather, pick_days, plain_step, resting

from trackersim import load_job
from trackersim.job.rack import Rack
from trackersim.rack import thermal_year
from trackersim.rack.thermal import Forcing, State, resting_west_deg
from trackersim.rack.thermal_year import march_thermal, step
from trackersim.simulation.orientation import orientation_of
from trackersim.simulation.scene import make_scene
from trackersim.simulation.tracking import thermal_forcing

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]


class Driven(NamedTuple):
    """A rack and what drives it."""

    rack: Rack
    forcing: Forcing
    beam_share: FloatArray


@cache
def demo_days() -> Driven:
    """Thirty days of the demo's real weather behind its trees, January into February, with winter's rough nights."""
    # A narrow tube leaves the rack in the east on some evenings, so that days begin elsewhere than at rest.
    job = load_job("demo", ["rack.kind=thermal", "rack.thermal.tube_bore=0.0015"])
    scene = make_scene(job, first_day=dt.date(2025, 1, 5), last_day=dt.date(2025, 2, 3))
    forcing, share = thermal_forcing(job, scene, orientation_of(job, scene))
    assert share is not None
    return Driven(job.rack, forcing, share)


def forcing_at(given: Driven, day: int, minute: int, now: State) -> Forcing:
    """What drives the rack of one day at one minute, trees by its own rotation."""
    forcing = Forcing(*(values[day, minute : minute + 1] for values in given.forcing))
    lean = float(now.rotation_deg[0]) / given.rack.max_rotation_deg
    east, centre, west = given.beam_share[:, :, day, minute]
    share = centre + (lean * (west - centre) if lean > 0 else -lean * (east - centre))
    return forcing._replace(beam_w=share[:, None] * forcing.beam_w)


def one_day(given: Driven, day: int, state: State, lit: BoolArray, steps: int) -> tuple[FloatArray, State]:
    """One day from `state` by a plain loop of its minutes, `steps` in each: rotation at the centres, and the end."""
    turns, minute = np.empty(1440), 0
    while minute < 1440:
        length = 1
        while not lit[minute] and length < 5 and minute + length < 1440 and not lit[minute + length]:
            length += 1
        before, middle = state, minute + length // 2
        drive = partial(forcing_at, given, day, middle)
        for _ in range(steps):
            state = plain_step(given.rack, state, drive, 60 * length / steps)
        turned = state.rotation_deg[0] - before.rotation_deg[0]
        turns[minute : minute + length] = before.rotation_deg[0] + (np.arange(length) + 0.5) / length * turned
        minute += length
    return turns, state


def one_after_the_other(given: Driven) -> FloatArray:
    """Rotation at the centres of minutes (days, 1440) by a plain loop: each day, each minute, nothing side by side.

    As the march does, it strides five minutes through the dark, and takes a day on which the rack travels more than 15
    times its range by steps of an eighth; written anew, to be told apart.
    """
    rack, weather, _ = given
    days = weather.air_c.shape[0]
    lit = (weather.beam_w + weather.diffuse_w) > 0
    found = np.empty((days, 1440))
    state = resting(rack, weather.air_c[0, 0], resting_west_deg(rack))
    for day in range(days):
        found[day], end = one_day(given, day, state, lit[day], 1)
        if np.abs(np.diff(found[day])).sum() > 15 * rack.max_rotation_deg:
            found[day], end = one_day(given, day, state, lit[day], 8)
        state = end
    return found


def test_the_march_is_one_day_after_the_other_over_thirty_days() -> None:
    given = demo_days()
    together = march_thermal(given.rack, given.forcing, beam_share=given.beam_share)
    assert given.forcing.air_c.shape == (30, 1440)
    assert (given.beam_share < 0.5).any()  # trees take part
    gap = np.abs(together.rotation_deg - one_after_the_other(given))
    assert gap.max() <= 1e-6
    assert np.ptp(together.rotation_deg[:, 0]) > 1  # some day began elsewhere than at rest, or this proves little


def test_a_hairs_breadth_changes_nothing() -> None:
    """Rounding, which other processors and libraries do otherwise, is no push: a rack at rest where friction just holds
    it stays there.
    """
    weather = make_weather(clear_scene(), make_rack(), days=(79, 171, 265))
    racks = [make_rack(lever_m=1.2 * (1 + hairs * 2.3e-16)) for hairs in range(8)]
    assert len({rack.thermal.lever_m for rack in racks}) == 8
    turns = [march_thermal(rack, weather).rotation_deg for rack in racks]
    assert np.ptp(turns, axis=0).max() < 1e-7


def test_long_strides_in_the_dark_change_little() -> None:
    rack = make_rack()
    weather = make_weather(clear_scene(), rack, days=range(79, 83))
    marched = march_thermal(rack, weather)
    with patch.object(thermal_year, "_DARK_STRIDE_MIN", 1):
        minutely = march_thermal(rack, weather)
    assert np.abs(marched.rotation_deg - minutely.rotation_deg).max() < 0.1
    assert np.abs(marched.canister_c - minutely.canister_c).max() < 0.1


def test_minutes_are_told_by_their_centres() -> None:
    """Halfway between the states at the beginning and the end of each minute, marched by hand."""
    rack = make_rack()
    weather = make_weather(clear_scene(), rack, days=(171,))
    with patch.object(thermal_year, "_DARK_STRIDE_MIN", 1):
        history = march_thermal(rack, weather)
    state, begun = resting(rack, weather.air_c[:, 0], resting_west_deg(rack)), []
    for minute in range(1440):
        begun.append(state)
        state = plain_step(rack, state, lambda _, at=minute: drive_at(weather, at))
    edges = np.array([one.rotation_deg[0] for one in [*begun, state]])
    np.testing.assert_allclose(history.rotation_deg[0], (edges[1:] + edges[:-1]) / 2, atol=1e-9)
    assert history.rotation_deg.shape == history.west_kg.shape == (1, 1440)
    assert history.canister_c.shape == (2, 1, 1440)


def test_a_rack_that_never_forgets_carries_its_angle_through_every_night() -> None:
    """A damper 50 000 times too stiff."""
    scene = clear_scene()
    rack = make_rack(damping_nms=2e8)
    history = march_thermal(rack, make_weather(scene, rack, days=range(60, 86)))
    evenings, mornings = history.rotation_deg[:-1, -1], history.rotation_deg[1:, 0]
    np.testing.assert_allclose(mornings, evenings, atol=0.01)
    assert np.ptp(mornings) > 1
    assert np.isfinite(history.rotation_deg).all()
    assert np.abs(history.rotation_deg).max() <= 50
    assert history.west_kg.min() >= 0
    assert history.west_kg.max() <= rack.thermal.liquid_kg


def test_the_first_day_begins_at_rest_in_the_west() -> None:
    rack = make_rack()
    weather = make_weather(clear_scene(), rack, days=(79,))
    history = march_thermal(rack, weather)
    assert history.rotation_deg[0, 0] == pytest.approx(resting_west_deg(rack), abs=1e-6)
    assert history.west_kg[0, 0] == pytest.approx(rack.thermal.liquid_kg, abs=1e-6)
    assert history.canister_c[:, 0, 0] == pytest.approx(weather.air_c[0, 0], abs=0.05)


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"liquid_kg": 3.0},
        {"liquid_kg": 1.0},
        {"pivot_friction_nm": 40.0},
        {"balance_m": 0.12},
        {"balance_m": 0.0},
        {"balance_m": -0.02},
        {"lever_m": 0.4, "liquid_kg": 2.0},
    ],
    ids=str,
)
def test_resting_angle_is_where_a_rack_from_the_east_comes_to_rest(changes: dict[str, float]) -> None:
    rack = make_rack(**changes)
    weather = make_weather(clear_scene(), rack, days=(79,), resistance_pa_s_kg=1e30)
    state, forcing = resting(rack, 10.0, rotation_deg=-50.0), drive_at(weather, 0)
    for _ in range(2_000):  # at rest after 240; a step of a minute may land anywhere within the friction's hold
        state = step(rack, state, forcing, 5.0).state
    assert state.rotation_deg[0] == pytest.approx(resting_west_deg(rack), abs=1e-3)


@pytest.mark.parametrize(
    "changes",
    [{"liquid_kg": 0.0}, {"lever_m": 0.0}, {"pivot_friction_nm": 500.0}, {"liquid_kg": 0.0, "balance_m": -0.1}],
    ids=str,
)  # fmt: skip
def test_a_rack_without_force_rests_level(changes: dict[str, float]) -> None:
    assert resting_west_deg(make_rack(**changes)) == 0.0


def test_polar_day_and_night() -> None:
    scene = clear_scene(78.0, "site.longitude=15", "site.utc_offset=1", "weather.coldest=-25", "weather.warmest=6")
    rack = make_rack()
    night, day = range(350, 356), range(168, 174)
    dark = course(scene, rack, days=night)
    assert not dark.up.any()
    assert (dark.events.flip == -1).all()
    np.testing.assert_allclose(dark.history.rotation_deg, resting_west_deg(rack), atol=0.5)
    bright = course(scene, rack, days=day)
    assert bright.up.all()
    assert np.isfinite(bright.history.rotation_deg).all()
    assert (bright.history.rotation_deg.min(axis=1) < -40).all()  # it goes round with the sun, back in the north
    assert (bright.history.rotation_deg.max(axis=1) > 40).all()


def test_each_day_is_its_own() -> None:
    """A day that begins at rest depends on those before it only through how warm they leave the canisters."""
    rack = make_rack()
    weather = make_weather(clear_scene(), rack, days=(79, 95, 120))
    together = march_thermal(rack, weather)
    alone = march_thermal(rack, pick_days(weather, (0,)))
    assert np.abs(together.rotation_deg[0] - alone.rotation_deg[0]).max() < 0.1
    twice = march_thermal(rack, pick_days(weather, (0, 0)))
    np.testing.assert_allclose(twice.rotation_deg[0], alone.rotation_deg[0], atol=1e-9)
