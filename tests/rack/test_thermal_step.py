"""One step of the thermal rack: bounds, conservation, symmetry, and that its length does not matter."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import numpy.typing as npt
import pytest
from scipy.linalg import expm
from thermal_makers import SEASON_DAYS, changed_rack, clear_scene, courses, drive_at, make_rack, make_weather, resting

from trackersim.constants import GRAVITY_M_S2
from trackersim.job.rack import Rack
from trackersim.rack.refrigerant import REFRIGERANTS, liquid_density_kg_m3, march_properties, march_table
from trackersim.rack.thermal import Acting, Forcing, Now, State, StepResult, numbers_of
from trackersim.rack.thermal_march import _absorbed_w, _leaning, _properties, _side_of
from trackersim.rack.thermal_year import step

FloatArray = npt.NDArray[np.float64]
STILL = np.full(1, 1e30)  # Pa·s/kg: no liquid moves, the rack alone


def calm(count: int = 1, **changes: FloatArray) -> Forcing:
    """No light, no wind, air at 10 °C, and a tube in which all flow is laminar."""
    values = dict.fromkeys(Forcing._fields, np.zeros(count))
    values.update({"air_c": np.full(count, 10.0), "loss_w_k": np.full(count, 8.0), "lift_pa": np.full(count, 27e3),
                   "laminar_pa_s_kg": np.full(count, 2e5)})  # fmt: skip
    return Forcing(**{**values, **changes})


def random_cases(rack: Rack, count: int = 4000) -> tuple[State, Forcing]:
    """States and weather of every sort, within a rack's bounds."""
    draw = np.random.default_rng(3)
    air = draw.uniform(-35, 45, count)
    state = State(
        air + draw.uniform(-10, 25, (2, count)),
        rack.thermal.liquid_kg * draw.choice([0.0, 1.0, 0.3, 0.5, 0.97], count),
        draw.uniform(-rack.max_rotation_deg, rack.max_rotation_deg, count),
        air + draw.uniform(-10, 25, (2, count)),
    )
    forcing = Forcing(
        sun_rotation_deg=draw.uniform(-180, 180, count),
        beam_w=draw.uniform(0, 140, (2, count)),
        diffuse_w=draw.uniform(0, 40, count),
        air_c=air,
        loss_w_k=draw.uniform(3, 40, count),
        lift_pa=draw.uniform(15e3, 35e3, count),
        laminar_pa_s_kg=10 ** draw.uniform(3, 7, count),
        turbulent_pa_s_kg=10 ** draw.uniform(6, 8, count),
        wind_moment_nm=draw.uniform(0, 200, count),
        sky_w=draw.uniform(-15, 15, count),
    )
    return state, forcing


def mirrored(rack: Rack, state: State, forcing: Forcing) -> tuple[State, Forcing]:
    """East and west exchanged."""
    east_kg = rack.thermal.liquid_kg - state.west_kg
    other = State(state.canister_c[::-1], east_kg, -state.rotation_deg, state.liquid_c[::-1])
    beam = forcing.beam_w[::-1] if forcing.beam_w.ndim == 2 else forcing.beam_w
    return other, forcing._replace(sun_rotation_deg=-forcing.sun_rotation_deg, beam_w=beam, sky_w=-forcing.sky_w)


@pytest.mark.parametrize("seconds", [15.0, 30.0, 60.0, 300.0])
def test_liquid_is_kept_to_the_last_gram_and_in_its_bounds(seconds: float) -> None:
    rack = make_rack()
    state, forcing = random_cases(rack)
    after, moved = step(rack, state, forcing, seconds)
    np.testing.assert_allclose(state.west_kg - after.west_kg, moved, atol=1e-12, rtol=0)
    assert after.west_kg.min() >= 0
    assert after.west_kg.max() <= rack.thermal.liquid_kg
    assert np.abs(after.rotation_deg).max() <= rack.max_rotation_deg
    assert all(np.isfinite(part).all() for part in after)
    assert (moved > 0).any()
    assert (moved < 0).any()


