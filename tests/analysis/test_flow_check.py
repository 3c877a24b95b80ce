"""Bucket and watch: the uncertainty as published, the verdict, and known causes found back."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from functools import cache

import pytest

from trackersim import Job, load_job, simulate
from trackersim.analysis.explanations import Explanation
from trackersim.analysis.fault_odds import OTHER
from trackersim.analysis.flow_check import FlowCheck, check_flow
from trackersim.analysis.flow_measurement import Measured, Readings, timed_flow, told_flow
from trackersim.analysis.observed_sky import Seen, day_weather, days_up_to, likely_air, scene_under
from trackersim.analysis.typed_input import measured_of, readings_of
from trackersim.clock import moment_at
from trackersim.errors import InputError
from trackersim.job.files import with_overrides
from trackersim.quantity_reading import read_quantity
from trackersim.report.blocks import Caution
from trackersim.report.flow_check import (
    cause_table,
    flow_answer,
    flow_sentence,
    last_words,
    look_words,
    moment_words,
    size_words,
)
from trackersim.report.flow_readings import array_words, gauge_words
from trackersim.report.words import AT_THE_WELL

JOB = load_job("demo")
AT = "2025-06-21 13:00"
CLEAR = Seen(sky="clear", wind="breeze", air_c=28.0)
GPM = read_quantity("1 gpm", "m**3/s")
BUCKET_M3 = read_quantity("5 gal", "m**3")


@cache
def lifted(job: Job, at: str = AT, seen: Seen = CLEAR) -> float:
    """What the whole chain lets `job` lift at that minute under the sky seen [m³/s]."""
    moment = moment_at(job.site, at)
    days = days_up_to(job.units[0], moment.date)
    air = likely_air(days, seen, moment.minute)
    result = simulate(job, scene=scene_under(job.units[0], days, day_weather(days, air)))
    return float(result.by_day("flow_m3_s")[-1, moment.minute])


@cache
def checked(flow_m3_s: float, *, readings: Readings | None = None, at: str = AT, seen: Seen = CLEAR,
            error: float = 0.02, job: Job = JOB) -> FlowCheck:  # fmt: skip
    return check_flow(job, moment_at(job.site, at), told_flow(flow_m3_s, error), seen=seen, readings=readings)


def cause(bucket: FlowCheck, name: str) -> Explanation:
    return next(each for each in bucket.causes if each.name == name)


def test_five_gallons_in_thirty_seconds_are_ten_a_minute() -> None:
    flow = timed_flow(BUCKET_M3, [30.0, 30.0, 30.0, 30.0])
    assert flow.flow_m3_s == pytest.approx(0.631e-3, abs=0.0005e-3)
    assert flow.flow_m3_s == pytest.approx(10 * GPM, rel=1e-6)


@pytest.mark.parametrize(("seconds", "share"), [(3.0, 0.07), (10.0, 0.028)])
def test_the_published_uncertainty_of_a_fill(seconds: float, share: float) -> None:
    # Australian government connected-water guidance: ±2 % volume and ±0.2 s give 7 % at 3 s and 2.8 % at 10 s.
    assert timed_flow(BUCKET_M3, [seconds] * 4).error_share == pytest.approx(share, abs=0.0005)


def test_scatter_comes_on_top_by_student_and_welch_satterthwaite() -> None:
    flow = timed_flow(BUCKET_M3, [9.8, 9.9, 10.2])
    # By hand: mean 9.9667 s, s 0.20817 s; u = 0.01, 0.1/9.9667, 0.20817/√3/9.9667; ν = 2 (Σu²)²/u_A⁴ = 11.2.
    fixed, random = math.hypot(0.01, 0.1 / 9.9667), 0.20817 / math.sqrt(3) / 9.9667
    freedom = 2 * (fixed**2 + random**2) ** 2 / random**4
    assert freedom == pytest.approx(11.2, abs=0.3)
    assert flow.error_share == pytest.approx(2.25 * math.hypot(fixed, random), rel=0.01)
    assert flow.error_share > timed_flow(BUCKET_M3, [9.97] * 3).error_share


def test_more_fills_with_the_same_scatter_are_surer() -> None:
    few, many = (timed_flow(BUCKET_M3, [9.8, 10.2] * n) for n in (2, 10))
    assert many.error_share < few.error_share


def test_few_or_quick_fills_are_taken_with_a_warning() -> None:
    assert len(timed_flow(BUCKET_M3, [2.5]).notices) == 2
    assert len(timed_flow(BUCKET_M3, [9.9, 10.1]).notices) == 1
    assert not timed_flow(BUCKET_M3, [9.9, 10.1, 10.0]).notices


def test_a_sound_job_s_own_flow_is_right() -> None:
    bucket = checked(lifted(JOB))
    assert bucket.verdict == "right for this sun"
    assert bucket.expected_m3_s[1] == pytest.approx(lifted(JOB), rel=0.005)
    assert not bucket.causes


def test_half_of_it_is_low_and_twice_of_it_high() -> None:
    flow = lifted(JOB)
    assert checked(0.5 * flow).verdict == "low"
    twice = checked(2 * flow)
    assert twice.verdict == "high"
    assert [each.name for each in twice.causes] == [OTHER]
    assert "check bucket" in last_words(twice)


def test_a_dead_string_is_found_back() -> None:
    faulty = load_job("demo", ["array.in_parallel=1", "array.layout.rows=1"])
    bucket = checked(lifted(faulty))
    found = cause(bucket, "strings")
    assert bucket.verdict == "low"
    assert found.size == 1.0
    assert found.probability == max(each.probability for each in bucket.causes)


def test_a_module_bypassed_in_every_string_is_found_back() -> None:
    """By volts a quarter too low and amps that are not: once "something else", 99 %."""
    faulty = load_job("demo", ["array.in_series=3", "array.layout.columns=3", "array.layout.rows=2"])
    unit = checked(lifted(faulty), job=faulty).point.units[0]  # type: ignore[union-attr]
    bucket = checked(lifted(faulty), readings=Readings(voltage_v=unit.input_v, current_a=unit.input_a))
    assert (bucket.causes[0].name, bucket.causes[0].size) == ("modules", 1.0)
    assert bucket.causes[0].probability > 0.8
    assert size_words(bucket.causes[0], "us", low=True) == "1 a string"
    assert last_words(bucket).endswith("look first at bypassed or missing modules.")


def test_a_worn_pump_is_found_back() -> None:
    found = cause(checked(lifted(load_job("demo", ["pump.head_lost=0.2"]))), "pump head")
    assert found.size == pytest.approx(0.2, abs=0.02)


def test_a_scaled_pipe_is_found_back() -> None:
    # A long thin pipe, or scale would not matter.
    long = ["pipes.length=1500 ft"]
    job = load_job("demo", long)
    found = cause(checked(lifted(load_job("demo", [*long, "pipes.c_value=80"])), job=job), "pipe")
    assert found.size == pytest.approx(80, abs=3)


def test_a_sunken_well_and_a_weak_array_are_found_back() -> None:
    # The demo's well lets water fall by 30 ft before the pump draws air, and 7 ft of them are drawn down at full flow.
    deeper = cause(checked(lifted(load_job("demo", ["source.lift=152 ft"]))), "level")
    assert deeper.size == pytest.approx(read_quantity("22 ft", "m"), rel=0.06)
    bucket = checked(lifted(load_job("demo", ["array.soiling=0.25"])))
    assert cause(bucket, "dirt").size == pytest.approx(1 - 0.75 / 0.97, abs=0.02)
    # Less light would also cool the cells, so a little more of it is needed.
    assert 1 - 0.75 / 0.97 < (cause(bucket, "light").size or 0) < 1 - 0.75 / 0.97 + 0.04


def test_a_rack_left_in_the_west_is_found_back() -> None:
    morning = "2025-06-21 11:30"
    parked = load_job("demo", ["rack.kind=fixed", "rack.fixed_rotation=30"])
    found = cause(checked(lifted(parked, morning), at=morning), "rack")
    assert found.size == pytest.approx(30, abs=3)


def test_a_plane_fixed_at_a_tilt_is_not_told_to_be_level() -> None:
    """Once wrong: "the rack level" of a plane at 30°, for the rotation of a fixed rack is 0."""
    at_tilt = load_job("demo", ["rack.kind=fixed", "rack.fixed_tilt=30"])
    assert "the rack as it is fixed," in moment_words(checked(lifted(at_tilt), job=at_tilt), "us")
    assert "the rack as it is fixed," not in moment_words(checked(lifted(JOB)), "us")


def test_what_cannot_be_is_not_shown_and_the_likeliest_comes_first() -> None:
    causes = checked(0.35 * lifted(JOB)).causes
    assert not {"pipe", "level", "leak"} & {each.name for each in causes}
    chances = [each.probability for each in causes[:-1]]
    assert chances == sorted(chances, reverse=True)
    assert causes[-1].name == OTHER


def test_the_gauge_tells_pipe_from_pump() -> None:
    long = ["pipes.length=1500 ft"]
    job, scaled = load_job("demo", long), load_job("demo", [*long, "pipes.c_value=70"])
    flow = lifted(scaled)
    head = cause(checked(flow, job=job), "pipe").point.units[0].head_m
    down = flow / (JOB.source.specific_capacity_m3_s_per_m or 1)
    bucket = checked(flow, job=job, readings=Readings(pressure_kpa=(head - down) * 9.79))
    assert cause(bucket, "pipe").fits == ("gauge",)
    assert "pump head" in {each.name for each in checked(flow, job=job).causes}
    assert "pump head" not in {each.name for each in bucket.causes}
    assert "takes more" in gauge_words(bucket, "us")
    assert bucket.causes[0].name in ("pipe", "valve")
    assert "level" not in {each.name for each in bucket.causes}


FT_M, KPA_A_M = read_quantity("1 ft", "m"), 9.80665
ABOVE_M = 96 * FT_M  # of the wellhead, over the water that stands as the demo tells: 34 ft below the outlet


def wellhead_kpa(flow_m3_s: float) -> float:
    """At the wellhead, by hand: 34 ft up to the outlet and Hazen–Williams on 300 ft of 1.36 in, C 140."""
    friction_m = 10.67 * 300 * FT_M * flow_m3_s**1.852 / 140**1.852 / (1.36 * 0.0254) ** 4.8704
    return (34 * FT_M + friction_m) * KPA_A_M


@pytest.mark.parametrize("deeper_ft", [20, 40])
def test_a_gauge_at_the_wellhead_does_not_clear_water_that_stands_deeper(deeper_ft: float) -> None:
    told = load_job("demo", ["source.max_drawdown=80 ft"])
    noon, stands = "2025-06-21 12:00", Readings(stands="level", light_w_m2=900.0)
    sunk = with_overrides(told, {"source.lift": (130 + deeper_ft) * FT_M})
    true = checked(1e-4, job=sunk, at=noon, readings=stands).point
    assert true is not None
    meters = replace(stands, voltage_v=true.units[0].input_v, current_a=true.units[0].input_a)
    gauge = replace(meters, pressure_kpa=wellhead_kpa(true.flow_m3_s), gauge_above_m=ABOVE_M)
    without, with_gauge = (checked(true.flow_m3_s, job=told, at=noon, readings=r, error=0.05) for r in (meters, gauge))
    found = cause(with_gauge, "level")
    assert found.size == pytest.approx(deeper_ft * FT_M, rel=0.02)
    assert found.fits == ("gauge", "voltage", "current")
    # What the gauge does rule out, pipe and valve, is shared by the rest: pump and level alike.
    for name in ("level", "pump head"):
        assert cause(with_gauge, name).probability >= cause(without, name).probability
    ratio, before = (
        cause(bucket, "pump head").probability / cause(bucket, "level").probability for bucket in (with_gauge, without)
    )
    assert ratio == pytest.approx(before, rel=0.1)
    assert "cannot tell the water level" in gauge_words(with_gauge, "us")
    assert "look at pump, power, light and water level" in gauge_words(with_gauge, "us")
    assert "Before anybody lifts a pump: dip the well" in look_words(with_gauge)
    assert Caution(text=AT_THE_WELL) in flow_answer(with_gauge, "us").blocks


def test_nobody_is_sent_to_dip_a_well_under_a_surface_pump() -> None:
    """Once "Before anybody lifts a pump: dip the well", of a pump on a bank nine feet above its pond."""
    bank = with_overrides(JOB, {"source.suction": "9 ft"})
    flow = lifted(bank)
    told = look_words(checked(0.7 * flow, job=bank))
    assert "Before anybody opens a pump: measure how far the water stands below it" in told
    assert "well" not in told
    assert "dip the well" in look_words(checked(0.7 * flow))


def test_a_gauge_says_of_a_right_flow_that_pipe_and_outlet_are_as_described_and_sends_nobody_anywhere() -> None:
    flow = lifted(JOB)
    bucket = checked(flow, readings=Readings(pressure_kpa=wellhead_kpa(flow), gauge_above_m=ABOVE_M))
    assert bucket.verdict == "right for this sun"
    assert gauge_words(bucket, "us").endswith("pipe and outlet are as described.")
    assert last_words(bucket) == "In short: the pump gives what it should in this sun."
    low = checked(flow, readings=Readings(pressure_kpa=0.5 * wellhead_kpa(flow), gauge_above_m=ABOVE_M))
    assert low.verdict == "right for this sun"
    assert "before the pump is called sound" in last_words(low)  # a gauge that contradicts the pipe clears nobody
    assert not look_words(bucket)
    assert Caution(text=AT_THE_WELL) not in flow_answer(bucket, "us").blocks


@pytest.mark.parametrize("column", [0.0, 0.5, 1.0])
def test_a_gauge_on_a_pump_that_stands_shows_any_column_up_to_the_outlet(column: float) -> None:
    """The check valve may hold the pipe full, or have let it run empty: neither says that something else is wrong."""
    gauge = Readings(pressure_kpa=column * 34 * FT_M * KPA_A_M, gauge_above_m=ABOVE_M)
    bucket = checked(0.0, readings=gauge)
    assert bucket.causes[0].name == "not running"
    assert bucket.causes[0].fits == ("gauge",)
    assert cause(bucket, OTHER).probability < 0.05


def test_a_valve_left_shut_is_found_by_the_gauge_and_named_without_one() -> None:
    """Against a shut valve the demo's pump stands at 214 ft by its sheet: the wellhead, 96 ft up, at 118 ft of it."""
    shut_off = Readings(pressure_kpa=0.95 * (214 - 96) * FT_M * KPA_A_M, gauge_above_m=ABOVE_M)
    bucket = checked(0.0, readings=shut_off)
    assert bucket.causes[0].name == "shut"
    assert bucket.causes[0].probability > 0.8
    assert bucket.causes[0].fits == ("gauge",)
    assert "beyond the gauge is shut or blocked" in gauge_words(bucket, "us")
    assert "valve" in last_words(bucket)
    # The column of a pump that stands is no valve that is shut; without a gauge both may be.
    standing = replace(shut_off, pressure_kpa=34 * FT_M * KPA_A_M)
    column = checked(0.0, readings=standing)
    assert "shut" not in {each.name for each in column.causes}
    assert "presses against nothing beyond the gauge" in gauge_words(column, "us")
    assert 0.02 < cause(checked(0.0), "shut").probability < 0.3
    assert "valves" in look_words(checked(0.0))
    assert "shut" not in {each.name for each in checked(0.5 * lifted(JOB)).causes}


