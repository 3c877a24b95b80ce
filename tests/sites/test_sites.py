"""Five invented sites against calculations by hand: lift, friction, flow at noon, wire, volts, amps, energy, money.

What a test compares: the program uses Hazen–Williams, a De Soto diode and a Faiman cell; the hand uses Darcy–Weisbach,
the label's power with its coefficient, and one diode without a shunt. Light and air are taken from the program.
"""

from __future__ import annotations

import datetime as dt
from functools import cache
from pathlib import Path

import by_hand as hand
import numpy as np
import pytest
from by_hand import FT_M, GAL_M3, GPM_M3_S, Array

from trackersim import Job, Result, load_job, simulate
from trackersim.analysis.economics import net_present_value
from trackersim.analysis.flow_check import FlowCheck, check_flow
from trackersim.analysis.flow_measurement import Readings, told_flow
from trackersim.analysis.hydraulics import HeadParts, water_report
from trackersim.analysis.observed_sky import Seen
from trackersim.analysis.wiring import Wiring, wiring_of
from trackersim.clock import moment_at
from trackersim.job.files import with_overrides
from trackersim.report.flow_readings import gauge_words
from trackersim.report.words import worth_words

FOLDER = Path(__file__).parent
FT_PER_PSI, KPA_PER_PSI = 2.31, 6.894757
DAYS = {
    "two_springs": "2025-06-21",
    "deep_helical": "2025-01-15",
    "southern": "2025-12-21",
    "fixed_rack": "2025-06-21",
    "sticking_rack": "2025-06-21",
}
# What two ways of working it out may differ by.
ENERGY, POWER, FLOW, VOLTS = 0.04, 0.05, 0.03, 0.04


@cache
def site(name: str) -> Job:
    return load_job(FOLDER / f"{name}.toml")


@cache
def day_of(name: str, *overrides: str) -> Result:
    day = dt.date.fromisoformat(DAYS[name])
    job = with_overrides(site(name), dict(pair.split("=", 1) for pair in overrides)) if overrides else site(name)
    return simulate(job, first_day=day, last_day=day)


@cache
def at_noon(name: str, *, gpm: float = 10.0, clock: str = "13:30", air_c: float | None = None, unit: int = 0,
            volts: float | None = None, amps: float | None = None) -> FlowCheck:  # fmt: skip
    job = site(name)
    readings = Readings(voltage_v=volts, current_a=amps, unit=unit)
    seen = Seen(sky="clear", air_c=air_c)
    return check_flow(
        job, moment_at(job.site, f"{DAYS[name]} {clock}"), told_flow(gpm * GPM_M3_S, 0.02), seen=seen, readings=readings
    )


def heads_of(name: str) -> tuple[HeadParts, ...]:
    return water_report(day_of(name)).heads


def wiring(name: str) -> Wiring:
    return wiring_of(day_of(name))


def energy_by_hand(result: Result, array: Array, full_w: float, loop_ohm: float, unit: int = 0) -> tuple[float, float]:
    """kWh that could be given and that are used: label power each minute, less I²R; used up to what the pump takes."""
    minutes = result.minutes
    best = array.best_w(minutes["plane_w_m2"], minutes["cell_c"])
    amps = best / (array.in_series * (array.vmp + array.voc * array.voc_per_k * (minutes["cell_c"] - 25)))
    could = best - loop_ohm * amps**2
    runs = result.water.running[unit].ravel()
    return float(could.sum()) / 60_000, float(np.minimum(could, full_w)[runs].sum()) / 60_000


def money(name: str) -> float:
    """What the water of that day, every day of a year, is worth by the program's words."""
    result = day_of(name)
    words = worth_words(result.water_m3_per_day, result.job.money)
    return float(words.split(" ")[0].lstrip("$").replace(",", ""))


# --- Two pumps from two collecting tanks on one main -----------------------------------------------------------------

SPRING_GPM, SPRING_FT = (0, 6, 12, 18, 24, 30), (150, 148, 142, 128, 104, 66)
SPRING_W = (520, 640, 790, 950, 1100, 1210)
SPRINGS = Array(4, 2, years=5)


