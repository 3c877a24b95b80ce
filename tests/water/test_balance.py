"""The water balance equals a plain loop over minutes, keeps every drop, and is a year in a moment."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_balance import Asked, Control, Minutes, Sump, control, plain_loop, run, sump_of_shares, sunny

from trackersim.job.water import Store
from trackersim.water.balance import Balance
from trackersim.water.unit_state import Standstill

COUNTED = {
    "start": lambda b: b.starts,
    "stop power": lambda b: b.stops[Standstill.NO_POWER],
    "stop full": lambda b: b.stops[Standstill.TANK_FULL],
    "stop low": lambda b: b.stops[Standstill.SOURCE_LOW],
    "stop cut": lambda b: b.stops[Standstill.CUT_OUT],
    "lost full": lambda b: b.lost_min[Standstill.TANK_FULL],
    "lost low": lambda b: b.lost_min[Standstill.SOURCE_LOW],
    "lost cut": lambda b: b.lost_min[Standstill.CUT_OUT],
    "lost delay": lambda b: b.lost_min[Standstill.START_DELAY],
}
WATER = ("delivered", "shortfall", "evaporated", "overflow")

CALM = control(start_w=180, stop_w=110)
DELAYED = control(start_w=220, stop_w=90, start_delay_min=7)
CUT = control(start_w=100, stop_w=60, cutout_flow_m3_s=1.2e-4, cutout_delay_min=2, cutout_retry_min=20)
TRIES = control(
    start_w=60,
    stop_w=30,
    start_delay_min=1.5,
    cutout_flow_m3_s=1.5e-4,
    cutout_delay_min=3,
    cutout_retry_min=11,
    cutout_tries=2,
)
HASTY = control(cutout_flow_m3_s=2e-4, cutout_delay_min=0, cutout_retry_min=1, cutout_tries=9)
LONG_PAUSE = control(start_w=100, cutout_flow_m3_s=1e-4, cutout_delay_min=4, cutout_retry_min=700)


def sump_of(days: int, volume_m3: float, inflow_m3_s: float, *, delay_min: float = 0.0, seed: int = 5) -> Sump:
    inflow = np.random.default_rng(seed).uniform(0, 2 * inflow_m3_s, days)
    return sump_of_shares(volume_m3, low=0.1, restart=0.37, delay=delay_min, inflow_m3_s=inflow)


def tank_of(days: int, capacity_m3: float, demand_m3_s: float, *, seed: int = 6) -> Asked:
    section = Store(kind="tank", capacity_m3=capacity_m3, start=0.4, high_float=0.93, low_float=0.71)
    return Asked(section, np.random.default_rng(seed).uniform(0, 2 * demand_m3_s, (days, 1440)))


def pond_of(days: int, capacity_m3: float, demand_m3_s: float) -> Asked:
    drying = np.random.default_rng(8).uniform(0, 6e-5, days)
    return Asked(Store(kind="pond", capacity_m3=capacity_m3, start=0.0), demand_m3_s, drying)


def assert_equals_plain_loop(
    available: Minutes,
    flow: Minutes,
    controls: Sequence[Control],
    sumps: Sequence[Sump | None],
    store: Asked | None,
) -> Balance:
    told = run(available, flow, controls=controls, sumps=sumps, store=store)
    plain = plain_loop(available, flow, controls=controls, sumps=sumps, store=store)
    np.testing.assert_array_equal(told.running, plain["running"])
    np.testing.assert_allclose(told.flow_m3_s * 60, plain["pumped_m3"], rtol=0, atol=1e-12)
    for name, of in COUNTED.items():
        assert of(told).tolist() == [[day[name] for day in tally] for tally in plain["counts"]], name
    assert (told.store is None) == (store is None)
    for name in WATER if told.store else ():
        expected = [day[name] for day in plain["water"]]
        np.testing.assert_allclose(getattr(told.store, name + "_m3"), expected, rtol=0, atol=1e-9, err_msg=name)
    over = [[day["overflow"] for day in tally] for tally in plain["counts"]]
    np.testing.assert_allclose(told.sump_overflow_m3, over, rtol=0, atol=1e-9)
    if told.store is not None:
        np.testing.assert_allclose(told.store.volume_m3, plain["store_volume_m3"], rtol=0, atol=1e-9)
    for volume, sump, expected in zip(told.sump_volume_m3, sumps, plain["sump_volume_m3"], strict=True):
        assert (volume is None) == (sump is None)
        if volume is not None:
            np.testing.assert_allclose(volume, expected, rtol=0, atol=1e-9)
    return told


# name: days, polar, controls, (sump volume, inflow, restart delay) or None of each unit, store, what must have happened
SETUPS: dict[str, tuple[int, bool, list[Control], list[Any], Any, list[str]]] = {
    "power alone": (60, False, [CALM], [None], None, ["stop power"]),
    "start delay, power at midnight": (60, True, [DELAYED, CALM], [None, None], None, ["lost delay"]),
    "cut-out": (60, False, [CUT], [None], None, ["stop cut", "lost cut"]),
    "tries": (60, False, [TRIES, HASTY], [None, None], None, ["stop cut", "lost cut", "lost delay"]),
    "pause through midnight": (60, True, [LONG_PAUSE], [None], None, ["lost cut"]),
    "small sump": (60, False, [CALM], [(0.2, 1e-4, 0)], None, ["stop low", "lost low"]),
    "slow sump, restart delay": (75, False, [CUT], [(30, 2e-5, 12)], None, ["stop low", "lost low"]),
    "daily tank": (75, False, [CALM], [None], (tank_of, 4.0, 6e-5), ["stop full", "lost full"]),
    "slow tank": (90, False, [CALM], [None], (tank_of, 300.0, 6e-5), ["stop full"]),
    "tiny tank": (60, True, [CALM, CUT], [None, (1, 2e-4, 3)], (tank_of, 0.05, 1.5e-4), ["stop full", "lost cut"]),
    "pond": (70, False, [CALM, DELAYED], [None, (3, 1e-4, 0)], (pond_of, 40.0, 1.3e-4), ["stop low"]),
    "sump, tank and cut-out": (60, False, [CUT], [(2, 7e-5, 5.5)], (tank_of, 2.5, 5e-5), ["stop full", "stop low"]),
    "three units": (
        60,
        False,
        [TRIES, DELAYED, CUT],
        [(0.5, 1e-4, 0), None, (4, 2e-5, 30)],
        (tank_of, 9.0, 5e-5),
        ["stop full", "stop low", "stop cut", "lost delay", "stop power"],
    ),
}


@pytest.mark.parametrize("name", SETUPS)
def test_equals_the_plain_loop(name: str) -> None:
    days, polar, controls, sumps, store, happened = SETUPS[name]
    available, flow = sunny(np.random.default_rng(len(name)), len(controls), days, polar=polar)
    made = [s and sump_of(days, s[0], s[1], delay_min=s[2]) for s in sumps]
    told = assert_equals_plain_loop(available, flow, controls, made, store and store[0](days, *store[1:]))
    for event in happened:
        assert COUNTED[event](told).sum() > 0, event


def number(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


@st.composite
def small_works(draw: st.DrawFn) -> tuple[list[Control], list[Sump | None], Asked | None]:
    controls, sumps = [], []
    for _ in range(draw(st.integers(1, 3))):
        start_w = draw(st.sampled_from([0.0, 90.0, 250.0]))
        controls.append(
            control(
                start_w=start_w,
                stop_w=start_w * draw(st.sampled_from([0.0, 0.5, 1.0])),
                start_delay_min=draw(st.sampled_from([0, 0.5, 3])),
                cutout_flow_m3_s=draw(st.sampled_from([0.0, 5e-5, 2e-4])),
                cutout_delay_min=draw(st.sampled_from([0, 1, 2.5, 6])),
                cutout_retry_min=draw(st.sampled_from([1, 4.5, 70])),
                cutout_tries=draw(st.integers(0, 3)),
            )
        )
        low = draw(number(0, 0.9))
        sump = sump_of_shares(
            draw(number(1e-3, 0.1)),
            low=low,
            restart=low + (1 - low) * draw(number(0.01, 1)),
            delay=draw(st.sampled_from([0, 0.5, 9])),
            inflow_m3_s=draw(number(0, 3e-4)),
        )
        sumps.append(draw(st.sampled_from([None, sump])))
    section = Store(
        kind=draw(st.sampled_from(["tank", "pond"])),
        capacity_m3=draw(number(1e-3, 0.3)),
        start=draw(number(0, 1)),
        low_float=draw(number(0, 0.5)),
        high_float=draw(number(0.55, 1)),
    )
    store = Asked(section, draw(number(0, 3e-4)), draw(number(0, 1e-4)))
    return controls, sumps, draw(st.sampled_from([None, store, store]))


@given(small_works(), st.integers(0, 1000), st.booleans())
@settings(max_examples=300)
def test_equals_the_plain_loop_on_short_days(
    works: tuple[list[Control], list[Sump | None], Asked | None], seed: int, polar: bool
) -> None:
    controls, sumps, store = works
    power_and_flow = sunny(np.random.default_rng(seed), len(controls), 12, polar=polar, length=60)
    assert_equals_plain_loop(*power_and_flow, controls, sumps, store)


@pytest.mark.parametrize("control", [CALM, DELAYED, CUT, TRIES, LONG_PAUSE])
def test_a_sump_that_never_runs_low_changes_nothing(control: Control) -> None:
    available, flow = sunny(np.random.default_rng(2), 1, 30, polar=True)
    endless = sump_of_shares(1e6, low=0.0, restart=0.1, inflow_m3_s=1.0)
    quick = run(available, flow, control=control)
    looped = run(available, flow, control=control, sumps=[endless])
    np.testing.assert_array_equal(quick.running, looped.running)
    np.testing.assert_array_equal(quick.starts, looped.starts)
    for cause, stops in quick.stops.items():
        np.testing.assert_array_equal(stops, looped.stops[cause])
    for cause, lost_min in quick.lost_min.items():
        np.testing.assert_array_equal(lost_min, looped.lost_min[cause])


@pytest.mark.parametrize("kind", ["tank", "pond"])
def test_a_year_keeps_every_drop(kind: str) -> None:
    days = 365
    available, flow = sunny(np.random.default_rng(9), 2, days)
    sumps = [sump_of(days, 3, 9e-5), sump_of(days, 25, 6e-5, delay_min=10)]
    store = tank_of(days, 12, 1e-4) if kind == "tank" else pond_of(days, 60, 1e-4)
    told = run(available, flow, controls=[CUT, DELAYED], sumps=sumps, store=store)
    kept = told.store
    assert kept is not None
    pumped = told.pumped_m3.sum()
    asked = np.broadcast_to(store.demand_m3_s, (days, 1440)).sum() * 60
    gone = kept.delivered_m3.sum() + kept.overflow_m3.sum() + kept.evaporated_m3.sum()
    capacity = store.store.capacity_m3
    assert store.store.start * capacity + pumped - gone == pytest.approx(kept.volume_m3[-1, -1], abs=1e-9 * pumped)
    assert kept.delivered_m3.sum() + kept.shortfall_m3.sum() == pytest.approx(asked, rel=1e-9)
    for unit, (sump, volume) in enumerate(zip(sumps, told.sump_volume_m3, strict=True)):
        inflow = float(np.sum(sump.inflow_m3_s)) * 86400
        end = sump.source.volume_m3 + inflow - told.pumped_m3[unit].sum() - told.sump_overflow_m3[unit].sum()
        assert volume is not None
        assert end == pytest.approx(volume[-1, -1], abs=1e-9 * inflow)
        assert volume.min() >= 0
        assert volume.max() <= sump.source.volume_m3
    starts, ends = told.starts.sum(axis=1), sum(stops.sum(axis=1) for stops in told.stops.values())
    np.testing.assert_array_equal(starts, ends + told.running[:, -1, -1])
    assert kept.volume_m3.min() >= 0
    assert kept.volume_m3.max() <= capacity
    assert told.sump_overflow_m3.sum() > 0
    assert kept.shortfall_m3.sum() > 0
