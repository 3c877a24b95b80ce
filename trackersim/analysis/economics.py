"""What an option costs and what it earns: simple payback, net present value, cost of the water gained.

Amounts are in whatever currency the caller uses, at today's prices: interest is counted without inflation. Gains come
at every year's end, one for each year of the horizon. What something is still worth at the end of it is left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

Flow = tuple[float, float]  # years from now, amount (below 0: paid)

# Sums that differ by less than this share of the cost are the same.
_ROUNDING = 1e-9


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


def yearly(amounts: Sequence[float]) -> tuple[Flow, ...]:
    """Amounts at the ends of the first year, the second, and so on."""
    return tuple((float(year), amount) for year, amount in enumerate(amounts, start=1))


def between(first: float, last: float, years: int) -> tuple[float, ...]:
    """What goes evenly from `first` today to `last` at the end of `years`, as it stands in the middle of each year.

    >>> between(10.0, 6.0, 2)
    (9.0, 7.0)
    """
    return tuple(first + (last - first) * (year + 0.5) / years for year in range(years))


def renewed_shares(years: int, life_years: float | None) -> tuple[float, ...]:
    """The share of the horizon of `years` by which what is bought again is newer, as it stands in the middle of each.

    >>> renewed_shares(4, 2.0)
    (0.0, 0.0, 0.5, 0.5)
    """
    if life_years is None:
        return (0.0,) * years
    return tuple((year + 0.5) // life_years * life_years / years for year in range(years))


def net_present_value(*, cost: float, gains: Sequence[float], rate: float, life_years: float | None = None) -> float:
    """What is left, in today's money, of the `gains` of each year after `cost` and its replacements."""
    paid = payments(cost=cost, life_years=life_years, horizon_years=len(gains))
    return present_value([*paid, *yearly(gains)], rate=rate)


def simple_payback_years(*, cost: float, gains: Sequence[float], life_years: float | None = None) -> float | None:
    """Years from which on the gains cover all that was paid, to the end of the horizon and without interest.

    Replacements are paid as they fall due; the gain of a year comes evenly through it. None where more was paid than
    gained when the horizon ends, so where the net present value at a rate of 0 is below 0.
    """
    due = dict(payments(cost=cost, life_years=life_years, horizon_years=len(gains)))
    times = sorted({*due, *map(float, range(len(gains) + 1))})
    owed = -_ROUNDING * abs(cost)
    left, covered = 0.0, None
    for begin, end in pairwise(times):
        left += due.get(begin, 0.0)
        before, gain = left, gains[math.floor(begin)] * (end - begin)
        left += gain
        if left < owed:
            covered = None
        elif before < owed:  # a replacement puts it off once more
            covered = begin - before / gain * (end - begin)
        elif covered is None:
            covered = begin
    return covered


def break_even_cost(*, gains: Sequence[float], rate: float, life_years: float | None = None) -> float:
    """The cost at which the net present value is 0: it pays below. Below 0 if it would not pay as a gift."""
    once = -present_value(payments(cost=1.0, life_years=life_years, horizon_years=len(gains)), rate=rate)
    return present_value(yearly(gains), rate=rate) / once


def cost_of_gain(
    *,
    cost: float,
    costs_a_year: Sequence[float],
    gains: Sequence[float],
    rate: float,
    life_years: float | None = None,
) -> float | None:
    """Money for each unit gained, all in today's money: the price at which the net present value is 0.

    `costs_a_year` and `gains` have one entry for each year of the horizon. None where nothing is gained.
    """
    gained = present_value(yearly(gains), rate=rate)
    if gained <= 0:
        return None
    running = [-cost_a_year for cost_a_year in costs_a_year]
    return -net_present_value(cost=cost, gains=running, rate=rate, life_years=life_years) / gained