def own_ft(gpm: float) -> float:
    """From a spring box to the junction: 300 ft of 2 in, K 6. At 22.5 gpm 2.15 ft/s, f 0.0233: 2.93 ft and 0.43 ft."""
    bore = hand.BORE_IN["2"]
    friction = hand.darcy_ft(gpm, length_ft=300, bore_in=bore, roughness_ft=hand.SMOOTH_FT)
    return friction + hand.fittings_ft(gpm, bore_in=bore, k=6)


def main_ft(gpm: float) -> float:
    """1000 ft of 3 in, K 4."""
    bore = hand.BORE_IN["3"]
    friction = hand.darcy_ft(gpm, length_ft=1000, bore_in=bore, roughness_ft=hand.SMOOTH_FT)
    return friction + hand.fittings_ft(gpm, bore_in=bore, k=4)


def springs_by_hand(*, north: bool = True, south: bool = True) -> tuple[float, float]:
    """Flow of each pump: the head at the junction is 40 ft and the main's loss at their sum; by halving that sum."""

    def each(total: float) -> tuple[float, float]:
        junction = 40 + main_ft(total)
        flows = [
            hand.duty_gpm(SPRING_GPM, SPRING_FT, lambda q, lift=lift: lift + own_ft(q) + junction) if on else 0.0
            for on, lift in ((north, 64), (south, 62))
        ]
        return flows[0], flows[1]

    return each(hand.crossing(lambda total: sum(each(total)) - total, 0.1, 60))


def test_two_springs_lift_and_friction() -> None:
    north, south = heads_of("two_springs")
    assert (north.lift_m / FT_M, south.lift_m / FT_M) == (pytest.approx(104), pytest.approx(102))
    for part in (north, south):
        total = (north.flow_m3_s + south.flow_m3_s) / GPM_M3_S
        bore = hand.BORE_IN
        friction = hand.darcy_ft(
            part.flow_m3_s / GPM_M3_S, length_ft=300, bore_in=bore["2"], roughness_ft=hand.SMOOTH_FT
        ) + hand.darcy_ft(total, length_ft=1000, bore_in=bore["3"], roughness_ft=hand.SMOOTH_FT)
        assert part.friction_darcy_m / FT_M == pytest.approx(friction, rel=0.02)  # 8.1 ft
        assert part.friction_m / FT_M == pytest.approx(friction, rel=0.12)  # Hazen–Williams, C 150


def test_two_springs_flow_at_noon_none_one_and_both() -> None:
    point = at_noon("two_springs").point
    assert point is not None
    by_hand = springs_by_hand()  # 22.1 and 22.6 gpm
    for unit, gpm in zip(point.units, by_hand, strict=True):
        assert unit.flow_m3_s / GPM_M3_S == pytest.approx(gpm, rel=FLOW)
        assert unit.has_spare
    assert point.flow_m3_s / GPM_M3_S == pytest.approx(45, abs=0.5)
    alone = sorted((sum(springs_by_hand(south=False)), sum(springs_by_hand(north=False))))
    none, *one, both = (flow / GPM_M3_S for flow in at_noon("two_springs").flows_m3_s)
    assert none == 0
    assert one == pytest.approx(alone, rel=FLOW)
    assert both == pytest.approx(sum(by_hand), rel=FLOW)


def spring_controller_w(gpm: float) -> float:
    motor_w = hand.read_off(gpm, SPRING_GPM, SPRING_W)
    amps = hand.three_phase_a(motor_w, 100, site("two_springs").controller.motor_power_factor)
    return hand.controller_w(motor_w, efficiency=0.95, own_w=8, motor_wire_ohm=hand.wire_ohm("10 AWG", 90), amps=amps)


def test_two_springs_controller_power_volts_and_amps_at_full_speed() -> None:
    point = at_noon("two_springs").point
    assert point is not None
    for unit, gpm in zip(point.units, springs_by_hand(), strict=True):
        used = spring_controller_w(gpm)  # about 1,140 W; the array could give 1,490 W
        assert unit.used_w == pytest.approx(used, rel=POWER)
        cell_c = hand.faiman_cell_c(unit.plane_w_m2, air_c=26, wind_m_s=2) + 2  # a quarter of the power stays as heat
        volts = SPRINGS.floating_v(used, unit.plane_w_m2, cell_c, loop_ohm=2 * hand.wire_ohm("10 AWG", 120))  # 122 V
        assert unit.input_v == pytest.approx(volts, rel=VOLTS)
        assert unit.input_a == pytest.approx(used / volts, rel=POWER + VOLTS)
        assert unit.input_v > 1.08 * (SPRINGS.best_v(cell_c) - 2 * hand.wire_ohm("10 AWG", 120) * 15.5)


