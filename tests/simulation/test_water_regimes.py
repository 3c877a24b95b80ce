"""The water side in the whole chain: pump kinds, sumps, tanks, several units, and water against energy."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pytest

from trackersim import InputError, Job, Result, compare, load_job, simulate
from trackersim.analysis.hydraulics import water_report
from trackersim.job.files import demo_text, parse_job, with_overrides
from trackersim.job.pump import pump_classes
from trackersim.job.water import Source
from trackersim.simulation.electrics import motor_w
from trackersim.simulation.pressure_notices import pressure_notices
from trackersim.simulation.pump_station import pump_station
from trackersim.simulation.pumping import pump
from trackersim.simulation.scene import make_scene
from trackersim.water.helical import HelicalPump, helical_flow_m3_s, helical_power_w, unheld_shut_off_head_m
from trackersim.water.helical_sheet import helical_of
from trackersim.water.pump import PumpCurve, hydraulic_power_w
from trackersim.water.wear import pump_model

CLEAR = ["weather.file=", "weather.clear_sky=true", "trees=[]"]
SPRING: dict[str, Any] = {"first_day": dt.date(2025, 3, 20), "last_day": dt.date(2025, 3, 22)}
SUMP = ["source.kind=sump", "source.volume=3 m**3"]
TANK = ["store.capacity=20 m**3"]
UNITS = """
[main]
lift = "20 ft"
pipes = {length = "500 ft", nominal = "2", material = "plastic"}
[[unit]]
name = "upper"
source = {lift = "110 ft", specific_capacity = "1.5 gpm/ft"}
pipes = {length = "200 ft", nominal = "1-1/4"}
[[unit]]
name = "lower"
source = {kind = "sump", lift = "95 ft", volume = "600 gal", inflow = "1500 gal/day"}
pipes = {length = "100 ft", nominal = "1-1/4"}
pump = {pump_class = "10gpm-150ft", cutout_flow = "1 gpm"}
"""


def run(*overrides: str, **days: Any) -> Result:
    return simulate(load_job("demo", [*CLEAR, *overrides]), **(days or SPRING))


def first_flow_min(result: Result) -> int:
    return int(np.argmax(result.by_day("flow_m3_s")[1] > 0))


@pytest.mark.parametrize("name", sorted(pump_classes()))
def test_every_class_gives_its_duty(name: str) -> None:
    """The name is the duty: its flow at its head at rated speed, with a wire-to-water efficiency of real pumps."""
    job = load_job("demo", [f"pump={{pump_class='{name}'}}"])
    model = pump_model(job.pump)
    flow, head = (part for part in name.removeprefix("helical-").split("-"))
    want_flow, want_head = (
        float(flow.removesuffix("gpm")) * 3.785411784e-3 / 60,
        float(head.removesuffix("ft")) * 0.3048,
    )
    if isinstance(model, PumpCurve):
        gives = float(np.interp(want_flow, model.flow_m3_s, model.head_m))
        power = float(np.interp(want_flow, model.flow_m3_s, model.power_w))
        assert gives == pytest.approx(want_head, rel=0.01)
    else:
        assert float(helical_flow_m3_s(model, speed=1.0, head_m=want_head)) == pytest.approx(want_flow, rel=0.02)
        power = float(helical_power_w(model, speed=1.0, head_m=want_head))
    assert 0.25 < float(hydraulic_power_w(want_flow, want_head)) / power < 0.62


def test_a_helical_pump_gives_its_sheet_back() -> None:
    pump = load_job("demo", ["pump={pump_class='helical-8gpm-200ft'}"]).pump
    fitted = helical_of(pump)
    assert isinstance(fitted, HelicalPump)
    assert pump.curve_head_m is not None
    assert pump.curve_flow_m3_s is not None
    assert pump.curve_power_w is not None
    flow = helical_flow_m3_s(fitted, speed=1.0, head_m=np.array(pump.curve_head_m))
    power = helical_power_w(fitted, speed=1.0, head_m=np.array(pump.curve_head_m))
    assert flow == pytest.approx(pump.curve_flow_m3_s, rel=0.02)
    assert power == pytest.approx(pump.curve_power_w, rel=0.05)


def test_a_helical_pump_starts_in_less_light_than_a_centrifugal_one() -> None:
    """Common practice, no source: positive displacement lifts from 50–150 W/m², centrifugal from 200–400 W/m²."""
    light = []
    for name in ("helical-8gpm-200ft", "10gpm-150ft"):
        result = run(f"pump={{pump_class='{name}'}}", "controller.start=0", "rack.kind=ideal")
        light.append(result.by_day("plane_w_m2")[1][first_flow_min(result)])
    assert light[0] < 200 < light[1] < 400


def test_wear_takes_water_and_never_gives_any() -> None:
    new, head, flow = (run(*worn).water_m3 for worn in ([], ["pump.head_lost=15 %"], ["pump.flow_lost=15 %"]))
    assert new > flow > 0
    assert new > head > 0


def test_a_sump_caps_the_day_at_its_inflow_whatever_the_array() -> None:
    for modules in ([], ["array.in_parallel=4", "array.layout.rows=4", "controller.rated=2000 W"]):
        result = run(*SUMP, "source.inflow=4 m**3/day", *modules)
        volume_m3 = 3.0  # what it holds can be carried from one day to the next, no more
        assert result.water_m3 == pytest.approx(3 * 4.0, abs=volume_m3)
        assert result.daily["water_m3"].max() < 4.0 + 0.9 * volume_m3
        assert sum(int(v.sum()) for v in result.water.lost_min.values()) > 100
    assert run().water_m3 > 2.5 * result.water_m3


def test_sump_and_tank_balance_to_the_last_litre() -> None:
    result = run(*SUMP, *TANK, "source.inflow=12 m**3/day", "store.demand=9 m**3/day")
    report = water_report(result)
    balance = report.balance
    assert balance is not None
    out = balance["delivered"] + balance["overflow"] + balance["evaporated"] + balance["end"]
    assert balance["start"] + balance["pumped"] == pytest.approx(out, rel=1e-9)
    sump = result.water.sump_m3[0]
    assert sump is not None
    ran_in = result.days * result.job.source.inflow_m3_per_day
    left = 3.0 + ran_in - result.water.sump_overflow_m3.sum() - balance["pumped"]
    assert float(sump[-1, -1]) == pytest.approx(left, rel=1e-9)


def test_the_water_stage_builds_the_station_that_it_is_not_given() -> None:
    job = load_job("demo", CLEAR)
    scene = make_scene(job, **SPRING)
    input_w = np.clip(900 * scene.light.beam_w_m2 / 1000, 0, None)
    fresh, given = pump(job, scene, [input_w]), pump(job, scene, [input_w], station=pump_station(job))
    assert fresh.flow_m3_s.shape == (1, 3 * 1440)
    assert fresh.flow_m3_s.max() > 1e-4
    np.testing.assert_array_equal(fresh.flow_m3_s, given.flow_m3_s)
    closed = pump(job, scene, [input_w], station=pump_station(load_job("demo", [*CLEAR, "source.lift=250 ft"])))
    assert closed.flow_m3_s.max() == 0


def test_a_full_tank_stops_the_pump_and_the_minutes_are_counted() -> None:
    result = run(*TANK, "store.demand=2 m**3/day")
    report = water_report(result)
    assert report.lost_min["tank full"] > 300
    assert report.stops["tank full"] >= 1
    store = result.water.store
    assert store is not None
    assert store.volume_m3.max() <= 20 * 0.95 + 0.07  # one minute's flow beyond the float
    assert result.days_meeting_demand == 3


def test_a_pond_overflows_and_loses_water_to_the_air() -> None:
    months = " ".join(["6"] * 12)
    result = run(
        "store.kind=pond", "store.capacity=20 m**3", "store.start=95 %", "store.area=100 m**2",
        f"store.evaporation_by_month={months} mm", "store.demand=1 m**3/day",
    )  # fmt: skip
    store = result.water.store
    assert store is not None
    assert store.evaporated_m3 == pytest.approx(0.6, rel=1e-6)
    assert store.overflow_m3.sum() > 10
    assert not any(count.any() for cause, count in result.water.lost_min.items() if str(cause) == "tank full")


def test_more_modules_add_morning_and_evening_and_little_at_noon() -> None:
    """Common practice, no source: oversizing the array lengthens the pumping day."""
    bigger = ["array.in_parallel=4", "array.layout.rows=4", "array.layout.columns=4", "rack.height=14 ft"]
    pump = ["rack.kind=fixed", "pump={pump_class='helical-3gpm-300ft'}", "controller.start=100 W"]
    small, big = run(*pump), run(*pump, *bigger)
    hours = (big.by_day("flow_m3_s")[1] > 0).sum() - (small.by_day("flow_m3_s")[1] > 0).sum()
    noon = slice(11 * 60, 13 * 60)
    gained = big.by_day("flow_m3_s")[1] - small.by_day("flow_m3_s")[1]
    assert hours > 20
    assert gained[noon].mean() < 0.5 * gained[gained > 0].mean()


def test_lift_by_month_is_used_in_its_month() -> None:
    months = "40 40 30 40 40 40 40 40 40 40 40 40 m"
    by_month = simulate(load_job("demo", [*CLEAR, f"source.lift_by_month={months}"]), **SPRING)
    same = simulate(load_job("demo", [*CLEAR, "source.lift=30 m"]), **SPRING)
    deeper = simulate(load_job("demo", [*CLEAR, "source.lift=40 m"]), **SPRING)
    assert by_month.water_m3 == pytest.approx(same.water_m3, rel=1e-12)
    assert by_month.water_m3 > deeper.water_m3
    assert by_month.minutes["head_m"].max() == pytest.approx(same.minutes["head_m"].max())


def test_doubled_friction_never_adds_water() -> None:
    plain, long, rough = (run(*change).water_m3 for change in ([], ["pipes.length=900 ft"], ["pipes.c_value=80"]))
    assert plain > long > 0
    assert plain > rough > 0


def test_two_units_lift_less_than_each_alone_and_more_than_either() -> None:
    wells = UNITS.replace('kind = "sump", ', "").replace(', volume = "600 gal", inflow = "1500 gal/day"', "")
    job = parse_job(demo_text() + wells, overrides=CLEAR)
    together = simulate(job, **SPRING)
    alone = [simulate(unit, **SPRING).water_m3 for unit in job.units]
    assert max(alone) < together.water_m3 < sum(alone)
    assert together.water.settled
    flows = np.stack([minutes["flow_m3_s"] for minutes in together.unit_minutes])
    assert together.minutes["flow_m3_s"] == pytest.approx(flows.sum(axis=0))


def test_units_alike_share_alike_and_overrides_reach_all_of_them() -> None:
    text = (
        demo_text() + '[main]\npipes = {length = "500 ft", nominal = "2"}\n[[unit]]\nname = "a"\n[[unit]]\nname = "b"\n'
    )
    results = compare(parse_job(text, overrides=CLEAR), kinds=("fixed", "ideal"), **SPRING)
    for kind, result in results.items():
        one, other = result.unit_minutes
        assert one["flow_m3_s"] == pytest.approx(other["flow_m3_s"])
        assert all(unit.rack.kind == kind for unit in result.job.units)
    assert results["ideal"].water_m3 > results["fixed"].water_m3


def test_tracking_gains_more_water_than_light_above_a_threshold_and_less_when_full() -> None:
    """Published signs: water +41 % with energy +23 % for a centrifugal pump in cloud-prone tropics; +9 % for a
    diaphragm pump on a windy plain (IEEE PVSC paper, Dunlop; Clark & Vick, ASAE 97-4003, 1997)."""
    summer = {"first_day": dt.date(2025, 6, 1), "last_day": dt.date(2025, 8, 31)}

    def gains(*overrides: str) -> tuple[float, float]:
        both = compare(load_job("demo", ["trees=[]", *overrides]), kinds=("fixed", "ideal"), **summer)
        fixed, ideal = both["fixed"], both["ideal"]
        light = ideal.daily["plane_kwh_m2"].sum() / fixed.daily["plane_kwh_m2"].sum()
        return ideal.water_m3 / fixed.water_m3, light

    water, light = gains("source.lift=170 ft", "source.specific_capacity=5 gpm/ft")
    assert water > light > 1.1
    water, light = gains("source.kind=sump", "source.volume=4 m**3", "source.inflow=8 m**3/day")
    assert water < light
    water, light = gains("pump={pump_class='helical-3gpm-300ft'}", "controller.start=100 W")
    assert water < light


@pytest.mark.parametrize(
    ("override", "field", "words"),
    [
        ("store.low_float=97 %", "store.low_float", "below high_float"),
        ("store.demand=-5 m**3/day", "store.demand", "at least 0"),
        ("store.capacity=0.2 m**3", "store.capacity", "hour's demand"),
        ("store.demand_by_hour=[1, 2]", "store.demand_by_hour", "24 weights"),
        ("source.lift_by_month=30 31 m", "source.lift_by_month", "twelve"),
        ("source.volume=3 m**3", "source.volume", "sump"),
        ("source.kind=sump", "source.volume", "needed"),
        ("pipes.nominal=1-1/4", "pipes.bore", "one of the two"),
        ("pipes.nominal=7", "pipes.nominal", "nominal size"),
        ("pipes.scale=0.7 in", "pipes.scale", "no way"),
        ("pump={curve_flow=[0], curve_head=[30], curve_power=[100]}", "pump.curve_flow", "3 to 60"),
        ("pump={pump_class='none'}", "pump.pump_class", "no class on file"),
        ("pump.kind=helical", "pump.curve_head", "must rise"),
        ("pump.cutout_tries=-1", "pump.cutout_tries", "at least 0"),
    ],
)
def test_faults_of_the_water_side_name_field_and_remedy(override: str, field: str, words: str) -> None:
    with pytest.raises(InputError) as error:
        load_job("demo", ["store.capacity=20 m**3", override])
    fault = error.value.faults[0]
    assert (fault.field, len(error.value.faults)) == (field, 1)
    assert words in fault.reason
    assert fault.remedy


def test_units_without_a_main_and_a_broken_unit_are_told_once() -> None:
    with pytest.raises(InputError) as error:
        parse_job(demo_text() + '[[unit]]\nname = "a"\n[[unit]]\npump = {pump_class = "none"}\n')
    assert [fault.field for fault in error.value.faults] == ["unit.1.pump.pump_class"]
    with pytest.raises(InputError) as error:
        parse_job(demo_text() + '[[unit]]\nname = "a"\n[[unit]]\nname = "b"\n')
    assert [fault.field for fault in error.value.faults] == ["main"]


@pytest.mark.parametrize(
    ("override", "field", "level", "words"),
    [
        ("source.lift=250 ft", "source.lift", "danger", "never lifts"),
        ("pipes.rating=50 psi", "pipes", "danger", "BURSTING"),
        ("pipes={length='60 ft', nominal='1', fittings=2}", "pipes", "caution", "water hammer"),
        ("source.suction=24 ft", "source.suction", "caution", "cavitate"),
        ("source.quality=sandy", "source.quality", "caution", "wear"),
        ("pipes.c_value=90", "pipes", "caution", "more than 10 % apart"),
        ("source={lift='130 ft'}", "source.specific_capacity", "caution", "No drawdown is counted"),
        ("source.specific_capacity=0.2 gpm/ft", "source.max_drawdown", "caution", "a level control holds"),
        # By hand: 272 m above the sea 10.0 m of air less 1.3 m of vapour at 50 °C (12.35 kPa) and 6 m: 2.7 m left.
        ("source={lift='40 m', suction='6 m', temperature='50 degC'}", "source.suction", "caution", "cavitate"),
        (
            "store={kind='pond', area='2000 ft**2', evaporation_by_month='1 1 2 4 5 6 7 6 5 3 2 1 mm'}",
            "store.evaporation_by_month",
            "caution",
            "evaporation is left out",
        ),
        ("controller.start=100 W", "controller.start", "caution", "starts and cuts out"),
    ],
)
def test_what_a_pump_man_would_say_is_said(override: str, field: str, level: str, words: str) -> None:
    notices = simulate(load_job("demo", [*CLEAR, override]), **SPRING).notices
    assert any((n.field, n.level) == (field, level) and words in n.text for n in notices)
    if level == "danger":
        assert notices[0].level == "danger"


def test_one_weak_pipe_is_no_weakest_of_one() -> None:
    for pipes, words in (
        ("pipes={length='60 ft', nominal='1', rating='50 psi'}", "; the pipe too weak for that bears 50.0 psi"),
        ("pipes=[{length='60 ft', nominal='1', rating='50 psi'}, {length='60 ft', nominal='1', rating='40 psi'}]",
         "; the weakest of 2 pipes too weak for that bears 40.0 psi"),
    ):  # fmt: skip
        job = load_job("demo", [*CLEAR, pipes])
        burst = next(notice for notice in pressure_notices(job, pump_station(job)) if notice.field == "pipes")
        assert words in burst.text


def test_drawdown_is_asked_for_where_there_is_a_well_and_none_is_given() -> None:
    """Not of demo, which gives it, and not of a sump, which has none. Once wrong: said nowhere; then said of a pond."""
    sump = "source={kind='sump', lift='130 ft', volume='1000 gal', inflow='4000 gal/day'}"
    for changes in ([], [sump]):
        notices = simulate(load_job("demo", [*CLEAR, *changes]), **SPRING).notices
        assert not [notice for notice in notices if "drawdown" in notice.text]
    job = parse_job(demo_text() + UNITS, overrides=[*CLEAR, "unit.1.source={lift='100 ft'}"])
    asked = [each for each in simulate(job, **SPRING).notices if "No drawdown is counted" in each.text]
    assert [each.field for each in asked] == ["unit.1.source.specific_capacity"]
    assert "pond or a stream hardly has any" in asked[0].text


def test_lift_ends_where_the_pipe_joins_the_main_and_drawdown_comes_on_top() -> None:
    """What the field, the starter and the guide say of `lift`: at a flow the pump's head is lift + main's lift + flow
    over specific capacity + friction. One pump with 110 ft of its own and 20 ft on a main is one with 130 ft."""
    whole, parted = (
        pump_station(parse_job(demo_text() + text, overrides=[f"source.lift={lift} ft"]))
        for lift, text in ((130, ""), (110, '[main]\nlift = "20 ft"\n[[unit]]\nname = "one"\n'))
    )
    told = Source.model_fields["lift_m"].description or ""
    assert "to the main" in told
    assert "drawdown comes on top" in told
    assert parted.full_flow_m3_s == pytest.approx(whole.full_flow_m3_s, rel=1e-9)
    two = pump_station(parse_job(demo_text() + UNITS))
    assert [table.unit.static_head_m for table in two.networks[0].tables] == [
        unit.source.lift_m for unit in parse_job(demo_text() + UNITS).units
    ]


def dangers(job: Job) -> list[tuple[str, str]]:
    return [(each.field, each.text) for each in simulate(job, **SPRING).notices if each.level == "danger"]


def test_months_in_which_the_lift_is_too_high_are_told_by_name() -> None:
    """Shut-off is 214 ft. A year that lifts in spring once passed for one that lifts."""
    lifts = "130 130 130 130 130 230 230 230 230 130 130 214 ft"
    ((field, text),) = dangers(load_job("demo", [*CLEAR, f"source.lift_by_month={lifts}"]))
    assert field == "source.lift"
    assert "lifts no water in June, July, August, September, December:" in text


def test_one_pump_of_several_that_never_lifts_is_told() -> None:
    """The lower one's class shuts off below 260 ft; the upper one lifts on and once hid it."""
    assert dangers(parse_job(demo_text() + UNITS, overrides=CLEAR)) == []
    job = parse_job(demo_text() + UNITS, overrides=[*CLEAR, "unit.1.source.lift=260 ft"])
    ((field, text),) = dangers(job)
    assert field == "unit.1.source.lift"
    assert "lower never lifts" in text