def test_a_shut_main_is_found_by_its_gauge() -> None:
    """Two of the demo's units, 130 ft below the place where their pipes meet: 214 ft less 130 ft there."""
    from trackersim.job.files import demo_text, parse_job

    main = '[main]\nlift = "10 ft"\npipes = [{ length = "100 ft", bore = "2 in" }]\n[[unit]]\nname = "a"\n'
    job = parse_job(demo_text() + main + '[[unit]]\nname = "b"\n')
    bucket = checked(0.0, job=job, readings=Readings(pressure_kpa=(214 - 130) * FT_M * KPA_A_M))
    assert bucket.causes[0].name == "shut"
    assert bucket.causes[0].probability > 0.8


@pytest.mark.parametrize(("k_quarter", "share"), [(2, 0.8), (12, 0.5)])
def test_a_valve_all_but_shut_is_found_by_the_gauge(k_quarter: float, share: float) -> None:
    """A quarter of the bore has 4⁴ times the velocity head: K 2 there is K 512 of the pipe, and K 12 is K 3072."""
    pipe = JOB.pipes[0].model_dump(mode="json", by_alias=True, exclude_none=True)
    valve = {"name": "valve", "length": 0, "bore": pipe["bore"] / 4, "fittings": k_quarter}
    nearly = with_overrides(JOB, {"pipes": [pipe, valve]})
    point = checked(lifted(nearly), job=nearly).point
    assert point is not None
    flow, head_m = point.flow_m3_s, point.units[0].head_m
    assert flow == pytest.approx(share * lifted(JOB), rel=0.1)
    down_m = flow / (JOB.source.specific_capacity_m3_s_per_m or 1)
    gauge = Readings(pressure_kpa=(head_m - down_m - ABOVE_M) * KPA_A_M, gauge_above_m=ABOVE_M)
    found = checked(flow, readings=gauge).causes[0]
    assert found.name == "valve"
    assert found.size == pytest.approx(256 * k_quarter, rel=0.05)