@cache
def day_by_hand(
    *, mirror: bool = False, air_c: float | None = None
) -> tuple[list[State], list[StepResult], list[Forcing]]:
    """Four clear days of the seasons, side by side, minute after minute through `step`."""
    rack = make_rack()
    weather = make_weather(clear_scene(), rack, days=(14, 79, 171, 265), air_c=air_c)
    state, before, after, drives = resting(rack, weather.air_c[:, 0]), [], [], []
    gusts = np.maximum(30 * np.sin(np.arange(1440) / 7), 0)  # a push now and then, so that the wind takes part
    for minute in range(1440):
        forcing = drive_at(weather, minute)._replace(wind_moment_nm=np.full(4, gusts[minute]))
        if minute == 0 and mirror:
            state, _ = mirrored(rack, state, forcing)
        if mirror:
            _, forcing = mirrored(rack, state, forcing)
        before.append(state)
        drives.append(forcing)
        after.append(step(rack, state, forcing, 60.0))
        state = after[-1].state
    return before, after, drives


def test_liquid_is_kept_through_a_day() -> None:
    before, after, _ = day_by_hand()
    moved = sum(one.moved_kg for one in after)
    np.testing.assert_allclose(before[0].west_kg - after[-1].state.west_kg, moved, atol=1e-12, rtol=0)
    went = sum(np.abs(one.moved_kg) for one in after)
    assert (went > make_rack().thermal.liquid_kg).all()  # the day moved it there and back


def heat_held_j(rack: Rack, state: State) -> FloatArray:
    """Heat each canister and its liquid hold above 0 °C [J] (2, n)."""
    liquid = liquid_j_kg_k(rack) * liquid_in_kg(rack, state.west_kg)
    return np.asarray(rack.thermal.shell_j_k * state.canister_c + liquid * state.liquid_c)


def taken_w(rack: Rack, rotation_deg: FloatArray, forcing: Forcing) -> FloatArray:
    """Light less what the sky takes unequally [W] (2, n)."""
    return taking(rack, forcing)(rotation_deg)


def taking(rack: Rack, forcing: Forcing) -> Callable[[FloatArray], FloatArray]:
    """`taken_w` by rotation alone, for many rotations under one `forcing`."""
    numbers, drives = numbers_of(rack), [drive_of(forcing, n) for n in range(len(forcing.air_c))]
    sky_w = np.stack([forcing.sky_w, -forcing.sky_w])

    def taken(rotation_deg: FloatArray) -> FloatArray:
        places = zip(rotation_deg.tolist(), drives, strict=True)
        return np.array([_absorbed_w(numbers, rotation, drive) for rotation, drive in places]).T - sky_w

    return taken


def liquid_in_kg(rack: Rack, west_kg: FloatArray) -> FloatArray:
    """Liquid in the west and the east canister, with what stays there [kg] (2, n)."""
    return np.stack([west_kg, rack.thermal.liquid_now_kg - west_kg]) + rack.thermal.residual_kg


def liquid_j_kg_k(rack: Rack) -> float:
    return numbers_of(rack).liquid_j_kg_k


def drive_of(forcing: Forcing, n: int) -> Acting:
    """What acts on one of many racks."""
    beam = np.broadcast_to(forcing.beam_w, (2, len(forcing.air_c)))
    values = [np.broadcast_to(one, len(forcing.air_c)) for one in (forcing.sun_rotation_deg, *beam, *forcing[2:])]
    return Acting(*(float(one[n]) for one in values))


def now_of(state: State, n: int) -> Now:
    """One of many racks."""
    both = [*state.canister_c, state.west_kg, state.rotation_deg, *state.liquid_c]
    return Now(*(float(one[n]) for one in both))


