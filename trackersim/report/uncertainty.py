"""How sure the figures are, in words and in tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

from trackersim import __version__
from trackersim.analysis.paying import Chance
from trackersim.analysis.uncertain_inputs import Unknown
from trackersim.analysis.uncertainty import AS_IT_IS, Band, Spread
from trackersim.errors import counted
from trackersim.job.ranges import field_at
from trackersim.quantity_writing import field_shown
from trackersim.report.blocks import Answer, Note, Sentence, Table, sentences
from trackersim.report.choice_words import amount_cell
from trackersim.report.remarks import remark
from trackersim.report.words import MONTHS, listed, pumps_words
from trackersim.units import System, show, shown_number, unit_label

# Fewer draws than this say little about the ends of a spread.
_FEW = 30
_OFTEN, _SELDOM = 0.9, 0.1
_A_YEAR = 365


def spread_answer(found: Spread, system: System, *, chances: Sequence[Chance] = ()) -> Answer:
    """Figures with their 10, 50 and 90 % limits, what was varied, and in how many draws each measure pays."""
    return Answer(
        headline=spread_sentence(found, system),
        blocks=(
            spread_table(found, system),
            *paying_blocks(found, chances),
            varied_table(found),
            *sentences(
                " ".join(filter(None, (limits_words(found), cut_words(found, system), stopped_words(found)))),
                last_words(found, system),
            ),
            *(remark(notice, system) for notice in found.notices),
            Note(text=origin_words(found)),
        ),
        summary={**found.summary(), **({"paying": [asdict(each) for each in chances]} if chances else {})},
    )


def paying_blocks(spread: Spread, chances: Sequence[Chance]) -> tuple[Table | Sentence, ...]:
    """In how many draws each measure pays; for those whose cost is unknown, below which cost it does."""
    if not chances:
        return ()
    sign = spread.job.money.currency
    rows = [
        (
            each.name,
            "–" if each.share is None else f"{100 * each.share:.0f} %",
            amount_cell(each.sure),
            amount_cell(each.even),
        )
        for each in chances
    ]
    header = ("Measure", "Pays in", f"pays in 9 of 10\nbelow {sign}", f"in half of them\nbelow {sign}")
    told = (
        "All measures are held against the site as it is in the same draws. Two and four settings of a locked rack are "
        "no one job and stand in `options` alone."
    )
    return (Table(header=header, rows=tuple(rows), title="Whether it pays"), Sentence(text=told))


def spread_sentence(spread: Spread, system: System) -> str:
    """The answer for the customer, first."""
    band = spread.band(AS_IT_IS, "m3_per_day")
    if band is None:
        return f"{spread.job.site.name}: no draw was finished, so nothing can be said."
    low, high = shown_number(band.low, "volume_per_day", system), show(band.high, "volume_per_day", system)
    told = (
        f"{spread.job.site.name}: the chances are eight in ten that {_giving(spread)} between {low} and {high} "
        f"{_span_words(spread)}, and even that it is more than {show(band.middle, 'volume_per_day', system)}."
    )
    return told + _worst_words(spread, system) + _short_words(spread)


def _giving(spread: Spread) -> str:
    """Who gives the water that is counted: a store that is followed gives what is wanted of it, and no more."""
    job = spread.job
    if job.store.capacity_m3 is not None:
        return f"the {job.store.kind} gives"
    return f"{pumps_words(job)} {'gives' if len(job.units) == 1 else 'give'}"


def _span_words(spread: Spread) -> str:
    return "over a year" if spread.days >= _A_YEAR else f"over the {counted(spread.days, 'day')} simulated"


def _worst_words(spread: Spread, system: System) -> str:
    band = spread.band(AS_IT_IS, "worst_m3_per_day")
    if band is None or not _several_months(spread):
        return ""
    ends = f"{shown_number(band.low, 'volume_per_day', system)} and {show(band.high, 'volume_per_day', system)}"
    return f" In its worst month, whichever that is ({spread_month(spread)} most often), it is between {ends}."


def _several_months(spread: Spread) -> bool:
    """Whether one month can be worse than others."""
    return sum(water is not None for water in spread.likely[AS_IT_IS].by_month_m3_per_day) > 1


def _short_words(spread: Spread) -> str:
    band = spread.band(AS_IT_IS, "short_days")
    if band is None:
        return ""
    return f" Of {counted(spread.days, 'day')} it falls short of the demand on {band.low:.0f} to {band.high:.0f}."


def spread_table(spread: Spread, system: System) -> Table:
    """For every variant water of the year, of the worst month of each draw, and days short."""
    rows: list[tuple[str, ...]] = []
    for name in spread.names:
        for headline, words in (
            ("m3_per_day", name),
            ("worst_m3_per_day", "  worst month"),
            ("short_days", "  days short"),
        ):
            band = spread.band(name, headline)
            if band is not None and (headline != "worst_m3_per_day" or _several_months(spread)):
                rows.append((words, *_figures(band, headline, system), _won(spread, name, headline)))
    unit, draws = unit_label("volume_per_day", system), counted(len(spread.draws), "draw")
    return Table(
        header=("Case", "As said", "10 %", "50 %", "90 %", "Beats as it is"),
        rows=tuple(rows),
        title=f"Water in {unit}: figures below which 10, 50 and 90 % of {draws} lie",
    )


def _figures(band: Band, headline: str, system: System) -> tuple[str, ...]:
    values = (band.likely, band.low, band.middle, band.high)
    if headline == "short_days":
        return tuple(f"{value:.0f}" for value in values)
    return tuple(shown_number(value, "volume_per_day", system) for value in values)


def _won(spread: Spread, name: str, headline: str) -> str:
    beats = spread.beats(name, headline)
    return "" if name == AS_IT_IS or beats is None else f"{100 * beats.share:.0f} %"


def varied_table(spread: Spread) -> Table:
    """What was drawn that can matter here, and within which limits."""
    rows = tuple((unknown.words, _range_words(unknown)) for unknown in spread.varied)
    return Table(header=("What was varied", "Within"), rows=rows)


def _range_words(unknown: Unknown) -> str:
    if unknown.how == "seed":
        return "drawn anew"
    if unknown.how == "sd":
        return f"sd {100 * unknown.most:g} %"
    least, most = f"{unknown.least:.3g}", f"{unknown.most:.3g}"
    told = f"× {least} … {most}" if unknown.how == "factor" else f"{least} … +{most}"
    return told.replace("-", "−")


def limits_words(spread: Spread) -> str:
    """What the spread does and does not hold."""
    sources = dict.fromkeys(unknown.source for unknown in spread.varied if not unknown.source.startswith("assumption"))
    known = f" Published: {'; '.join(sources)}." if sources else ""
    return (
        f"Ranges are assumptions unless said otherwise.{known} Left as the job says: heights and places of trees, "
        "wire, controller, pump sheet, level of the source; and the order of clear and cloudy days."
    )


def cut_words(spread: Spread, system: System) -> str:
    """At which limits of fields the ranges end before their own ends; "" where none does."""
    ends = []
    for key, value in spread.cut.items():
        field = field_at(key)
        number, unit = field_shown(value, field.name if field else key, system)
        ends.append(f"{key} at {number:.3g}{unit}")
    return f"Cut where a field ends: {', '.join(ends)}." if ends else ""


def stopped_words(spread: Spread) -> str:
    """How much of what was asked is there; "" for all of it in good number."""
    done = len(spread.draws)
    if spread.stopped:
        return f"Stopped after {done} of {counted(spread.asked, 'draw')}: the figures are those of the draws done."
    return f"{counted(done, 'draw')} say little about the ends of the spread: take 50 or more." if done < _FEW else ""


def last_words(spread: Spread, system: System) -> str:
    """One sentence to leave with the customer."""
    band = spread.band(AS_IT_IS, "m3_per_day")
    if band is None:
        return "Nothing can be said yet."
    low = show(band.low, "volume_per_day", system)
    told = f"Count on no more than {low}, and plan the tank for {spread_month(spread)}"
    if spread.days < _A_YEAR:
        told = f"Count on no more than {low} in those {counted(spread.days, 'day')}; of a year they tell nothing"
    sure = [name for name in spread.names if name != AS_IT_IS and _share(spread, name) >= _OFTEN]
    vain = [name for name in spread.names if name != AS_IT_IS and _share(spread, name) <= _SELDOM]
    if sure:
        told += f"; {listed(sure)} would give more in nearly every case"
    if vain:
        told += f"; {listed(vain)} would hardly ever give more"
    return told + "."


def spread_month(spread: Spread) -> str:
    """The worst month by name."""
    return MONTHS[spread.worst_month(AS_IT_IS) - 1]


def _share(spread: Spread, name: str) -> float:
    beats = spread.beats(name)
    return 0.5 if beats is None else beats.share


def origin_words(spread: Spread) -> str:
    """One line to trace the figures by."""
    return f"trackersim {__version__} · job {spread.job.sha256()[:12]} · seed {spread.seed}"
