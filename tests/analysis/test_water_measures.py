"""Options that change when and how fast water is pumped: what each changes, what it wins, and when it is none."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest

from trackersim import Job, load_job
from trackersim.analysis import water_measures as measures
from trackersim.analysis.alternatives import outcome_of
from trackersim.analysis.options import Options, options_of
from trackersim.errors import InputError
from trackersim.job.files import with_overrides
from trackersim.report import options as show_options
from trackersim.report.blocks import Caution
from trackersim.report.choice_words import name_of
from trackersim.simulation.pump_station import pump_station
from trackersim.simulation.runner import Runner

SAVED = Path(__file__).parents[1] / "saved_jobs"
DAYS = {"first_day": dt.date(2025, 6, 1), "last_day": dt.date(2025, 6, 5)}
GPM, GAL = 0.003785411784 / 60, 0.003785411784
# A collecting tank that runs dry by noon: 900 gal a day into 300 gal.
SUMP = ["source.kind=sump", "source.volume=300 gal", "source.inflow=900 gal/day", "source.lift=80 ft", "store.demand=0"]


@pytest.fixture(scope="module")
def sump() -> Runner:
    return Runner(load_job("demo", SUMP), **DAYS)


def changed(job: Job, made: measures.Ready) -> Job:
    assert made.changes is not None, made.refused
    return with_overrides(job, made.changes)


def test_a_larger_collecting_tank_keeps_what_flowed_over(sump: Runner) -> None:
    """By day the pump takes all there is; at night 300 gal are full in eight hours. A larger tank keeps the rest."""
    job, own = sump.job, sump.run()
    larger = changed(job, measures.larger_collecting_tank(job))
    assert larger.source.volume_m3 == pytest.approx(600 * GAL)
    result = sump.run(larger)
    assert result.water_m3_per_day > 1.1 * own.water_m3_per_day
    assert result.water.sump_overflow_m3.sum() < own.water.sump_overflow_m3.sum()
    assert measures.larger_collecting_tank(load_job("demo")).refused


def test_no_night_is_pumped_through_into_a_full_pond() -> None:
    """A pond has no float. Once the grid ran all night and every night: 27,206 gal/day more into a pond that lacked
    177, for 31.6 kWh a day, and the first of all choices."""
    pond = load_job("demo", ["store.kind=pond", "store.capacity=9000 gal", "store.demand=6000 gal/day"])
    made = measures.grid_at_night(pond)
    assert "until the pond holds the next day's want" in made.presupposes
    runner = Runner(pond, **DAYS)
    own, with_grid = runner.run(), runner.run(changed(pond, made))
    lacking_m3 = 6000 * GAL * own.days - own.water_m3
    assert 0 < with_grid.water_m3 - own.water_m3 < lacking_m3 + 6000 * GAL
    assert with_grid.days_meeting_demand == own.days
    assert "every night" in measures.grid_at_night(load_job("demo", ["store.capacity=9000 gal"])).presupposes


def test_a_larger_tank_needs_one_that_is_followed() -> None:
    job = load_job("demo", ["store.capacity=500 gal"])
    assert changed(job, measures.larger_tank(job)).store.capacity_m3 == pytest.approx(1000 * GAL)
    assert "store.capacity" in measures.larger_tank(load_job("demo")).refused
    pond = load_job("demo", ["store.capacity=500 gal", "store.kind=pond"])
    assert measures.larger_tank(pond).refused == "the store is no tank"


def test_a_larger_tank_gains_nothing_where_the_one_there_never_fills() -> None:
    """Half full on the first day, one twice as large once gave its own half, spread over all days, as its gain."""
    job = load_job("demo", ["store.capacity=9000 gal", "store.demand=9000 gal/day"])
    runner = Runner(job, **DAYS)
    own, larger = runner.run().water.store, runner.run(changed(job, measures.larger_tank(job))).water.store
    assert own is not None
    assert larger is not None
    assert own.shortfall_m3.sum() > 0
    assert larger.delivered_m3.sum() == pytest.approx(own.delivered_m3.sum(), rel=1e-12)


def test_floats_closer_together_start_the_pump_more_often(sump: Runner) -> None:
    job = sump.job
    closer = changed(job, measures.other_floats(job))
    assert closer.source.restart == pytest.approx(job.source.low_stop + 0.1)
    now, then = outcome_of(sump.run()), outcome_of(sump.run(closer))
    assert then.starts_per_day > 1.5 * now.starts_per_day
    tank = load_job("demo", ["store.capacity=2000 gal"])
    assert changed(tank, measures.other_floats(tank)).store.low_float == pytest.approx(0.9)
    assert measures.other_floats(load_job("demo")).refused


def test_the_start_power_is_the_best_of_those_tried() -> None:
    """A start power that is never reached is worth lowering, and no other share of it gives more."""
    job = load_job("demo", ["controller.start=620 W", "store.demand=0"])
    runner = Runner(job, **DAYS)
    own = runner.run()
    made = measures.other_start_power(job, own, runner)
    by_hand = {
        share: runner.run(with_overrides(job, {"controller.start": share * 620})).water_m3_per_day
        for share in (0.4, 0.6, 0.8, 1.0, 1.25, 1.6)
    }
    assert runner.run(changed(job, made)).water_m3_per_day == pytest.approx(max(by_hand.values()), rel=1e-9)
    assert max(by_hand.values()) > 1.01 * by_hand[1.0]
    never = load_job("demo", ["controller.start=0"])
    assert "controller.start" in measures.other_start_power(never, own, runner).refused


def test_the_start_power_that_a_notice_advises_is_among_those_tried() -> None:
    """Three times today's was advised, with "what it does to the water stands among the options": these ended at
    160 % of it."""
    job = load_job("demo", ["controller.start=60 W", "store.demand=0"])
    runner = Runner(job, **DAYS)
    own = runner.run()
    advised = next(notice.text for notice in own.notices if "stands among the options" in notice.text)
    watts = float(advised.partition("Raised to about ")[2].partition(" W")[0])
    assert watts > 3 * 60
    raised = runner.run(with_overrides(job, {"controller.start": watts}))
    assert raised.water_m3_per_day > 1.005 * own.water_m3_per_day
    best = runner.run(changed(job, measures.other_start_power(job, own, runner)))
    assert best.water_m3_per_day >= 0.999 * raised.water_m3_per_day
    assert not any("stands among the options" in notice.text for notice in raised.notices)


def test_a_flow_that_is_held_is_the_flow_at_full_power() -> None:
    """Told 12 gpm, a speed limit and a valve both let 12 gpm through at full power; the valve takes more power."""
    options = [{"ready": "hold-flow", "hold_flow": "12 gpm"}, {"ready": "throttle", "hold_flow": "12 gpm"}]
    job = with_overrides(load_job("demo"), {"option": options})
    own = Runner(job, **DAYS).run()
    slower, valve = changed(job, measures.hold_flow(job, own)), changed(job, measures.throttle(job, own))
    stations = [pump_station(each) for each in (job, slower, valve)]
    assert sum(stations[0].full_flow_m3_s) > 13 * GPM
    for station in stations[1:]:
        assert sum(station.full_flow_m3_s) == pytest.approx(12 * GPM, rel=1e-4)
    assert stations[1].full_power_w[0] < 0.9 * stations[2].full_power_w[0]
    assert slower.pump.max_speed < 1
    assert measures.hold_flow(job, own).title == "speed limit that holds 12.0 gpm (45.4 L/min)"
    free = with_overrides(job, {"option": [{"ready": "hold-flow", "hold_flow": "80 gpm"}]})
    assert "less at full power" in measures.hold_flow(free, own).refused


def test_a_helical_pump_is_never_throttled() -> None:
    """A valve that held 5.9 gpm was offered, 283 ft of head becoming 380; a speed limit holds it as well."""
    job = with_overrides(load_job(SAVED / "helical.toml"), {"option": [
        {"ready": "hold-flow", "hold_flow": "5.9 gpm"}, {"ready": "throttle", "hold_flow": "5.9 gpm"},
    ]})  # fmt: skip
    own = Runner(job, first_day=dt.date(2025, 6, 1), last_day=dt.date(2025, 6, 1)).run()
    valve = measures.throttle(job, own)
    assert not valve.changes
    assert "never throttled" in valve.refused
    slower = pump_station(changed(job, measures.hold_flow(job, own)))
    assert sum(slower.full_flow_m3_s) == pytest.approx(5.9 * GPM, rel=1e-3)


def test_the_flow_of_several_pumps_is_held_together() -> None:
    job = with_overrides(
        load_job(SAVED / "three_pumps.toml"), {"option": [{"ready": "hold-flow", "hold_flow": "10 gpm"}]}
    )
    own = Runner(job, first_day=dt.date(2025, 6, 1), last_day=dt.date(2025, 6, 1)).run()
    slower = changed(job, measures.hold_flow(job, own))
    assert sum(pump_station(job).full_flow_m3_s) > 11 * GPM
    assert sum(pump_station(slower).full_flow_m3_s) == pytest.approx(10 * GPM, rel=1e-3)


def test_a_collecting_tank_says_itself_what_to_hold(sump: Runner) -> None:
    """Its inflow over the minutes that have power enough; the pump then runs through with fewer starts."""
    job, own = sump.job, sump.run()
    made = measures.hold_flow(job, own)
    assert made.size is not None
    powered = (own.minutes["input_w"] >= job.controller.stops_at_w).sum()
    assert made.size[0] == pytest.approx(own.days * 900 * GAL / (60 * powered), rel=1e-9)
    held = outcome_of(sump.run(changed(job, made)))
    assert held.starts_per_day < outcome_of(own).starts_per_day
    assert "option.hold_flow" in measures.hold_flow(load_job("demo"), Runner(load_job("demo"), **DAYS).run()).refused


def test_a_flow_to_hold_goes_with_what_holds_it() -> None:
    with pytest.raises(InputError, match="hold_flow"):
        with_overrides(load_job("demo"), {"option": [{"ready": "new-pipe", "hold_flow": "12 gpm"}]})


@pytest.fixture(scope="module")
def backed() -> Options:
    """Five winter days; a backup of the job's own option has its price."""
    own = {"name": "cheap grid", "cost": 200, "set": {
        "backup.when": "dull", "backup.begins": 18, "backup.ends": 24, "backup.price_per_kwh": 0.2,
    }}  # fmt: skip
    job = load_job("demo", ["store.demand=2000 gal/day", "money.price_of_water=6 per 1000 gal"])
    days = {"first_day": dt.date(2025, 1, 5), "last_day": dt.date(2025, 1, 9)}
    return options_of(with_overrides(job, {"option": [own]}), **days)