def test_two_springs_wire() -> None:
    # 120 ft of 10 AWG at 40 °C, 1.10 Ω/kft: 0.264 Ω out and back; 2 × 8.17 A, aged to 95 %: 4.1 V of 122 V.
    ohm, amps = hand.wire_ohm("10 AWG", 120), 2 * 8.17 * SPRINGS.left
    run = wiring("two_springs").runs[0]
    assert run.current_a == pytest.approx(amps, rel=0.01)
    assert run.drop_v == pytest.approx(2 * ohm * amps, rel=0.02)
    assert run.drop_share == pytest.approx(2 * ohm * amps / 122.4, rel=0.02)
    assert wiring("two_springs").cold_v == pytest.approx(SPRINGS.cold_open_v(-23.33), rel=1e-3)  # −10 °F: 173.7 V


def test_two_springs_energy_and_money() -> None:
    result = day_of("two_springs")
    could = used = 0.0
    for number, gpm in enumerate(springs_by_hand()):
        one_could, one_used = energy_by_hand(
            result, SPRINGS, spring_controller_w(gpm), 2 * hand.wire_ohm("10 AWG", 120), number
        )
        could, used = could + one_could, used + one_used
    daily = result.daily.iloc[0]
    assert daily["input_kwh"] == pytest.approx(could, rel=ENERGY)
    assert daily["used_kwh"] == pytest.approx(used, rel=ENERGY)
    gallons = result.water_m3 / GAL_M3
    assert money("two_springs") == pytest.approx(gallons * 365 / 1000 * 5, rel=0.01)


def test_45_of_45_is_right_and_23_of_45_is_first_of_all_a_pump_that_does_not_run() -> None:
    assert at_noon("two_springs", gpm=45).verdict == "right for this sun"
    half = at_noon("two_springs", gpm=23)
    assert half.verdict == "low"
    first, second, third = half.causes[:3]
    assert first.name == "not running"
    assert (second.name, third.name) == ("tank empty", "held")
    assert first.probability > second.probability > third.probability
    assert set(first.units) == {0, 1}


def test_31_of_45_names_nothing_that_cannot_be() -> None:
    check = at_noon("two_springs", gpm=31)
    assert check.verdict == "low"
    for cause in check.causes[:-1]:
        assert cause.name not in ("not running", "tank empty", "held", "none running", "store full")
        if cause.name == "level":  # a buried tank is some 8 ft deep
            assert (cause.size or 0) / FT_M <= 8.3
        assert cause.flow_m3_s / GPM_M3_S == pytest.approx(31, abs=2.5)


def test_volts_and_amps_tell_which_pump_stands_and_why() -> None:
    # South at open circuit by hand, 131 V, and nothing drawn.
    point = at_noon("two_springs").point
    assert point is not None
    open_v = SPRINGS.open_v(point.units[1].plane_w_m2, hand.faiman_cell_c(point.units[1].plane_w_m2, 26, 2) + 8)
    assert point.units[1].open_v == pytest.approx(open_v, rel=VOLTS)
    stands = at_noon("two_springs", gpm=23, unit=1, volts=round(open_v), amps=0.1)
    assert stands.array == "open circuit"
    assert all(cause.units == (1,) for cause in stands.causes[:3])
    # North draws as it should: then it is the other one.
    draws = at_noon("two_springs", gpm=23, unit=0, volts=118, amps=9.7)
    assert draws.array == "floating"
    assert draws.causes[0].units == (1,)
    # A dead meter is an open disconnect, neither an empty tank nor a float.
    dead = at_noon("two_springs", gpm=23, unit=1, volts=0, amps=0)
    assert dead.array == "no voltage"
    assert dead.causes[0].name == "not running"
    assert dead.causes[0].probability > 0.9