def test_a_pump_that_the_others_hold_shut_is_told() -> None:
    """Raised until it just lifts alone, it gives nothing once the other pushes water through the long main."""
    top_ft = parse_job(demo_text() + UNITS).units[1].pump.curve_head_m[0] / 0.3048 - 20
    job = parse_job(demo_text() + UNITS, overrides=[*CLEAR, f"unit.1.source.lift={top_ft - 0.5} ft"])
    told = [each for each in simulate(job, **SPRING).notices if each.field == "unit.1.source.lift"]
    assert [(each.level, "others press harder" in each.text) for each in told] == [("caution", True)]
    station = pump_station(job)
    assert station.full_flow_m3_s[1] == 0 < station.networks[0].by_itself[1].flow_m3_s


@pytest.mark.parametrize(
    ("lift", "speed", "told"),
    [
        # By hand: its sheet ends at 20 gpm and 90 ft; 50 ft of pipe take some 5 ft there, and 5 ft of lift are no more.
        ("5 ft", 1.0, True),
        # At half speed the sheet ends at 10 gpm and 22.5 ft: 5 ft of lift lie beyond that all the same, 30 ft do not.
        ("5 ft", 0.5, True),
        ("30 ft", 0.5, False),
        ("130 ft", 1.0, False),
    ],
)  # fmt: skip
def test_a_pump_that_runs_off_the_end_of_its_sheet_is_told(lift: str, speed: float, told: bool) -> None:
    ample = "controller.rated=1500 W"  # at the demo's own rating it comes to 99.6 % of full speed
    changes = ["pipes.0.length=50 ft", f"source={{lift='{lift}'}}", f"pump.max_speed={speed}", ample]
    job = load_job("demo", [*CLEAR, *changes])
    cautions = [each for each in simulate(job, **SPRING).notices if each.field == "pump.curve_flow"]
    assert [each.level for each in cautions] == ["caution"] * told
    assert all(f"ends at {20 * speed:.1f} gpm" in each.text for each in cautions)


