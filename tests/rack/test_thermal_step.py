"""One step of the thermal rack: bounds, conservation, symmetry, and that its length does not matter."""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt
import pytest
from thermal_makers import SEASON_DAYS, clear_scene, course, drive_at, make_rack, make_weather, resting

from trackersim.rack.thermal import (
    Drive,
    State,
    Step,
    ThermalRack,
    absorbed_w,
    capacity_j_k,
    heat_held_j,
    heat_taken_j,
    lit_share,
    step,
)

FloatArray = npt.NDArray[np.float64]
STILL = {"flow_resistance_pa_s_kg": 1e30}  # no liquid moves: the rack alone


def calm(count: int = 1, **changes: FloatArray) -> Drive:
    """No light, no wind, air at 10 °C."""
    values = dict.fromkeys(Drive._fields, np.zeros(count))
    values.update({"air_c": np.full(count, 10.0), "loss_w_k": np.full(count, 8.0), "lift_pa": np.full(count, 27e3)})
    return Drive(**{**values, **changes})


def random_cases(rack: ThermalRack, count: int = 4000) -> tuple[State, Drive]:
    """States and weather of every sort, within a rack's bounds."""
    draw = np.random.default_rng(3)
    air = draw.uniform(-35, 45, count)
    state = State(
        air + draw.uniform(-10, 25, (2, count)),
        rack.liquid_kg * draw.choice([0.0, 1.0, 0.3, 0.5, 0.97], count),
        draw.uniform(-rack.max_rotation_deg, rack.max_rotation_deg, count),
    )
    drive = Drive(
        sun_rotation_deg=draw.uniform(-180, 180, count),
        beam_w=draw.uniform(0, 140, (2, count)),
        diffuse_w=draw.uniform(0, 40, count),
        air_c=air,
        loss_w_k=draw.uniform(3, 40, count),
        lift_pa=draw.uniform(15e3, 35e3, count),
        wind_torque_nm=draw.uniform(-200, 200, count),
    )
    return state, drive


def mirrored(rack: ThermalRack, state: State, drive: Drive) -> tuple[State, Drive]:
    """East and west exchanged."""
    other = State(state.canister_c[::-1], rack.liquid_kg - state.west_kg, -state.rotation_deg)
    beam = drive.beam_w[::-1] if drive.beam_w.ndim == 2 else drive.beam_w
    return other, drive._replace(
        sun_rotation_deg=-drive.sun_rotation_deg, beam_w=beam, wind_torque_nm=-drive.wind_torque_nm
    )


@pytest.mark.parametrize("seconds", [15.0, 30.0, 60.0, 300.0])
def test_liquid_is_kept_to_the_last_gram_and_in_its_bounds(seconds: float) -> None:
    rack = make_rack()
    state, drive = random_cases(rack)
    after, moved = step(rack, state, drive, seconds)
    np.testing.assert_allclose(state.west_kg - after.west_kg, moved, atol=1e-12, rtol=0)
    assert after.west_kg.min() >= 0
    assert after.west_kg.max() <= rack.liquid_kg
    assert np.abs(after.rotation_deg).max() <= rack.max_rotation_deg
    assert all(np.isfinite(part).all() for part in after)
    assert (moved > 0).any()
    assert (moved < 0).any()


@cache
def day_by_hand(*, mirror: bool = False, air_c: float | None = None) -> tuple[list[State], list[Step], list[Drive]]:
    """Four clear days of the seasons, side by side, minute after minute through `step`."""
    rack = make_rack()
    weather = make_weather(clear_scene(), rack, days=(14, 79, 171, 265), air_c=air_c)
    state, before, after, drives = resting(rack, weather.air_c[:, 0]), [], [], []
    gusts = 30 * np.sin(np.arange(1440) / 7)  # a push now and then, so that the wind takes part
    for minute in range(1440):
        drive = drive_at(weather, minute)._replace(wind_torque_nm=np.full(4, gusts[minute]))
        if minute == 0 and mirror:
            state, _ = mirrored(rack, state, drive)
        if mirror:
            _, drive = mirrored(rack, state, drive)
        before.append(state)
        drives.append(drive)
        after.append(step(rack, state, drive, 60.0))
        state = after[-1].state
    return before, after, drives