def narrow_main_ft(gpm: float) -> float:
    """The same main of 2 in: at 24 gpm 2.3 ft/s, f 0.023: 11 ft."""
    bore = hand.BORE_IN["2"]
    friction = hand.darcy_ft(gpm, length_ft=1000, bore_in=bore, roughness_ft=hand.SMOOTH_FT)
    return friction + hand.fittings_ft(gpm, bore_in=bore, k=4)


def gauged(gpm: float, psi: float) -> FlowCheck:
    """Two springs on a main of 2 in, with a gauge where their pipes meet; 36 gpm by the program."""
    job = with_overrides(site("two_springs"), {"main.pipes.0.nominal": "2"})
    readings = Readings(pressure_kpa=psi * KPA_PER_PSI)
    moment = moment_at(job.site, f"{DAYS['two_springs']} 13:30")
    return check_flow(job, moment, told_flow(gpm * GPM_M3_S, 0.02), seen=Seen(sky="clear"), readings=readings)


def test_a_gauge_on_the_main_tells_the_main_from_all_that_lies_before_it() -> None:
    """By hand 24 gpm ask 40 ft of lift and 11 ft of a main as described: 22 psi, and then one pump stands. A main
    through which both push no more at full speed leaves each 12 gpm: 142 ft by the sheet, less 63 ft of lift and 1 ft
    of pipe, 78 ft or 34 psi."""
    clean_psi = (40 + narrow_main_ft(24)) / FT_PER_PSI
    scaled_psi = (hand.read_off(12, SPRING_GPM, SPRING_FT) - 63 - own_ft(12)) / FT_PER_PSI
    clean, scaled = (gauged(24, psi) for psi in (clean_psi, scaled_psi))
    for check, psi in ((clean, clean_psi), (scaled, scaled_psi)):
        assert check.gauge_head_m is not None
        assert check.asked_head_m is not None
        assert check.gauge_head_m / FT_M == pytest.approx(psi * FT_PER_PSI, rel=0.005)
        assert check.asked_head_m / FT_M == pytest.approx(40 + narrow_main_ft(24), rel=0.02)
    # Whether scale or a valve takes it, no gauge before both can tell.
    likeliest = scaled.causes[:2]
    assert {cause.name for cause in likeliest} == {"pipe", "valve"}
    assert sum(cause.probability for cause in likeliest) > 0.9
    for cause in likeliest:
        assert cause.fits == ("gauge",)
        assert 40 + cause.point.common_loss_m / FT_M == pytest.approx(scaled_psi * FT_PER_PSI, rel=0.03)
    assert "the main takes more than it should" in gauge_words(scaled, "us")
    assert clean.causes[0].name == "not running"
    assert not {"valve", "pipe"} & {cause.name for cause in clean.causes}
    assert "main and outlet are as described" in gauge_words(clean, "us")
    assert any("sit on the main" in str(notice) for notice in clean.notices)


# --- A deep helical pump at −20 °F -----------------------------------------------------------------------------------

HELICAL_FT, HELICAL_GPM, HELICAL_W = (200, 350, 500), (5.2, 5.0, 4.8), (430, 660, 890)
RIDGE = Array(8, 1, years=2)


def ridge_ft(gpm: float) -> float:
    """395 ft, drawdown at 0.5 gpm/ft, 420 ft galvanized and 600 ft plastic of 1¼ in. 4.9 gpm: 1.05 ft/s."""
    bore = hand.BORE_IN["1-1/4"]
    return (
        395
        + gpm / 0.5
        + hand.darcy_ft(gpm, length_ft=420, bore_in=bore, roughness_ft=hand.GALVANIZED_FT)
        + hand.darcy_ft(gpm, length_ft=600, bore_in=bore, roughness_ft=hand.SMOOTH_FT)
        + hand.fittings_ft(gpm, bore_in=bore, k=6)
    )


