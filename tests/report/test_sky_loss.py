"""The sky of lost water: nothing lost twice or forgotten, and where it belongs."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from trackersim import Result, load_job, simulate
from trackersim.report.sky_loss import BIN_DEG, class_of, class_words, sky_loss, sky_loss_alt
from trackersim.sky.sun import sun_at
from trackersim.units import System

CLEAR = ["weather.file=", "weather.clear_sky=true"]
DAYS = {"first_day": dt.date(2025, 3, 19), "last_day": dt.date(2025, 3, 22)}


@pytest.fixture(scope="module")
def own() -> Result:
    return simulate(load_job("demo", CLEAR), **DAYS)


@pytest.fixture(scope="module")
def reference() -> Result:
    return simulate(load_job("demo", [*CLEAR, "rack.kind=ideal", "trees=[]"]), **DAYS)


def test_all_lost_water_is_in_the_sky_once(own: Result, reference: Result) -> None:
    found = sky_loss(own, reference)
    assert found.total_m3 == pytest.approx(reference.water_m3 - own.water_m3, rel=1e-9)
    assert found.total_m3 > 1
    back = sky_loss(reference, own)
    np.testing.assert_allclose(back.lost_m3, -found.lost_m3, atol=1e-12)


def test_a_late_morning_turn_loses_its_water_in_the_east(own: Result, reference: Result) -> None:
    found = sky_loss(own, reference)
    east = found.bearing_deg[:-1] < 180
    assert found.lost_m3[:, east].sum() > 0.9 * found.lost_m3.sum()


def test_a_loss_of_one_minute_stands_where_the_sun_stood(own: Result) -> None:
    for minute in (700, 1440 + 1000):
        flow = own.minutes["flow_m3_s"].copy()
        flow[minute] += 1e-3
        found = sky_loss(own, replace(own, water=replace(own.water, flow_m3_s=flow[None])))
        site = own.job.site
        sun = sun_at(own.times[minute : minute + 1], latitude_deg=site.latitude_deg, longitude_deg=site.longitude_deg)
        row, column = np.argwhere(found.lost_m3 > 0.01).squeeze()
        assert found.elevation_deg[row] <= sun.elevation_deg[0] < found.elevation_deg[row] + BIN_DEG
        assert found.bearing_deg[column] <= sun.azimuth_deg[0] < found.bearing_deg[column] + BIN_DEG
        assert found.lost_m3[row, column] == pytest.approx(0.06, rel=1e-9)


def test_water_of_the_night_is_counted_beside_the_sky(own: Result) -> None:
    flow = own.minutes["flow_m3_s"].copy()
    flow[30] += 1e-3
    found = sky_loss(own, replace(own, water=replace(own.water, flow_m3_s=flow[None])))
    assert found.sun_down_m3 == pytest.approx(0.06, rel=1e-9)
    assert not found.lost_m3.any()


def test_results_of_other_minutes_are_refused(own: Result) -> None:
    other = simulate(load_job("demo", CLEAR), first_day=dt.date(2025, 6, 1), last_day=dt.date(2025, 6, 4))
    with pytest.raises(ValueError, match="different minutes"):
        sky_loss(own, other)


def test_classes_run_from_little_to_much() -> None:
    lost = np.array([[-5.0, -0.001, 0.0, 0.5, 2.0, 5.0, 10.0]])
    assert class_of(lost).tolist() == [[-1, 0, 0, 1, 2, 3, 4]]
    assert not class_of(np.zeros((2, 2))).any()


def test_a_rack_held_against_itself_loses_nothing(own: Result) -> None:
    found = sky_loss(own, own)
    assert not found.lost_m3.any()
    assert class_words(found, "us") == {}
    assert "loses no water" in sky_loss_alt(own, found, "us")


@pytest.mark.parametrize(("system", "factor"), [("us", 1 / 3.785411784e-3), ("si", 1.0)])
def test_the_classes_are_named_in_the_units_asked_for(
    own: Result, reference: Result, system: System, factor: float
) -> None:
    found = sky_loss(own, reference)
    named = class_words(found, system)
    assert set(named) == set(class_of(found.lost_m3).ravel().tolist()) - {0}
    most = float(named[4].split(" to ")[1].replace(",", ""))
    assert most == pytest.approx(found.lost_m3.max() * factor, rel=0.06)


def test_south_of_the_equator_the_morning_is_on_the_right() -> None:
    changes = ["site.latitude=-33", "site.longitude=150", "site.utc_offset=10", "site.timezone="]
    late = simulate(load_job("demo", [*CLEAR, *changes, "trees=[]"]), **DAYS)
    ideal = simulate(load_job("demo", [*CLEAR, *changes, "rack.kind=ideal", "trees=[]"]), **DAYS)
    found = sky_loss(late, ideal)
    east = found.bearing_deg[:-1] >= 0
    assert found.lost_m3[:, east].sum() > 0.8 * found.lost_m3.sum() > 0