def test_liquid_is_kept_through_a_day() -> None:
    before, after, _ = day_by_hand()
    moved = sum(one.moved_kg for one in after)
    np.testing.assert_allclose(before[0].west_kg - after[-1].state.west_kg, moved, atol=1e-12, rtol=0)
    went = sum(np.abs(one.moved_kg) for one in after)
    assert (went > 6).all()  # the day moved it there and back


def test_heat_balance_closes_through_a_day() -> None:
    """What crossed the walls, and what evaporation took and condensation gave, is what the canisters gained."""
    rack = make_rack()
    before, after, drives = day_by_hand()
    taken = sum(
        heat_taken_j(rack, one, drive, then, 60.0).sum(axis=0)
        for one, drive, then in zip(before, drives, after, strict=True)
    )
    gained = (heat_held_j(rack, after[-1].state) - heat_held_j(rack, before[0])).sum(axis=0)
    light = sum(absorbed_w(rack, one, drive).sum(axis=0) * 60.0 for one, drive in zip(before, drives, strict=True))
    assert (light > 1e6).all()
    np.testing.assert_allclose((taken - gained) / light, 0.0, atol=1e-9)


def test_heat_through_the_wall_is_light_less_loss() -> None:
    """Identity, without flow: (absorbed − U (T − T_air)) Δt · (1 − e^−x)/x with x = U Δt / C, as T relaxes."""
    rack = make_rack(**STILL)
    state, drive = random_cases(rack)
    for seconds in (1.0, 60.0):
        after = step(rack, state, drive, seconds)
        wall = absorbed_w(rack, state, drive) - drive.loss_w_k * (state.canister_c - drive.air_c)
        rate = drive.loss_w_k * seconds / capacity_j_k(rack, state)
        taken = heat_taken_j(rack, state, drive, after, seconds)
        np.testing.assert_allclose(taken, wall * seconds * -np.expm1(-rate) / rate, rtol=2e-3)
        held = capacity_j_k(rack, state) * (after.state.canister_c - state.canister_c)
        np.testing.assert_allclose(held, taken, rtol=1e-6, atol=1e-6)


def test_a_canister_alone_cools_as_an_exponential() -> None:
    """Identity: without light and flow T − T_air falls as exp(−U t / C), whatever the step."""
    rack = make_rack(**STILL)
    for seconds in (15.0, 60.0, 300.0):
        state = State(np.array([[30.0], [24.0]]), np.array([6.0]), np.array([50.0]))
        start = state
        for _ in range(round(3600 / seconds)):
            state = step(rack, state, calm(), seconds).state
        rate = 8.0 / capacity_j_k(rack, start)
        np.testing.assert_allclose(state.canister_c - 10, (start.canister_c - 10) * np.exp(-rate * 3600), atol=0.02)


def test_mirrored_east_to_west_gives_mirrored_racks() -> None:
    rack = make_rack()
    state, drive = random_cases(rack)
    after, moved = step(rack, state, drive, 60.0)
    other, other_moved = step(rack, *mirrored(rack, state, drive), 60.0)
    np.testing.assert_allclose(other.rotation_deg, -after.rotation_deg, atol=1e-9)
    np.testing.assert_allclose(other.canister_c[::-1], after.canister_c, atol=1e-9)
    np.testing.assert_allclose(other_moved, -moved, atol=1e-12)
    assert np.abs(after.rotation_deg - state.rotation_deg).max() > 1


def test_a_mirrored_day_is_a_mirrored_day() -> None:
    _, after, _ = day_by_hand()
    _, other, _ = day_by_hand(mirror=True)
    turns = np.array([one.state.rotation_deg for one in after])
    np.testing.assert_allclose([-one.state.rotation_deg for one in other], turns, atol=1e-6)
    np.testing.assert_allclose(
        [one.state.canister_c[::-1] for one in other], [one.state.canister_c for one in after], atol=1e-7
    )
    assert (turns.min(axis=0) < -40).all()
    assert (turns.max(axis=0) > 40).all()


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_no_motion_while_friction_holds(way: float) -> None:
    """At 20° the balance pulls back with M g h sin θ (identity); the wind is set to leave a known torque over."""
    rack = make_rack(**STILL, friction_nm=8.0)
    balance = 150 * 9.80665 * 0.04 * np.sin(np.radians(20.0))
    over = np.array([0.0, 4.0, 7.999, 8.001, 12.0])
    drive = calm(5, wind_torque_nm=way * (balance + over))
    state = State(np.full((2, 5), 10.0), np.full(5, 3.0), np.full(5, way * 20.0))
    turned = step(rack, state, drive, 60.0).state.rotation_deg - state.rotation_deg
    assert (turned[:3] == 0).all()
    assert (turned[3:] * way > 0).all()
    # c dθ/dt = M − M_f − k (θ − θ₀), k = M g h cos θ: an exponential approach (identity).
    stiffness = 150 * 9.80665 * 0.04 * np.cos(np.radians(20.0))
    turn = np.degrees(4.0 / stiffness * (1 - np.exp(-stiffness * 60 / 4000)))
    assert turned[4] * way == pytest.approx(turn, rel=5e-3)