def test_deep_helical_heads_and_flow_at_noon() -> None:
    (part,) = heads_of("deep_helical")
    assert part.lift_m / FT_M == pytest.approx(395)
    assert part.drawdown_m / FT_M == pytest.approx(part.flow_m3_s / GPM_M3_S / 0.5, rel=1e-6)
    gpm = hand.crossing(lambda q: hand.read_off(ridge_ft(q), HELICAL_FT, HELICAL_GPM) - q, 1, 5.2)
    assert gpm == pytest.approx(4.92, abs=0.02)
    assert part.flow_m3_s / GPM_M3_S == pytest.approx(gpm, rel=0.01)
    friction = ridge_ft(gpm) - 395 - gpm / 0.5
    assert (part.friction_m + part.fittings_m) / FT_M == pytest.approx(friction, rel=0.15)  # 5.2 ft
    point = at_noon("deep_helical", clock="12:15", air_c=-28.9).point
    assert point is not None
    assert point.flow_m3_s / GPM_M3_S == pytest.approx(gpm, rel=0.01)


def ridge_controller_w() -> float:
    head = ridge_ft(4.92)
    motor_w = hand.read_off(head, HELICAL_FT, HELICAL_W)  # 752 W
    amps = hand.three_phase_a(motor_w, 200, site("deep_helical").controller.motor_power_factor)
    return hand.controller_w(motor_w, efficiency=0.94, own_w=10, motor_wire_ohm=hand.wire_ohm("12 AWG", 420), amps=amps)


def test_deep_helical_volts_and_amps_at_minus_20_f() -> None:
    point = at_noon("deep_helical", clock="12:15", air_c=-28.9).point
    assert point is not None
    unit, used = point.units[0], ridge_controller_w()
    assert unit.used_w == pytest.approx(used, rel=POWER)  # 820 W where 1,680 could be given
    # Near noon with 2 m/s; what is not taken, half of the array's power, stays in the cells: about 3 K.
    cell_c = hand.faiman_cell_c(unit.plane_w_m2, air_c=-28.9, wind_m_s=2) + 3
    volts = RIDGE.floating_v(used, unit.plane_w_m2, cell_c, loop_ohm=2 * hand.wire_ohm("12 AWG", 200))  # 312 V
    assert unit.input_v == pytest.approx(volts, rel=VOLTS)
    assert unit.input_a == pytest.approx(used / volts, rel=POWER + VOLTS)
    assert unit.input_w == pytest.approx(
        float(RIDGE.best_w(unit.plane_w_m2, cell_c - 3)) - 2 * hand.wire_ohm("12 AWG", 200) * (6.0**2), rel=POWER
    )


def test_deep_helical_cold_voltage_and_wire() -> None:
    told = wiring("deep_helical")
    # 8 × 37.6 V × (1 + 0.0032 × 53.9 K) = 352.7 V at −20 °F: 94 % of the controller's 375 V.
    assert told.cold_v == pytest.approx(352.7, abs=0.3)
    assert told.verdict == "within"
    array, well = told.runs
    assert array.drop_v == pytest.approx(2 * hand.wire_ohm("12 AWG", 200) * array.current_a, rel=0.01)  # 5.7 V
    assert array.current_a == pytest.approx(8.17, rel=0.04)
    amps = hand.three_phase_a(890, 200, site("deep_helical").controller.motor_power_factor)
    assert well.drop_v == pytest.approx(3**0.5 * hand.wire_ohm("12 AWG", 420) * amps, rel=0.01)


def test_deep_helical_energy_and_money() -> None:
    result = day_of("deep_helical")
    could, used = energy_by_hand(result, RIDGE, ridge_controller_w(), 2 * hand.wire_ohm("12 AWG", 200))
    daily = result.daily.iloc[0]
    assert daily["input_kwh"] == pytest.approx(could, rel=ENERGY)
    assert daily["used_kwh"] == pytest.approx(used, rel=ENERGY)
    # At full speed 4.92 gpm; at part load less: the day's water lies below that of its running minutes at full speed.
    most = 4.92 * result.water.running.sum()
    assert 0.85 * most < result.water_m3 / GAL_M3 < most
    assert money("deep_helical") == pytest.approx(result.water_m3 / GAL_M3 * 365 / 1000 * 12, rel=0.01)


# --- Southern hemisphere: the array and not the pump sets the flow ----------------------------------------------------

