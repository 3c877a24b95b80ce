"""The dose that flips a watched rack: threshold, leak, and what air, wind and sun do to both."""

from __future__ import annotations

import numpy as np
import pytest

from trackersim.job.rack import Rack
from trackersim.job.thermal import Thermal
from trackersim.rack.canister import canister_loss_w_k
from trackersim.rack.dose import (
    LEAK_MIN,
    ORDINARY_AIR_C,
    dose_factor,
    dose_kj_m2,
    one_sided_beam_w_m2,
    reached_min,
    threshold_factor,
)
from trackersim.rack.refrigerant import REFRIGERANTS

R134A = REFRIGERANTS["R-134a"]
MINUTES = np.arange(1440)


def steady(beam_w_m2: float) -> np.ndarray:
    return np.full((1, 600), beam_w_m2)


def one_sided(sun_deg: float, *, stop: float = 50.0, behind: float = 0.8) -> float:
    rack = Rack(max_rotation_deg=stop, thermal=Thermal(plate_angle_deg=25.0, plate_share_behind=behind))
    found = one_sided_beam_w_m2(rack, np.array([500.0]), sun_rotation_deg=np.array([sun_deg]), reach=np.array([0.9]))
    return float(found[0])


def test_without_a_leak_to_speak_of_the_dose_is_beam_beyond_the_threshold_times_time() -> None:
    dose = dose_kj_m2(steady(300.0), np.array(100.0), step_min=0.001)
    assert dose[0, 99] == pytest.approx(200 * 0.1 * 60 / 1000, rel=0.002)


def test_a_steady_beam_ends_where_the_leak_takes_as_much() -> None:
    """Closed form of dX/dt = e − X/τ: X = e τ (1 − exp(−t/τ)), exact at every step."""
    minutes = np.arange(1, 601)
    expected = 0.06 * 200 * LEAK_MIN * (1 - np.exp(-minutes / LEAK_MIN))
    assert dose_kj_m2(steady(300.0), np.array(100.0))[0] == pytest.approx(expected)


def test_under_the_threshold_nothing_is_gained_and_the_dose_leaks_away() -> None:
    beam = steady(300.0)
    beam[0, 60:] = 99.0
    dose = dose_kj_m2(beam, np.array(100.0))[0]
    assert dose[60 + 30 - 1] == pytest.approx(dose[59] * np.exp(-30 / LEAK_MIN))
    assert (dose_kj_m2(steady(99.0), np.array(100.0)) == 0).all()


def test_days_do_not_mix_and_half_minutes_give_the_same() -> None:
    beam = np.stack([np.linspace(0, 500, 600), np.full(600, 150.0)])
    both = dose_kj_m2(beam, np.array(100.0))
    assert both[1] == pytest.approx(dose_kj_m2(beam[1:], np.array(100.0))[0])
    assert dose_kj_m2(np.repeat(beam, 2, axis=1), np.array(100.0), step_min=0.5)[:, 1::2] == pytest.approx(both)


def test_the_moment_is_found_within_its_minute() -> None:
    dose = np.array([[0.0, 2.0, 6.0, 3.0], [0.0, 1.0, 1.0, 0.0]])
    found = reached_min(dose, np.array([[3.0]]))
    assert found[0] == pytest.approx(2 + 0.25)
    assert found[1] == np.inf
    assert reached_min(dose, np.array([[3.0]]), step_min=0.5)[0] == pytest.approx(1.125)
    assert (reached_min(dose, np.zeros((1, 1))) == 0).all()


def test_a_need_that_falls_as_the_air_cools_is_met_where_the_two_cross() -> None:
    dose, needed = np.array([[0.0, 1.0, 2.0]]), np.array([[4.0, 3.0, 1.0]])
    assert reached_min(dose, needed)[0] == pytest.approx(2 + 2 / 3)


def test_the_threshold_is_as_it_was_told_in_ordinary_air_and_wind() -> None:
    assert threshold_factor(R134A, air_c=ORDINARY_AIR_C, loss_share=1.0) == pytest.approx(1)
    assert dose_factor(R134A, ORDINARY_AIR_C) == pytest.approx(1)


@pytest.mark.parametrize("air_c", [-30.0, -10.0, 0.0, 20.0, 35.0])
def test_the_threshold_follows_the_kelvins_that_hold_the_lift(air_c: float) -> None:
    """ρ/p′ by CoolProp's reference equation of R-134a."""
    from CoolProp.CoolProp import PropsSI

    def kelvins(at_c: float) -> float:
        at_k = at_c + 273.15
        cooler, warmer = (PropsSI("P", "T", at_k + by, "Q", 0, "R134a") for by in (-0.05, 0.05))
        return float(PropsSI("D", "T", at_k, "Q", 0, "R134a") * 0.1 / (warmer - cooler))

    expected = kelvins(air_c) / kelvins(ORDINARY_AIR_C)
    assert threshold_factor(R134A, air_c=air_c, loss_share=1.0) == pytest.approx(expected, rel=0.005)


def test_wind_raises_the_threshold_as_it_cools_a_canister() -> None:
    calm, windy = (
        canister_loss_w_k(Thermal(), wind_m_s=np.array([wind]), air_c=np.array([10.0])) for wind in (2.0, 8.0)
    )
    share = float(windy[0] / calm[0])
    assert 1.5 < share < 2.5
    assert threshold_factor(R134A, air_c=10, loss_share=share) == pytest.approx(share)


@pytest.mark.parametrize("name", list(REFRIGERANTS))
def test_cold_raises_the_threshold_and_lowers_the_dose_of_every_refrigerant(name: str) -> None:
    fluid, air = REFRIGERANTS[name], np.arange(-40.0, 51.0, 5.0)  # type: ignore[index]
    assert (np.diff(threshold_factor(fluid, air_c=air, loss_share=1.0)) < 0).all()
    assert (np.diff(dose_factor(fluid, air)) > 0).all()
    assert (dose_factor(fluid, air) > 2 / 3).all()


def test_the_beam_counts_that_one_canister_has_more_of() -> None:
    assert one_sided(-30) == pytest.approx(500 * 0.9)  # the sun 80° east of the rack's normal
    assert one_sided(-90) == pytest.approx(500 * 0.9 * 0.8)  # well behind it
    assert one_sided(-90, behind=1.0) == pytest.approx(500 * 0.9)
    assert one_sided(50) == 0
    assert one_sided(80) == 0  # in the evening it shines on the other one
    assert 0 < one_sided(40) < one_sided(30) <= one_sided(20)
