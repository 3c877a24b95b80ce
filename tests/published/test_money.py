"""Net present value and payback against worked examples of a textbook, recomputed by hand.

Brealey, Myers and Allen, Principles of Corporate Finance (recalled, not looked up): the office block of the chapter on
present value, the annuity of five yearly payments, and the definition of payback.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from trackersim.analysis.alternatives import Choice, Outcome, Price, with_money
from trackersim.analysis.economics import (
    between,
    break_even_cost,
    cost_of_gain,
    net_present_value,
    payments,
    present_value,
    simple_payback_years,
    yearly,
)
from trackersim.constants import DAYS_A_YEAR
from trackersim.job.economics import Money


@pytest.mark.parametrize(("rate", "printed"), [(0.05, 30_000), (0.12, 5_000)])
def test_the_office_block(rate: float, printed: float) -> None:
    """370,000 now, 420,000 in a year. By hand: 420,000/1.05 = 400,000 and 420,000/1.12 = 375,000."""
    value = net_present_value(cost=370_000, gains=[420_000], rate=rate)
    assert value == pytest.approx(printed, abs=0.01)
    assert present_value([(0.0, -370_000), (1.0, 420_000)], rate=rate) == pytest.approx(printed, abs=0.01)


def test_five_yearly_payments_of_5000_at_7_per_cent_are_worth_20501() -> None:
    """By hand: (1 − 1.07⁻⁵)/0.07 = (1 − 0.712986)/0.07 = 4.10020; times 5,000 is 20,501."""
    by_hand = sum(5_000 / 1.07**year for year in (1, 2, 3, 4, 5))
    assert by_hand == pytest.approx(20_501, abs=0.5)
    assert present_value(yearly([5_000] * 5), rate=0.07) == pytest.approx(by_hand, rel=1e-12)
    assert net_present_value(cost=20_000, gains=[5_000] * 5, rate=0.07) == pytest.approx(501, abs=0.5)


def test_payback_is_cost_over_yearly_gain() -> None:
    """2,000 paid, 500 a year back: the cost is there again after four years, whatever the rate."""
    assert simple_payback_years(cost=2_000, gains=[500] * 5) == 4.0
    assert simple_payback_years(cost=2_000, gains=[500] * 3) is None
    assert simple_payback_years(cost=2_000, gains=[0] * 20) is None
    assert simple_payback_years(cost=2_000, gains=[-10] * 20) is None
    assert simple_payback_years(cost=0, gains=[10]) == 0.0


def test_payback_with_gains_that_fall() -> None:
    """By hand: 1,000 paid; 600, 300 and 200 come back: 100 of the third year's 200 are needed, two and a half years."""
    assert simple_payback_years(cost=1_000, gains=[600, 300, 200]) == pytest.approx(2.5)
    assert between(100.0, 80.0, 4) == pytest.approx((97.5, 92.5, 87.5, 82.5))


def test_what_is_bought_again_before_it_is_paid_never_pays_back() -> None:
    """By hand: 1,000 every 3 years and 250 a year: 750 come back of each 1,000. Over 12 years 3,000 of 4,000."""
    assert simple_payback_years(cost=1_000, gains=[250] * 12, life_years=3) is None
    assert net_present_value(cost=1_000, gains=[250] * 12, rate=0.0, life_years=3) == -1_000


def test_a_replacement_puts_payback_off() -> None:
    """By hand: 1,000 every 5 years. Of 300 a year 1,500 have come by year 5, where 2,000 are paid: 500 more take until
    6 2/3; by year 10 3,000 have come and 3,000 are paid. Of 220 a year the first 1,000 are back after 4.5 years, but
    after 12 years 2,640 stand against 3,000. A life of 2.5 years ends within a year: 2,000 paid, 1,000 have come,
    two and a half years more."""
    assert simple_payback_years(cost=1_000, gains=[300] * 12, life_years=5) == pytest.approx(6 + 2 / 3)
    assert simple_payback_years(cost=1_000, gains=[220] * 12, life_years=5) is None
    assert simple_payback_years(cost=1_000, gains=[400] * 5, life_years=2.5) == pytest.approx(5.0)
    assert simple_payback_years(cost=1_000, gains=[400] * 12, life_years=5) == pytest.approx(2.5)


