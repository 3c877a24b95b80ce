"""What an option costs and what it earns: simple payback, net present value, cost of the water gained.

Amounts are in whatever currency the caller uses, at today's prices: interest is counted without inflation. What
something is still worth at the end of the horizon is left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

Flow = tuple[float, float]  # years from now, amount (below 0: paid)


def present_value(flows: Sequence[Flow], *, rate: float) -> float:
    """Σ amount / (1 + rate)^years: amounts at any time ≥ 0 brought to today at `rate` ≥ 0 a year."""
    return math.fsum(amount / (1 + rate) ** years for years, amount in flows)


def payments(*, cost: float, life_years: float | None, horizon_years: int) -> tuple[Flow, ...]:
    """`cost` today and again whenever the thing's life is over within the horizon, as amounts below 0.

    A life that ends with the horizon, or None, buys nothing again.
    """
    if life_years is None:
        return ((0.0, -cost),)
    times = range(math.ceil(round(horizon_years / life_years, 9)))
    return tuple((number * life_years, -cost) for number in times)


def yearly(amount: float, horizon_years: int) -> tuple[Flow, ...]:
    """The same amount at the end of every year of the horizon."""
    return tuple((float(year), amount) for year in range(1, horizon_years + 1))


def net_present_value(
    *, cost: float, yearly_gain: float, rate: float, horizon_years: int, life_years: float | None = None
) -> float:
    """What is left, in today's money, of `yearly_gain` at every year's end after `cost` and its replacements."""
    flows = [
        *payments(cost=cost, life_years=life_years, horizon_years=horizon_years),
        *yearly(yearly_gain, horizon_years),
    ]
    return present_value(flows, rate=rate)


def simple_payback_years(*, cost: float, yearly_gain: float) -> float | None:
    """Years until the gains have added up to the cost, without interest; None if they never do."""
    if cost <= 0:
        return 0.0 if yearly_gain >= 0 else None
    return cost / yearly_gain if yearly_gain > 0 else None


def break_even_cost(*, yearly_gain: float, rate: float, horizon_years: int, life_years: float | None = None) -> float:
    """The cost at which the net present value is 0: it pays below. Below 0 if it would not pay as a gift."""
    once = -present_value(payments(cost=1.0, life_years=life_years, horizon_years=horizon_years), rate=rate)
    return present_value(yearly(yearly_gain, horizon_years), rate=rate) / once


def cost_of_gain(
    *,
    cost: float,
    cost_per_year: float,
    gain_per_year: float,
    rate: float,
    horizon_years: int,
    life_years: float | None = None,
) -> float | None:
    """Money for each unit gained, all in today's money: the price at which the net present value is 0.

    None where nothing is gained.
    """
    if gain_per_year <= 0:
        return None
    paid = -net_present_value(
        cost=cost, yearly_gain=-cost_per_year, rate=rate, horizon_years=horizon_years, life_years=life_years
    )
    return paid / present_value(yearly(gain_per_year, horizon_years), rate=rate)