BORE_L_S, BORE_M, BORE_W = (0, 0.5, 1.0, 1.5, 2.0, 2.5), (62, 61, 58, 52, 42, 26), (700, 880, 1110, 1350, 1560, 1710)
SLOPE = Array(3, 2, years=10)


def slope_m(l_s: float) -> float:
    """30 m, 300 m of 52.5 mm, K 5."""
    gpm, bore = l_s / 1000 / GPM_M3_S, 52.5 / 25.4
    friction = hand.darcy_ft(gpm, length_ft=300 / FT_M, bore_in=bore, roughness_ft=hand.SMOOTH_FT)
    return 30 + (friction + hand.fittings_ft(gpm, bore_in=bore, k=5)) * FT_M


def slope_l_s(motor_w: float) -> float:
    """Affinity laws: head with speed², power with speed³ (the motor's efficiency as at full speed)."""

    def at(speed: float) -> tuple[float, float]:
        q = hand.crossing(lambda q: speed**2 * hand.read_off(q / speed, BORE_L_S, BORE_M) - slope_m(q), 0.01, 2.5)
        return q, speed**3 * hand.read_off(q / speed, BORE_L_S, BORE_W)

    return at(hand.crossing(lambda speed: motor_w - at(speed)[1], 0.75, 1.0))[0]


def test_southern_heads_wire_and_cold() -> None:
    (part,) = heads_of("southern")
    assert part.lift_m == pytest.approx(30)
    gpm = part.flow_m3_s / GPM_M3_S
    friction = hand.darcy_ft(gpm, length_ft=300 / FT_M, bore_in=52.5 / 25.4, roughness_ft=hand.SMOOTH_FT) * FT_M
    assert part.friction_darcy_m == pytest.approx(friction, rel=0.02)
    told = wiring("southern")
    # Copper of 6 mm² at 40 °C: 2.14e-8 × (1 − 0.00323 × 35)/6e-6 = 3.16 mΩ/m; 80 m out and back.
    assert told.runs[0].drop_v == pytest.approx(0.00316 * 80 * told.runs[0].current_a, rel=0.01)
    assert told.cold_v == pytest.approx(SLOPE.cold_open_v(-5), rel=1e-3)


def test_southern_noon_at_part_load() -> None:
    point = at_noon("southern", clock="12:00").point
    assert point is not None
    unit = point.units[0]
    assert not unit.has_spare
    cell_c = unit_cell_c("southern", unit.plane_w_m2)
    ohm = 0.00316 * 80
    best_w, best_v = float(SLOPE.best_w(unit.plane_w_m2, cell_c)), SLOPE.best_v(cell_c)
    amps = best_w / best_v
    could = best_w - ohm * amps**2  # 1,170 W
    assert unit.used_w == pytest.approx(could, rel=POWER)
    assert unit.input_v == pytest.approx(best_v - ohm * amps, rel=VOLTS)  # 74 V
    assert unit.input_a == pytest.approx(amps, rel=POWER)  # 15.7 A
    litres = slope_l_s((could - 8) * 0.95)
    assert point.flow_m3_s * 1000 == pytest.approx(litres, rel=0.05)


def unit_cell_c(name: str, light: float) -> float:
    """Cells at noon by Faiman, in the air that the program has for that day and hour."""
    result = day_of(name)
    noon = int(np.argmax(result.minutes["plane_w_m2"]))
    return float(result.minutes["cell_c"][noon]) * light / float(result.minutes["plane_w_m2"][noon])


def test_southern_rack_follows_a_sun_in_the_north() -> None:
    result = day_of("southern")
    assert result.job.axis_azimuth_deg == 0.0
    rotation, light = result.minutes["rotation_deg"], result.minutes["plane_w_m2"]
    up = np.flatnonzero(light > 50)
    assert rotation[up[0]] < -40  # east in the morning, by any hemisphere
    assert rotation[up[-1]] > 40


def test_southern_energy_and_money() -> None:
    result = day_of("southern")
    could, used = energy_by_hand(result, SLOPE, 1e9, 0.00316 * 80)
    daily = result.daily.iloc[0]
    assert daily["input_kwh"] == pytest.approx(could, rel=ENERGY)
    assert daily["used_kwh"] == pytest.approx(used, rel=ENERGY)
    assert money("southern") == pytest.approx(result.water_m3 * 365 * 1.4, rel=0.01)