def test_measured_light_narrows_the_range_and_rules_light_out() -> None:
    free = checked(0.6 * lifted(JOB), seen=Seen())
    known = checked(0.6 * lifted(JOB), seen=Seen(), readings=Readings(light_w_m2=950.0))
    assert known.expected_m3_s[2] - known.expected_m3_s[0] < 0.6 * (free.expected_m3_s[2] - free.expected_m3_s[0])
    assert "light" not in {each.name for each in known.causes}
    assert known.point is not None
    assert known.point.units[0].plane_w_m2 == pytest.approx(950.0, rel=1e-6)


def test_the_rack_as_it_stands_decides_what_is_expected() -> None:
    morning = "2025-06-21 10:30"
    west, own = (checked(0.0, at=morning, readings=r) for r in (Readings(stands="west"), None))
    assert west.expected_m3_s[1] < 0.5 * own.expected_m3_s[1]
    assert "rack" not in {each.name for each in west.causes}
    by_gauge = checked(0.0, at=morning, readings=Readings(rotation_deg=-45.0))
    assert by_gauge.expected_m3_s[1] > 1.5 * west.expected_m3_s[1]


def test_an_unknown_sky_widens_and_passing_clouds_cannot_tell() -> None:
    def width(seen: Seen) -> float:
        least, _, most = checked(9 * GPM, seen=seen).expected_m3_s
        return most - least

    assert width(Seen(sky="unknown", wind="breeze", air_c=28.0)) > width(CLEAR)
    bucket = checked(6 * GPM, seen=Seen(sky="cloud"))
    assert bucket.verdict == "cannot tell"
    assert "neither" in flow_sentence(bucket, "us")


