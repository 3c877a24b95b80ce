"""The card to leave with the owner: as text, and as a figure that is legible in black and white."""

from __future__ import annotations

import datetime as dt

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from trackersim.analysis.day_ahead import SKIES, Tomorrow
from trackersim.analysis.flip_check import Span
from trackersim.clock import hhmm
from trackersim.report.blocks import Answer, Caution, Note, Quantity, Sentence, Table, sentences
from trackersim.report.figures import plain_text
from trackersim.report.words import FULL_SUN, first_light_words
from trackersim.units import System, rounded, show, shown_value, unit_label

_LOOK = {"clear": ("black", "-", "o"), "light cloud": ("#666666", "--", "s")}
_WRAP = 92

CARD_SAFETY = (
    "Stay clear of the rack: it can swing without warning. Do not touch, heat or open the canisters: refrigerant under "
    "pressure. Panels, wires and pump carry high-voltage DC whenever it is light. Do not climb into wells or tanks. "
    "Leave repairs to a licensed person; local codes decide."
)
SAFETY = "Keep off: the rack swings, canisters hold pressure, DC is live; codes decide."


def day_answer(card: Tomorrow, system: System) -> Answer:
    """What the owner should see on that day: times, flow by the hour, when to call."""
    waters = {
        sky.replace(" ", "_"): Quantity(
            value=card.days[sky].total_m3, kind="volume", meaning=f"water of the day, {sky}"
        )
        for sky in SKIES
    }
    return Answer(
        headline=f"{card_sentence(card, system)} {total_words(card, system)}".rstrip(),
        figures=waters,
        blocks=(
            Table(header=moment_header(), rows=tuple(moment_rows(card))),
            Table(header=hour_header(system), rows=tuple(hour_rows(card, system))),
            *sentences(*call_words(card, system)),
            Caution(text=SAFETY),
            *(Note(text=note) for note in note_words(card)),
            Sentence(text=last_words(card)),
        ),
        summary=card.summary(),
    )


def card_sentence(card: Tomorrow, system: System) -> str:
    """The day in two sentences for the owner."""
    head = f"{card.job.site.name}, {card.date:%A, %d %B %Y} ({card.zone}): "
    if card.sunrise is None:
        return head + "the sun does not rise on this day, so no water is pumped."
    clear, cloudy = (show(card.days[sky].total_m3, "volume", system) for sky in SKIES)
    if card.days["clear"].total_m3 == 0:
        return head + "no water is to be expected, even on a clear day."
    start = f"water should start at about {hhmm(card.clock(card.water.likely))}"
    turn = f"the rack should turn east {_between(card, card.flip)} and " if card.turns and card.flip.early else ""
    return (
        head + f"if the day is clear, {turn}{start}. The pump then lifts about {clear} by evening; under light cloud, "
        f"about {cloudy}."
    )


def _between(card: Tomorrow, span: Span) -> str:
    late = f"and {hhmm(card.clock(span.late))}" if span.late is not None else "and later, or not at all,"
    return f"between {hhmm(card.clock(span.early))} {late}"


def moment_rows(card: Tomorrow) -> list[tuple[str, ...]]:
    """What happens when, on a clear day: early, likely, late."""
    rows: list[tuple[str, ...]] = [("sunrise", "", hhmm(card.clock(card.sunrise)), "")]
    rows += [
        (first_light_words(card.job), "", hhmm(card.clock(card.first_light)), ""),
        (FULL_SUN, "", hhmm(card.clock(card.full_sun)), ""),
    ]
    if card.turns:
        rows += [("rack turns east", *_span(card, card.flip)), ("faces the sun", *_span(card, card.arrival))]
    rows += [("water starts", *_span(card, card.water)), ("sunset", "", hhmm(card.clock(card.sunset)), "")]
    return rows


def moment_header() -> tuple[str, ...]:
    """Headings of `moment_rows`."""
    return ("On a clear day", "early", "likely", "late")


def hour_rows(card: Tomorrow, system: System) -> list[tuple[str, ...]]:
    """Mean flow of each hour of the clock on a clear day and under light cloud, and the day's water."""
    flows = [dict(card.days[sky].hours) for sky in SKIES]
    hours = [hour for hour in flows[0] if any(flow.get(hour, 0) > 0 for flow in flows)]
    rows = [
        (f"{hour:02d}:00–{(hour + 1) % 24:02d}:00", *(_flow(flow.get(hour, 0.0), system) for flow in flows))
        for hour in hours
    ]
    totals = (show(card.days[sky].total_m3, "volume", system) for sky in SKIES)
    return [*rows, ("whole day", *totals)]


def _flow(flow_m3_s: float, system: System) -> str:
    return f"{shown_value(flow_m3_s, 'flow', system):.1f}"


def hour_header(system: System) -> tuple[str, ...]:
    """Headings of `hour_rows`."""
    return (f"Mean flow, {unit_label('flow', system)}", *SKIES)