def test_one_of_several_pumps_is_asked_by_itself() -> None:
    """While the others run they hold it on its sheet; in the morning it may run alone."""
    low = ["unit.0.source={lift='5 ft'}", "main.lift=0 ft"]
    notices = simulate(parse_job(demo_text() + UNITS, overrides=[*CLEAR, *low]), **SPRING).notices
    assert "unit.0.pump.curve_flow" in {each.field for each in notices}


@pytest.mark.parametrize(("lift", "told"), [("10 m", True), ("45 m", False), ("65 m", True)])
def test_a_helical_pump_outside_the_heads_of_its_sheet_is_told(lift: str, told: bool) -> None:
    """The sheet goes from 20 to 60 m; a pipe of no length adds nothing."""
    pump = f"pump={{kind='helical', {HELICAL_SHEET}, curve_power='400 740 1080 W'}}"
    job = load_job("demo", [*CLEAR, pump, f"source={{lift='{lift}'}}", "pipes={length=0, bore='40 mm'}"])
    cautions = [each for each in simulate(job, **SPRING).notices if each.field == "pump.curve_head"]
    assert [each.level for each in cautions] == ["caution"] * told


STRONG = (
    "pump={curve_flow='0 4 8 12 16 20 gpm', curve_head='428 420 400 356 284 180 ft', "
    "curve_power='900 1180 1440 1680 1840 1920 W'}"
)


