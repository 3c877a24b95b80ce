"""What could be done about a site, in words and in a table."""

from __future__ import annotations

import textwrap

from trackersim.analysis.alternatives import LEAVE, Choice
from trackersim.analysis.measures import SOUND_LAG_DEG, SOUND_TURNING_MIN
from trackersim.analysis.options import Options
from trackersim.report.blocks import Answer, Caution, Table, sentences
from trackersim.report.remarks import closing_of, dangers_of
from trackersim.report.site_losses import site_figures, site_words
from trackersim.report.words import MONTHS
from trackersim.units import System, held_value, rounded, show, shown_value, unit_label

SAFETY = (
    "Felling and trimming, work on high-voltage DC, on refrigerant canisters and in wells are dangerous: local codes "
    "and licensed practice decide who may do them, and whether a tree may be felled at all."
)
# Less gained than this share of today's water is within what such a figure can say.
_SAME_SHARE = 0.005
_NAME_WIDTH = 24


def options_answer(found: Options, system: System) -> Answer:
    """What each measure gives, costs and means."""
    return Answer(
        headline=options_sentence(found, system),
        blocks=(
            *sentences(site_words(found.site, system)),
            Table(
                header=options_header(found, system),
                rows=tuple(options_rows(found, system)),
                title=options_title(found, system),
                tight=True,
            ),
            *sentences(meaning_words(found), tree_words(found, system), refused_words(found)),
            Caution(text=SAFETY),
            *closing_of(found.own),
            *sentences(verdict_words(found, system)),
        ),
        figures=site_figures(found.site),
        dangers=dangers_of(found.own),
        summary=found.summary(),
    )


def options_sentence(options: Options, system: System) -> str:
    """How it stands and what gains most water that is wanted, for the customer."""
    name, here = options.job.site.name, options.leave.outcome
    assert here is not None
    lifted, worst = (show(m3, "volume_per_day", system) for m3 in (here.lifted_m3_per_day, here.worst_m3_per_day))
    told = f"{name}: left as it is, {lifted} is lifted on average, {worst} in {MONTHS[here.worst_month - 1]}, the worst"
    told += " month" + (
        f", and {show(here.used_m3_per_day, 'volume_per_day', system)} of it used."
        if options.asked
        else ". No demand is given (store.demand), so every drop that is lifted counts as wanted."
    )
    best = max(_real(options), key=lambda choice: choice.used_gain_m3_per_day, default=None)
    if best is None or best.used_gain_m3_per_day <= _SAME_SHARE * here.used_m3_per_day:
        return f"{told} Nothing listed gains water worth a word."
    gain = show(best.used_gain_m3_per_day, "volume_per_day", system)
    return f"{told} Most {'water that is wanted' if options.asked else 'water'} comes from “{best.name}”: {gain} more."


def _real(options: Options) -> list[Choice]:
    """Rows with figures, but for leaving it as it is."""
    return [choice for choice in options.choices[1:] if choice.outcome is not None]


def options_title(options: Options, system: System) -> str:
    """The units of the table."""
    money = options.job.money
    title = f"Water in {unit_label('volume_per_day', system)}"
    if options.asked:
        title += f"; days short of what is wanted, of {options.own.days}, and most of them on end"
    if _money_heads(options, system):
        title += (
            f"; money in {money.currency} at today's prices, {100 * money.rate:g} % over {money.horizon_years} years"
        )
    return title


def options_header(options: Options, system: System) -> tuple[str, ...]:
    """Column heads of `options_rows`."""
    asked = ("gain\nused", "days\nshort") if options.asked else ()
    return ("Option", "lifts", "worst\nmonth", "gain", *asked, *_money_heads(options, system))


def _money_heads(options: Options, system: System) -> tuple[str, ...]:
    """Columns of money: as far as there is a price of water, or any cost."""
    sign = options.job.money.currency
    if options.job.money.price_of_water is not None:
        return (f"pays\nbelow {sign}", "years\nto pay", "net\nvalue")
    if any(choice.price is not None for choice in options.choices[1:]):
        return (f"{sign} per\n{volume_words(system)}", "all\ncosts")
    return ()


