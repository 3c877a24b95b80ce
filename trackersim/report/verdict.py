"""The verdict: what to do first and what it wins, and what would turn the answer."""

from __future__ import annotations

from trackersim.analysis.alternatives import Choice
from trackersim.analysis.options import Options
from trackersim.errors import counted
from trackersim.report.choice_words import (
    SAME_SHARE,
    amount_words,
    name_of,
    pays_words,
    per_volume,
    real_choices,
    volume_words,
    won_words,
)
from trackersim.units import System, own_first, show

_NOTHING_NEW = ("repair-rack", "other-start-power", "other-floats")


def first_words(options: Options, system: System) -> str:
    """What to do first and what it wins: the verdict that stands above the choices.

    Where water has a price and something has a cost it goes by money, else by wanted water; then what wins most of a
    repair and of settings comes before what wins more, because nothing new has to be bought or looked after for it.
    """
    priced = [choice for choice in real_choices(options) if choice.net_value is not None]
    if priced and options.job.money.price_of_water is not None:
        return _first_by_money(priced, options, system)
    assert options.leave.outcome is not None
    least = SAME_SHARE * options.leave.outcome.used_m3_per_day
    winning = [choice for choice in real_choices(options) if choice.used_gain_m3_per_day > least]
    if not winning:
        return f"For water alone, leave it as it is. {no_gain_words(options, system)}"
    by_gain = sorted(winning, key=lambda choice: choice.used_gain_m3_per_day, reverse=True)
    most = by_gain[0]
    first = next((choice for choice in by_gain if choice.ready in _NOTHING_NEW), most)
    told = f"First “{name_of(first, system)}”: {won_words(first, options, system)}."
    if most is not first:
        told += f" Most would come from “{name_of(most, system)}”: {won_words(most, options, system)}."
    return f"{told} This goes by water alone: {_missing_words(priced, options)}."


def _missing_words(priced: list[Choice], options: Options) -> str:
    """Which of the two is missing that a verdict by money needs."""
    no_price = options.job.money.price_of_water is None
    if no_price and not priced:
        return "no price of water and no cost is given"
    return "no price of water is given" if no_price else "no cost of a choice is given"


def _first_by_money(priced: list[Choice], options: Options, system: System) -> str:
    """The choice that pays best of those with a cost; leaving it where none does."""
    best = max(priced, key=lambda choice: choice.net_value or 0.0)
    value, of = best.net_value or 0.0, _of_what(priced, options)
    if value <= 0:
        none = all(choice.used_gain_m3_per_day <= 0 for choice in real_choices(options))
        why = f" {no_gain_words(options, system)}" if none else ""
        return f"Leave it as it is:{of or ' of all choices'} nothing pays.{why}"
    years = counted(options.job.money.horizon_years, "year")
    return (
        f"First “{name_of(best, system)}”: {won_words(best, options, system)}, {amount_words(value, options)} better "
        f"than leaving it over {years}, the best{of or ' of all choices'}."
    )


def _of_what(priced: list[Choice], options: Options) -> str:
    """Among which choices a verdict by money is one; empty where it is among all."""
    return "" if len(priced) == len(real_choices(options)) else " of what has a cost"


def repair_or_replace_words(options: Options, system: System) -> str:
    """The customer's questions: what a repair wins, what a driven tracker in its place would, what felling would."""
    named = [("repair-rack", "Repairing the rack"), ("driven-tracker", "A driven tracker in its place")]
    if options.job.trees:
        all_of_them = ("fell-all-trees", "Felling all trees")
        named.append(all_of_them if len(options.job.trees) > 1 else ("fell-best-tree", "Felling the tree or row"))
    told = []
    for ready, subject in named:
        choice = next((each for each in options.choices if each.ready == ready), None)
        if choice is None:
            continue
        if choice.outcome is None:
            told.append(f"{subject} is nothing to weigh here: {own_first(choice.refused.rstrip('.'), system)}.")
            continue
        pays = pays_words(choice, options, system)
        told.append(f"{subject}: {won_words(choice, options, system)}{f'; {pays}' if pays else ''}.")
    return " ".join(told)


