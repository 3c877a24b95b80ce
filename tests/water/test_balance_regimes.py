"""The water balance in each regime, with numbers that can be worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest
from plain_balance import LITRE, Asked, Control, control, on_minutes, run, steady, sump, sump_of_shares, sunny, tank

from trackersim.job.water import Store
from trackersim.water.unit_state import Standstill


@pytest.mark.parametrize("array", [1.0, 5.0])
def test_a_sump_caps_the_daily_water_at_its_inflow_whatever_the_array(array: float) -> None:
    available, flow = sunny(np.random.default_rng(1), 1, 40)
    inflow_m3_s = 1.5e-5
    small = sump_of_shares(2.0, low=0.05, restart=0.25, inflow_m3_s=inflow_m3_s)
    told = run(available * array, flow * array, sump=small)
    assert flow.sum() * 60 > 3 * 40 * inflow_m3_s * 86400
    assert told.pumped_m3.mean() == pytest.approx(inflow_m3_s * 86400, rel=0.03)
    assert told.sump_overflow_m3[:, 1:].sum() == 0  # only the first morning finds it full
    assert (told.lost_min[Standstill.SOURCE_LOW] > 0).all()


def test_a_unit_cannot_pump_more_than_the_sump_and_its_inflow_give() -> None:
    told = run(*steady(6, litres=10), sump=sump(15, low=0, restart=2.5, inflow=1))
    np.testing.assert_allclose(told.flow_m3_s[0, 0] * 60 / LITRE, [10, 7, 0, 0, 0, 4], atol=1e-12)
    assert on_minutes(told.running) == [0, 1, 5]
    assert told.stops[Standstill.SOURCE_LOW].tolist() == [[1]]
    assert told.lost_min[Standstill.SOURCE_LOW].tolist() == [[3]]


@pytest.mark.parametrize(("delay", "resumes"), [(0, 4), (1, 5), (2.5, 7), (3, 7)])
def test_the_restart_delay_runs_from_the_restart_level(delay: float, resumes: int) -> None:
    # Low from minute 1; 7, 8, 9 litres at the ends of minutes 1, 2, 3: restart is reached before minute 4.
    told = run(*steady(9, litres=10), sump=sump(15, low=6.5, restart=8.5, inflow=1, delay=delay))
    assert on_minutes(told.running)[:2] == [0, resumes]


def test_what_a_full_sump_cannot_take_flows_over() -> None:
    told = run(*steady(10, watts=0), sump=sump(5, low=0, restart=1, inflow=0.5))
    assert told.sump_overflow_m3[0, 0] == pytest.approx(5 * LITRE)


def test_a_dry_sump_trips_the_cut_out_by_the_flow_it_really_gives() -> None:
    rules = control(cutout_flow_m3_s=0.9 * LITRE / 60, cutout_delay_min=1, cutout_retry_min=3)
    told = run(*steady(5), control=rules, sump=sump(2, low=0, restart=0.1, inflow=0.25))
    np.testing.assert_allclose(told.flow_m3_s[0, 0] * 60 / LITRE, [1, 1, 0.75, 0, 0], atol=1e-12)
    assert told.stops[Standstill.CUT_OUT].tolist() == [[1]]
    assert told.stops[Standstill.SOURCE_LOW].tolist() == [[0]]


def test_a_full_tank_stops_the_pump_and_the_minutes_are_counted() -> None:
    told = run(*steady(10), store=tank(6, high=3.5, low=2))
    assert on_minutes(told.running) == [0, 1, 2, 3]
    assert told.stops[Standstill.TANK_FULL].tolist() == [[1]]
    assert told.lost_min[Standstill.TANK_FULL].tolist() == [[6]]
    assert told.store is not None
    assert told.store.overflow_m3.sum() == 0
    assert told.store.volume_m3[0, -1] == pytest.approx(4 * LITRE)


def test_floats_have_a_gap() -> None:
    # Full after 4 minutes; demand takes 2 litres a minute from minute 6 on: 2.5 is between the floats, 0.5 below.
    demand = np.array([[0, 0, 0, 0, 0, 0, 1.5, 2, 0, 0, 0, 0, 0]])
    told = run(*steady(13), store=tank(6, high=3.25, low=2, demand=demand))
    assert on_minutes(told.running) == [0, 1, 2, 3, 8, 9, 10]
    assert told.starts.tolist() == [[2]]


def test_a_tank_that_starts_full_stays_shut_and_one_between_the_floats_fills() -> None:
    assert not run(*steady(3), store=tank(6, start=4, high=3.5, low=2)).running.any()
    assert on_minutes(run(*steady(3), store=tank(6, start=3, high=3.5, low=2)).running) == [0]


def test_all_units_stop_for_one_tank() -> None:
    told = run(*steady(6, units=3), store=tank(6, high=5, low=1))
    assert told.running.sum(axis=2).tolist() == [[2], [2], [2]]
    assert told.lost_min[Standstill.TANK_FULL].tolist() == [[4], [4], [4]]


def test_without_power_no_minute_is_lost() -> None:
    available, flow = steady(20)
    available[..., 12:] = 0
    told = run(available, flow, store=tank(6, high=3.5, low=2), control=control(start_w=400, stop_w=300))
    assert told.lost_min[Standstill.TANK_FULL].tolist() == [[8]]


def test_power_between_stop_and_start_is_lost_only_if_the_unit_would_be_running_on_it() -> None:
    rules = control(start_w=400, stop_w=300)
    available, flow = steady(8)
    available[..., 5:] = 350
    told = run(available, flow, store=tank(6, high=3.5, low=2), control=rules)
    assert told.lost_min[Standstill.TANK_FULL].tolist() == [[4]]  # minutes 4…7: power alone would have it run on
    available[..., :] = 350
    told = run(available, flow, store=tank(6, start=5, high=3.5, low=2), control=rules)
    assert told.lost_min[Standstill.TANK_FULL].tolist() == [[0]]


def test_a_full_tank_comes_before_a_low_source_and_both_before_the_start_delay() -> None:
    # It starts in minute 3, whose litre fills the tank and leaves the source low; minute 6 empties the tank again.
    low = sump(1.5, low=1, restart=1.25)
    rules = control(start_w=100, start_delay_min=3)
    store = tank(6, start=3, high=3.5, low=2, demand=[[0] * 6 + [3.5, 0, 0, 0]])
    told = run(*steady(10), store=store, sump=low, control=rules)
    assert on_minutes(told.running) == [3]
    assert told.lost_min[Standstill.TANK_FULL].tolist() == [[3]]
    assert told.lost_min[Standstill.SOURCE_LOW].tolist() == [[3]]
    assert told.lost_min[Standstill.START_DELAY].tolist() == [[3]]


def test_the_start_delay_counts_on_behind_a_full_tank() -> None:
    rules = control(start_w=100, start_delay_min=3)
    free = run(*steady(6), control=rules)
    assert on_minutes(free.running) == [3, 4, 5]
    assert free.lost_min[Standstill.START_DELAY].tolist() == [[3]]
    held = run(*steady(9), control=rules, store=tank(6, start=5, high=3.5, low=2, demand=[[0, 0, 0, 0, 4] + [0] * 4]))
    assert on_minutes(held.running)[0] == 5


def test_want_of_power_is_the_cause_when_a_tank_fills_in_the_last_minute_of_power() -> None:
    available, flow = steady(8)
    available[..., 4:] = 0
    told = run(available, flow, store=tank(6, high=3.5, low=2))
    assert told.stops[Standstill.NO_POWER].tolist() == [[1]]
    assert told.stops[Standstill.TANK_FULL].tolist() == [[0]]


def cut_out(tries: int) -> Control:
    return control(cutout_flow_m3_s=LITRE / 60, cutout_delay_min=1, cutout_retry_min=2, cutout_tries=tries)


def test_after_its_tries_a_unit_stays_off_until_the_next_day() -> None:
    told = run(*steady(20, days=2, litres=0.5), control=cut_out(3))
    for day in range(2):
        assert on_minutes(told.running[0, day]) == [0, 3, 6]
    assert told.stops[Standstill.CUT_OUT].tolist() == [[3, 3]]
    assert told.lost_min[Standstill.CUT_OUT].tolist() == [[17, 17]]
    endless = run(*steady(20, days=2, litres=0.5), control=cut_out(0))
    assert endless.stops[Standstill.CUT_OUT].sum() == 14


def test_a_success_lets_the_tries_count_anew() -> None:
    available, flow = steady(20, litres=0.5)
    flow[..., 3:5] = 2 * LITRE / 60  # the second run gives enough for two minutes: longer than the delay of one
    told = run(available, flow, control=cut_out(3))
    assert on_minutes(told.running) == [0, 3, 4, 5, 8, 11]
    flow[..., 4] = 0  # for one minute only: no success
    assert on_minutes(run(available, flow, control=cut_out(3)).running) == [0, 3, 4, 7]


def test_only_minutes_on_end_make_a_success() -> None:
    rules = control(cutout_flow_m3_s=LITRE / 60, cutout_delay_min=2, cutout_retry_min=2, cutout_tries=2)
    available, flow = steady(20, litres=0.5)
    flow[..., [4, 5, 7]] = 2 * LITRE / 60
    assert on_minutes(run(available, flow, control=rules).running) == [0, 1, 4, 5, 6, 7, 8, 9]
    flow[..., 6] = 2 * LITRE / 60
    assert on_minutes(run(available, flow, control=rules).running) == [0, 1, 4, 5, 6, 7, 8, 9, 12, 13]


def test_the_last_pause_before_midnight_is_not_cut_short() -> None:
    rules = control(cutout_flow_m3_s=LITRE / 60, cutout_delay_min=1, cutout_retry_min=15, cutout_tries=1)
    assert on_minutes(run(*steady(10, days=3, litres=0.5), control=rules).running) == [0, 16]


@pytest.mark.parametrize("floats", [True, False])
def test_demand_takes_only_what_is_there(floats: bool) -> None:
    available, flow = sunny(np.random.default_rng(4), 1, 30)
    section = Store(kind="tank" if floats else "pond", capacity_m3=1.0, start=0.5, high_float=0.9, low_float=0.5)
    store = Asked(section, 2e-4, 1e-5)
    told = run(available, flow, store=store)
    kept = told.store
    assert kept is not None
    assert kept.volume_m3.min() == 0
    np.testing.assert_allclose(kept.delivered_m3 + kept.shortfall_m3, 2e-4 * 86400)
    assert kept.delivered_m3.sum() + kept.evaporated_m3.sum() <= 0.5 + told.pumped_m3.sum()
    assert (kept.evaporated_m3 < 1e-5 * 86400).all()  # nothing evaporates from an empty pond
    assert kept.evaporated_m3.sum() > 0


def test_a_pond_flows_over_and_stops_no_pump() -> None:
    store = Asked(Store(kind="pond", capacity_m3=5 * LITRE, start=0.4), 0.25 * LITRE / 60)
    told = run(*steady(20), store=store)
    assert told.running.all()
    assert told.store is not None
    assert told.store.overflow_m3[0] == pytest.approx((2 + 20 * 0.75 - 5) * LITRE)


@pytest.mark.parametrize("store", [None, Asked(Store(kind="tank"), 1.0)])
def test_a_store_that_nobody_describes_is_not_followed(store: Asked | None) -> None:
    told = run(*steady(10, units=2), store=store)
    assert told.store is None
    assert told.sump_volume_m3 == (None, None)
    assert told.running.all()


def test_days_without_power_draw_the_tank_down_and_fill_the_sump() -> None:
    available, flow = sunny(np.random.default_rng(4), 1, 12)
    available[:, 3:7] = 0
    store = Asked(Store(kind="tank", capacity_m3=9, start=1 / 3, high_float=8 / 9, low_float=7 / 9), 1e-5)
    source = sump_of_shares(5, low=0.02, restart=0.1, inflow_m3_s=2e-5)
    told = run(available, flow, store=store, sump=source)
    assert not told.running[0, 3:7].any()
    assert told.running[0, [0, 1, 2, 7, 8]].any(axis=1).all()
    assert told.store is not None
    level, held = told.store.volume_m3, told.sump_volume_m3[0]
    np.testing.assert_allclose(np.diff(level[2:7, -1]), -1e-5 * 86400)
    np.testing.assert_allclose(np.diff(held[2:7, -1]), np.minimum(2e-5 * 86400, 5 - held[2:6, -1]))


def test_the_inputs_are_left_alone() -> None:
    available, flow = sunny(np.random.default_rng(3), 2, 3, polar=True)
    before = available.copy(), flow.copy()
    source = sump(900, low=10, restart=50, inflow=2)
    told = run(available, flow, sump=source, control=cut_out(2), store=tank(500, high=400, low=100, demand=3.0))
    assert told.running.any()
    np.testing.assert_array_equal((available, flow), before)