def test_a_weak_pump_s_pipe_must_bear_what_a_strong_one_pushes_up_to_its_check_valve() -> None:
    """By hand: 428 ft at the strong pump less its 110 ft of lift, and 95 ft down to the other's check valve: 413 ft,
    179 psi (1 psi is 2.307 ft). Its own pump reaches less than 100 psi; alone it passed."""
    rating = "unit.1.pipes={{length='100 ft', nominal='1-1/4', rating='{} psi'}}"

    def told(psi: int) -> list[tuple[str, str]]:
        return dangers(parse_job(demo_text() + UNITS, overrides=[*CLEAR, f"unit.0.{STRONG}", rating.format(psi)]))

    ((field, text),) = told(178)
    assert field == "pipes"
    assert "load the pipe of lower with 179 psi" in text
    assert "; the pipe too weak for that bears 178 psi" in text
    assert told(180) == []


def test_a_helical_pump_on_a_shut_valve_is_held_to_its_own_slip_and_not_to_a_limit_nobody_confirmed() -> None:
    """The assumed limit is 1.25 times the sheet's last head, 75 m (736 kPa): a pipe of 900 kPa passed."""
    pump = f"pump={{kind='helical', {HELICAL_SHEET}, curve_power='400 740 1080 W'}}"
    job = load_job("demo", [*CLEAR, pump, "controller.rated=1300 W", "pipes.rating=900 kPa"])
    model = pump_model(job.pump)
    assert isinstance(model, HelicalPump)
    head_m = unheld_shut_off_head_m(model, power_w=1300.0, speed=1.0)
    # What it turns at that head all slips back, and takes the 1300 W.
    speed = model.slip_m3_s_per_m * head_m / model.rated_flow_m3_s
    assert helical_power_w(model, speed=speed, head_m=head_m) == pytest.approx(1300.0)
    assert speed < 1
    assert head_m * 9.80665 > 900
    ((_, text),) = dangers(job)
    assert f"reaches {head_m * 9.80665 / 6.894757:.0f} psi" in text
    strong = with_overrides(job, {"pipes.0.rating": "20000 kPa"})
    notices = simulate(strong, **SPRING).notices
    (relief,) = [each for each in notices if "RELIEF VALVE" in each.text]
    assert (relief.level, relief.field) == ("caution", "pump.kind")
    assert not [each for each in notices if each.level == "danger"]


