"""What could be done about a site, in words and in a table."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from trackersim.analysis.alternatives import LEAVE, Choice
from trackersim.analysis.measures import SOUND_LAG_DEG, SOUND_TURNING_MIN
from trackersim.analysis.options import Options
from trackersim.constants import DAYS_A_YEAR
from trackersim.errors import counted
from trackersim.job.model import Job
from trackersim.report.blocks import Answer, Block, Caution, Listing, Sentence, Table, sentences
from trackersim.report.choice_words import (
    SAME_SHARE,
    amount_cell,
    by_water,
    gain_words,
    name_of,
    per_volume,
    real_choices,
    volume_words,
)
from trackersim.report.remarks import closing_of, dangers_of
from trackersim.report.safety import may_swing
from trackersim.report.site_losses import site_words
from trackersim.report.verdict import no_gain_words, verdict_words
from trackersim.report.words import MONTHS, sky_words
from trackersim.units import System, own_first, rounded, show, shown_number, unit_label

_NAME_WIDTH = 24
_SHEET_FIRST = 5
_TREES = ("fell-all-trees", "fell-best-tree", "trim-best-tree")
# Of these the starts of the pump are told.
_STARTS_CHANGE = ("larger-collecting-tank", "larger-tank", "other-floats", "other-start-power", "hold-flow", "throttle")


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
            *(Caution(text=words) for words in part_words(found)),
            *sentences(meaning_words(found), tree_words(found, system)),
            *presuppositions(found, system),
            *sentences(*backup_words(found, system), refused_words(found, system)),
            Caution(text=safety_words(found.job)),
            *sentences(verdict_words(found, system)),
            *closing_of(system, found.own),
        ),
        dangers=dangers_of(system, found.own),
        summary=found.summary(),
    )


def safety_words(job: Job) -> str:
    """Which of this work is dangerous."""
    canisters = ", on refrigerant canisters" if may_swing(job) else ""
    return (
        f"Felling and trimming, work on high-voltage DC{canisters} and in wells, and lifting pumps, pipe and modules "
        "are dangerous: local codes and licensed practice decide who may do them, and whether a tree may be felled at "
        "all."
    )


def part_words(options: Options) -> tuple[str, ...]:
    """That the days simulated are no year; nothing of a whole one."""
    if options.own.days >= DAYS_A_YEAR:
        return ()
    days = counted(options.own.days, "day")
    return (
        f"These are {days} of a year: gains, worth and years to pay take every other day to be like them. Ask over the "
        "whole year before money is spent.",
    )


def options_sentence(options: Options, system: System) -> str:
    """How it stands and what gains most water that is wanted, for the customer."""
    name, here = options.job.site.name, options.leave.outcome
    assert here is not None
    lifted, worst = (show(m3, "volume_per_day", system) for m3 in (here.lifted_m3_per_day, here.worst_m3_per_day))
    told = f"{name}: {sky_words(options.own)}left as it is, {lifted} is lifted on average, "
    told += f"{worst} in {MONTHS[here.worst_month - 1]}, the worst month" + (
        f", and {show(here.used_m3_per_day, 'volume_per_day', system)} used."
        if options.asked
        else ". No demand is given (store.demand), so every drop that is lifted counts as wanted."
    )
    best = max(real_choices(options), key=lambda choice: choice.used_gain_m3_per_day, default=None)
    if best is None or best.used_gain_m3_per_day <= SAME_SHARE * here.used_m3_per_day:
        return f"{told} {no_gain_words(options, system)}"
    what = "water that is wanted" if options.asked else "water"
    gain, called = show(best.used_gain_m3_per_day, "volume_per_day", system), name_of(best, system)
    return f"{told}{_repair_words(options, best, system)} Most {what} comes from “{called}”: {gain} more."


def _repair_words(options: Options, best: Choice, system: System) -> str:
    """A repair before all else, where it gains anything and is not the best anyway."""
    repair = next((choice for choice in real_choices(options) if choice.ready == "repair-rack"), None)
    assert options.leave.outcome is not None
    least = SAME_SHARE * options.leave.outcome.used_m3_per_day
    if repair is None or repair is best or repair.used_gain_m3_per_day <= least:
        return ""
    gain = show(repair.used_gain_m3_per_day, "volume_per_day", system)
    return f" First of all “{name_of(repair, system)}”: {gain} more."


def side_by_side(options: Options, chosen: Sequence[Choice], system: System) -> Table:
    """Leaving it as it is and the choices of these, a column each; alike names are told apart by a number."""
    shown = (options.leave, *chosen)
    names = [name_of(choice, system) for choice in shown]
    names = [name if names.count(name) == 1 else f"{place}. {name}" for place, name in enumerate(names)]
    cells = [_row(choice, options, system) for choice in shown]
    heads = [" ".join(head.split()) for head in options_header(options, system)]
    rows = [(head, *(row[place] for row in cells)) for place, head in enumerate(heads) if place]
    presupposed = ("presupposed, not checked", *(own_first(choice.presupposes, system) or "–" for choice in shown))
    return Table(header=("", *names), rows=(*rows, presupposed), title=options_title(options, system))


def options_title(options: Options, system: System) -> str:
    """The units of the table."""
    money = options.job.money
    title = f"Water in {unit_label('volume_per_day', system)}"
    if options.asked:
        title += f"; days short of what is wanted, of {options.own.days}, and most of them on end"
    if _money_heads(options, system):
        years = counted(money.horizon_years, "year")
        title += f"; money in {money.currency} at today's prices, {100 * money.rate:g} % over {years}"
    return title


def options_header(options: Options, system: System) -> tuple[str, ...]:
    """Column heads of `options_rows`."""
    more = ("more\nlifted", "more\nwanted", "days\nshort") if options.asked else ("more",)
    return ("Option", "lifts", "worst\nmonth", *more, *_money_heads(options, system))


def _money_heads(options: Options, system: System) -> tuple[str, ...]:
    """Columns of money: as far as there is a price of water, or any cost."""
    sign = options.job.money.currency
    priced = any(choice.price is not None for choice in options.choices[1:])
    if options.job.money.price_of_water is not None:
        return (f"pays\nbelow {sign}", *(("years\nto pay", "net\nvalue") if priced else ()))
    if priced:
        return (f"{sign} per\n{volume_words(system)}", "all\ncosts")
    return ()


def options_rows(options: Options, system: System) -> list[tuple[str, ...]]:
    """A row for each option that can be; "–" for what is not known, and for what never pays back."""
    return [_row(choice, options, system) for choice in options.choices if choice.outcome is not None]


def sheet_rows(options: Options, system: System) -> list[tuple[str, ...]]:
    """A table for the customer's sheet: head, the job as it is, then every choice, those first that matter most.

    A repair comes first, then the five that win most, and after those the best that can be done about trees, so that
    who asks about the trees finds them among the first.
    """
    others = [choice for choice in by_water(options) if choice.ready != "repair-rack"]
    best, rest = others[:_SHEET_FIRST], others[_SHEET_FIRST:]
    tree = next((choice for choice in rest if choice.ready in _TREES), None)
    if tree is not None and not any(choice.ready in _TREES for choice in best):
        best, rest = [*best, tree], [choice for choice in rest if choice is not tree]
    repair = [choice for choice in real_choices(options) if choice.ready == "repair-rack"]
    shown = (4, 3, 5, 1, 2) if options.asked else (3, 1, 2)
    rows = [_row(choice, options, system) for choice in (options.leave, *repair, *best, *rest)]
    plain = {"days short": "days short/in a row"}
    head = [" ".join(cell.split()) for cell in options_header(options, system)]
    head = [plain.get(cell, cell) for cell in head]
    head[shown[0]] += f", {unit_label('volume_per_day', system)}"
    cells = [tuple(row[place] for place in shown) for row in (head, *rows)]
    return [("Choice", *cells[0]), *((row[0], *each) for row, each in zip(rows, cells[1:], strict=True))]


def _row(choice: Choice, options: Options, system: System) -> tuple[str, ...]:
    outcome = choice.outcome
    assert outcome is not None
    cells = [
        "\n".join(textwrap.wrap(name_of(choice, system), _NAME_WIDTH)),
        shown_number(outcome.lifted_m3_per_day, "volume_per_day", system),
        shown_number(outcome.worst_m3_per_day, "volume_per_day", system),
        gain_words(choice.gain_m3_per_day, system),
    ]
    if outcome.short_days is not None:
        cells += [gain_words(choice.used_gain_m3_per_day, system), f"{outcome.short_days}/{outcome.longest_short_days}"]
    payback = "–" if choice.payback_years is None else f"{choice.payback_years:.1f}"
    if options.job.money.price_of_water is not None:
        money = (
            amount_cell(choice.most_cost if choice.name != LEAVE else None),
            payback,
            amount_cell(choice.net_value),
        )
        cells += money[: len(_money_heads(options, system))]
    elif _money_heads(options, system):
        each = "–" if choice.cost_per_m3 is None else f"{per_volume(choice.cost_per_m3, system):,.2f}"
        cells += [each, amount_cell(choice.net_value)]
    return tuple(cells)


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
    told.append("A locked rack faces the way the low end of its axis points, where nothing else is told.")
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
    heads = _money_heads(options, "si")
    if heads:
        growing = " and the trees grow as given" if _trees_grow(options) else ""
        told.append(
            f"Money counts each gain as it goes while the modules age{growing}, and leaves out what things are still "
            "worth at the end."
            + (" Years to pay count what must be bought again, and no interest." if "years\nto pay" in heads else "")
        )
    return " ".join(told)


def presuppositions(options: Options, system: System) -> tuple[Block, ...]:
    """What each row presupposes, and how often the pump starts where that is what changes."""
    alike: dict[str, list[str]] = {}
    for each in real_choices(options):
        if each.presupposes:
            words = own_first(each.presupposes, system)
            alike.setdefault(words + _starts_words(each, options), []).append(name_of(each, system))
    if not alike:
        return ()
    lines = tuple(f"{'; '.join(names)}: {words}." for words, names in alike.items())
    return (Sentence(text="What each presupposes:"), Listing(lines=lines))


def _starts_words(choice: Choice, options: Options) -> str:
    here, there = options.leave.outcome, choice.outcome
    if choice.ready not in _STARTS_CHANGE or here is None or there is None:
        return ""
    return f"; {there.starts_per_day:.1f} starts a day, today {here.starts_per_day:.1f}"


def backup_words(options: Options, system: System) -> tuple[str, ...]:
    """What a backup adds and draws, what the sun spares of it, and the price per kWh below which it pays."""
    sun_kwh = float(options.own.daily["used_kwh"].mean())
    told = [
        _backup_words(each, sun_kwh, options, system)
        for each in real_choices(options)
        if each.bought_kwh_per_day > 0 or each.most_per_kwh is not None or each.saving_unknown
    ]
    if (bought_kwh := options.own.bought_kwh) is not None:
        price = options.job.backup.price_per_kwh if options.job.backup else None
        told.append(
            f"As it is, the backup gives {_kwh(bought_kwh / options.own.days)} kWh a day and the sun {_kwh(sun_kwh)}"
            f"{_bought(sun_kwh, price, options)}."
        )
    return tuple(told)


def _backup_words(choice: Choice, sun_kwh: float, options: Options, system: System) -> str:
    assert choice.outcome is not None
    kwh, gain = choice.outcome.bought_kwh_per_day, _signed_water(choice.used_gain_m3_per_day, system)
    today = f", today {_kwh(choice.own_kwh_per_day)}" if choice.own_kwh_per_day else ""
    told = (
        f"“{name_of(choice, system)}” adds {gain}{' of wanted water' if options.asked else ''} for {_kwh(kwh)} kWh a "
        f"day{today}"
    )
    # A store that the backup has filled by the morning leaves the sun less to do than today.
    if (beside_kwh := choice.outcome.sun_kwh_per_day) is not None:
        before = "" if _kwh(beside_kwh) == _kwh(sun_kwh) else f", today {_kwh(sun_kwh)}"
        worth = _bought(beside_kwh, choice.price_per_kwh, options)
        told += f"; the sun gives {_kwh(beside_kwh)} beside it{before}{worth}"
    if choice.saving_unknown:
        told += "; what it spares of today's power has no price (backup.price_per_kwh), so its money cannot be told"
    if choice.most_per_kwh is not None:
        sign, most = options.job.money.currency, choice.most_per_kwh
        fixed = "" if choice.price is not None else ", what the switch and the line cost left out"
        below = f"pays below {sign}{most:.2f} per kWh{fixed}"
        told += f"; it {below if most > 0 else 'does not pay at any price of energy'}"
    return f"{told}."


def _kwh(energy: float) -> str:
    """Energy a day to a tenth, and below 1 kWh to two digits: a small pump's backup is not free."""
    return f"{energy:.1f}" if abs(energy) >= 0.95 else rounded(energy, 2)