def heat_taken_j(rack: Rack, before: State, forcing: Forcing, after: StepResult, seconds: float) -> FloatArray:
    """Heat [J] (2, n) that crossed each canister's wall in a step, and that evaporation took or condensation gave."""
    numbers, fluid = numbers_of(rack), march_table(rack.thermal.fluid)
    taken = np.empty_like(before.canister_c)
    for n, moved_kg in enumerate(after.moved_kg):
        drive = drive_of(forcing, n)
        middle = _leaning(numbers, now_of(before, n), drive, seconds).middle_deg
        for canister, way in enumerate((-1.0, 1.0)):
            wall, liquid = before.canister_c[canister, n], before.liquid_c[canister, n]
            held_kg = liquid_in_kg(rack, before.west_kg)[canister, n]
            light_w = _absorbed_w(numbers, middle, drive)[canister] + way * drive.sky_w
            side = _side_of(numbers, fluid, wall, liquid, held_kg, light_w, drive, seconds)
            turned_j = way * side.chill_k_kg * rack.thermal.shell_j_k * moved_kg
            light_less_loss = light_w - drive.loss_w_k * (wall - drive.air_c)
            to_wall = side.warming_k + turned_j / rack.thermal.shell_j_k
            # Of a matrix function a − b X, summed over wall and liquid, only the loss outside is left beside a.
            exchange = held_kg * seconds / rack.thermal.mixing_s * numbers.liquid_j_kg_k / rack.thermal.shell_j_k
            uneven, even = side.across / exchange, side.liquid + side.along
            taken[canister, n] = (
                even * (seconds * light_less_loss + turned_j) - uneven * seconds * drive.loss_w_k * to_wall
            )
    return taken


def test_heat_balance_closes_through_a_day() -> None:
    """What crossed the walls, and what evaporation took and condensation gave, is what walls and liquid gained."""
    rack = make_rack()
    before, after, drives = day_by_hand()
    taken = sum(
        heat_taken_j(rack, one, forcing, then, 60.0).sum(axis=0)
        for one, forcing, then in zip(before, drives, after, strict=True)
    )
    gained = (heat_held_j(rack, after[-1].state) - heat_held_j(rack, before[0])).sum(axis=0)
    light = sum(
        taken_w(rack, one.rotation_deg, forcing).sum(axis=0) * 60.0 for one, forcing in zip(before, drives, strict=True)
    )
    assert (light > 1e6).all()
    np.testing.assert_allclose((taken - gained) / light, 0.0, atol=1e-9)


def exchange_per_s(rack: Rack, state: State, loss_w_k: float) -> FloatArray:
    """Matrices (2, n, 2, 2) of wall and liquid: rates of change per kelvin above the air, by the heat they pass on.

    A wall gives U to the air and, as c m over `mixing_s`, to its liquid.
    """
    liquid = liquid_j_kg_k(rack) * liquid_in_kg(rack, state.west_kg)
    passes, shell = liquid / rack.thermal.mixing_s, rack.thermal.shell_j_k
    rows = [[-(loss_w_k + passes) / shell, passes / shell], [passes / liquid, -passes / liquid]]
    return np.moveaxis(np.array(rows), (0, 1), (-2, -1))


@pytest.mark.parametrize("mixing_s", [1.0, 100.0, 1800.0, 1e7])
def test_wall_and_liquid_relax_as_the_exponential_of_their_exchange(mixing_s: float) -> None:
    """Identity, without light and flow: (T_wall, T_liquid) − T_air = exp(A t) of what they were, whatever the step."""
    rack = make_rack(mixing_s=mixing_s)
    start = State(np.array([[30.0], [24.0]]), np.array([2.5]), np.array([50.0]), np.array([[12.0], [40.0]]))
    matrix = exchange_per_s(rack, start, 8.0)
    above = np.stack([start.canister_c, start.liquid_c], axis=-1) - 10.0
    for seconds, count, within_k in ((15.0, 40, 0.01), (60.0, 10, 0.2)):
        state = start
        for _ in range(count):
            state = step(rack, state, calm(laminar_pa_s_kg=STILL), seconds).state
        found = np.stack([state.canister_c, state.liquid_c], axis=-1) - 10.0
        exact = np.einsum("snij,snj->sni", expm(matrix * 600.0), above)
        np.testing.assert_allclose(found, exact, atol=within_k)


