"""Odd inputs to the thermal rack, through the whole chain: finite, bounded, told in notices, never endless."""

from __future__ import annotations

import datetime as dt
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from thermal_logs import write_log

from trackersim import InputError, Result, load_job, simulate

WINTER = {"first_day": dt.date(2025, 1, 5), "last_day": dt.date(2025, 1, 16)}
LEVEL = "hangs as its balance leaves it"
OUTSIDE = "beyond −40…80 °C"


@cache
def run(*overrides: str, **days: dt.date) -> Result:
    return simulate(load_job("demo", ["rack.kind=thermal", *overrides]), **days)


def assert_sound(result: Result) -> None:
    own, job = result.canisters, result.job
    assert np.isfinite(result.series.to_numpy()).all()
    assert np.abs(result.minutes["rotation_deg"]).max() <= job.rack.max_rotation_deg
    assert result.water_m3 >= 0
    if own is not None:
        assert np.isfinite(own.canister_c).all()
        assert own.west_kg.min() >= 0
        assert own.west_kg.max() <= job.rack.thermal.liquid_kg * max(job.rack.thermal.charge, 1) + 1e-12


def told(result: Result, words: str) -> bool:
    return any(words in notice.text for notice in result.notices)


@pytest.mark.parametrize("none", ["charge=0", "lever=0", "liquid_kg=0"])
def test_without_liquid_or_lever_it_hangs_level_and_says_so(none: str) -> None:
    result = run(f"rack.thermal.{none}", **WINTER)
    assert_sound(result)
    assert (result.minutes["rotation_deg"] == 0).all()
    assert (result.morning.flip == -1).all()
    assert told(result, LEVEL)
    assert not told(run(**WINTER), LEVEL)


def test_canister_the_size_of_a_barrel() -> None:
    result = run("rack.thermal.canister_diameter=0.6", "rack.thermal.canister_length=1.5", **WINTER)
    assert_sound(result)
    assert result.canisters is not None
    assert result.canisters.canister_c.min() > -30
    assert result.canisters.canister_c.max() < 80


def test_a_barrel_almost_empty_stays_possible_and_an_emptier_one_is_refused() -> None:
    """With 0.01 kg and 50 J/K the heat of the vapour moved in one step once took a canister to −320 °C."""
    result = run("rack.thermal.canister_diameter=0.6", "rack.thermal.residual_kg=0.1", "rack.thermal.shell_j_k=500",
                 **WINTER)  # fmt: skip
    assert_sound(result)
    assert result.canisters is not None
    assert -60 < result.canisters.canister_c.min() < result.canisters.canister_c.max() < 80
    for field in ("residual_kg=0.01", "shell_j_k=50"):
        with pytest.raises(InputError, match="at least"):
            load_job("demo", [f"rack.thermal.{field}"])


@pytest.mark.parametrize("from_deg", [None, 270.0, 90.0, 180.0])
def test_a_storm_of_60_m_s(tmp_path: Path, from_deg: float | None) -> None:
    log = write_log(tmp_path / "storm.csv", wind_m_s=60, from_deg=from_deg)
    cooled = run(log, "trees=[]")
    pushed = run(log, "trees=[]", "rack.thermal.wind_upset=true")
    for result in (cooled, pushed):
        assert_sound(result)
    noon = pushed.by_day("rotation_deg")[1:, 720]
    if from_deg != 180:  # from either side it holds the plate where it rested, broadside
        assert (noon > 40).all()
    else:  # along the axis: no torque about it
        np.testing.assert_allclose(pushed.minutes["rotation_deg"], cooled.minutes["rotation_deg"], atol=1e-3)
    assert told(pushed, "no wind direction") == (from_deg is None)
    assert not told(cooled, "no wind direction")
    calm = run(write_log(tmp_path / "calm.csv", wind_m_s=1), "trees=[]")
    later = np.where(cooled.morning.flip < 0, 1440, cooled.morning.flip)  # or never: it blows all warmth away
    assert (later > calm.morning.flip).all()
    assert (calm.morning.flip > 0).all()


def test_a_missing_night_is_filled_and_told(tmp_path: Path) -> None:
    """From 19:00 of the third day to 05:00 of the fourth."""
    whole = run(write_log(tmp_path / "whole.csv", wind_m_s=2), "trees=[]")
    gap = run(write_log(tmp_path / "gap.csv", wind_m_s=2, drop=slice(134, 154)), "trees=[]")
    assert_sound(gap)
    assert gap.days == whole.days
    assert told(gap, "were filled")
    assert not told(whole, "were filled")
    np.testing.assert_allclose(gap.minutes["rotation_deg"], whole.minutes["rotation_deg"], atol=1e-6)


def test_a_missing_night_with_its_morning_is_refused(tmp_path: Path) -> None:
    log = write_log(tmp_path / "gap.csv", wind_m_s=2, drop=slice(130, 164))
    with pytest.raises(InputError, match="daylight"):
        run(log, "trees=[]")


@pytest.mark.parametrize("refrigerant", ["R-22", "R-12", "propane", "n-butane"])
def test_every_refrigerant_in_the_demos_winter(refrigerant: str) -> None:
    result = run(f"rack.thermal.refrigerant={refrigerant}", **WINTER)
    assert_sound(result)
    assert (result.morning.flip >= 0).sum() >= 6