def test_energy_is_paid_for_year_by_year(backed: Options) -> None:
    """A spreadsheet: 200 now, each year's wanted water at $6 per 1000 gal less its kWh at $0.20, at 5 %."""
    cheap = next(each for each in backed.choices if each.name == "cheap grid")
    assert cheap.bought_kwh_per_day > 0
    assert cheap.later_bought_kwh_per_day > cheap.bought_kwh_per_day  # older modules leave more to make good
    balance = -200.0
    for year in range(1, 21):
        at = (year - 0.5) / 20
        water = cheap.used_gain_m3_per_day * (1 - at) + cheap.later_gain_m3_per_day * at
        energy = cheap.bought_kwh_per_day * (1 - at) + cheap.later_bought_kwh_per_day * at
        balance += 365 * (water / GAL / 1000 * 6 - 0.2 * energy) / 1.05**year
    assert cheap.net_value == pytest.approx(balance, rel=1e-9)


def test_without_a_price_of_energy_the_answer_is_the_price_below_which_it_pays(backed: Options) -> None:
    unknown = next(each for each in backed.choices if each.ready == "generator-on-dull-days")
    assert (unknown.net_value, unknown.most_cost) == (None, None)
    assert unknown.most_per_kwh is not None
    balance = 0.0
    for year in range(1, 21):
        at = (year - 0.5) / 20
        water = unknown.used_gain_m3_per_day * (1 - at) + unknown.later_gain_m3_per_day * at
        energy = unknown.bought_kwh_per_day * (1 - at) + unknown.later_bought_kwh_per_day * at
        balance += (water / GAL / 1000 * 6 - unknown.most_per_kwh * energy) / 1.05**year
    assert balance == pytest.approx(0, abs=1e-9)
    told = " ".join(show_options.backup_words(backed, "us"))
    assert f"it pays below ${unknown.most_per_kwh:.2f} per kWh" in told
    sun_kwh = backed.own.daily["used_kwh"].mean()  # no tank is followed: the grid by night spares the sun nothing
    assert f"gives {sun_kwh:.1f} beside it, as much as would cost ${sun_kwh * 0.2 * 365:,.0f} a year" in told


