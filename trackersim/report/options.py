"""What could be done about a site, in words and in a table."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from trackersim.analysis.alternatives import LEAVE, Choice
from trackersim.analysis.measures import SOUND_LAG_DEG, SOUND_TURNING_MIN
from trackersim.analysis.options import Options
from trackersim.constants import DAYS_A_YEAR
from trackersim.report.blocks import Answer, Block, Caution, Listing, Sentence, Table, sentences
from trackersim.report.remarks import closing_of, dangers_of
from trackersim.report.site_losses import site_figures, site_words
from trackersim.report.words import MONTHS, sky_words
from trackersim.units import System, held_value, rounded, show, shown_value, unit_label

SAFETY = (
    "Felling and trimming, work on high-voltage DC, on refrigerant canisters and in wells are dangerous: local codes "
    "and licensed practice decide who may do them, and whether a tree may be felled at all."
)
# Less gained than this share of today's water is within what such a figure can say.
_SAME_SHARE = 0.005
_NAME_WIDTH = 24
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
            *sentences(meaning_words(found), tree_words(found, system)),
            *presuppositions(found, system),
            *sentences(*backup_words(found, system), refused_words(found)),
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
    told = f"{name}: {sky_words(options.own)}left as it is, {lifted} is lifted on average, "
    told += f"{worst} in {MONTHS[here.worst_month - 1]}, the worst month" + (
        f", and {show(here.used_m3_per_day, 'volume_per_day', system)} of it used."
        if options.asked
        else ". No demand is given (store.demand), so every drop that is lifted counts as wanted."
    )
    best = max(_real(options), key=lambda choice: choice.used_gain_m3_per_day, default=None)
    if best is None or best.used_gain_m3_per_day <= _SAME_SHARE * here.used_m3_per_day:
        return f"{told} {_no_gain_words(options, system)}"
    what = "water that is wanted" if options.asked else "water"
    gain, called = show(best.used_gain_m3_per_day, "volume_per_day", system), name_of(best, system)
    return f"{told}{_repair_words(options, best, system)} Most {what} comes from “{called}”: {gain} more."


def _no_gain_words(options: Options, system: System) -> str:
    """That nothing gains; and the most that could be lifted more, where nobody wants it."""
    most = max(_real(options), key=lambda choice: choice.gain_m3_per_day, default=None)
    assert options.leave.outcome is not None
    if most is None or most.gain_m3_per_day <= _SAME_SHARE * options.leave.outcome.lifted_m3_per_day:
        return "Nothing listed gains water worth a word."
    more = show(most.gain_m3_per_day, "volume_per_day", system)
    met = options.own.days_meeting_demand == options.own.days
    when = ": the demand is met on every day" if met else " on the days that lack it"
    return (
        f"Nothing listed gains water that is wanted{when}. More could be lifted, most with “{name_of(most, system)}” "
        f"({more}): that is worth something only where somebody has a use for it."
    )


def _repair_words(options: Options, best: Choice, system: System) -> str:
    """A repair before all else, where it gains anything and is not the best anyway."""
    repair = next((choice for choice in _real(options) if choice.ready == "repair-rack"), None)
    assert options.leave.outcome is not None
    least = _SAME_SHARE * options.leave.outcome.used_m3_per_day
    if repair is None or repair is best or repair.used_gain_m3_per_day <= least:
        return ""
    gain = show(repair.used_gain_m3_per_day, "volume_per_day", system)
    return f" First of all “{name_of(repair, system)}”: {gain} more."


def name_of(choice: Choice, system: System) -> str:
    """What a choice is called, a figure in its name in the reader's units."""
    if choice.size is None or choice.name != choice.words:
        return choice.name
    return choice.pattern.format(show(*choice.size, system, digits=2))