def _bought(sun_kwh: float, price_per_kwh: float | None, options: Options) -> str:
    """What the sun's energy would cost from the backup: not what it spares, since it also lifts what nobody wants."""
    if price_per_kwh is None:
        return ""
    return f", as much as would cost {options.job.money.currency}{sun_kwh * price_per_kwh * DAYS_A_YEAR:,.0f} a year"


def tree_words(options: Options, system: System) -> str:
    """Which tree matters most, and what felling gains when they have grown; empty without any."""
    if not options.trees:
        return ""
    ranks = [f"{tree.name} {_signed_water(tree.gain_m3_per_day, system)}" for tree in options.trees]
    told = f"Trees by what would be lifted more today with each alone felled: {', '.join(ranks)}."
    return f"{told} {_growth_words(options, system)}"


def _growth_words(options: Options, system: System) -> str:
    """What felling gains at the end of the horizon; or that no growth is given."""
    if not _trees_grow(options):
        return (
            "How fast they grow is not given (trees.yearly_growth), so they count as tall as today for all years: that "
            "makes too little of felling and trimming trees that still grow."
        )
    gains = [
        f"“{name_of(each, system)}” {_signed_water(each.later_gain_m3_per_day, system)} "
        f"(today {_signed_water(each.used_gain_m3_per_day, system)})"
        for each in real_choices(options)
        if each.ready in _TREES
    ]
    years = counted(options.job.money.horizon_years, "year")
    water = "water that is wanted" if options.asked else "water"
    return f"In {years}, with the trees as tall as they grow until then, more {water} with {', '.join(gains)}."


def _trees_grow(options: Options) -> bool:
    return any(tree.yearly_growth_m for tree in options.job.trees)


def _signed_water(m3_per_day: float, system: System) -> str:
    return ("−" if m3_per_day < 0 else "") + show(abs(m3_per_day), "volume_per_day", system)


def refused_words(options: Options, system: System) -> str:
    """Ready-made options that are none here, and why; empty if all are."""
    refused = [f"{choice.name} ({choice.refused.rstrip('.')})" for choice in options.choices if choice.refused]
    return own_first(f"Not for this job: {'; '.join(refused)}.", system) if refused else ""