def test_nothing_but_speed_bounds_a_helical_pump_with_power_to_spare() -> None:
    pump = f"pump={{kind='helical', {HELICAL_SHEET}, curve_power='400 740 1080 W'}}"
    model = pump_model(load_job("demo", [pump]).pump)
    assert isinstance(model, HelicalPump)
    # 1.3 l/s and 5e-6 m³/s for each metre, by the straight line of the sheet: 260 m at rated speed, half at half.
    assert unheld_shut_off_head_m(model, power_w=1e6, speed=1.0) == pytest.approx(260)
    assert unheld_shut_off_head_m(model, power_w=1e6, speed=0.5) == pytest.approx(130)


def test_head_lost_of_a_helical_pump_is_told_to_be_left_out() -> None:
    """30 % of it gave the same water without a word."""
    pump = f"pump={{kind='helical', {HELICAL_SHEET}, curve_power='400 740 1080 W'}}"
    told = [each for each in run(pump, "pump.head_lost=30 %").notices if each.field == "pump.head_lost"]
    assert [(each.level, "flow_lost" in each.text) for each in told] == [("caution", True)]
    assert not [each for each in run("pump.head_lost=30 %").notices if each.field == "pump.head_lost"]


def test_cool_water_and_a_pond_that_is_followed_are_no_remarks() -> None:
    cool = run("source={lift='40 m', suction='6 m'}")
    pond = run("store={kind='pond', area='2000 ft**2', evaporation_by_month='1 1 2 4 5 6 7 6 5 3 2 1 mm', "
               "capacity='90 m**3'}")  # fmt: skip
    fields = {each.field for each in (*cool.notices, *pond.notices)}
    assert not fields & {"source.suction", "store.evaporation_by_month", "controller.start"}