def by_water(options: Options) -> tuple[Choice, ...]:
    """The choices that can be, repair first, then by wanted water won: an order that no price changes."""
    return tuple(
        sorted(
            _real(options),
            key=lambda each: (each.ready != "repair-rack", -each.used_gain_m3_per_day, -each.gain_m3_per_day),
        )
    )


def won_words(choice: Choice, options: Options, system: System) -> str:
    """The water that a choice wins or costs, of what is wanted and of what is lifted where they differ."""
    used, lifted = (_gain(m3, system) for m3 in (choice.used_gain_m3_per_day, choice.gain_m3_per_day))
    unit = unit_label("volume_per_day", system)
    if not options.asked or used == lifted:
        return f"{lifted} {unit}"
    return f"{used} {unit} of wanted water ({lifted} lifted)"


def pays_words(choice: Choice, options: Options, system: System) -> str:
    """Whether a choice pays, and below which cost; as far as costs and the price of water are known."""
    money = options.job.money
    if choice.used_gain_m3_per_day <= 0 and (choice.most_cost or 0.0) <= 0:
        return "pays at no cost: it wins no water that is wanted"
    if choice.most_per_kwh is not None:
        most = choice.most_per_kwh
        return f"pays below {money.currency}{most:.2f} per kWh" if most > 0 else "pays at no price of energy"
    if money.price_of_water is None:
        if choice.cost_per_m3 is None:
            return ""
        price = f"{money.currency}{per_volume(choice.cost_per_m3, system):,.2f} per {volume_words(system)}"
        return f"pays where water is worth more than {price}"
    if choice.most_cost is None:
        return ""
    if choice.most_cost <= 0:
        return "pays at no cost"
    below = f"pays below {_amount(choice.most_cost, options)}"
    if choice.net_value is None or choice.price is None:
        return below
    value = _amount(abs(choice.net_value), options)
    if choice.net_value <= 0:
        return f"does not pay: {value} worse than leaving it; it {below}"
    back = "" if choice.payback_years is None else f", back in {choice.payback_years:.1f} years"
    return f"pays: {value} better than leaving it{back}; it {below}"


def repair_or_replace_words(options: Options, system: System) -> str:
    """The customer's question first: what a repair wins, then what a driven tracker in its place would."""
    named = (("repair-rack", "Repairing the rack"), ("driven-tracker", "A driven tracker in its place"))
    told = []
    for ready, subject in named:
        choice = next((each for each in options.choices if each.ready == ready), None)
        if choice is None:
            continue
        if choice.outcome is None:
            told.append(f"{subject} is nothing to weigh here: {choice.refused.rstrip('.')}.")
            continue
        pays = pays_words(choice, options, system)
        told.append(f"{subject}: {won_words(choice, options, system)}{f'; {pays}' if pays else ''}.")
    return " ".join(told)


def side_by_side(options: Options, chosen: Sequence[Choice], system: System) -> Table:
    """Leaving it as it is and the choices of these, a column each; alike names are told apart by a number."""
    shown = (options.leave, *chosen)
    names = [name_of(choice, system) for choice in shown]
    names = [name if names.count(name) == 1 else f"{place}. {name}" for place, name in enumerate(names)]
    cells = [_row(choice, options, system) for choice in shown]
    heads = [" ".join(head.split()) for head in options_header(options, system)]
    rows = [(head, *(row[place] for row in cells)) for place, head in enumerate(heads) if place]
    presupposed = ("presupposed, not checked", *(choice.presupposes or "–" for choice in shown))
    return Table(header=("", *names), rows=(*rows, presupposed), title=options_title(options, system))


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
    priced = any(choice.price is not None for choice in options.choices[1:])
    if options.job.money.price_of_water is not None:
        return (f"pays\nbelow {sign}", *(("years\nto pay", "net\nvalue") if priced else ()))
    if priced:
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
        "\n".join(textwrap.wrap(name_of(choice, system), _NAME_WIDTH)),
        _water(outcome.lifted_m3_per_day, system),
        _water(outcome.worst_m3_per_day, system),
        _gain(choice.gain_m3_per_day, system),
    ]
    if outcome.short_days is not None:
        cells += [_gain(choice.used_gain_m3_per_day, system), f"{outcome.short_days}/{outcome.longest_short_days}"]
    payback = "–" if choice.payback_years is None else f"{choice.payback_years:.1f}"
    if options.job.money.price_of_water is not None:
        money = (_money(choice.most_cost if choice.name != LEAVE else None), payback, _money(choice.net_value))
        cells += money[: len(_money_heads(options, system))]
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
    if _money_heads(options, "si"):
        told.append(
            "Money counts each gain as it goes while the modules age, and leaves out what things are still worth at "
            "the end."
        )
    return " ".join(told)