def test_heat_through_the_wall_is_light_less_loss() -> None:
    """Identity, without flow: wall and liquid gain what their exchange with light and air brings, integrated."""
    rack = make_rack()
    state, forcing = random_cases(rack, 200)
    forcing = forcing._replace(laminar_pa_s_kg=STILL, loss_w_k=np.full(200, 12.0), wind_moment_nm=np.zeros(200))
    matrix = exchange_per_s(rack, state, 12.0)
    for seconds in (1.0, 60.0):
        after = step(rack, state, forcing, seconds)
        taken = heat_taken_j(rack, state, forcing, after, seconds)
        held = heat_held_j(rack, after.state) - heat_held_j(rack, state)
        np.testing.assert_allclose(held, taken, rtol=1e-6, atol=1e-6)
        # No more turns than balance and weight make it in a step: light as at its place in the middle.
        middle = (state.rotation_deg + after.state.rotation_deg) / 2
        steady = forcing.air_c + taken_w(rack, middle, forcing) / 12.0
        off = np.stack([state.canister_c, state.liquid_c], axis=-1) - steady[..., None]
        end = np.einsum("snij,snj->sni", expm(matrix * seconds), off) + steady[..., None]
        np.testing.assert_allclose(after.state.canister_c, end[..., 0], atol=0.12)
        np.testing.assert_allclose(after.state.liquid_c, end[..., 1], atol=0.02)


def mixed_steps(rack: Rack, state: State, forcing: Forcing, seconds: float, count: int) -> State:
    """The rack with all liquid as warm as its wall, by plain explicit steps; only for very short ones."""
    fluid, heat_j_kg_k, taken_w_at = rack.thermal.fluid, liquid_j_kg_k(rack), taking(rack, forcing)
    across = GRAVITY_M_S2 * np.cos(np.radians(rack.axis_tilt_taken_deg))
    for _ in range(count):
        wall = state.canister_c
        pressure, _, latent = march_properties(fluid, wall)
        sine, cosine = np.sin(np.radians(state.rotation_deg)), np.cos(np.radians(state.rotation_deg))
        drive = pressure[0] - pressure[1] - forcing.lift_pa * sine
        turbulent = (np.abs(drive) / forcing.turbulent_pa_s_kg) ** (1 / 1.75)
        flow = np.sign(drive) * np.minimum(np.abs(drive) / forcing.laminar_pa_s_kg, turbulent)
        moved = np.clip(flow * seconds, state.west_kg - rack.thermal.liquid_kg, state.west_kg)
        held = rack.thermal.shell_j_k + heat_j_kg_k * liquid_in_kg(rack, state.west_kg)
        heat = seconds * (taken_w_at(state.rotation_deg) - forcing.loss_w_k * (wall - forcing.air_c))
        arriving = heat_j_kg_k * np.array([np.maximum(-moved, 0), np.maximum(moved, 0)]) * (wall[::-1] - wall)
        wall = wall + (heat - latent * np.array([moved, -moved]) + arriving) / held
        weight = across * rack.thermal.lever_m * (2 * state.west_kg - rack.thermal.liquid_kg) * cosine
        torque = weight - across * rack.thermal.moving_mass_kg * rack.thermal.balance_m * sine
        torque -= np.clip(torque, -rack.thermal.pivot_friction_nm, rack.thermal.pivot_friction_nm)
        turned = state.rotation_deg + np.degrees(seconds / rack.thermal.damping_nms * torque)
        state = State(wall, state.west_kg - moved, np.clip(turned, -50, 50), wall)
    return state