def test_a_tank_that_the_grid_fills_by_night_leaves_the_sun_less_to_do() -> None:
    """Once the sun was told to go on giving what it gives without the grid."""
    job = load_job("demo", ["store.capacity=3000 gal", "store.demand=2000 gal/day"])
    runner = Runner(job, **DAYS)
    own, lit = runner.run(), runner.run(changed(job, measures.grid_at_night(job)))
    assert lit.water.bought_w is not None
    bought = lit.water.bought_w > 0
    by_sun = float(lit.water.flow_m3_s[~bought].sum() / own.water.flow_m3_s.sum())
    outcome = outcome_of(lit)
    assert by_sun < 0.9
    assert outcome_of(own).sun_kwh_per_day is None
    assert outcome.sun_kwh_per_day == pytest.approx(by_sun * own.daily["used_kwh"].mean(), rel=0.15)
    found = options_of(job, **DAYS)
    told = next(each for each in show_options.backup_words(found, "us") if "grid at night" in each)
    assert f"the sun gives {outcome.sun_kwh_per_day:.2g} beside it, today {own.daily['used_kwh'].mean():.1f}" in told


def test_the_little_that_a_small_pump_buys_is_not_told_as_nothing(backed: Options) -> None:
    """Once of two modules' pump: "adds 0.203 m³/day of wanted water for 0.0 kWh a day"."""
    made = next(each for each in backed.choices if each.ready == "generator-on-dull-days")
    assert made.outcome is not None
    small = replace(made, outcome=replace(made.outcome, bought_kwh_per_day=0.0253, sun_kwh_per_day=0.36))
    told = show_options._backup_words(small, 0.36, backed, "si")
    assert "for 0.025 kWh a day; the sun gives 0.36 beside it" in told
    large = replace(made, outcome=replace(made.outcome, bought_kwh_per_day=31.62, sun_kwh_per_day=12.04))
    assert "for 31.6 kWh a day; the sun gives 12.0 beside it, today 13.1" in show_options._backup_words(
        large, 13.1, backed, "si"
    )


