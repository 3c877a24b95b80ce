"""The water report: power that is taken and not only offered, and a backup that can be bought."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from trackersim import load_job, simulate
from trackersim.analysis.hydraulics import water_report
from trackersim.report.hydraulics import short_words, stop_words
from trackersim.simulation.pump_station import pump_station, unit_flows

SAVED = Path(__file__).parents[1] / "saved_jobs"
GAL = 0.003785411784


def test_a_backup_ends_where_the_spring_has_no_more() -> None:
    """A spring of 1,000 gal a day, 3,000 wanted: the sun lifts all that comes, and a generator has nothing to lift."""
    job = load_job(SAVED / "sump.toml", ["source.inflow=1000 gal/day"])
    result = simulate(job, first_day=dt.date(2025, 6, 1), last_day=dt.date(2025, 6, 10))
    report = water_report(result)
    assert report.backup is not None
    start_and_inflow = (1200 + 10 * 1000) * GAL
    assert result.water_m3 + report.backup.volume_m3.sum() <= start_and_inflow
    assert report.backup.hours.sum() < 1
    assert report.backup.missing_m3.sum() / GAL == pytest.approx(20_000, rel=0.05)
    assert "no backup can lift: no source has it" in short_words(report, "us")


def test_a_pump_held_for_less_than_a_minute_a_day_is_not_told_to_stand_for_none() -> None:
    """Once: "it stood, on an average day, 0 min because the tank was full"."""
    days = {"first_day": dt.date(2025, 6, 1), "last_day": dt.date(2025, 6, 3)}
    report = water_report(simulate(load_job("demo"), **days))
    told = stop_words(replace(report, lost_min={"tank full": 1, "source low": 36, "start delay": 0}))
    assert told.endswith(
        "it stood, on an average day, less than a minute because the tank was full, 12 min because the source was low."
    )


@pytest.mark.parametrize("lift", [[], [f"source.lift_by_month={'60 ' * 6}{'160 ' * 6} ft"]])
def test_the_energy_of_a_backup_is_what_the_controller_draws_of_it(lift: list[str]) -> None:
    """Per cubic metre as where it is simulated, by night, beside the sun; by the lift of its own month."""
    days = {"first_day": dt.date(2025, 1, 5), "last_day": dt.date(2025, 1, 6)}
    wanted = ["store.demand=15000 gal/day", *lift]
    sun = simulate(load_job("demo", wanted), **days)
    night = simulate(load_job("demo", [*wanted, "backup.begins=20", "backup.ends=6"]), **days)
    needed = water_report(sun).backup
    assert needed is not None
    assert night.bought_kwh is not None
    by_table = needed.energy_kwh.sum() / needed.volume_m3.sum()
    assert by_table == pytest.approx(night.bought_kwh / (night.water_m3 - sun.water_m3), rel=0.005)


def test_on_a_main_the_power_told_is_what_the_motors_take() -> None:
    """With a hundredth less than that each gives less; what is offered beyond it moves no water."""
    job = load_job(SAVED / "three_pumps.toml")
    report = water_report(simulate(job, first_day=dt.date(2025, 6, 1), last_day=dt.date(2025, 6, 1)))
    full = [point for point in report.points if point.share == 1]
    station, month = pump_station(job), np.array([1])
    for number, point in enumerate(full):
        assert point.power_w < 0.98 * station.full_power_w[number]
        offered = [np.array([other.power_w]) for other in full]
        offered[number] = 0.99 * offered[number]
        assert unit_flows(station, offered, month).flow_m3_s[number, 0] < 0.998 * point.flow_m3_s


@pytest.mark.parametrize(
    "controller",
    [["controller.rated=800 W", "wire.1.length=300 ft"], ["controller.rated=700 W", "wire.1.gauge=14"]],
)
def test_full_power_is_no_more_than_arrives_at_the_motor(controller: list[str]) -> None:
    """Four times the modules at noon: what the wire to the motor takes is not there to pump with."""
    strong = ["rack.kind=ideal", "array.in_parallel=8", "array.layout={}", "weather.file=", "weather.clear_sky=true"]
    job = load_job("demo", [*strong, *controller])
    result = simulate(job, first_day=dt.date(2025, 6, 1), last_day=dt.date(2025, 6, 1))
    (full,) = [point for point in water_report(result).points if point.share == 1]
    assert full.flow_m3_s == pytest.approx(result.minutes["flow_m3_s"].max(), rel=1e-3)