@pytest.fixture(scope="module")
def well_stirred() -> FloatArray:
    """Rotation (1440, days) of four clear days' racks whose liquid is one with the wall, by steps of 2 s."""
    rack = make_rack()
    weather = make_weather(clear_scene(), rack, days=(14, 79, 171, 265))
    state, turns = resting(rack, weather.air_c[:, 0]), []
    for minute in range(1440):
        state = mixed_steps(rack, state, drive_at(weather, minute), 2.0, 30)
        turns.append(state.rotation_deg)
    return np.array(turns)


def by_minutes(rack: Rack, seconds: float = 60.0) -> FloatArray:
    """The same four days through `step`."""
    weather = make_weather(clear_scene(), rack, days=(14, 79, 171, 265))
    state, turns = resting(rack, weather.air_c[:, 0]), []
    for minute in range(1440):
        for _ in range(round(60 / seconds)):
            state = step(rack, state, drive_at(weather, minute), seconds).state
        turns.append(state.rotation_deg)
    return np.array(turns)


def test_liquid_that_mixes_at_once_gives_the_well_stirred_rack(well_stirred: FloatArray) -> None:
    """`mixing_s` towards 0 is the rack whose liquid is as warm as its wall, integrated here by other means."""
    assert (well_stirred.min(axis=0) < -40).all()
    stirred = by_minutes(make_rack(mixing_s=1.0), 15.0)
    assert np.sqrt(((stirred - well_stirred) ** 2).mean(axis=0)).max() < 0.5
    flips = [np.argmax(turns < 0, axis=0) for turns in (stirred, well_stirred)]
    assert np.abs(flips[0] - flips[1]).max() <= 2


def test_layered_liquid_is_not_the_well_stirred_rack(well_stirred: FloatArray) -> None:
    """Its wall warms without it, so that the rack wakes earlier on every day, and the limits lie in order."""
    flips = [np.argmax(by_minutes(make_rack(mixing_s=value)) < 0, axis=0) for value in (1e6, 1800.0, 600.0, 60.0)]
    flips.append(np.argmax(well_stirred < 0, axis=0))
    assert (np.diff(flips, axis=0) >= 0).all()
    assert (flips[-1] - flips[0] >= 5).all()


def test_liquid_in_layers_leaves_the_wall_alone() -> None:
    """Identity: with no exchange the wall follows its own heat, and liquid keeps its warmth but for what runs in."""
    rack = make_rack(mixing_s=1e12)
    state, forcing = random_cases(rack)
    after, moved = step(rack, state, forcing, 60.0)
    source = np.where(moved > 0, state.liquid_c[0], state.liquid_c[1])
    before, then = liquid_in_kg(rack, state.west_kg), liquid_in_kg(rack, after.west_kg)
    came = np.stack([np.maximum(-moved, 0), np.maximum(moved, 0)])
    left = before - np.stack([np.maximum(moved, 0), np.maximum(-moved, 0)])
    np.testing.assert_allclose(after.liquid_c, (left * state.liquid_c + came * source) / then, atol=1e-6)
    still = forcing._replace(laminar_pa_s_kg=STILL)
    alone, other = (step(changed_rack(rack, residual_kg=kg), state, still, 60.0).state for kg in (0.5, 5.0))
    np.testing.assert_allclose(other.canister_c, alone.canister_c, atol=1e-6)


def test_what_is_no_number_reads_nothing_outside_the_table() -> None:
    table = march_table(make_rack().thermal.fluid)
    coldest, hottest = _properties(table, -40.0), _properties(table, 80.0)
    assert _properties(table, float("nan")) == _properties(table, -np.inf) == coldest
    assert _properties(table, np.inf) == hottest