def test_whoever_is_sent_to_lift_a_pump_is_told_that_lifting_is_dangerous(backed: Options) -> None:
    cautions = [block.text for block in show_options.options_answer(backed, "us").blocks if isinstance(block, Caution)]
    assert any("lifting pumps, pipe and modules" in each for each in cautions)


def test_what_each_presupposes_stands_beside_it(backed: Options) -> None:
    _, listing = show_options.presuppositions(backed, "us")
    told = " ".join(listing.lines)
    for each in backed.choices[1:]:
        if each.ready and each.outcome is not None:
            assert each.presupposes, each.ready
            assert name_of(each, "us") in told
    assert "rack and pole bear their weight and wind is not checked" in told
    assert "change-over switch" in told


def test_demand_met_already_leaves_nothing_to_win() -> None:
    """1,200 of about 1,670 gallons lifted are wanted, on days that are all alike: more water has no value.

    Nor has it later, with modules that do not age.
    """
    half = ["array.in_parallel=1", "array.layout.rows=1", "array.loss_per_year=0", "controller.start=150 W"]
    half.append("source.lift=139 ft")
    clear = ["weather.file=", "weather.clear_sky=true", "money.price_of_water=6 per 1000 gal"]
    job = load_job("demo", [*clear, "store.demand=1200 gal/day", *half])
    options = options_of(job, first_day=dt.date(2025, 4, 10), last_day=dt.date(2025, 4, 12))
    here = options.leave.outcome
    assert here is not None
    assert here.lifted_m3_per_day / GAL == pytest.approx(1670, rel=0.05)
    assert here.short_days == 0
    more = [each for each in options.choices[1:] if each.outcome is not None and each.gain_m3_per_day > 0]
    assert len(more) >= 8
    for each in more:
        assert each.used_gain_m3_per_day == 0
        assert (each.most_cost or 0) <= 0, each.name
        assert (each.net_value or 0) <= 0
        assert (each.most_per_kwh or 0) <= 0