@pytest.mark.parametrize("life_years", [0.7, 1, 2.5, 3, 7, 11.9, 12, None])
def test_payback_is_none_exactly_where_the_net_value_without_interest_is_below_nothing(
    life_years: float | None,
) -> None:
    never = []
    for gain in range(10, 2_000, 37):
        gains = between(gain, 0.8 * gain, 12)
        left = net_present_value(cost=1_000, gains=gains, rate=0.0, life_years=life_years)
        back = simple_payback_years(cost=1_000, gains=gains, life_years=life_years)
        assert (back is None) == (left < 0), gain
        never.append(back is None)
    assert set(never) == {True, False}


def test_the_options_payback_counts_replacements() -> None:
    """The same 250 a year as above, of water at 1 a cubic metre."""
    water = Outcome(
        lifted_m3_per_day=10, used_m3_per_day=10, worst_m3_per_day=1, worst_month=1, short_days=None,
        longest_short_days=None,
    )  # fmt: skip
    more = 250 / DAYS_A_YEAR
    choice = Choice(name="valve", outcome=water, used_gain_m3_per_day=more, later_gain_m3_per_day=more)
    money = Money(rate=0.0, horizon_years=12, price_of_water=1.0)
    short, long = (with_money(replace(choice, price=Price(cost=1_000, life_years=life)), money) for life in (3, 12))
    assert (short.payback_years, long.payback_years) == (None, pytest.approx(4.0))
    assert (short.net_value, long.net_value) == (pytest.approx(-1_000), pytest.approx(2_000))


def test_what_wears_out_is_bought_again_within_the_horizon() -> None:
    """By hand: 1,000 every 8 years in 20 years is paid at 0, 8 and 16; at 5 % 1,000 (1 + 0.676839 + 0.458112)."""
    assert [time for time, _ in payments(cost=1_000, life_years=8, horizon_years=20)] == [0, 8, 16]
    value = net_present_value(cost=1_000, gains=[0] * 20, rate=0.05, life_years=8)
    assert value == pytest.approx(-2_134.95, abs=0.01)


def test_a_life_that_ends_with_the_horizon_buys_nothing_again() -> None:
    for life_years in (20, 25, None):
        assert payments(cost=1_000, life_years=life_years, horizon_years=20) == ((0.0, -1_000),)
    assert len(payments(cost=1_000, life_years=0.1, horizon_years=3)) == 30


def test_at_the_break_even_cost_nothing_is_left() -> None:
    most = break_even_cost(gains=[130] * 15, rate=0.06, life_years=7)
    assert most > 0
    left = net_present_value(cost=most, gains=[130] * 15, rate=0.06, life_years=7)
    assert left == pytest.approx(0, abs=1e-9)


def test_the_cost_of_what_is_gained_is_the_price_at_which_nothing_is_left() -> None:
    """By hand without interest: 900 + 10 · 20 a year over 10 years for 50 m³ a year: 1,100 / 500 m³ = 2.20."""
    plain = cost_of_gain(cost=900, costs_a_year=[20] * 10, gains=[50] * 10, rate=0.0)
    assert plain == pytest.approx(2.20)
    each = cost_of_gain(cost=900, costs_a_year=[20] * 10, gains=[50] * 10, rate=0.08, life_years=4)
    assert each is not None
    earned = 50 * each - 20
    left = net_present_value(cost=900, gains=[earned] * 10, rate=0.08, life_years=4)
    assert left == pytest.approx(0, abs=1e-9)
    assert cost_of_gain(cost=900, costs_a_year=[20] * 10, gains=[0] * 10, rate=0.08) is None
