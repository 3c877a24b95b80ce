"""A pump with neither sump nor store, minute by minute: equal to a plain loop, and right in each regime."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from plain_balance import control, run

from trackersim.water.balance import Balance
from trackersim.water.unit_state import Standstill

Minutes = NDArray[np.float64]
LOW = {"cutout_flow_m3_s": 1e-4, "cutout_delay_min": 2.0, "cutout_retry_min": 20.0}


def operate(available_w: Minutes, flow: Minutes, *, stop_w: float | None = None, **rules: Any) -> Balance:
    """What the balance gives for one pump alone; it stops below 80 % of its start power if nothing else is said."""
    stop_w = 0.8 * rules.get("start_w", 0.0) if stop_w is None else stop_w
    return run(available_w[None], flow[None], control=control(stop_w=stop_w, **rules))


def plain_loop(
    available_w: Minutes,
    flow: Minutes,
    *,
    start_w: float = 0.0,
    stop_w: float | None = None,
    start_delay_min: float = 0.0,
    cutout_flow_m3_s: float = 0.0,
    cutout_delay_min: float = 2.0,
    cutout_retry_min: float = 20.0,
) -> tuple[NDArray[np.bool_], list[int], list[int]]:
    """The rules told once more, one minute after the other, without a notion of days but for the counts."""
    days, length = available_w.shape
    running, low_min, wait_min, enough_min = False, 0, 0.0, 0
    stop_w = 0.8 * start_w if stop_w is None else stop_w
    mask, starts, cutouts = np.zeros((days, length), dtype=bool), [0] * days, [0] * days
    for day in range(days):
        for minute in range(length):
            power = available_w[day, minute]
            enough_min = enough_min + 1 if power > 0 and power >= start_w else 0
            if running and (power <= 0 or power < stop_w):
                running = False
            elif not running and wait_min <= 0 and enough_min - 1 >= start_delay_min:
                running, low_min = True, 0
                starts[day] += 1
            wait_min = max(wait_min - 1, 0)
            mask[day, minute] = running
            if running and flow[day, minute] < cutout_flow_m3_s:
                low_min += 1
                if low_min >= cutout_delay_min:
                    running, low_min, wait_min = False, 0, cutout_retry_min
                    cutouts[day] += 1
            else:
                low_min = 0
    return mask, starts, cutouts


def sunny_days(rng: np.random.Generator, days: int, *, polar: bool) -> tuple[Minutes, Minutes]:
    minute = np.arange(1440)
    sun = np.sin((minute - 360) / 720 * np.pi)
    sun = 0.55 + 0.45 * sun if polar else np.clip(sun, 0, None)
    cloud = np.clip(rng.normal(0.6, 0.35, (days, 288)), 0, 1).repeat(5, axis=1)
    available = 800 * sun * cloud
    return available, np.clip((available - 150) * 1e-6, 0, None)


def assert_equals_plain_loop(available: Minutes, flow: Minutes, **rules: float) -> Balance:
    result = operate(available, flow, **rules)
    mask, starts, cutouts = plain_loop(available, flow, **rules)
    np.testing.assert_array_equal(result.running[0], mask)
    assert result.starts[0].tolist() == starts
    assert result.stops[Standstill.CUT_OUT][0].tolist() == cutouts
    return result


@pytest.mark.parametrize("polar", [False, True])
@pytest.mark.parametrize(
    "rules",
    [
        {},
        {"start_w": 180.0},
        LOW,
        {"start_w": 180.0, **LOW},
        {"start_w": 180.0, "start_delay_min": 4.0},
        {"start_w": 120.0, "start_delay_min": 12.5, "stop_w": 0.0, **LOW},
        {"start_delay_min": 3.0},
        {"start_w": 300.0, "stop_w": 90.0, "cutout_flow_m3_s": 2e-4, "cutout_delay_min": 0.0},
        {"start_w": 120.0, "cutout_flow_m3_s": 2e-4, "cutout_delay_min": 7.5, "cutout_retry_min": 720.0},
        {"cutout_flow_m3_s": 1.0, "cutout_delay_min": 120.0, "cutout_retry_min": 1.0},
    ],
)
def test_equals_the_plain_loop(rules: dict[str, float], polar: bool) -> None:
    result = assert_equals_plain_loop(*sunny_days(np.random.default_rng(7), 60, polar=polar), **rules)
    assert result.running.any()
    assert result.starts.sum() > 0


@pytest.mark.parametrize("seed", range(12))
def test_equals_the_plain_loop_on_noise(seed: int) -> None:
    # Short days of pure noise, dark gaps common to all days, power across midnight in some.
    rng = np.random.default_rng(seed)
    available = rng.uniform(0, 400, (70, 60)) * (rng.random((70, 60)) < 0.7)
    available[:, 20 : 20 + seed] = 0
    flow = rng.uniform(0, 3e-4, available.shape)
    assert_equals_plain_loop(
        available,
        flow,
        start_w=float(rng.choice([0, 100, 250])),
        cutout_flow_m3_s=float(rng.choice([0, 1e-4, 2e-4])),
        cutout_delay_min=float(rng.integers(0, 4)),
        cutout_retry_min=float(rng.integers(1, 150)),
    )


def test_steady_power_between_stop_and_start_runs_on_for_ever_once_started() -> None:
    available = np.full((65, 30), 90.0)
    available[2, 5] = 120.0
    result = assert_equals_plain_loop(available, np.ones_like(available), start_w=100.0)
    assert result.running.sum() == 62 * 30 + 25
    assert result.starts.sum() == 1


def test_waits_for_start_power_and_rides_through_a_small_cloud() -> None:
    available = np.array([[50, 99, 100, 85, 79, 95, 130, 0]], dtype=float)
    result = operate(available, np.ones((1, 8)), start_w=100)
    assert result.running[0, 0].tolist() == [False, False, True, True, False, False, True, False]
    assert result.starts[0].tolist() == [2]


def test_cut_out_after_the_delay_and_retry_after_the_pause() -> None:
    available, flow = np.full((1, 12), 500.0), np.zeros((1, 12))
    flow[0, 1] = 1.0  # one good minute starts the count anew
    result = operate(available, flow, cutout_flow_m3_s=0.1, cutout_delay_min=2, cutout_retry_min=5)
    on = [True] * 4 + [False] * 5 + [True] * 2 + [False]
    assert result.running[0, 0].tolist() == on
    assert result.stops[Standstill.CUT_OUT][0].tolist() == [2]
    assert result.starts[0].tolist() == [2]


def test_the_pause_reaches_into_the_next_day() -> None:
    available, flow = np.zeros((2, 20)), np.zeros((2, 20))
    available[0, 18:], available[1, :10] = 500, 500
    result = operate(available, flow, cutout_flow_m3_s=0.1, cutout_delay_min=2, cutout_retry_min=7)
    assert np.flatnonzero(result.running[0, 1]).tolist() == [7, 8]


def test_running_through_midnight_is_one_start() -> None:
    result = operate(np.full((3, 10), 200.0), np.ones((3, 10)), start_w=100)
    assert result.running.all()
    assert result.starts[0].tolist() == [1, 0, 0]


@pytest.mark.parametrize("rules", [{}, {"start_w": 100.0}, LOW])
def test_darkness_never_runs(rules: dict[str, float]) -> None:
    result = operate(np.zeros((4, 50)), np.zeros((4, 50)), **rules)
    assert not result.running.any()
    assert not result.starts.any()
    assert not any(count.any() for count in result.stops.values())


def test_no_rule_no_loss() -> None:
    available, flow = sunny_days(np.random.default_rng(3), 5, polar=False)
    result = operate(available, flow)
    np.testing.assert_array_equal(result.running[0], available > 0)


def test_the_inputs_are_left_alone() -> None:
    available, flow = sunny_days(np.random.default_rng(3), 3, polar=True)
    before = available.copy(), flow.copy()
    operate(available, flow, start_w=100, **LOW)
    np.testing.assert_array_equal((available, flow), before)