def call_words(card: Tomorrow, system: System) -> tuple[str, ...]:
    """When to call."""
    if card.days["clear"].total_m3 == 0:
        return ()
    lines = []
    if card.turns and card.call_flip is not None:
        lines.append(f"Call if the rack still faces west at {hhmm(card.clock(card.call_flip))} on a sunny morning.")
    if card.call_water is not None:
        lines.append(
            f"Call if no water has come by {hhmm(card.clock(card.call_water))} in full sun with room in the tank."
        )
    least = show(card.call_m3, "volume", system)
    lines.append(f"Call if a whole clear day brings less than {least}.")
    if card.turns:
        lines.append(
            "Call, and stand clear, if the rack bangs or swings to and fro, hangs level all day, or shows an oily mark."
        )
    return tuple(lines)


def note_words(card: Tomorrow) -> tuple[str, ...]:
    """What the card rests on."""
    units = " Of several units, the turn is that of the first one's rack." if card.job.unit else ""
    return (
        "Note: this is no forecast. Air is the usual of the season. Light cloud is half the sky under passing clouds. "
        "Early and late are the ends of a dozen runs over wind, air, trees and the rack's own scatter: assumptions. A "
        f"full tank stops the pump, and that is right.{units}",
    )


def last_words(card: Tomorrow) -> str:
    """One sentence to end with, for the owner."""
    if card.days["clear"].total_m3 == 0:
        return "In short: do not expect water on this day."
    if card.turns and card.call_flip is not None:
        return (
            f"In short: if it is sunny, look at the rack at {hhmm(card.clock(card.call_flip))}; facing east and water "
            "running means that all is well."
        )
    if card.turns:
        return "In short: on so weak a sun the rack may not turn, and that alone is no fault."
    return f"In short: if it is sunny and water runs by {hhmm(card.clock(card.call_water))}, all is well."


def card_text(card: Tomorrow, system: System) -> str:
    """The whole card as plain text."""
    parts = [
        card_sentence(card, system),
        _columns(moment_header(), moment_rows(card)),
        _columns(hour_header(system), hour_rows(card, system)),
        "\n".join(call_words(card, system)),
        CARD_SAFETY,
        *note_words(card),
        last_words(card),
    ]
    return "\n\n".join(part if "\n" in part else _wrapped(part) for part in parts if part) + "\n"


def _columns(header: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    table = [header, *rows]
    widths = [max(len(row[n]) for row in table) for n in range(len(header))]
    return "\n".join(
        "  ".join(
            cell.ljust(w) if n == 0 else cell.rjust(w) for n, (cell, w) in enumerate(zip(row, widths, strict=True))
        )
        for row in table
    )


def _wrapped(text: str) -> str:
    import textwrap

    return "\n".join(textwrap.wrap(text, _WRAP))


def card_figure(card: Tomorrow, system: System) -> Figure:
    """Flow by the hour on a clear day and under light cloud, the turn marked; told apart by dash and mark."""
    figure = Figure(figsize=(8, 6.5), layout="constrained")
    axes: Axes = figure.subplots()
    for sky in SKIES:
        colour, dash, mark = _LOOK[sky]
        hours, flow = ([pair[n] for pair in card.days[sky].hours] for n in (0, 1))
        total = show(card.days[sky].total_m3, "volume", system)
        axes.plot(
            np.array(hours) + 0.5, shown_value(np.array(flow), "flow", system), color=colour, linestyle=dash,
            marker=mark, label=f"{sky}: {total} in the day",
        )  # fmt: skip
    _mark_turn(axes, card)
    axes.set_ylim(bottom=0)
    axes.set_ylabel(f"Flow, mean of the hour, {unit_label('flow', system)}")
    axes.set_xlabel(f"Clock time ({card.zone})")
    axes.set_xticks(range(0, 25, 2), [f"{hour:02d}:00" for hour in range(0, 25, 2)])
    lit = [hour for hour, _ in card.days["clear"].hours] or [0, 23]
    axes.set_xlim(min(lit), max(lit) + 1)
    axes.set_title(f"{plain_text(card.job.site.name)}\n{card.date:%A, %d %B %Y}", loc="left")
    axes.grid(axis="y", color="#cccccc", linewidth=0.6)
    axes.spines[["top", "right"]].set_visible(False)
    axes.legend(frameon=False)
    words = "\n".join(_wrapped(line) for line in (*call_words(card, system), CARD_SAFETY))
    figure.supxlabel(words, x=0.02, ha="left", fontsize=9)
    return figure


def _mark_turn(axes: Axes, card: Tomorrow) -> None:
    """The span in which the rack should turn, hatched."""
    early, late = card.clock(card.flip.early), card.clock(card.flip.late)
    if not card.turns or early is None:
        return
    end = _hours(late) if late is not None else 24.0
    axes.axvspan(_hours(early), end, facecolor="none", edgecolor="#555555", hatch="//", linewidth=0.5,
                 label=f"rack turns east, {_between(card, card.flip)}")  # fmt: skip


def _hours(time: dt.datetime) -> float:
    return time.hour + time.minute / 60


def _span(card: Tomorrow, span: Span) -> tuple[str, str, str]:
    return hhmm(card.clock(span.early)), hhmm(card.clock(span.likely)), hhmm(card.clock(span.late))


def total_words(card: Tomorrow, system: System) -> str:
    """The day's water beside what is wanted; empty without a demand."""
    wanted = card.job.store.demands_m3_per_day[card.date.month - 1]
    if wanted <= 0:
        return ""
    share = rounded(100 * card.days["clear"].total_m3 / wanted, 2)
    return f"That is {share} % of the {show(wanted, 'volume', system)} wanted a day, if the day is clear."