# --- A fixed rack, a surface pump -------------------------------------------------------------------------------------

BARN_GPM, BARN_FT, BARN_W = (0, 5, 10, 15, 20, 25), (98, 96, 90, 80, 64, 40), (340, 430, 540, 640, 730, 800)
BARN = Array(3, 2, years=0)


def barn_ft(gpm: float) -> float:
    """58 ft, 500 ft of 1½ in, K 8; C 140 is new steel."""
    bore = hand.BORE_IN["1-1/2"]
    friction = hand.darcy_ft(gpm, length_ft=500, bore_in=bore, roughness_ft=hand.STEEL_FT)
    return 58 + friction + hand.fittings_ft(gpm, bore_in=bore, k=8)


def test_fixed_rack_heads_and_flow_at_noon() -> None:
    (part,) = heads_of("fixed_rack")
    assert part.lift_m / FT_M == pytest.approx(58)
    gpm = hand.duty_gpm(BARN_GPM, BARN_FT, barn_ft)
    friction = barn_ft(part.flow_m3_s / GPM_M3_S) - 58
    assert (part.friction_m + part.fittings_m) / FT_M == pytest.approx(friction, rel=0.15)  # 12.5 to 14 ft
    point = at_noon("fixed_rack", clock="12:10").point
    assert point is not None
    assert point.flow_m3_s / GPM_M3_S == pytest.approx(gpm, rel=FLOW)


def barn_controller_w() -> float:
    return hand.controller_w(
        hand.read_off(hand.duty_gpm(BARN_GPM, BARN_FT, barn_ft), BARN_GPM, BARN_W), efficiency=0.95, own_w=6
    )


def test_fixed_rack_volts_amps_and_wire() -> None:
    point = at_noon("fixed_rack", clock="12:10").point
    assert point is not None
    unit, used = point.units[0], barn_controller_w()
    assert unit.used_w == pytest.approx(used, rel=POWER)  # 740 W
    cell_c = unit_cell_c("fixed_rack", unit.plane_w_m2)
    volts = BARN.floating_v(used, unit.plane_w_m2, cell_c, loop_ohm=2 * hand.wire_ohm("10 AWG", 60))  # 93 V
    assert unit.input_v == pytest.approx(volts, rel=VOLTS)
    assert unit.input_a == pytest.approx(used / volts, rel=POWER + VOLTS)
    run = wiring("fixed_rack").runs[0]
    assert run.drop_v == pytest.approx(2 * hand.wire_ohm("10 AWG", 60) * 2 * 8.17 * BARN.left, rel=0.02)  # 2.1 V
    assert wiring("fixed_rack").cold_v == pytest.approx(BARN.cold_open_v(-20.56), rel=1e-3)  # −5 °F


def test_fixed_rack_light_energy_and_money() -> None:
    result = day_of("fixed_rack")
    assert not result.minutes["rotation_deg"].any()
    could, used = energy_by_hand(result, BARN, barn_controller_w(), 2 * hand.wire_ohm("10 AWG", 60))
    daily = result.daily.iloc[0]
    assert daily["input_kwh"] == pytest.approx(could, rel=ENERGY)
    assert daily["used_kwh"] == pytest.approx(used, rel=ENERGY)
    assert money("fixed_rack") == pytest.approx(result.water_m3 / GAL_M3 * 365 / 1000 * 4, rel=0.01)


# --- A sticking rack --------------------------------------------------------------------------------------------------

WELL_GPM, WELL_FT, WELL_W = (0, 4, 8, 12, 16, 20), (214, 210, 200, 178, 142, 90), (450, 590, 720, 840, 920, 960)
STICKS = Array(3, 2, years=8)
FREE = "rack.thermal.pivot_friction_nm=2"


def well_ft(gpm: float) -> float:
    """130 ft, drawdown at 2 gpm/ft, 450 ft of 1¼ in, K 6."""
    bore = hand.BORE_IN["1-1/4"]
    friction = hand.darcy_ft(gpm, length_ft=450, bore_in=bore, roughness_ft=hand.SMOOTH_FT)
    return 130 + gpm / 2 + friction + hand.fittings_ft(gpm, bore_in=bore, k=6)