def test_stops_are_respected_and_reached() -> None:
    rack = make_rack()
    state = resting(rack, np.full(2, 10.0), rotation_deg=0.0)
    drive = calm(2, wind_torque_nm=np.array([1e6, -1e6]))
    assert step(rack, state, drive, 60.0).state.rotation_deg.tolist() == [50.0, -50.0]


def test_a_dry_side_gives_nothing_however_hot() -> None:
    rack = make_rack()
    hot_west = State(np.array([[60.0], [10.0]]), np.array([0.0]), np.array([-50.0]))
    hot_east = State(np.array([[10.0], [60.0]]), np.array([6.0]), np.array([50.0]))
    for state in (hot_west, hot_east):
        after, moved = step(rack, state, calm(), 60.0)
        assert moved[0] == 0
        assert after.west_kg[0] == state.west_kg[0]
    nearly = hot_west._replace(west_kg=np.array([0.05]))
    after, moved = step(rack, nearly, calm(), 60.0)
    assert moved[0] == pytest.approx(0.05, abs=1e-15)
    assert after.west_kg[0] == 0


def test_flow_goes_from_the_warm_to_the_cold_side_once_the_lift_is_paid() -> None:
    """Facing west with R-134a at 0 °C: 1.2 K per metre of lift (C CoolProp), 2.4 sin 50° cos 20° = 1.73 m of it."""
    from trackersim.rack.refrigerant import REFRIGERANTS, liquid_density_kg_m3

    rack = make_rack()
    lift = 9.80665 * 2.4 * np.cos(np.radians(20)) * float(liquid_density_kg_m3(REFRIGERANTS["R-134a"], 0.0))
    needed = 1.20 * 2.4 * np.sin(np.radians(50)) * np.cos(np.radians(20))
    for share, flows in ((0.9, False), (1.1, True)):
        middle = np.array([needed * share / 2])
        state = State(np.stack([middle, -middle]), np.array([3.0]), np.array([50.0]))
        drive = calm(loss_w_k=np.zeros(1), air_c=np.zeros(1), lift_pa=np.array([lift]))
        assert (step(rack, state, drive, 60.0).moved_kg[0] > 0) == flows


def test_the_sun_from_the_east_lights_the_west_canister() -> None:
    offsets = np.array([-60.0, -25.0, -12.5, 0.0, 12.5, 25.0, 60.0])
    west, east = lit_share(make_rack(), offsets)
    np.testing.assert_allclose(west, [1, 1, 0.75, 0.5, 0.25, 0, 0])
    np.testing.assert_allclose(west + east, 1.0)
    np.testing.assert_array_equal(lit_share(make_rack(plate_state=0.0), offsets), 0.5)
    half = lit_share(make_rack(plate_state=0.5), offsets)[0]
    np.testing.assert_allclose(half, [0.75, 0.75, 0.625, 0.5, 0.375, 0.25, 0.25])


def test_steps_of_15_30_and_60_seconds_agree_in_all_seasons() -> None:
    """Healthy rack, its own season's weather (nights down to −7 °C).

    In hard frost the rack hunts from stop to stop, and steps agree no more about the phase than any chaos lets them:
    see `test_thermal_regimes`.
    """
    scene, rack = clear_scene(), make_rack()
    minute, half, quarter = (course(scene, rack, substeps=substeps) for substeps in (1, 2, 4))
    assert len(SEASON_DAYS) == 12
    assert np.isfinite(quarter.flip_min).all()
    for one in (minute, half):
        assert np.abs(one.flip_min - quarter.flip_min).max() <= 2
        gap = one.history.rotation_deg - quarter.history.rotation_deg
        assert np.sqrt((gap**2).mean(axis=1)).max() < 0.5
    flips = [minute.events.arrival, half.events.arrival, quarter.events.arrival]
    assert np.ptp(flips, axis=0).max() <= 2