def test_a_sky_nobody_looked_at_lets_no_small_gain_of_light_explain_a_flow_far_above() -> None:
    # Its dull skies leave all flows below the expected one open; above it, light can grow by some per cent.
    clear = lifted(JOB)
    bucket = checked(1.4 * clear, seen=Seen(), error=0.08)
    assert bucket.verdict == "high"
    assert bucket.point is not None
    causes = {each.name: each.flow_m3_s / bucket.point.flow_m3_s for each in bucket.causes if each.name != OTHER}
    assert "rack" not in causes  # 3° nearer the sun bring a thousandth
    assert all(share > 1.1 for share in causes.values()), causes


def test_at_night_no_water_is_expected() -> None:
    dry = checked(0.0, at="2025-06-21 02:00")
    assert dry.verdict == "no water expected"
    assert "sun is down" in flow_sentence(dry, "us")
    wet = checked(2 * GPM, at="2025-06-21 02:00")
    assert wet.verdict == "high"
    assert "what else feeds" in last_words(wet)


def test_no_water_in_full_sun_says_where_to_look_first() -> None:
    bucket = checked(0.0)
    assert bucket.verdict == "low"
    assert "disconnect" in look_words(bucket)
    assert bucket.measured.error_share == 0.0


def test_a_voltage_outside_the_window_is_told() -> None:
    bucket = checked(5 * GPM, readings=Readings(voltage_v=41.0))
    assert any("below the 45 V" in str(notice) for notice in bucket.notices)
    assert any("of 4 modules in series" in str(notice) for notice in bucket.notices)