def test_the_one_of_several_pumps_that_starts_on_too_little_is_told() -> None:
    """The notice was for one pump alone."""
    notices = simulate(parse_job(demo_text() + UNITS, overrides=[*CLEAR, "controller.start=100 W"]), **SPRING).notices
    told = {each.field: each.text for each in notices if each.field.endswith("controller.start")}
    assert "unit.0.controller.start" in told
    assert "of upper starts and cuts out" in told["unit.0.controller.start"]


def test_check_valves_are_assumed_and_said() -> None:
    result = simulate(parse_job(demo_text() + UNITS, overrides=CLEAR), **SPRING)
    assert any("check valve" in notice.text for notice in result.notices)


HELICAL_SHEET = "curve_flow='1.2 1.1 1.0 l/s', curve_head='20 40 60 m'"


@pytest.mark.parametrize(("power", "told"), [("400 600 800 W", True), ("400 740 1080 W", False)])
def test_a_helical_sheet_that_no_pump_follows_is_told(power: str, told: bool) -> None:
    job = load_job("demo", [f"pump={{kind='helical', {HELICAL_SHEET}, curve_power='{power}'}}"])
    notices = [each for each in simulate(job, **SPRING).notices if each.field == "pump.curve_power"]
    assert [(each.level, "it says 800 W" in each.text) for each in notices] == [("caution", True)] * told