def no_gain_words(options: Options, system: System) -> str:
    """That nothing gains; and the most that could be lifted more, where nobody wants it."""
    most = max(real_choices(options), key=lambda choice: choice.gain_m3_per_day, default=None)
    assert options.leave.outcome is not None
    if most is None or most.gain_m3_per_day <= SAME_SHARE * options.leave.outcome.lifted_m3_per_day:
        return "Nothing listed gains water worth a word."
    more = show(most.gain_m3_per_day, "volume_per_day", system)
    met = options.own.days_meeting_demand == options.own.days
    when = ": the demand is met on every day" if met else " on the days that lack it"
    if options.stored:  # what is lifted more only stands in the store when the days are over
        return f"Nothing listed gains water that is wanted{when}."
    return (
        f"Nothing listed gains water that is wanted{when}. More could be lifted, most with “{name_of(most, system)}” "
        f"({more}): that is worth something only where somebody has a use for it."
    )


def verdict_words(options: Options, system: System) -> str:
    """What the numbers favour, and what would turn the answer: the closing sentence."""
    priced = [choice for choice in real_choices(options) if choice.net_value is not None]
    if not priced:
        return _without_costs(options, system)
    if options.job.money.price_of_water is None:
        return _without_price(priced, options, system)
    best = max(priced, key=lambda choice: choice.net_value or 0.0)
    value = best.net_value or 0.0
    if value <= 0:
        return f"The numbers favour leaving it as it is. {_turned(best, options, system)}"
    worth, turned = amount_words(value, options), _turned(best, options, system)
    of = _of_what(priced, options)
    best_of = f", the best{of}" if of else ""
    return f"The numbers favour “{name_of(best, system)}”: {worth} better than leaving it{best_of}. {turned}"


def _turned(best: Choice, options: Options, system: System) -> str:
    """The cost or price of water at which the nearest option breaks even."""
    pays = (best.net_value or 0.0) > 0
    told = []
    if best.most_cost is not None and best.most_cost > 0:
        least = "a cost above" if pays else f"a cost of “{name_of(best, system)}” below"
        told.append(f"{least} {amount_words(best.most_cost, options)}")
    if best.cost_per_m3 is not None and best.cost_per_m3 > 0:
        price = f"{options.job.money.currency}{per_volume(best.cost_per_m3, system):,.2f} per {volume_words(system)}"
        told.append(f"water worth {'less' if pays else 'more'} than {price}")
    if not told:
        return (
            "" if pays else f"Nothing would turn that: “{name_of(best, system)}” gains no water that could pay for it."
        )
    return f"It would turn with {' or '.join(told)}."


def _without_price(priced: list[Choice], options: Options, system: System) -> str:
    gaining = [choice for choice in priced if choice.cost_per_m3 is not None]
    if not gaining:
        return "Of the options with a cost none gains water: the numbers favour leaving it as it is."
    best = min(gaining, key=lambda choice: choice.cost_per_m3 or 0.0)
    price = f"{options.job.money.currency}{per_volume(best.cost_per_m3 or 0.0, system):,.2f} per {volume_words(system)}"
    return (
        f"Of the options with a cost, “{name_of(best, system)}” gives more water cheapest, at {price}; if water is "
        "worth less than that to you, the numbers favour leaving it as it is."
    )


def _without_costs(options: Options, system: System) -> str:
    gaining = [choice for choice in real_choices(options) if choice.used_gain_m3_per_day > 0]
    if not gaining:
        return "No option gains water that is wanted: the numbers favour leaving it as it is."
    if options.job.money.price_of_water is None:
        best = max(gaining, key=lambda choice: choice.used_gain_m3_per_day)
        told = f"No cost is given, so the numbers only say what gains water: “{name_of(best, system)}” most."
        return f"{told} Whether it pays turns on its cost: give {_entry(best)}, and a price of water in [money]."
    bearing = [choice for choice in gaining if (choice.most_cost or 0.0) > 0]
    if not bearing:
        return "No cost is given. No option gains water worth any cost."
    best = max(bearing, key=lambda choice: choice.most_cost or 0.0)
    return (
        f"No cost is given, so the numbers only say what each may cost: most “{name_of(best, system)}”, which pays "
        f"below {amount_words(best.most_cost or 0.0, options)}. Give {_entry(best)}."
    )


def _entry(choice: Choice) -> str:
    """What a job file says for the cost of a choice to be known."""
    return f'[[option]] with ready = "{choice.ready}" and a cost' if choice.ready else "its cost"
