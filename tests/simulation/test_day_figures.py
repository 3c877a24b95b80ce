"""Figures of whole days are the same with their minutes and without."""

from __future__ import annotations

import datetime as dt
import pickle
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from trackersim import load_job, simulate
from trackersim.simulation.day_figures import days_alone
from trackersim.simulation.reuse import arrays_in
from trackersim.simulation.runner import Runner

DAYS = {"first_day": dt.date(2025, 3, 28), "last_day": dt.date(2025, 4, 6)}
SAVED = Path(__file__).parents[1] / "saved_jobs"
BACKUP = ["backup.begins=20", "backup.ends=6", "backup.power=1000 W", "backup.price_per_kwh=0.2"]


@pytest.mark.parametrize(
    ("job", "overrides"),
    [
        ("demo", ["store.demand=2500 gal/day"]),
        ("demo", BACKUP),
        (SAVED / "tank.toml", []),
        (SAVED / "sump.toml", []),
        (SAVED / "three_pumps.toml", []),
        (SAVED / "thermal_rack.toml", []),
        (SAVED / "fixed_rack.toml", []),
    ],
    ids=str,
)
def test_days_alone_say_what_the_result_says(job: str | Path, overrides: list[str]) -> None:
    result = simulate(load_job(job, overrides), **DAYS)
    alone = days_alone(result)
    assert alone.summary() == result.summary()
    pd.testing.assert_frame_equal(alone.monthly_means, result.monthly_means)
    assert (alone.demand_m3 == result.demand_m3).all()
    assert alone.coldest_c == result.coldest_c
    assert sum(arrays_in(alone).values()) < sum(arrays_in(result).values()) / 100


@pytest.mark.parametrize(("job", "overrides"), [("demo", BACKUP), (SAVED / "three_pumps.toml", [])], ids=str)
def test_energy_and_flow_of_days_are_those_of_their_minutes(job: str | Path, overrides: list[str]) -> None:
    result = simulate(load_job(job, overrides), **DAYS)
    for column, name in (("array_kwh", "array_w"), ("input_kwh", "input_w"), ("used_kwh", "used_w")):
        assert (result.daily[column] == result.by_day(name).sum(axis=1) * (1 / 60_000)).all()
    assert (result.flow_by_day_m3_s == result.by_day("flow_m3_s")).all()
    assert (result.daily["flow_min"] == (result.by_day("flow_m3_s") > 0).sum(axis=1)).all()


def test_nobody_writes_into_what_a_runner_keeps() -> None:
    """A table that a user turned into gallons, or an array made smooth, would change every later answer."""
    runner = Runner(load_job("demo"), **DAYS)
    result = runner.run()
    before = result.summary()
    shared = [*result.minutes.values(), *result.unit_minutes[0].values(), result.by_day("input_w")]
    shared += [result.flow_by_day_m3_s, result.daily_water_m3, result.daily_light_kwh_m2]
    assert not any(values.flags.writeable for values in shared)
    for figures in (result, days_alone(result)):
        for table in (figures.daily, figures.monthly, figures.monthly_means):
            table["water_m3"] *= 264.2
    series = result.series
    series["gpm"] = series["flow_m3_s"] * 15_850
    assert "gpm" not in result.series
    assert result.summary() == days_alone(result).summary() == runner.run().summary() == before


def test_a_result_goes_to_a_file_and_back_and_is_short_in_print() -> None:
    """Once a minute array was asked for it could not be kept; and == raised numpy's error."""
    result = simulate(load_job("demo"), **DAYS)
    result.series  # noqa: B018
    again = pickle.loads(pickle.dumps(result))
    assert again.summary() == result.summary()
    for name, values in result.minutes.items():
        np.testing.assert_array_equal(again.minutes[name], values)
    assert again != result
    assert len({again, result, days_alone(result)}) == 3
    told = f"2025-03-28 to 2025-04-06: {result.water_m3_per_day:.3g} m³ a day"
    assert repr(result) == f"<Result 'Hill farm (invented)', delayed rack, {told}>"
    assert "flow_m3_s" in repr(result.minutes)