@pytest.mark.parametrize(("motor", "told"), [("70 %", True), ("80 %", False)])
def test_a_motor_that_would_make_the_pump_better_than_ideal_is_told(motor: str, told: bool) -> None:
    sheet = "curve_flow='0 1 2 l/s', curve_head='60 50 20 m', curve_power='400 660 700 W'"  # 74 % of pump and motor
    job = load_job("demo", [f"pump={{{sheet}, motor_efficiency='{motor}'}}"])
    assert any(each.field == "pump.motor_efficiency" for each in simulate(job, **SPRING).notices) == told


@pytest.mark.parametrize(
    "controller",
    [["wire.1.length=600 ft"], ["controller.efficiency_load=10 50 100 %", "controller.efficiency_curve=60 85 90 %"]],
)
def test_the_start_power_advised_lifts_water(controller: list[str]) -> None:
    """Through wire and controller as they are at so little power: what was advised lifted nothing yet."""
    job = parse_job(demo_text(), overrides=["controller.start=120 W", *controller])
    june = {"first_day": dt.date(2025, 6, 1), "last_day": dt.date(2025, 6, 10)}
    told = next(each.text for each in simulate(job, **june).notices if each.field == "controller.start")
    watts = told.split("Raised to about ")[1].split(" W")[0]
    lifting_w = pump_station(job).lifting_power_w(0, job.pump.cutout_flow_m3_s)
    assert lifting_w is not None
    assert motor_w(job, np.array([float(watts)]))[0] >= lifting_w > motor_w(job, np.array([float(watts) - 20]))[0]


def test_a_declination_that_no_bearing_asks_for_is_told() -> None:
    heard = [
        each.text
        for each in simulate(parse_job(demo_text(), overrides=["site.magnetic_declination=5"]), **SPRING).notices
    ]
    assert any("no bearing is marked" in text for text in heard)


@pytest.mark.parametrize(
    ("power", "told"),
    [
        (lambda n: np.full(n, 500.0), "is not the shape"),  # the array itself, without the list around it
        (lambda n: [np.full(n - 1, 500.0)], "is not the shape"),
        (lambda n: [np.full(n, 500.0)] * 2, "is not the shape"),
        (lambda n: [np.where(np.arange(n) == 7, np.nan, 500.0)], "nan: is no power"),
        (lambda n: [np.where(np.arange(n) == 7, -5.0, 500.0)], "-5.0: is no power"),
    ],
)
def test_power_that_no_array_gives_is_refused(power: Any, told: str) -> None:
    job = load_job("demo", CLEAR)
    scene = make_scene(job, first_day=SPRING["first_day"], last_day=SPRING["first_day"])
    with pytest.raises(InputError, match=told):
        pump(job, scene, power(len(scene.up)))
