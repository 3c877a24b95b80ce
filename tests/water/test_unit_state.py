"""Running, waiting or off: a day made by hand, minute by minute."""

from __future__ import annotations

from typing import Any

import numpy as np
from plain_balance import control, run, sump, tank

from trackersim.water.unit_state import STATES, UnitState, minutes_in

MINUTES = 40


def states_of(watts: np.ndarray, **rules: Any) -> list[UnitState]:
    """A day of a unit that could give 60 litres a minute."""
    available = watts.reshape(1, 1, -1)
    found = run(available, np.full(available.shape, 1e-3), **rules)
    return [STATES[place] for place in found.state[0, 0]]


def test_night_weak_light_and_full_light() -> None:
    watts = np.repeat([0.0, 50.0, 300.0, 150.0, 50.0], 8)
    told = states_of(watts, control=control(start_w=200.0, stop_w=100.0))
    off, waits, runs = UnitState.OFF, UnitState.START_POWER, UnitState.RUNNING
    assert told == [off] * 8 + [waits] * 8 + [runs] * 16 + [waits] * 8


def test_a_start_delay_waits_for_start_power() -> None:
    told = states_of(np.full(MINUTES, 300.0), control=control(start_w=200.0, stop_w=100.0, start_delay_min=3))
    assert told[:4] == [UnitState.START_POWER] * 3 + [UnitState.RUNNING]


def test_a_low_source_a_full_store_and_a_cut_out() -> None:
    power, plain = np.full(MINUTES, 300.0), control(start_w=200.0, stop_w=100.0)
    # 60 litres a minute out of 300: empty after five minutes, and nothing runs in.
    small = sump(300, low=0, restart=200)
    assert states_of(power, control=plain, sump=small)[4:7] == [UnitState.RUNNING] + [UnitState.SOURCE_LOW] * 2
    store = tank(1000, start=800, high=900, low=500)
    assert states_of(power, control=plain, store=store)[1:4] == [UnitState.RUNNING] + [UnitState.STORE_FULL] * 2
    trips = control(start_w=200.0, stop_w=100.0, cutout_flow_m3_s=2e-3, cutout_delay_min=2, cutout_retry_min=5)
    told = states_of(power, control=trips)
    assert told[:9] == [UnitState.RUNNING] * 2 + [UnitState.CUT_OUT] * 5 + [UnitState.RUNNING] * 2


def test_no_minute_is_lost() -> None:
    counts = minutes_in(np.array([[0, 0, 5], [1, 2, 5]], dtype=np.uint8))
    assert list(counts) == list(STATES)
    assert sum(counts.values()) == 6
    assert counts[UnitState.OFF] == 2
