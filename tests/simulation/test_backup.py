"""The grid or a generator beside the sun: when it drives the pump, what it draws, and that the sun keeps its own."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from trackersim import Job, Result, load_job, simulate
from trackersim.errors import InputError
from trackersim.simulation.backup import backup_w
from trackersim.simulation.electrics import controller_w

DAYS = {"first_day": dt.date(2025, 1, 5), "last_day": dt.date(2025, 1, 9)}
MINUTE = (np.arange(1440) + 0.5) / 60


def run(*overrides: str) -> Result:
    return simulate(load_job("demo", list(overrides)), **DAYS)


@pytest.fixture(scope="module")
def sun() -> Result:
    return run()


@pytest.fixture(scope="module")
def night() -> Result:
    return run("backup.begins=20", "backup.ends=6", "backup.power=1000 W", "backup.price_per_kwh=0.2")


def test_by_night_it_pumps_what_the_pump_gives_at_its_power(night: Result, sun: Result) -> None:
    """Ten hours a night at one steady flow, less the two minutes of start delay in the first of each."""
    assert night.water.bought_w is not None
    bought = night.water.bought_w[0].reshape(night.days, 1440)
    window = (MINUTE > 20) | (MINUTE < 6)
    assert not bought[:, ~window].any()
    flow = night.by_day("flow_m3_s")
    steady = float(np.median(flow[:, window]))
    assert flow[:, window] == pytest.approx(np.where(bought[:, window] > 0, steady, 0.0), rel=1e-9)
    assert night.water_m3 - sun.water_m3 == pytest.approx(steady * 60 * (bought > 0).sum(), rel=1e-9)
    assert (bought[:, window] > 0).sum() == 10 * 60 * night.days - 2 * (1 + night.days)
    assert 800 < bought.max() <= 1000
    assert night.bought_kwh == pytest.approx(bought.sum() / 60_000)
    assert night.daily["bought_kwh"].sum() == pytest.approx(night.bought_kwh)


def test_the_sun_keeps_its_own(night: Result, sun: Result) -> None:
    """What the array could give and what is used of it do not change with a source that runs in the dark."""
    for name in ("input_w", "used_w", "input_v", "rotation_deg"):
        assert np.array_equal(night.minutes[name], sun.minutes[name]), name
    assert sun.bought_kwh is None
    assert "bought_kwh" not in sun.summary()
    assert night.summary()["bought_kwh"] == night.bought_kwh


def test_by_day_the_stronger_of_the_two_runs_the_pump(sun: Result) -> None:
    both = run("backup.begins=9", "backup.ends=15", "backup.power=500 W")
    assert both.water.bought_w is not None
    bought = both.water.bought_w[0]
    assert (bought > 0).any()
    sun_w = both.minutes["input_w"]
    assert (sun_w[bought > 0] < 500).all()
    assert (both.minutes["used_w"][bought > 0] == 0).all()  # a change-over switch: one or the other
    hour = np.tile(MINUTE, both.days)
    runs_on_sun = (both.minutes["flow_m3_s"] > 0) & (bought == 0) & (hour > 9) & (hour < 15)
    assert (sun_w[runs_on_sun] >= 500).all()
    assert both.water_m3 > sun.water_m3


def test_after_a_dull_day_what_is_missing_is_lifted_and_no_more(sun: Result) -> None:
    demand = 2000 * 0.003785411784
    made_good = run("store.demand=2000 gal/day", "backup.when=dull", "backup.begins=18", "backup.ends=24")
    alone, both = sun.daily["water_m3"].to_numpy(), made_good.daily["water_m3"].to_numpy()
    dull = alone < demand
    assert 0 < dull.sum() < len(dull)
    assert np.array_equal(both[~dull], alone[~dull])
    a_minute = made_good.by_day("flow_m3_s")[:, 18 * 60 :].max() * 60
    assert (both[dull] >= demand - 1e-9).all()
    assert (both[dull] <= demand + a_minute).all()
    assert made_good.days_meeting_demand == made_good.days


@pytest.mark.parametrize("begins", [12, 14, 16])
def test_a_window_in_which_the_sun_still_lifts_makes_good_as_well(sun: Result, begins: int) -> None:
    """Its water takes the place of the sun's, which had been counted already: most dull days stayed short."""
    demand = 2000 * 0.003785411784
    made_good = run("store.demand=2000 gal/day", "backup.when=dull", f"backup.begins={begins}", "backup.ends=24")
    dull = sun.daily["water_m3"].to_numpy() < demand
    assert dull.any()
    assert (made_good.daily["water_m3"].to_numpy()[dull] >= demand * (1 - 1e-9)).all()


