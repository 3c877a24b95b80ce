"""The late-turning rack once it lets go: turns at its speed, lags, holds in cloud, and rests west at night."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackersim.rack.delayed import SUNSHINE_W_M2, delayed_rotation
from trackersim.rack.events import MorningEvents, morning_events

MINUTES = np.arange(1440)
SUN_ROTATION = ((MINUTES - 720) / 4.0)[None, :]  # hour angle of an equinox on a polar axis: −90 at 6:00, +90 at 18:00
SUNRISE, SUNSET = 360, 1080
CLEAR = np.where((MINUTES >= SUNRISE) & (MINUTES < SUNSET), 700.0, 0.0)[None, :]
STOP = 50.0


def watched(
    beam: np.ndarray = CLEAR,
    *,
    sun: np.ndarray = SUN_ROTATION,
    flip_at: float = SUNRISE + 60.0,
    turning: float = 20.0,
    lag: float = 3.0,
) -> np.ndarray:
    return delayed_rotation(
        np.broadcast_to(sun, beam.shape),
        beam >= SUNSHINE_W_M2,
        np.full(len(beam), flip_at),
        max_rotation_deg=STOP,
        turning_min=turning,
        lag_deg=lag,
    )


def moments(rotation: np.ndarray, beam: np.ndarray = CLEAR) -> MorningEvents:
    sun = np.broadcast_to(SUN_ROTATION, beam.shape)
    return morning_events(
        rotation_deg=rotation,
        sun_rotation_deg=sun,
        true_elevation_deg=90 - np.abs(sun) - 0.8,  # rises in minute 360
        midnight_min=np.zeros(1, dtype=int),
        beam_w_m2=beam,
        max_rotation_deg=STOP,
    )


# Minutes from stop to centre at the turning time of these tests, 20 min from stop to stop.
HALF_TURN = 10


@pytest.mark.parametrize("delay", [0, 1, 17, 60, 240])
def test_it_starts_half_a_turn_before_it_flips(delay: int) -> None:
    rotation = watched(flip_at=SUNRISE + delay)[0]
    start = SUNRISE + max(delay - HALF_TURN, 0)
    assert (rotation[:start] == STOP).all()
    assert rotation[start] == pytest.approx(STOP - 5.0)


@pytest.mark.parametrize("delay", [10, 17, 60, 240])
def test_it_passes_its_centre_at_its_flip(delay: int) -> None:
    rotation = watched(flip_at=SUNRISE + delay)[0]
    assert int(np.argmax(rotation < 0)) == SUNRISE + delay


@pytest.mark.parametrize("part", [0.0, 0.2, 0.5, 0.9])
def test_a_flip_within_a_minute_is_passed_within_it(part: float) -> None:
    rotation = watched(flip_at=SUNRISE + 60 + part)[0]
    before, after = rotation[SUNRISE + 59], rotation[SUNRISE + 60]
    assert before / (before - after) == pytest.approx(part)


def test_a_flip_before_the_sun_turns_in_the_first_sunny_minute() -> None:
    rotation = watched(flip_at=0.0, turning=1.0)[0]
    assert rotation[SUNRISE - 1] == STOP
    assert rotation[SUNRISE] == -STOP


def test_half_a_turn_of_sunshine_comes_before_the_flip_however_clouds_part_it() -> None:
    beam = CLEAR.copy()
    beam[0, SUNRISE + 40 : SUNRISE + 55] = 0.0
    rotation = watched(beam)[0]
    assert int(np.argmax(rotation < STOP)) == SUNRISE + 35
    assert (rotation[SUNRISE + 39 : SUNRISE + 55] == STOP - 25).all()
    assert int(np.argmax(rotation < 0)) == SUNRISE + 60


def test_without_a_flip_it_stays() -> None:
    assert (watched(flip_at=np.inf) == STOP).all()


def test_it_holds_still_in_cloud() -> None:
    beam = CLEAR.copy()
    beam[0, 700:800] = 0.0
    rotation = watched(beam)[0]
    assert (rotation[700:800] == rotation[699]).all()
    assert rotation[801] > rotation[799]


@pytest.mark.parametrize("turning", [5.0, 20.0, 90.0])
def test_it_never_turns_faster_than_its_speed_nor_past_its_stops(turning: float) -> None:
    rotation = watched(turning=turning)[0]
    assert np.abs(np.diff(rotation)).max() == pytest.approx(2 * STOP / turning)
    assert np.abs(rotation).max() <= STOP


def test_it_swings_from_stop_to_stop_in_the_turning_time() -> None:
    rotation = watched(flip_at=0.0, turning=20.0)[0]
    assert rotation[SUNRISE + 18] > -STOP
    assert rotation[SUNRISE + 19] == pytest.approx(-STOP)


@pytest.mark.parametrize("lag", [0.0, 3.0, 12.0])
def test_it_lags_east_of_the_suns_place(lag: float) -> None:
    rotation = watched(lag=lag)[0]
    inside = np.abs(SUN_ROTATION[0]) < 30
    assert rotation[inside] == pytest.approx(SUN_ROTATION[0, inside] - lag, abs=1e-9)


def test_with_no_delay_no_lag_and_a_quick_turn_it_is_the_ideal_rack_by_day() -> None:
    rotation = watched(flip_at=0.0, lag=0.0, turning=1.0)[0]
    day = slice(SUNRISE, SUNSET)
    assert rotation[day] == pytest.approx(np.clip(SUN_ROTATION[0, day], -STOP, STOP), abs=1e-9)


def test_it_ends_the_day_where_the_last_sun_left_it() -> None:
    rotation = watched()[0]
    assert rotation[-1] == STOP
    early = CLEAR.copy()
    early[0, 780:] = 0.0  # cloud from 13:00
    assert watched(early)[0, -1] == pytest.approx(SUN_ROTATION[0, 779] - 3.0)


def test_a_day_without_sunshine_never_flips_and_stays_west() -> None:
    dull = np.full((1, 1440), SUNSHINE_W_M2 - 1.0)
    rotation = watched(dull)
    assert (rotation == STOP).all()
    events = moments(rotation, dull)
    assert (events.sunrise[0], events.first_beam[0], events.flip[0], events.arrival[0]) == (360, -1, -1, -1)


def test_every_day_begins_at_the_west_stop_and_days_do_not_mix() -> None:
    early = CLEAR.copy()
    early[0, 600:] = 0.0  # ends its day facing east
    both = np.concatenate([early, CLEAR])
    rotation = watched(both)
    assert rotation[0, -1] < 0
    assert rotation[1, 0] == STOP
    assert np.array_equal(rotation[1], watched()[0])
    assert np.array_equal(rotation[0], watched(early)[0])


def test_half_minutes_give_the_same_hours() -> None:
    fine_sun, sunny = np.repeat(SUN_ROTATION, 2, axis=1), np.repeat(CLEAR, 2, axis=1) > 0
    flip = np.array([SUNRISE + 60.0])
    fine = delayed_rotation(fine_sun, sunny, flip, max_rotation_deg=STOP, turning_min=20, lag_deg=3, step_min=0.5)
    assert fine[0, 1::2] == pytest.approx(watched()[0], abs=1e-9)


def test_moments_of_a_clear_morning() -> None:
    events = moments(watched())
    assert (events.sunrise[0], events.first_beam[0], events.flip[0]) == (360, 360, 360 + 60)
    arrival = events.arrival[0]
    rotation = watched()[0]
    assert abs(rotation[arrival] - np.clip(SUN_ROTATION[0, arrival], -STOP, STOP)) <= 5
    assert abs(rotation[arrival - 1] - np.clip(SUN_ROTATION[0, arrival - 1], -STOP, STOP)) > 5
    assert arrival == 360 + 60 + 8


def test_racks_that_do_not_rest_west_have_no_flip() -> None:
    for rotation in (np.zeros((1, 1440)), np.full((1, 1440), -20.0), np.clip(SUN_ROTATION, -STOP, STOP)):
        events = moments(rotation)
        assert events.flip[0] == -1
        assert events.arrival[0] == -1


def test_a_rack_that_flips_but_never_comes_near_does_not_arrive() -> None:
    rotation = np.where(MINUTES < 500, STOP, -1.0)[None, :]
    sun = np.full((1, 1440), 40.0)
    events = morning_events(
        rotation_deg=rotation,
        sun_rotation_deg=sun,
        true_elevation_deg=90 - np.abs(SUN_ROTATION),
        midnight_min=np.zeros(1, dtype=int),
        beam_w_m2=CLEAR,
        max_rotation_deg=STOP,
    )
    assert (events.flip[0], events.arrival[0]) == (500, -1)


def test_polar_night_has_no_morning() -> None:
    night = np.full((1, 1440), -5.0)
    events = morning_events(
        rotation_deg=np.full((1, 1440), STOP),
        sun_rotation_deg=SUN_ROTATION,
        true_elevation_deg=night,
        midnight_min=np.zeros(1, dtype=int),
        beam_w_m2=np.zeros((1, 1440)),
        max_rotation_deg=STOP,
    )
    assert [moment[0] for moment in (events.sunrise, events.first_beam, events.flip, events.arrival)] == [-1] * 4


@given(
    seed=st.integers(0, 2**31),
    flip_at=st.floats(0, 1440),
    turning=st.floats(1, 360),
    lag=st.floats(0, 45),
    stop=st.floats(1, 85),
)
def test_any_weather_keeps_the_rack_between_its_stops(
    seed: int, flip_at: float, turning: float, lag: float, stop: float
) -> None:
    random = np.random.default_rng(seed)
    sunny = random.random((3, 288)) < 0.5
    sun = np.broadcast_to(np.linspace(-180, 180, 288), (3, 288))
    rotation = delayed_rotation(
        sun, sunny, np.full(3, flip_at), max_rotation_deg=stop, turning_min=turning, lag_deg=lag, step_min=5.0
    )
    assert np.isfinite(rotation).all()
    assert np.abs(rotation).max() <= stop
    assert np.abs(np.diff(rotation, axis=1)).max() <= 2 * stop / turning * 5.0 + 1e-9
    assert (np.diff(rotation, axis=1)[~sunny[:, 1:]] == 0).all()
    shone, column = np.cumsum(sunny, axis=1) * 5.0, min(int(flip_at // 5), 287)
    until_flip = shone[:, [column]] - 5.0 * sunny[:, [column]]
    assert (rotation[shone <= until_flip - turning / 2] == stop).all()
