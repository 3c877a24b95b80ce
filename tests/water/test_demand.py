"""Demand and evaporation by the calendar, and how well they were met."""

from __future__ import annotations

import numpy as np
import pytest

from trackersim.job.water import Source, Store
from trackersim.water.demand import (
    days_below,
    demand_m3_s,
    evaporation_m3_s,
    inflow_m3_s,
    longest_dry_spell,
)

MONTH_OF_DAY = np.repeat(np.arange(1, 13), [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
BY_MONTH = np.arange(12) * 0.5 + 1  # January 1.0 … December 6.5


def test_every_day_sums_to_its_month_whatever_the_hours() -> None:
    for shares in (None, np.arange(24.0), np.eye(24)[6]):
        store = Store(
            demand_by_month_m3_per_day=tuple(BY_MONTH), demand_by_hour=shares if shares is None else tuple(shares)
        )
        demand = demand_m3_s(store, MONTH_OF_DAY)
        assert demand.shape == (365, 1440)
        np.testing.assert_allclose(demand.sum(axis=1) * 60, BY_MONTH[MONTH_OF_DAY - 1])


def test_demand_falls_into_its_hours() -> None:
    shares = np.zeros(24)
    shares[[6, 18]] = 3, 1
    demand = demand_m3_s(Store(demand_m3_per_day=2.0, demand_by_hour=tuple(shares)), np.array([7]))
    assert demand[0, 6 * 60 : 7 * 60].sum() * 60 == pytest.approx(1.5)
    assert demand[0, 18 * 60 : 19 * 60].sum() * 60 == pytest.approx(0.5)
    assert np.count_nonzero(demand) == 120


def test_even_demand_is_the_daily_mean() -> None:
    demand = demand_m3_s(Store(demand_m3_per_day=86.4), np.array([1, 2]))
    np.testing.assert_allclose(demand, 1e-3)


def test_five_millimetres_from_a_hectare_are_fifty_cubic_metres_a_day() -> None:
    july = (0.0,) * 6 + (0.005,) + (0.0,) * 5
    pond = Store(kind="pond", area_m2=1e4, evaporation_by_month_m=july)
    np.testing.assert_allclose(evaporation_m3_s(pond, np.array([6, 7, 8])) * 86400, [0, 50, 0])
    assert evaporation_m3_s(Store(), np.array([7])).tolist() == [0]


def test_a_sump_fills_by_the_month_and_a_well_not_at_all() -> None:
    by_month = tuple(86.4 * number for number in range(12))
    sump = Source(kind="sump", lift_m=0, volume_m3=1, inflow_by_month_m3_per_day=by_month)
    np.testing.assert_allclose(inflow_m3_s(sump, np.array([1, 2, 12])), [0, 1e-3, 11e-3])
    assert inflow_m3_s(Source(lift_m=0, inflow_m3_per_day=5), np.array([1])).tolist() == [0]


def test_days_below_the_reserve_count_once_each() -> None:
    volume = np.full((4, 1440), 5.0)
    volume[1, 700:710] = 1.9
    volume[3, [0, 900]] = 1.0
    assert days_below(volume, reserve_m3=2.0) == 2
    assert days_below(volume, reserve_m3=1.0) == 0
    assert days_below(volume, reserve_m3=6.0) == 4


@pytest.mark.parametrize(
    ("delivered", "demand", "longest"),
    [
        ([1, 1, 1], [1, 1, 1], 0),
        ([1, 0, 0.5, 1, 0], [1, 1, 1, 1, 1], 2),
        ([0, 0, 1, 0, 0, 0.9], [1] * 6, 3),
        ([0, 0], [1, 1], 2),
        ([0, 0, 0], [1, 0, 1], 1),
        ([1 - 1e-13], [1], 0),
        ([0.999], [1], 1),
        ([], [], 0),
    ],
)
def test_longest_dry_spell(delivered: list[float], demand: list[float], longest: int) -> None:
    assert longest_dry_spell(delivered_m3=np.array(delivered), demand_m3=np.array(demand)) == longest
