"""What is used of what an array could give, by hand."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pytest

from trackersim.job.files import load_job, with_overrides
from trackersim.job.model import Job
from trackersim.report.words import headline
from trackersim.simulation import result as result_module
from trackersim.simulation.electrics import controller_input_w, controller_w, motor_side_loss_w, motor_w
from trackersim.simulation.result import Result
from trackersim.simulation.runner import simulate
from trackersim.units import show

DAYS = {"first_day": dt.date(2025, 6, 1), "last_day": dt.date(2025, 6, 30)}


def strong(**changes: object) -> Job:
    """The demo with four times its modules, so that the pump runs at full speed for hours."""
    rack = {"rack.kind": "ideal", "array.in_parallel": 8, "array.layout": {}}
    return with_overrides(load_job("demo"), {**rack, **changes})


@pytest.fixture(scope="module")
def full_speed() -> Result:
    return simulate(strong(), **DAYS)


@pytest.fixture(scope="module")
def slow_helical() -> Result:
    """A helical pump of straight lines: its sheet says 740 W at 40 m and rated speed, on far more modules than that."""
    job = load_job("demo")
    sheet = {"curve_flow": "1.2 1.1 1.0 l/s", "curve_head": "20 40 60 m", "curve_power": "400 740 1080 W"}
    pump = {"kind": "helical", **sheet}
    plain = {"pump": pump, "source": {"lift": "40 m"}, "pipes": [{"length": 0, "bore": "40 mm"}], "wire": []}
    job = with_overrides(strong(), {**plain, "controller.rated": 2000.0})
    return simulate(job, **DAYS)


def plenty(result: Result) -> np.ndarray:
    """Minutes in which the pump runs on far less than there is."""
    minutes = result.minutes
    return result.water.running[0].ravel() & (minutes["used_w"] < 0.8 * minutes["input_w"])


def test_at_full_speed_the_pump_takes_its_sheet_and_no_more(full_speed: Result) -> None:
    # By hand: the demo's sheet gives the input at the flow of the minute (rated speed, no wear in power); through the
    # controller's 94 %, its own 6 W and the motor's wire that is what the array feels.
    job, at = full_speed.job, plenty(full_speed)
    assert at.sum() > 3000
    flow = full_speed.minutes["flow_m3_s"][at] / (1 - job.pump.flow_lost)
    sheet_w = np.interp(flow, job.pump.curve_flow_m3_s, job.pump.curve_power_w)
    by_hand = (sheet_w + motor_side_loss_w(job, sheet_w)) / job.controller.efficiency + job.controller.own_use_w
    np.testing.assert_allclose(full_speed.minutes["used_w"][at], by_hand, rtol=0.03)


def test_a_helical_pump_takes_its_sheet_too(slow_helical: Result) -> None:
    job, at = slow_helical.job, plenty(slow_helical)
    assert at.sum() > 3000
    by_hand = 740 / job.controller.efficiency + job.controller.own_use_w
    np.testing.assert_allclose(slow_helical.minutes["used_w"][at], by_hand, rtol=0.03)


def test_voltage_floats_above_the_best_point(full_speed: Result) -> None:
    at, cells = plenty(full_speed), full_speed.minutes["cell_c"]
    array = full_speed.job.array
    # The best point falls by about Voc's volts per kelvin (common practice, no source).
    best_v = array.in_series * (array.vmp_v + array.voc_v * array.voc_per_k * (cells[at] - 25))
    assert (full_speed.minutes["input_v"][at] > best_v).mean() > 0.99
    assert (full_speed.minutes["input_v"][at] < array.in_series * array.voc_v * 1.1).all()


def test_open_circuit_while_the_pump_stands(full_speed: Result) -> None:
    minutes, array = full_speed.minutes, full_speed.job.array
    at = ~full_speed.water.running[0].ravel() & (minutes["plane_w_m2"] > 150) & (minutes["input_w"] > 0)
    assert at.sum() > 10
    assert not minutes["used_w"][at].any()
    ratio = minutes["input_v"][at] / (array.in_series * array.voc_v)
    # Open circuit falls by 60 mV a cell and decade of light and 0.33 %/K: near the label's at a fifth of the sun.
    assert ((ratio > 0.85) & (ratio < 1.05)).all()


def test_cells_are_warmer_when_less_is_taken(full_speed: Result) -> None:
    taken = simulate(with_overrides(full_speed.job, {"array.in_parallel": 2}), **DAYS)
    at = plenty(full_speed) & (full_speed.minutes["plane_w_m2"] > 700)
    warmer = full_speed.minutes["cell_c"][at] - taken.minutes["cell_c"][at]
    assert 0.5 < np.median(warmer) < 7.0


def test_all_that_is_used_could_be_given(full_speed: Result, demo_year: dict[str, Result]) -> None:
    for result in (full_speed, *demo_year.values()):
        minutes = result.minutes
        assert (minutes["used_w"] <= minutes["input_w"] * (1 + 1e-12)).all()
        assert (minutes["input_w"] <= minutes["array_w"] * (1 + 1e-3) + 1e-9).all()
        assert ((minutes["used_w"] > 0) == result.water.running.any(axis=0).ravel()).all()


def test_sums_of_units(full_speed: Result) -> None:
    for name in ("input_w", "used_w"):
        np.testing.assert_allclose(
            sum(minutes[name] for minutes in full_speed.unit_minutes), full_speed.minutes[name], rtol=1e-12
        )


def test_power_at_the_input_is_the_inverse_of_power_at_the_motor() -> None:
    job = load_job("demo")
    given = np.linspace(20, 900, 300)
    np.testing.assert_allclose(controller_input_w(job, motor_w(job, given)), given, rtol=1e-4)
    assert controller_input_w(job, np.zeros(4)).tolist() == [0.0] * 4
    # At its rating more light gives no more: the least input that does it is what is drawn.
    most = motor_w(job, np.array([3000.0]))
    assert controller_input_w(job, most)[0] == pytest.approx(1000 / 0.94 + 6, rel=1e-3)
    assert controller_w(job, controller_input_w(job, most))[0] == pytest.approx(1000, rel=1e-3)


def test_a_tank_takes_less_than_the_pump_could_lift() -> None:
    tank = {"store.capacity": "1500 gal", "store.demand": "900 gal/day"}
    held = simulate(with_overrides(load_job("demo"), tank), **DAYS)
    free = simulate(load_job("demo"), **DAYS)
    assert held.could_m3_per_day == pytest.approx(free.water_m3_per_day, rel=1e-12)
    assert held.water_m3_per_day < 0.5 * held.could_m3_per_day
    assert free.could_m3_per_day == free.water_m3_per_day
    could, takes = (show(each, "volume_per_day", "us") for each in (held.could_m3_per_day, held.water_m3_per_day))
    assert f"this pump could lift about {could} on average; the tank takes {takes}" in headline(held, "us")
    assert "could lift" not in headline(free, "us")


def test_only_what_is_asked_for_is_worked_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """The voltage of an array that gives less than it could costs as much as its best point; few pictures need it."""
    asked = []
    worked_out = result_module.array_in_use

    def heard(*given: Any, **named: Any) -> Any:
        asked.append(1)
        return worked_out(*given, **named)

    monkeypatch.setattr(result_module, "array_in_use", heard)
    result = simulate(load_job("demo"), first_day=DAYS["first_day"], last_day=DAYS["first_day"])
    for name in ("rotation_deg", "plane_w_m2", "input_w", "flow_m3_s"):
        assert np.isfinite(result.minutes[name]).all()
    assert not asked
    assert (result.minutes["used_w"] <= result.minutes["input_w"]).all()
    assert np.array_equal(result.unit_minutes[0]["input_v"], result.minutes["input_v"])
    assert len(asked) == 1