def options_rows(options: Options, system: System) -> list[tuple[str, ...]]:
    """A row for each option that can be; "–" for what is not known, and for what never pays back."""
    return [_row(choice, options, system) for choice in options.choices if choice.outcome is not None]


def sheet_rows(options: Options, system: System, *, most: int = 5) -> list[tuple[str, ...]]:
    """A short table for the customer's sheet: head, the job as it is, a repair, and the best of all others."""
    head, rows = options_header(options, system), options_rows(options, system)
    pairs = list(zip(_real(options), rows[1:], strict=True))
    repair = [row for choice, row in pairs if choice.ready == "repair-rack"]
    others = sorted(
        (pair for pair in pairs if pair[0].ready != "repair-rack"),
        key=lambda pair: (-pair[0].used_gain_m3_per_day, -pair[0].gain_m3_per_day),
    )
    shown = range(1, 6 if options.asked else 4)
    heads = [" ".join(head[place].split()) for place in shown]
    heads[0] += f", {unit_label('volume_per_day', system)}"
    told = [rows[0], *repair, *(row for _, row in others[:most])]
    return [("Choice", *heads), *((row[0], *(row[place] for place in shown)) for row in told)]


def _row(choice: Choice, options: Options, system: System) -> tuple[str, ...]:
    outcome = choice.outcome
    assert outcome is not None
    cells = [
        "\n".join(textwrap.wrap(choice.name, _NAME_WIDTH)),
        _water(outcome.lifted_m3_per_day, system),
        _water(outcome.worst_m3_per_day, system),
        _gain(choice.gain_m3_per_day, system),
    ]
    if outcome.short_days is not None:
        cells += [_gain(choice.used_gain_m3_per_day, system), f"{outcome.short_days}/{outcome.longest_short_days}"]
    payback = "–" if choice.payback_years is None else f"{choice.payback_years:.1f}"
    if options.job.money.price_of_water is not None:
        cells += [_money(choice.most_cost if choice.name != LEAVE else None), payback, _money(choice.net_value)]
    elif _money_heads(options, system):
        each = "–" if choice.cost_per_m3 is None else f"{per_volume(choice.cost_per_m3, system):,.2f}"
        cells += [each, _money(choice.net_value)]
    return tuple(cells)


def _money(value: float | None) -> str:
    return "–" if value is None else f"{value:,.0f}".replace("-0", "0").replace("-", "−")


def _water(m3_per_day: float, system: System) -> str:
    return rounded(float(shown_value(m3_per_day, "volume_per_day", system)))


def _gain(m3_per_day: float, system: System) -> str:
    value = float(shown_value(m3_per_day, "volume_per_day", system))
    told = f"{value:+,.{0 if system == 'us' else 2}f}"
    return "0" if not told.strip("+-0.,") else told.replace("-", "−")


def per_volume(price_per_m3: float, system: System) -> float:
    """A price of one m³ as that of the volume of `_volume_words`."""
    return price_per_m3 * held_value(1000.0 if system == "us" else 1.0, "volume", system)


def volume_words(system: System) -> str:
    return f"1000 {unit_label('volume', system)}" if system == "us" else unit_label("volume", system)


def meaning_words(options: Options) -> str:
    """What ready-made options take for granted."""
    told = []
    shown = {choice.ready for choice in options.choices if choice.outcome is not None}
    if "repair-rack" in shown and any(unit.rack.kind != "thermal" for unit in options.job.units):
        told.append(
            "A repaired rack is taken to flip as the physics of a sound one does (about half an hour of sun on a mild, "
            f"calm, clear morning), turn in {SOUND_TURNING_MIN:.0f} min and lag {SOUND_LAG_DEG:.0f}° at most (an "
            "assumption: no measurement is published)."
        )
    told.append(
        "A locked rack faces along its axis; two tilts change with April and October, four with March, May, September "
        "and November."
    )
    if options.asked:
        told.append(
            "Water beyond what is wanted is worth nothing here"
            + (
                ": used is what the store gives."
                if options.stored
                else ": used is, of each day's lift, what that day wants, since the store's capacity is not given."
            )
        )
    if options.job.money.price_of_water is None and _money_heads(options, "si"):
        told.append(
            "No price of water is given (money.price_of_water), so the last column adds up costs only: it compares "
            "what options cost, not whether they pay."
        )
    if shown & {"longer-strings", "one-more-string"}:
        told.append("Whether rack and pole bear more modules is not checked.")
    told.append("What things are still worth at the end is left out.")
    return " ".join(told)