def test_sticking_rack_heads_wire_and_flow_at_noon() -> None:
    (part,) = heads_of("sticking_rack")
    gpm = hand.duty_gpm(WELL_GPM, WELL_FT, well_ft)
    assert part.lift_m / FT_M == pytest.approx(130)
    friction = hand.darcy_ft(
        part.flow_m3_s / GPM_M3_S, length_ft=450, bore_in=hand.BORE_IN["1-1/4"], roughness_ft=hand.SMOOTH_FT
    )
    assert part.friction_darcy_m / FT_M == pytest.approx(friction, rel=0.02)
    result = day_of("sticking_rack")
    noon = int(np.argmax(result.minutes["plane_w_m2"]))
    assert result.minutes["flow_m3_s"][noon] / GPM_M3_S == pytest.approx(gpm, rel=FLOW)
    run = wiring("sticking_rack").runs[0]
    assert run.drop_v == pytest.approx(2 * hand.wire_ohm("8 AWG", 90) * 2 * 8.17 * STICKS.left, rel=0.02)


def well_controller_w() -> float:
    gpm = hand.duty_gpm(WELL_GPM, WELL_FT, well_ft)
    return hand.controller_w(hand.read_off(gpm, WELL_GPM, WELL_W), efficiency=0.95, own_w=6)


def test_sticking_rack_volts_amps_and_energy() -> None:
    result = day_of("sticking_rack")
    noon = int(np.argmax(result.minutes["plane_w_m2"]))
    used_w, light, cell_c = well_controller_w(), *(result.minutes[name][noon] for name in ("plane_w_m2", "cell_c"))
    assert result.minutes["used_w"][noon] == pytest.approx(used_w, rel=POWER)
    volts = STICKS.floating_v(used_w, light, cell_c, loop_ohm=2 * hand.wire_ohm("8 AWG", 90))  # 89 V
    assert result.minutes["input_v"][noon] == pytest.approx(volts, rel=VOLTS)
    could, used = energy_by_hand(result, STICKS, used_w, 2 * hand.wire_ohm("8 AWG", 90))
    daily = result.daily.iloc[0]
    assert daily["input_kwh"] == pytest.approx(could, rel=ENERGY)
    assert daily["used_kwh"] == pytest.approx(used, rel=ENERGY)


def test_sticking_rack_what_it_costs() -> None:
    sticks, free = day_of("sticking_rack"), day_of("sticking_rack", FREE)
    lag = [np.abs(r.minutes["rotation_deg"] - np.clip(r.minutes["sun_rotation_deg"], -50, 50)) for r in (sticks, free)]
    bright = sticks.minutes["plane_w_m2"] > 300
    assert np.median(lag[0][bright]) > np.median(lag[1][bright]) + 2
    gain = free.water_m3 - sticks.water_m3
    assert gain > 0
    # A spreadsheet: gallons a year at 6 a 1000 gal, twenty years at 5 %: annuity (1 − 1.05⁻²⁰)/0.05 = 12.462.
    a_year = gain / GAL_M3 * 365 / 1000 * 6
    by_sheet = a_year * (1 - 1.05**-20) / 0.05 - 250
    price = sticks.job.money.price_of_water
    assert price is not None
    worth = net_present_value(cost=250, gains=[gain * 365 * price] * 20, rate=0.05)
    assert worth == pytest.approx(by_sheet, rel=1e-6)
    assert money("sticking_rack") == pytest.approx(sticks.water_m3 / GAL_M3 * 365 / 1000 * 6, rel=0.01)


# --- All of them ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", sorted(DAYS))
def test_every_minute_of_every_unit_has_a_state(name: str) -> None:
    result = day_of(name)
    for minutes in result.unit_state_minutes:
        assert sum(minutes.values()) == 1440
    for state, running in zip(result.water.state, result.water.running, strict=True):
        assert ((state == 0) == running).all()


def test_the_sites_are_all_the_files_here() -> None:
    assert {path.stem for path in FOLDER.glob("*.toml")} == set(DAYS)
