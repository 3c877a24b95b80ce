"""What a backup would have to pump, and where the source ends it."""

from __future__ import annotations

import numpy as np
import pytest

from trackersim.job.water import Source
from trackersim.water.backup import Backup, SumpDays, backup

MONTH_OF_DAY = np.repeat(np.arange(1, 13), [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
AN_HOUR = 1 / 3600  # one cubic metre an hour
TANK = Source(kind="sump", lift_m=10, volume_m3=10, low_stop=0.1)


def of_days(shortfall: list[float], *sumps: SumpDays | None, flows: tuple[float, ...] = (1.0,)) -> Backup:
    """Days of one June; flows in cubic metres an hour, each unit takes 500 W."""
    return backup(
        shortfall_m3=np.array(shortfall), month_of_day=np.full(len(shortfall), 6),
        flow_m3_s=np.outer(flows, np.full(12, AN_HOUR)), power_w=np.full((len(flows), 12), 500.0),
        sumps=sumps or (None,) * len(flows),
    )  # fmt: skip


def sump(held: list[float], over: list[float]) -> SumpDays:
    """Of a sump whose least volume of each day and whose overflow are given; 1 m³ of it lies below the low stop."""
    return SumpDays.of(TANK, held_m3=np.array(held)[:, None] * np.ones(4), over_m3=np.array(over))


def test_a_backup_makes_good_each_month() -> None:
    shortfall = np.zeros(365)
    shortfall[[0, 30, 31, 364]] = 1.0, 2.0, 4.0, 0.5
    flow, power = np.full((1, 12), AN_HOUR), np.full((1, 12), 750.0)
    flow[0, 1], power[0, 1] = 2 * AN_HOUR, 900.0  # in February its lift is small
    needed = backup(shortfall_m3=shortfall, month_of_day=MONTH_OF_DAY, flow_m3_s=flow, power_w=power, sumps=[None])
    np.testing.assert_allclose(needed.volume_m3, [3, 4, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0.5])
    np.testing.assert_allclose(needed.hours, [3, 2, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0.5])
    np.testing.assert_allclose(needed.energy_kwh, np.array([3 * 750, 2 * 900, *[0] * 9, 0.5 * 750]) / 1000)
    np.testing.assert_allclose(needed.missing_m3, 0, atol=1e-12)


def test_a_short_season_leaves_the_other_months_at_nothing() -> None:
    needed = backup(
        shortfall_m3=np.ones(3),
        month_of_day=np.array([12, 12, 1]),
        flow_m3_s=np.full((1, 12), 1e-3),
        power_w=np.full((1, 12), 1e3),
        sumps=[None],
    )
    np.testing.assert_allclose(needed.volume_m3, [1] + [0] * 10 + [2])


def test_what_a_spring_does_not_give_no_backup_lifts() -> None:
    """The sun pumps the sump down to its stop every day: nothing is left, whatever is wanted."""
    needed = of_days([5.0] * 4, sump([1.0] * 4, [0.0] * 4))
    assert needed.volume_m3[5] == needed.hours[5] == needed.energy_kwh[5] == 0
    assert needed.missing_m3[5] == pytest.approx(20)


def test_what_runs_over_can_be_lifted_on_that_day() -> None:
    needed = of_days([5.0, 5.0, 0.0], sump([1.0] * 3, [2.0, 7.0, 3.0]))
    assert needed.volume_m3[5] == pytest.approx(2 + 5)
    assert needed.missing_m3[5] == pytest.approx(3)


def test_what_stands_in_a_sump_can_be_lifted_once_and_takes_nothing_from_the_sun() -> None:
    """9 m³ lie above the low stop on three days; on the fourth the sun needs 5 of them and nothing runs over."""
    needed = of_days([3.0, 3.0, 3.0, 3.0], sump([10.0, 10.0, 10.0, 5.0], [0.0] * 4))
    assert needed.volume_m3[5] == pytest.approx(5 - 1)
    assert needed.missing_m3[5] == pytest.approx(12 - 4)
    # 6 m³ that would have run over on the third day fill again what the first two took.
    refilled = of_days([3.0, 3.0, 3.0, 3.0], sump([10.0, 10.0, 10.0, 5.0], [0.0, 0.0, 6.0, 0.0]))
    assert refilled.volume_m3[5] == pytest.approx(4 + 6)


def test_a_well_goes_on_where_a_sump_beside_it_ends() -> None:
    """2 and 1 m³ an hour, 4 m³ in the sump: two hours together, 6 m³; the other 3 m³ take the well three more."""
    needed = of_days([9.0], sump([5.0], [0.0]), None, flows=(2.0, 1.0))
    assert needed.volume_m3[5] == pytest.approx(9)
    assert needed.hours[5] == pytest.approx(5)
    assert needed.energy_kwh[5] == pytest.approx((2 + 5) * 0.5)


def test_a_pump_that_gives_nothing_does_not_run() -> None:
    needed = of_days([6.0], flows=(2.0, 0.0))
    assert needed.hours[5] == pytest.approx(3)
    assert needed.energy_kwh[5] == pytest.approx(1.5)


@pytest.mark.parametrize("seed", range(5))
def test_sun_and_backup_never_take_more_than_runs_in(seed: int) -> None:
    """A sump that is followed day by day with the sun's draw: both together leave what lies below its low stop."""
    rng = np.random.default_rng(seed)
    inflow, drawn = rng.uniform(0, 6, 60), rng.uniform(0, 5, 60)
    held, over, taken, level = [], [], [], 10.0
    for came, wants in zip(inflow, drawn, strict=True):
        takes = min(wants, level + came - 1)
        rest = level + came - takes
        over.append(max(rest - 10, 0.0))
        level = rest - over[-1]
        held.append(level)
        taken.append(takes)
    wanted = rng.uniform(0, 3, 60)
    found = sump(held, over)
    needed = of_days(wanted.tolist(), found)
    assert needed.volume_m3[5] + needed.missing_m3[5] == pytest.approx(wanted.sum())
    assert 0 < needed.volume_m3[5] < wanted.sum()
    assert 10 + inflow.sum() >= np.sum(taken) + needed.volume_m3[5] + 1 - 1e-9