def tree_words(options: Options, system: System) -> str:
    """Which tree matters most; empty without any."""
    if not options.trees:
        return ""
    ranks = [f"{tree.name} {_signed_water(tree.gain_m3_per_day, system)}" for tree in options.trees]
    return f"Trees by what felling each alone would gain: {', '.join(ranks)}."


def _signed_water(m3_per_day: float, system: System) -> str:
    return ("−" if m3_per_day < 0 else "") + show(abs(m3_per_day), "volume_per_day", system)


def refused_words(options: Options) -> str:
    """Ready-made options that are none here, and why; empty if all are."""
    refused = [f"{choice.name} ({choice.refused.rstrip('.')})" for choice in options.choices if choice.refused]
    return f"Not for this job: {'; '.join(refused)}." if refused else ""


def verdict_words(options: Options, system: System) -> str:
    """What the numbers favour, and what would turn the answer: the closing sentence."""
    priced = [choice for choice in _real(options) if choice.net_value is not None]
    if not priced:
        return _without_costs(options, system)
    if options.job.money.price_of_water is None:
        return _without_price(priced, options, system)
    best = max(priced, key=lambda choice: choice.net_value or 0.0)
    value = best.net_value or 0.0
    if value <= 0:
        return f"The numbers favour leaving it as it is. {_turned(best, options, system)}"
    worth = _amount(value, options)
    return f"The numbers favour “{best.name}”: {worth} better than leaving it. {_turned(best, options, system)}"


def _turned(best: Choice, options: Options, system: System) -> str:
    """The cost or price of water at which the nearest option breaks even."""
    pays = (best.net_value or 0.0) > 0
    told = []
    if best.most_cost is not None and best.most_cost > 0:
        told.append(
            f"{'a cost above' if pays else f'a cost of “{best.name}” below'} {_amount(best.most_cost, options)}"
        )
    if best.cost_per_m3 is not None and best.cost_per_m3 > 0:
        price = f"{options.job.money.currency}{per_volume(best.cost_per_m3, system):,.2f} per {volume_words(system)}"
        told.append(f"water worth {'less' if pays else 'more'} than {price}")
    if not told:
        return "" if pays else f"Nothing would turn that: “{best.name}” gains no water that could pay for it."
    return f"It would turn with {' or '.join(told)}."


def _without_price(priced: list[Choice], options: Options, system: System) -> str:
    gaining = [choice for choice in priced if choice.cost_per_m3 is not None]
    if not gaining:
        return "Of the options with a cost none gains water: the numbers favour leaving it as it is."
    best = min(gaining, key=lambda choice: choice.cost_per_m3 or 0.0)
    price = f"{options.job.money.currency}{per_volume(best.cost_per_m3 or 0.0, system):,.2f} per {volume_words(system)}"
    return (
        f"Of the options with a cost, “{best.name}” gives more water cheapest, at {price}; if water is worth less than "
        "that to you, the numbers favour leaving it as it is."
    )


def _without_costs(options: Options, system: System) -> str:
    best = max(_real(options), key=lambda choice: choice.used_gain_m3_per_day, default=None)
    if best is None or best.used_gain_m3_per_day <= 0:
        return "No option gains water that is wanted: the numbers favour leaving it as it is."
    told = f"No cost is given, so the numbers only say what gains water: “{best.name}” most."
    entry = f'[[option]] with ready = "{best.ready}" and a cost' if best.ready else "its cost"
    if best.most_cost is None:
        return f"{told} Whether it pays turns on its cost: give {entry}, and a price of water in [money]."
    return f"{told} It pays up to a cost of {_amount(best.most_cost, options)}: give {entry}."


def _amount(value: float, options: Options) -> str:
    return f"{options.job.money.currency}{rounded(value)}"