def test_a_job_of_two_units_is_judged_by_its_sum() -> None:
    text = """
[main]
lift = "10 ft"
pipes = [{ length = "100 ft", bore = "2 in" }]
[[unit]]
name = "a"
[[unit]]
name = "b"
"""
    from trackersim.job.files import demo_text, parse_job

    job = parse_job(demo_text() + text)
    bucket = checked(1.1e-3, job=job, error=0.5)
    assert bucket.expected_m3_s[1] == pytest.approx(lifted(job), rel=0.01)
    assert bucket.expected_m3_s[1] > 1.4 * lifted(JOB)


def test_rows_say_the_size_in_their_own_terms() -> None:
    rows = {row[0]: row[1:] for row in cause_table(checked(0.85 * lifted(JOB)), "us").rows}
    assert rows["water standing deeper"][0].endswith("ft")
    assert rows["a pump worn, head lost"][0].endswith("% less")
    assert rows["something else, or several"][0] == "–"
    shares = [int(row[1].removesuffix(" %")) for row in rows.values()]
    assert sum(shares) == pytest.approx(100, abs=4)


@pytest.mark.parametrize(
    ("given", "fields"),
    [
        ({"volume": "5 gal", "seconds": ["-9.8"]}, ["seconds"]),
        ({"volume": "0 gal", "seconds": ["0", "x"]}, ["volume", "seconds", "seconds"]),
        ({"volume": "5", "seconds": ["9.8"]}, ["volume"]),
        ({"volume": "5 gal", "seconds": ["29,5 30 31"]}, ["seconds"]),
        ({"volume": None, "flow": "28 gpm gpm lpm"}, ["flow"]),
        ({"volume": "5 gal", "flow": "28 gpm"}, ["flow"]),
        ({"volume": None, "flow": "28 gpm", "flow_error": "5 ft"}, ["flow_error"]),
        ({"volume": "5 gal"}, ["seconds"]),
        ({"volume": None}, ["volume"]),
        ({"volume": None, "flow": "-3 gpm"}, ["flow"]),
        ({"volume": None, "flow": "nan gpm"}, ["flow"]),
    ],
)
def test_silly_measurements_are_told(given: dict, fields: list[str]) -> None:
    with pytest.raises(InputError) as told:
        measured_of(**given)
    assert [fault.field for fault in told.value.faults] == fields