def presuppositions(options: Options, system: System) -> tuple[Block, ...]:
    """What each row presupposes, and how often the pump starts where that is what changes."""
    alike: dict[str, list[str]] = {}
    for each in _real(options):
        if each.presupposes:
            alike.setdefault(each.presupposes + _starts_words(each, options), []).append(name_of(each, system))
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
    told = [_backup_words(each, sun_kwh, options, system) for each in _real(options) if each.bought_kwh_per_day > 0]
    if (bought_kwh := options.own.bought_kwh) is not None:
        price = options.job.backup.price_per_kwh if options.job.backup else None
        told.append(
            f"As it is, the backup gives {bought_kwh / options.own.days:.1f} kWh a day and the sun {sun_kwh:.1f}"
            f"{_spared(sun_kwh, price, options)}."
        )
    return tuple(told)


def _backup_words(choice: Choice, sun_kwh: float, options: Options, system: System) -> str:
    kwh, gain = choice.bought_kwh_per_day, show(choice.used_gain_m3_per_day, "volume_per_day", system)
    told = (
        f"“{name_of(choice, system)}” adds {gain}{' of wanted water' if options.asked else ''} for {kwh:.1f} kWh a "
        f"day; the sun goes on to give {sun_kwh:.1f}{_spared(sun_kwh, choice.price_per_kwh, options)}"
    )
    if choice.most_per_kwh is not None:
        sign, most = options.job.money.currency, choice.most_per_kwh
        fixed = "" if choice.price is not None else ", what the switch and the line cost left out"
        pays = f"it pays below {sign}{most:.2f} per kWh{fixed}" if most > 0 else "it pays at no price of energy"
        told += f"; {pays}"
    return f"{told}."


def _spared(sun_kwh: float, price_per_kwh: float | None, options: Options) -> str:
    """What the sun's energy would cost from the backup."""
    if price_per_kwh is None:
        return ""
    return f", which spares {options.job.money.currency}{sun_kwh * price_per_kwh * DAYS_A_YEAR:,.0f} a year"


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
    worth, turned = _amount(value, options), _turned(best, options, system)
    return f"The numbers favour “{name_of(best, system)}”: {worth} better than leaving it. {turned}"


def _turned(best: Choice, options: Options, system: System) -> str:
    """The cost or price of water at which the nearest option breaks even."""
    pays = (best.net_value or 0.0) > 0
    told = []
    if best.most_cost is not None and best.most_cost > 0:
        least = "a cost above" if pays else f"a cost of “{name_of(best, system)}” below"
        told.append(f"{least} {_amount(best.most_cost, options)}")
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
    gaining = [choice for choice in _real(options) if choice.used_gain_m3_per_day > 0]
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
        f"below {_amount(best.most_cost or 0.0, options)}. Give {_entry(best)}."
    )


def _entry(choice: Choice) -> str:
    """What a job file says for the cost of a choice to be known."""
    return f'[[option]] with ready = "{choice.ready}" and a cost' if choice.ready else "its cost"


def _amount(value: float, options: Options) -> str:
    return f"{options.job.money.currency}{rounded(value)}"