def test_mirrored_east_to_west_gives_mirrored_racks() -> None:
    rack = make_rack()
    state, forcing = random_cases(rack)
    after, moved = step(rack, state, forcing, 60.0)
    other, other_moved = step(rack, *mirrored(rack, state, forcing), 60.0)
    np.testing.assert_allclose(other.rotation_deg, -after.rotation_deg, atol=1e-9)
    np.testing.assert_allclose(other.canister_c[::-1], after.canister_c, atol=1e-9)
    np.testing.assert_allclose(other.liquid_c[::-1], after.liquid_c, atol=1e-9)
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
    """At 20° the balance pulls back with M g cos β h sin θ, the axis tilted by β = 20° (identity); the wind is set to
    leave a known torque over.
    """
    rack = make_rack(pivot_friction_nm=8.0, balance_m=0.04, damping_nms=4000.0)
    angle, pull = np.radians(20.0), 150 * 9.80665 * np.cos(np.radians(20.0)) * 0.04
    balance = pull * np.sin(angle)
    over = np.array([0.0, 4.0, 7.999, 8.001, 12.0])
    moment = (balance + over) / np.sin(2 * angle)
    forcing = calm(5, wind_moment_nm=moment, laminar_pa_s_kg=STILL)
    ten = np.full((2, 5), 10.0)
    state = State(ten, np.full(5, rack.thermal.liquid_kg / 2), np.full(5, way * 20.0), ten)
    turned = step(rack, state, forcing, 15.0).state.rotation_deg - state.rotation_deg
    assert (turned[:3] == 0).all()
    assert (turned[3:] * way > 0).all()
    # c dθ/dt = M − M_f − k (θ − θ₀), k = M g cos β h cos θ − 2 K cos 2θ: an exponential approach (identity).
    stiffness = pull * np.cos(angle) - 2 * moment[4] * np.cos(2 * angle)
    turn = np.degrees(4.0 / stiffness * (1 - np.exp(-stiffness * 15 / 4000)))
    assert turned[4] * way == pytest.approx(turn, rel=5e-3)


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_stops_are_respected_and_reached(way: float) -> None:
    rack = make_rack()
    state = resting(rack, np.full(2, 10.0), rotation_deg=way * 10.0)
    state = state._replace(west_kg=np.full(2, rack.thermal.liquid_kg / 2))
    forcing = calm(2, wind_moment_nm=np.full(2, 1e6))
    assert step(rack, state, forcing, 60.0).state.rotation_deg.tolist() == [way * 50.0, way * 50.0]


def test_a_dry_side_gives_nothing_however_hot() -> None:
    rack = make_rack()
    warm = np.array([[60.0], [10.0]])
    hot_west = State(warm, np.array([0.0]), np.array([-50.0]), warm)
    hot_east = State(warm[::-1], np.array([rack.thermal.liquid_kg]), np.array([50.0]), warm[::-1])
    for state in (hot_west, hot_east):
        after, moved = step(rack, state, calm(), 60.0)
        assert moved[0] == 0
        assert after.west_kg[0] == state.west_kg[0]
    nearly = hot_west._replace(west_kg=np.array([0.05]))
    after, moved = step(rack, nearly, calm(), 60.0)
    assert moved[0] == pytest.approx(0.05, abs=1e-15)
    assert after.west_kg[0] == 0


def test_liquid_carries_its_own_warmth_into_liquid() -> None:
    """Identity: half a kilogram at 40 °C to what is there at 0 °C makes a mixture, and no wall is warmer for it."""
    rack = make_rack(mixing_s=1e12)
    full = rack.thermal.liquid_kg
    wall, liquid = np.array([[60.0], [0.0]]), np.array([[40.0], [0.0]])
    state = State(wall, np.array([0.5]), np.array([-50.0]), liquid)
    after, moved = step(rack, state, calm(loss_w_k=np.zeros(1), laminar_pa_s_kg=np.full(1, 100.0)), 60.0)
    assert moved[0] == 0.5
    assert after.liquid_c[0, 0] == pytest.approx(40.0, abs=1e-6)
    assert after.liquid_c[1, 0] == pytest.approx(40.0 * 0.5 / (full + rack.thermal.residual_kg), abs=1e-6)
    latent = march_properties(rack.thermal.fluid, wall)[2]
    np.testing.assert_allclose(
        after.canister_c - wall, 0.5 * np.array([-latent[0], latent[1]]) / rack.thermal.shell_j_k, atol=1e-6
    )