def test_silly_readings_are_told_all_at_once() -> None:
    with pytest.raises(InputError) as told:
        readings_of(light="760 V", pressure="35", voltage="-3 V", stands="north")
    assert [fault.field for fault in told.value.faults] == ["light", "pressure", "voltage", "stands"]
    with pytest.raises(InputError):
        checked(1e-4, readings=Readings(rotation_deg=80.0))
    with pytest.raises(InputError):
        checked(1e-4, readings=Readings(rotation_deg=20.0, stands="west"))


def test_what_is_typed_is_what_is_measured() -> None:
    spaced, apart = (measured_of(volume="5 gal", seconds=s) for s in (["9.8 9.9 10.2"], ["9.8", "9.9", "10.2s"]))
    assert spaced == apart
    assert isinstance(spaced, Measured)
    assert readings_of(pressure="35 psi").pressure_kpa == pytest.approx(241.3, abs=0.1)
    assert dt.date(2025, 6, 21) == moment_at(JOB.site, AT).date


def test_volts_and_amps_are_understood_at_part_load() -> None:
    expected = checked(lifted(JOB)).point
    assert expected is not None
    unit = expected.units[0]
    assert not unit.has_spare
    sound = checked(lifted(JOB), readings=Readings(voltage_v=unit.best_v, current_a=unit.input_a))
    assert sound.array == "best point"
    assert "takes all there is" in array_words(sound, "us")
    amps = checked(lifted(JOB), readings=Readings(current_a=unit.input_a))
    # Its first letter was once made large by a means that made "A" and "V" small.
    assert array_words(amps, "us") == (
        f"{unit.input_a:.1f} A: {unit.input_v:.0f} V and {unit.input_a:.1f} A were to be expected."
    )
    # Two thirds of the current at the same voltage: the array gives less, and that is no worn pump and no leak.
    weak = checked(
        lifted(load_job("demo", ["array.soiling=0.3"])),
        readings=Readings(voltage_v=unit.best_v, current_a=0.72 * unit.input_a),
    )
    assert "72 % of what this light should give" in array_words(weak, "us")
    assert weak.causes[0].name in ("dirt", "light", "rack", "strings")
    assert not {"leak", "pump head", "valve", "not running"} & {each.name for each in weak.causes}
    # All of it there, and too little water: then it is the pump or the pipe.
    strong = checked(0.75 * lifted(JOB), readings=Readings(voltage_v=unit.best_v, current_a=unit.input_a))
    assert strong.causes[0].name in ("leak", "pump head")
    light = {"dirt", "light", "strings", "rack"}
    assert sum(each.probability for each in strong.causes if each.name in light) < 0.1
    unread = checked(0.75 * lifted(JOB)).causes
    assert sum(each.probability for each in unread if each.name in light) > 0.3


