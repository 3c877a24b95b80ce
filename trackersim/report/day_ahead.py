"""The card to leave with the owner: as text, and as a figure that is legible in black and white."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from trackersim.analysis.day_ahead import SKIES, Tomorrow
from trackersim.analysis.day_flow import FlowPart, Running
from trackersim.analysis.flip_check import Span
from trackersim.analysis.rack_turns import RackTurn
from trackersim.arrays import FloatArray
from trackersim.clock import hhmm
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.model import Job
from trackersim.report.blocks import Answer, Caution, Note, Sentence, Table, sentences
from trackersim.report.day_calls import call_words, last_words, note_words, rack_called
from trackersim.report.figures import new_figure, plain_text
from trackersim.report.safety import LOCKED, may_swing
from trackersim.report.words import FULL_SUN, first_light_words, flows_words, running_words, stays_words
from trackersim.units import System, held_value, show, shown_value, unit_label

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LOOK = {"clear": ("black", "-", "o"), "light cloud": ("#666666", "--", "s")}
_WRAP = 92
# A usual bucket, in words and its volume [m³], and the longest that somebody holds one under the pipe [s].
_BUCKETS: Mapping[System, tuple[str, float]] = {"us": ("5 gal", held_value(5.0, "volume", "us")), "si": ("20 L", 0.02)}
_LONGEST_FILL_S = 600.0


def day_answer(card: Tomorrow, system: System) -> Answer:
    """What the owner should see on that day: times, flow by the hour, when to call."""
    return Answer(
        headline=f"{card_sentence(card, system)} {total_words(card, system)}".rstrip(),
        blocks=(
            moment_table(card),
            *sentences(*pump_words(card, system)),
            hour_table(card, system),
            *sentences(*call_words(card, system)),
            Caution(text=safety_words(card.job)),
            *(Note(text=note) for note in note_words(card)),
            Sentence(text=last_words(card)),
        ),
        summary=card.summary(),
    )


def safety_words(job: Job) -> str:
    """The care to take, in one line."""
    swing = "the rack swings, canisters hold pressure, " if may_swing(job) else ""
    return f"Keep off: {swing}DC is live; codes decide."


def card_safety_words(job: Job) -> str:
    """The care that the owner takes, on the card itself."""
    swing = (
        "Stay clear of the rack: it can swing without warning. Do not touch, heat or open the canisters: refrigerant "
        "under pressure."
    )
    return (
        f"{swing if may_swing(job) else LOCKED} Panels, wires and pump carry high-voltage DC whenever it is light. Do "
        "not climb into wells or tanks. Leave repairs to a licensed person; local codes decide."
    )


def card_sentence(card: Tomorrow, system: System) -> str:
    """The day in two sentences for the owner."""
    head = f"{card.job.site.name}, {card.date:%A, %d %B %Y} ({card.zone}): "
    clear, cloudy = (show(card.days[sky].total_m3, "volume", system) for sky in SKIES)
    if card.days["clear"].total_m3 == 0:
        # A sun that does not set has no sunrise either, and lifts water all the same.
        night = card.sunrise is None
        why = "the sun does not rise on this day, so no water is pumped."
        return head + (why if night else "no water is to be expected, even on a clear day.")
    sun = _sun_words(card)
    turns = [
        f"{rack_called(card, turn)} should turn east {_between(card, turn)}"
        for turn in card.turns
        if turn.flip.early is not None
    ]
    start = f"water should start at about {hhmm(card.clock(card.water.likely))}"
    before = ", ".join(part for part in (sun, *turns) if part)
    told = f"{before} and {start}" if before else start
    lifts = "The pumps then lift" if card.job.unit else "The pump then lifts"
    return head + f"if the day is clear, {told}. {lifts} about {clear} by evening; under light cloud, about {cloudy}."


def _sun_words(card: Tomorrow) -> str:
    if not (card.job.trees or card.job.horizon.points) or card.full_sun is None:
        return ""
    return f"there is {FULL_SUN} at {hhmm(card.clock(card.full_sun))}"


def _between(card: Tomorrow, turn: RackTurn) -> str:
    early = hhmm(card.clock(turn.flip.early))
    if turn.flip.late is not None:
        return f"between {early} and {hhmm(card.clock(turn.flip.late))}"
    return f"from {early} on, or {stays_words(turn.never, turn.runs)} not at all,"


def moment_table(card: Tomorrow) -> Table:
    """What happens when, on a clear day: early, likely, late."""
    rows: list[tuple[str, ...]] = [("sunrise", "", hhmm(card.clock(card.sunrise)), "")]
    rows += [
        (first_light_words(card.job), "", hhmm(card.clock(card.first_light)), ""),
        (FULL_SUN, "", hhmm(card.clock(card.full_sun)), ""),
    ]
    for turn in card.turns:
        which = rack_called(card, turn).removeprefix("the ")
        turns = "turn" if which == "racks" else "turns"
        rows += [(f"{which} {turns} east", *_span(card, turn.flip)), (_facing(which), *_span(card, turn.arrival))]
    if card.job.unit:
        waters = zip(card.job.unit_names, card.waters, strict=True)
        rows += [(f"water from {name}", *_span(card, water)) for name, water in waters]
    else:
        rows.append(("water starts", *_span(card, card.water)))
    rows.append(("sunset", "", hhmm(card.clock(card.sunset)), ""))
    return Table(header=("On a clear day", "early", "likely", "late"), rows=tuple(rows))


def _facing(which: str) -> str:
    return "they face the sun" if which == "racks" else "faces the sun" if which == "rack" else f"{which} faces the sun"


def pump_words(card: Tomorrow, system: System) -> tuple[str, ...]:
    """Of several pumps: the flows that may be found at the pipe, and what any of them waits for; empty for one."""
    if not card.job.unit:
        return ()
    levels = flows_words(card.levels_m3_s, system)
    told = [
        f"In the best light expect {levels} {unit_label('flow', system)} at the pipe: {running_words(card.job)} "
        "running, and less in weak light."
    ]
    for name, states in zip(card.job.unit_names, card.days["clear"].states, strict=True):
        waits = [
            f"{_hours_words(minutes)} ({str(state).removeprefix('waiting: ')})"
            for state, minutes in states.items()
            if str(state).startswith("waiting") and minutes >= _LONG_MIN
        ]
        runs = _hours_words(next(minutes for state, minutes in states.items() if str(state) == "running"))
        told.append(f"On a clear day {name} runs {runs}" + (f" and waits {', '.join(waits)}." if waits else "."))
    return (" ".join(told),)


_LONG_MIN = 10


def _hours_words(minutes: int) -> str:
    return f"{minutes} min" if minutes < 60 else f"{minutes / 60:.1f} h"


def hour_table(card: Tomorrow, system: System) -> Table:
    """Flow in each hour of the clock on a clear day and under light cloud, and the day's water.

    The mean of the hour for one pump, and how long a bucket takes while it runs; of several, the flows while the same
    pumps run.
    """
    flows = [dict(card.days[sky].hours) for sky in SKIES]
    running = [card.days[sky].running for sky in SKIES]
    parts = [dict(card.days[sky].parts) for sky in SKIES]
    hours = [hour for hour in flows[0] if any(flow.get(hour, 0) > 0 for flow in flows)]
    rows = []
    for hour in hours:
        if card.job.unit:
            cells = [_part_words(part.get(hour, ()), system) for part in parts]
        else:
            of_hour = [one.get(hour, _AT_REST) for one in running]
            cells = [f"{shown_value(flow.get(hour, 0.0), 'flow', system):.1f}" for flow in flows] + [
                _fill(one, system) for one in of_hour
            ]
        rows.append((f"{hour:02d}:00–{(hour + 1) % 24:02d}:00", *cells))
    totals = (show(card.days[sky].total_m3, "volume", system) for sky in SKIES)
    fills = () if card.job.unit else tuple(f"{_BUCKETS[system][0]} in, {sky}" for sky in SKIES)
    rows.append(("whole day", *totals, *[""] * len(fills)))
    mean = "Flow" if card.job.unit else "Mean flow"
    return Table(header=(f"{mean}, {unit_label('flow', system)}", *SKIES, *fills), rows=tuple(rows))


def _part_words(parts: Sequence[FlowPart], system: System) -> str:
    """ "0, 23 or 45": the flows of the hour by the pumps that run, those of a few minutes left out."""
    long = [part for part in parts if part.minutes >= _SHORT_MIN] or list(parts)
    flows = sorted(part.flow_m3_s for part in long)
    return flows_words(flows, system) if flows else "0"


_SHORT_MIN = 5


_AT_REST = Running(minutes=0, of_minutes=60, flow_m3_s=0.0)


def _fill(running: Running, system: System) -> str:
    """ "31 s", or "31 s, runs 17 min": seconds in which a bucket fills while the pump runs, and for how long it does.

    "–" where nobody would wait for it, or where the pump stops before the bucket is full.
    """
    _, bucket_m3 = _BUCKETS[system]
    longest_s = min(_LONGEST_FILL_S, running.minutes * 60.0)
    fill = f"{bucket_m3 / running.flow_m3_s:.0f} s" if bucket_m3 <= running.flow_m3_s * longest_s else "–"
    return f"{fill}, runs {running.minutes} min" if running.minutes and not running.whole else fill


def card_text(card: Tomorrow, system: System) -> str:
    """The whole card as plain text."""
    parts = [
        card_sentence(card, system),
        _columns(moment_table(card)),
        *pump_words(card, system),
        _columns(hour_table(card, system)),
        "\n".join(call_words(card, system)),
        card_safety_words(card.job),
        *note_words(card),
        last_words(card),
    ]
    return "\n\n".join(part if "\n" in part else _wrapped(part) for part in parts if part) + "\n"


def _columns(table: Table) -> str:
    rows = [table.header, *table.rows]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return "\n".join(
        "  ".join(
            cell.ljust(w) if n == 0 else cell.rjust(w) for n, (cell, w) in enumerate(zip(row, widths, strict=True))
        )
        for row in rows
    )


def _wrapped(text: str) -> str:
    import textwrap

    return "\n".join(textwrap.wrap(text, _WRAP))


def card_figure(card: Tomorrow, system: System) -> Figure:
    """Flow by the hour on a clear day and under light cloud, the turn marked; told apart by dash and mark."""
    figure = new_figure(8, 6.5)
    axes: Axes = figure.subplots()
    for sky in SKIES:
        colour, dash, mark = _LOOK[sky]
        hours, flow = _drawn(card, sky)
        total = show(card.days[sky].total_m3, "volume", system)
        axes.plot(
            hours, shown_value(flow, "flow", system), color=colour, linestyle=dash, marker=mark,
            markevery=max(len(hours) // 24, 1), label=f"{sky}: {total} in the day",
        )  # fmt: skip
    _mark_turn(axes, card)
    axes.set_ylim(bottom=0)
    mean = "" if card.job.unit else ", mean of the hour"
    axes.set_ylabel(f"Flow{mean}, {unit_label('flow', system)}")
    axes.set_xlabel(f"Clock time ({card.zone})")
    axes.set_xticks(range(0, 25, 2), [f"{hour:02d}:00" for hour in range(0, 25, 2)])
    lit = [hour for hour, _ in card.days["clear"].hours] or [0, 23]
    axes.set_xlim(min(lit), max(lit) + 1)
    axes.set_title(f"{plain_text(card.job.site.name)}\n{card.date:%A, %d %B %Y}", loc="left")
    axes.grid(axis="y", color="#cccccc", linewidth=0.6)
    axes.spines[["top", "right"]].set_visible(False)
    axes.legend(frameon=False)
    words = "\n".join(_wrapped(line) for line in (*call_words(card, system), card_safety_words(card.job)))
    figure.supxlabel(words, x=0.02, ha="left", fontsize=9)
    return figure


def _drawn(card: Tomorrow, sky: str) -> tuple[FloatArray, FloatArray]:
    """Hours of the clock and flow: means of one pump, every minute of several, which jump between few values."""
    day = card.days[sky]
    if not card.job.unit:
        return np.array([hour for hour, _ in day.hours]) + 0.5, np.array([flow for _, flow in day.hours])
    noon = MINUTES_A_DAY // 2
    clock = card.clock(noon)
    shift = 0.0 if clock is None else _hours(clock) - noon / 60
    return np.arange(MINUTES_A_DAY) / 60 + shift, day.minute_flow_m3_s


def _mark_turn(axes: Axes, card: Tomorrow) -> None:
    """The spans in which racks should turn, hatched."""
    for turn in card.turns:
        early, late = card.clock(turn.flip.early), card.clock(turn.flip.late)
        if early is None:
            continue
        end = _hours(late) if late is not None else 24.0
        which = rack_called(card, turn).removeprefix("the ")
        label = f"{which} turn{'' if which == 'racks' else 's'} east, {_between(card, turn).rstrip(',')}"
        axes.axvspan(_hours(early), end, facecolor="none", edgecolor="#555555", hatch="//", linewidth=0.5, label=label)


def _hours(time: dt.datetime) -> float:
    return time.hour + time.minute / 60


def _span(card: Tomorrow, span: Span) -> tuple[str, str, str]:
    return hhmm(card.clock(span.early)), hhmm(card.clock(span.likely)), hhmm(card.clock(span.late))


def total_words(card: Tomorrow, system: System) -> str:
    """The day's water beside what is wanted; empty without a demand, or without water."""
    wanted = card.job.store.demands_m3_per_day[card.date.month - 1]
    if wanted <= 0 or card.days["clear"].total_m3 == 0:
        return ""
    share = 100 * card.days["clear"].total_m3 / wanted
    return f"That is {share:.0f} % of the {show(wanted, 'volume', system)} wanted a day, if the day is clear."