def test_flow_goes_from_the_warm_to_the_cold_side_once_the_lift_is_paid() -> None:
    """Facing west with R-134a at 0 °C: 1.2 K per metre of lift (C CoolProp), 2.4 sin 50° cos 20° = 1.73 m of it."""
    rack = make_rack(lever_m=1.2)
    lift = 9.80665 * 2.4 * np.cos(np.radians(20)) * float(liquid_density_kg_m3(REFRIGERANTS["R-134a"], 0.0))
    needed = 1.20 * 2.4 * np.sin(np.radians(50)) * np.cos(np.radians(20))
    for share, flows in ((0.9, False), (1.1, True)):
        middle = np.array([needed * share / 2])
        warm = np.stack([middle, -middle])
        state = State(warm, np.array([rack.thermal.liquid_kg]), np.array([50.0]), warm)
        forcing = calm(loss_w_k=np.zeros(1), air_c=np.zeros(1), lift_pa=np.array([lift]))
        assert (step(rack, state, forcing, 60.0).moved_kg[0] > 0) == flows


@pytest.mark.parametrize("seconds", [1.0, 15.0, 60.0])
def test_flow_meets_the_drag_of_its_own_speed(seconds: float) -> None:
    """Identity where heat plays no part: Δp = max(a, b |ṁ|^0.75) ṁ with the step's own ṁ."""
    rack = make_rack(shell_j_k=1e12, damping_nms=1e12)
    drive = np.array([10.0, 5e3, 1e4, 5e4])
    warm = np.stack([np.full(4, 10.0), np.full(4, 10.0)])
    level = State(warm, np.full(4, 3.0), np.zeros(4), warm)
    # On edge by its lift alone: sin 30° of it drives the liquid down, out of the east canister into the west.
    state = level._replace(rotation_deg=np.full(4, 30.0))
    forcing = calm(4, lift_pa=drive / 0.5, laminar_pa_s_kg=np.full(4, 2e5), turbulent_pa_s_kg=np.full(4, 6e6))
    flow = -step(rack, state, forcing, seconds).moved_kg / seconds
    drag = np.maximum(2e5, 6e6 * flow**0.75)
    kept = -step(rack, state, forcing, seconds).moved_kg < 2.9
    np.testing.assert_allclose((drag * flow)[kept], drive[kept], rtol=0.02)
    assert kept[:3].all()
    assert (drag[1:] > 2e5).all()
    assert drag[0] == 2e5


@pytest.mark.parametrize(("refrigerant", "frost_c"), [("R-134a", -15.0), ("n-butane", -5.0)])
def test_steps_of_15_30_and_60_seconds_agree_in_all_seasons(refrigerant: str, frost_c: float) -> None:
    """Healthy rack in its own season's weather and in frost all day, in which it does not hunt: days on which it does
    are taken by eight steps a minute anyway.
    """
    scene, rack = clear_scene(), make_rack(refrigerant)
    by_steps = [courses(scene, rack, ({}, {"air_c": frost_c}), substeps=substeps) for substeps in (1, 2, 4)]
    assert len(SEASON_DAYS) == 12
    for minute, half, quarter in zip(*by_steps, strict=True):
        assert np.isfinite(quarter.flip_min).all()
        for one in (minute, half):
            gap = one.history.rotation_deg - quarter.history.rotation_deg
            assert 0 < np.sqrt((gap**2).mean(axis=1)).max() < 0.5
            assert np.abs(one.flip_min - quarter.flip_min).max() <= 2
        arrivals = [minute.events.arrival, half.events.arrival, quarter.events.arrival]
        assert np.ptp(arrivals, axis=0).max() <= 2