def test_volts_at_full_speed_float_and_amps_fall() -> None:
    more = load_job("demo", ["array.in_parallel=4", "array.layout.rows=4"])
    flow = lifted(more)
    unit = checked(flow, job=more).point.units[0]  # type: ignore[union-attr]
    assert unit.has_spare
    read = checked(flow, job=more, readings=Readings(voltage_v=unit.input_v, current_a=unit.input_a))
    assert read.array == "floating"
    assert "as at full speed" in array_words(read, "us")
    assert unit.input_v * unit.input_a == pytest.approx(unit.used_w)
    # A string out would change nothing here: there is power to spare.
    assert "strings" not in {each.name for each in checked(0.8 * flow, job=more).causes}
    stands = checked(0.0, job=more, readings=Readings(voltage_v=unit.open_v, current_a=0.1))
    assert stands.array == "open circuit"
    assert stands.causes[0].name == "not running"


STRONG = load_job("demo", ["array.in_parallel=4", "array.layout.rows=4"])


def test_a_floating_array_shuts_out_the_skies_too_dull_for_its_volts_and_amps() -> None:
    # At full speed with power to spare: under a sky that nobody told, two thirds of the water once was "right".
    flow = lifted(STRONG)
    unit = checked(flow, job=STRONG).point.units[0]  # type: ignore[union-attr]
    floats = Readings(voltage_v=unit.input_v, current_a=unit.input_a)
    lacking = checked(0.7 * flow, job=STRONG, seen=Seen(), readings=floats)
    assert checked(0.7 * flow, job=STRONG, seen=Seen()).verdict != "low"
    assert lacking.verdict == "low"
    assert checked(flow, job=STRONG, seen=Seen(), readings=floats).verdict == "right for this sun"
    # A pump may be at either end of what it is known to, however few the skies left.
    assert lacking.expected_m3_s[2] / lacking.expected_m3_s[0] >= 1.05 / 0.95 - 1e-9


def test_a_flow_is_not_called_right_while_the_meters_say_that_the_pump_stands() -> None:
    flow = lifted(STRONG)
    unit = checked(flow, job=STRONG).point.units[0]  # type: ignore[union-attr]
    read = checked(flow, job=STRONG, readings=Readings(voltage_v=unit.open_v, current_a=0.1))
    assert read.array == "open circuit"
    assert read.verdict == "cannot tell"
    assert "volts and amps do not go with it" in last_words(read)


def test_volts_and_amps_that_no_sky_gives_are_told() -> None:
    flow = lifted(JOB)
    expected = checked(flow).expected_m3_s
    read = checked(flow, readings=Readings(voltage_v=60.0, current_a=60.0))
    assert read.expected_m3_s == expected
    assert any("more than this array can give" in notice.text for notice in read.notices)


def test_a_helical_pump_that_lost_a_third_of_its_flow_may_be_worn() -> None:
    # Its loss is told at the last head of its sheet; at a lower head the same wear takes less of the flow.
    helical = [
        "pump.kind=helical", "pump.curve_head=10 30 60 m", "pump.curve_flow=32 30 28 L/min",
        "pump.curve_power=140 230 310 W",
    ]  # fmt: skip
    job = load_job("demo", ["array.in_parallel=4", "array.layout.rows=4", *helical])
    bucket = checked(0.65 * lifted(job), job=job)
    assert 0.35 < (cause(bucket, "pump flow").size or 0.0) < 0.6