def test_a_full_tank_stops_it() -> None:
    tank = ["store.capacity=800 gal", "store.demand=1000 gal/day"]
    result = run(*tank, "backup.begins=18", "backup.ends=8")
    store = result.water.store
    assert store is not None
    assert store.overflow_m3.sum() == pytest.approx(0, abs=1e-9)
    free = run("backup.begins=18", "backup.ends=8")
    assert result.bought_kwh is not None
    assert free.bought_kwh is not None
    assert 0 < result.bought_kwh < 0.5 * free.bought_kwh


DULL = ["backup.kind=generator", "backup.when=dull", "backup.begins=18", "backup.ends=24"]
GAL = 0.003785411784


def stored(*overrides: str, days: int = 9) -> tuple[Result, Result]:
    """Winter days with a tank and 2,000 gal a day wanted, without a generator and with it."""
    tank = ["store.demand=2000 gal/day", *overrides]
    last = DAYS["first_day"] + dt.timedelta(days=days - 1)
    alone, backed = (
        simulate(load_job("demo", [*tank, *more]), first_day=DAYS["first_day"], last_day=last) for more in ([], DULL)
    )
    return alone, backed


def test_a_store_that_holds_the_next_day_needs_no_generator() -> None:
    """30,000 gal nine tenths full bear nine days of 2,000 gal, dull or not: nobody starts it."""
    alone, backed = stored("store.capacity=30000 gal", "store.start=0.9")
    assert (alone.daily["water_m3"] < 2000 * GAL).any()
    assert alone.days_meeting_demand == alone.days
    assert backed.bought_kwh == 0
    assert np.array_equal(backed.minutes["flow_m3_s"], alone.minutes["flow_m3_s"])


def test_a_store_that_falls_short_is_helped_and_no_day_is_short() -> None:
    """What the generator lifts, the store would have lacked, but for at most the day that it keeps in hand."""
    alone, backed = stored("store.capacity=6000 gal", "store.start=0.5", "store.demand=4500 gal/day")
    before, after = alone.water.store, backed.water.store
    assert before is not None
    assert after is not None
    assert alone.days_meeting_demand < backed.days_meeting_demand == backed.days
    assert backed.bought_kwh is not None
    assert backed.bought_kwh > 0
    lifted = backed.water_m3 - alone.water_m3
    assert before.shortfall_m3.sum() <= lifted <= before.shortfall_m3.sum() + 4500 * GAL


def test_floats_that_shift_the_store_leave_no_day_short() -> None:
    """Into February, with days that fill the tank between dull ones."""
    alone, backed = stored("store.capacity=6000 gal", "store.start=0.9", "store.demand=3500 gal/day", days=42)
    assert alone.days_meeting_demand < 20
    assert backed.days_meeting_demand == backed.days


def test_the_reserve_is_kept_too() -> None:
    _, without = stored("store.capacity=9000 gal", "store.start=0.5", "store.demand=3500 gal/day")
    _, kept = stored(
        "store.capacity=9000 gal", "store.start=0.5", "store.demand=3500 gal/day", "store.reserve=1500 gal"
    )
    low, high = (each.water.store.volume_m3.min() / GAL for each in (without, kept) if each.water.store)
    assert low < 1500 <= high


def test_its_power_is_what_the_rating_takes_unless_told() -> None:
    """1000 W at 94 % and 6 W for itself: 1069.8 W."""
    job = load_job("demo", ["backup.kind=generator"])
    assert job.backup is not None
    assert backup_w(job, job.backup) == pytest.approx(1000 / 0.94 + 6)


def test_a_dull_day_needs_a_demand_and_a_window_some_length() -> None:
    with pytest.raises(InputError, match=r"backup\.when.*demand"):
        load_job("demo", ["store.demand=0", "backup.when=dull"])
    with pytest.raises(InputError, match="must differ from begins"):
        load_job("demo", ["backup.begins=6", "backup.ends=6"])


def test_a_job_without_one_keeps_its_hash(sun: Result) -> None:
    job: Job = sun.job
    assert '"backup"' not in job.canonical_text()
    assert load_job("demo", ["backup.kind=grid"]).sha256() != job.sha256()


def test_a_window_before_the_sun_follows_the_day_before(sun: Result) -> None:
    """At five in the morning nobody knows that the day will be dull."""
    made_good = run("store.demand=2000 gal/day", "backup.when=dull", "backup.begins=4", "backup.ends=6")
    dull = sun.daily_water_m3 < made_good.demand_m3
    assert made_good.water.bought_w is not None
    ran = made_good.water.bought_w[0].reshape(made_good.days, 1440).any(axis=1)
    assert ran.tolist() == [False, *dull[:-1]]


def test_by_default_it_gives_what_the_rating_takes_at_full_load() -> None:
    curve = ["controller.efficiency_load=10 50 100 %", "controller.efficiency_curve=70 85 88 %"]
    job = load_job("demo", ["backup.kind=grid", *curve])
    assert job.backup is not None
    reached = controller_w(job, np.array([backup_w(job, job.backup)]))
    assert reached == pytest.approx(job.controller.rated_w)
