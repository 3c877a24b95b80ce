"""What could be done about a site, in words and in a table."""

from __future__ import annotations

import textwrap

from trackersim.analysis.alternatives import Choice
from trackersim.analysis.measures import SOUND_FLIP_MIN, SOUND_LAG_DEG, SOUND_TURNING_MIN
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
    """How it stands and what gains most, for the customer."""
    name, here = options.job.site.name, options.leave.outcome
    assert here is not None
    kind = "is used" if options.used else "is lifted"
    told = f"{name}: left as it is, {show(here.m3_per_day, 'volume_per_day', system)} {kind} on average"
    told += (
        f", {show(here.worst_m3_per_day, 'volume_per_day', system)} in {MONTHS[here.worst_month - 1]}, the worst month."
    )
    best = max(_real(options), key=lambda choice: choice.gain_m3_per_day, default=None)
    if best is None or best.gain_m3_per_day <= _SAME_SHARE * here.m3_per_day:
        return f"{told} Nothing listed gains water worth a word."
    gain = show(best.gain_m3_per_day, "volume_per_day", system)
    return f"{told} Most water comes from “{best.name}”: {gain} more."


def _real(options: Options) -> list[Choice]:
    """Rows with figures, but for leaving it as it is."""
    return [choice for choice in options.choices[1:] if choice.outcome is not None]


def options_title(options: Options, system: System) -> str:
    """The units of the table."""
    money = options.job.money
    water = "used" if options.used else "lifted"
    return (
        f"Water {water} in {unit_label('volume_per_day', system)}; days short of what is wanted, of "
        f"{options.own.days}; money in {money.currency} at today's prices, {100 * money.rate:g} % over "
        f"{money.horizon_years} years"
    )


def options_header(options: Options, system: System) -> tuple[str, ...]:
    """Column heads of `options_rows`."""
    sign = options.job.money.currency
    net = "net\nvalue" if options.job.money.price_of_water is not None else "all\ncosts"
    each = f"{sign} per\n{volume_words(system)}"
    return ("Option", "Water", "worst\nmonth", "days\nshort", "gain", each, "pays,\nyears", net)


def options_rows(options: Options, system: System) -> list[tuple[str, ...]]:
    """A row for each option that can be; "–" for what is not known, and for what never pays back."""
    return [_row(choice, system) for choice in options.choices if choice.outcome is not None]


_ASKED = ("repair-rack", "fell-best-tree", "lock-best-tilt")


def sheet_rows(options: Options, system: System, *, most: int = 6) -> list[tuple[str, ...]]:
    """A short table for the customer's sheet: head, the job as it is, what is asked after and what gains most."""
    head, rows = options_header(options, system), options_rows(options, system)
    pairs = list(zip(_real(options), rows[1:], strict=True))
    # What a customer asks after, the rack and the trees, is never crowded out by what gains more.
    asked = [pair for pair in pairs if pair[0].ready in _ASKED][: most - 1]
    others = sorted((pair for pair in pairs if pair not in asked), key=lambda pair: -_most_water(pair[0]))
    best = sorted([*asked, *others[: most - 1 - len(asked)]], key=lambda pair: -_most_water(pair[0]))
    wanted = [" ".join(head[place].split()) for place in (1, 2, 3, 4)]
    wanted[0] += f", {unit_label('volume_per_day', system)}"
    return [("Choice", *wanted), *((row[0], *row[1:5]) for row in (rows[0], *(row for _, row in best)))]


def _most_water(choice: Choice) -> float:
    return choice.outcome.m3_per_day if choice.outcome is not None else 0.0


def _row(choice: Choice, system: System) -> tuple[str, ...]:
    outcome = choice.outcome
    assert outcome is not None
    payback = "–" if choice.payback_years is None else f"{choice.payback_years:.1f}"
    return (
        "\n".join(textwrap.wrap(choice.name, _NAME_WIDTH)),
        _water(outcome.m3_per_day, system),
        _water(outcome.worst_m3_per_day, system),
        "–" if outcome.short_days is None else str(outcome.short_days),
        _gain(choice, system),
        "–" if choice.cost_per_m3 is None else f"{per_volume(choice.cost_per_m3, system):,.2f}",
        payback,
        "–" if choice.net_value is None else f"{choice.net_value:,.0f}".replace("-0", "0").replace("-", "−"),
    )


def _water(m3_per_day: float, system: System) -> str:
    return rounded(float(shown_value(m3_per_day, "volume_per_day", system)))


def _gain(choice: Choice, system: System) -> str:
    if choice.gain_m3_per_day == 0:
        return "0"
    value = float(shown_value(choice.gain_m3_per_day, "volume_per_day", system))
    return f"{value:+,.{0 if system == 'us' else 2}f}".replace("-", "−")


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
            f"A repaired rack is taken to flip after {SOUND_FLIP_MIN:.0f} min of sun, turn in {SOUND_TURNING_MIN:.0f} "
            f"min and lag {SOUND_LAG_DEG:.0f}° at most (an assumption: no measurement is published)."
        )
    told.append(
        "A locked rack faces along its axis; two tilts change with April and October, four with March, May, September "
        "and November."
    )
    if options.job.money.price_of_water is None:
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
    best = max(_real(options), key=lambda choice: choice.gain_m3_per_day, default=None)
    if best is None or best.gain_m3_per_day <= 0:
        return "No option gains water: the numbers favour leaving it as it is."
    told = f"No cost is given, so the numbers only say what gains water: “{best.name}” most."
    entry = f'[[option]] with ready = "{best.ready}" and a cost' if best.ready else "its cost"
    if best.most_cost is None:
        return f"{told} Whether it pays turns on its cost: give {entry}, and a price of water in [money]."
    return f"{told} It pays up to a cost of {_amount(best.most_cost, options)}: give {entry}."


def _amount(value: float, options: Options) -> str:
    return f"{options.job.money.currency}{rounded(value)}"