@pytest.mark.parametrize(
    "changes",
    [
        ("balance=-0.2",),
        ("balance=0", "pivot_friction_nm=0"),
        ("pivot_friction_nm=500",),
        ("damper=0.05", "damping_nms=50", "flow_resistance_pa_s_kg=100"),
        ("flow_resistance_pa_s_kg=1e8",),
        ("liquid_kg=500", "canister_diameter=1", "canister_length=6"),
        ("mixing=0.02",),
        ("mixing=24 h",),
        ("charge=1.2",),
        ("lever=6", "canister_length=6", "moving_mass_kg=5000"),
        ("shade_plates=0",),
        ("diffuse_share=2", "absorptance=1"),
    ],
    ids=str,
)
def test_extremes_of_every_range(changes: tuple[str, ...]) -> None:
    result = run(*(f"rack.thermal.{change}" for change in changes), **WINTER)
    assert_sound(result)


# One canister of 0.10 by 2.4 m and a wall of 1.5 mm holds 17.7 l (identity).
@pytest.mark.parametrize(
    ("fill", "of_inside_20", "of_inside_60"),
    [
        (("refrigerant=R-134a", "liquid_kg=6", "residual_kg=0.5"), 6.5 / 1225 / 0.01774, 6.5 / 1053 / 0.01774),
        (("refrigerant=propane", "liquid_kg=7", "residual_kg=0.5"), 7.5 / 500 / 0.01774, 7.5 / 427.9 / 0.01774),
        (("refrigerant=n-butane", "liquid_kg=7", "residual_kg=0.5", "charge=1.2"), 8.9 / 579 / 0.01774,
         8.9 / 529 / 0.01774),
    ],
)  # fmt: skip
def test_how_full_a_canister_gets(fill: tuple[str, ...], of_inside_20: float, of_inside_60: float) -> None:
    """Densities at 20 and 60 °C: C CoolProp."""
    size = ("canister_diameter=0.1", "canister_length=2.4")
    thermal = load_job("demo", [f"rack.thermal.{field}" for field in (*fill, *size)]).rack.thermal
    assert thermal.filled(20.0) == pytest.approx(of_inside_20, rel=2e-3)
    assert thermal.filled(60.0) == pytest.approx(of_inside_60, rel=2e-3)


def test_more_liquid_than_a_canister_holds_is_refused_and_a_tight_fit_is_told() -> None:
    propane = ("rack.thermal.refrigerant=propane", "rack.thermal.residual_kg=0.5")
    with pytest.raises(InputError, match="liquid_kg") as refused:
        load_job("demo", [*propane, "rack.thermal.liquid_kg=9"])
    assert "times what a canister holds" in str(refused.value)
    bursts = "bursts"
    assert told(run(*propane, "rack.thermal.liquid_kg=8", **WINTER), bursts)
    for refrigerant in ("R-134a", "R-12", "R-22", "propane", "n-butane"):
        assert not told(run(f"rack.thermal.refrigerant={refrigerant}", **WINTER), bursts)


def test_a_seized_damper_hands_its_angle_on_from_night_to_night() -> None:
    seized = ["rack.thermal.damper=200", "rack.thermal.damping_nms=1000000"]
    result = run(*seized, first_day=dt.date(2025, 3, 1), last_day=dt.date(2025, 3, 25))
    assert_sound(result)
    turns = result.minutes["rotation_deg"].reshape(-1, 1440)
    np.testing.assert_allclose(turns[1:, 0], turns[:-1, -1], atol=0.01)
    assert np.ptp(turns[:, 0]) > 0.5


def test_frost_beyond_the_refrigerants_range_is_told() -> None:
    frost = ["weather.file=", "weather.clear_sky=true", "weather.coldest=-45", "weather.warmest=-20"]
    result = run(*frost, **WINTER)
    assert_sound(result)
    assert told(result, OUTSIDE)
    assert not told(run(**WINTER), OUTSIDE)


@pytest.mark.parametrize("angle", [50.0, 0.0, -30.0])
def test_a_stuck_rack_stays(angle: float) -> None:
    result = run("rack.thermal.stuck=true", f"rack.thermal.stuck_at={angle}", **WINTER)
    assert (result.minutes["rotation_deg"] == angle).all()
    assert (result.morning.flip == -1).all()
    assert told(result, "no measured parameter set is published")
    with pytest.raises(InputError, match="stuck_at"):
        load_job("demo", ["rack.kind=thermal", "rack.thermal.stuck=true", "rack.thermal.stuck_at=80"])


@pytest.mark.parametrize(
    "fault",
    ["charge=-0.1", "charge=2", "lever=-1", "liquid_kg=-1", "damper=0", "shade_plates=2", "refrigerant=water",
     "residual_kg=0", "canister_diameter=0", "moving_mass_kg=nan"],
)  # fmt: skip
def test_impossible_racks_are_refused_by_name(fault: str) -> None:
    with pytest.raises(InputError) as refused:
        load_job("demo", ["rack.kind=thermal", f"rack.thermal.{fault}"])
    assert fault.split("=")[0] in str(refused.value)
