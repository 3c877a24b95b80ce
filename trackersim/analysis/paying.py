"""How likely each measure pays: its money in every draw of a spread, the same draws for all measures."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from trackersim.analysis.alternatives import Choice, with_money
from trackersim.analysis.options import Options
from trackersim.analysis.uncertainty import AS_IT_IS, Figures, Spread

# "Nine in ten": the cost below which it pays in that share of the draws.
_SURE_PERCENT, _EVEN_PERCENT = 10, 50


@dataclass(frozen=True, kw_only=True)
class Chance:
    """One measure: the share of draws in which it pays at its cost, None where that or the price of water is unknown.

    It pays in nine of ten draws if it costs less than `sure`, in half of them below `even`; None where the value of
    what it gains is unknown.
    """

    name: str
    share: float | None
    sure: float | None
    even: float | None


def chances_of_paying(spread: Spread, options: Options) -> tuple[Chance, ...]:
    """Every measure that was among the spread's variants, in the order of `options`.

    What modules lose over the horizon is taken from the gain of each draw as it is from that without draws.
    """
    return tuple(
        _chance(choice, spread, options)
        for choice in options.choices[1:]
        if choice.outcome is not None and choice.words in spread.variants and spread.draws
    )


def _chance(choice: Choice, spread: Spread, options: Options) -> Chance:
    money = options.job.money
    told = [with_money(_drawn(choice, draw[choice.words], draw[AS_IT_IS]), money) for draw in spread.draws]
    values = [each.net_value for each in told if each.net_value is not None]
    costs = [each.most_cost for each in told if each.most_cost is not None]
    known = money.price_of_water is not None
    sure, even = np.percentile(costs, (_SURE_PERCENT, _EVEN_PERCENT)).tolist() if costs else (None, None)
    return Chance(
        name=choice.name,
        share=sum(value > 0 for value in values) / len(values) if values and known else None,
        sure=sure,
        even=even,
    )


def _drawn(choice: Choice, with_it: Figures, without: Figures) -> Choice:
    """The choice with the gain of one draw, at both ends of the horizon."""
    gain = with_it.used_m3_per_day - without.used_m3_per_day
    bought = with_it.bought_kwh_per_day - without.bought_kwh_per_day
    return replace(
        choice,
        used_gain_m3_per_day=gain,
        later_gain_m3_per_day=gain + choice.later_gain_m3_per_day - choice.used_gain_m3_per_day,
        bought_kwh_per_day=bought,
        later_bought_kwh_per_day=bought + choice.later_bought_kwh_per_day - choice.bought_kwh_per_day,
    )
