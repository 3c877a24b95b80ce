"""Voltages and wires in words and in a table."""

from __future__ import annotations

import math

from trackersim.analysis.wiring import REFERENCE_C, Ratings, Wiring
from trackersim.errors import counted
from trackersim.job.gauges import AWG_AREA_MM2
from trackersim.report.blocks import Answer, Block, Caution, Listing, Sentence, Table
from trackersim.report.remarks import closing_of, dangers_of
from trackersim.simulation.result import Result
from trackersim.units import System, show, shown_value, unit_label

_DECIDE = "Local code and a licensed person decide."
RATINGS_FROM = (
    "Least ratings in the practice of the USA (NEC 690.8, 690.9, 240.6 and 310.16 as others print them; fuses of "
    "strings and the disconnect from memory). Heat, and conductors that lie together, ask for more. An area in mm² "
    "counts as the next thinner American gauge. " + _DECIDE
)
GROUNDING = (
    "Ground the modules' frames, the rack, the pole and the controller's case with one unbroken conductor, as local "
    "code says."
)
CAUTION = (
    "High-voltage DC: open and lock the disconnect, then test, before touching array, wire or pump; modules in light "
    "are live. " + _DECIDE
)


def wiring_answer(wiring: Wiring, result: Result, system: System) -> Answer:
    """Whether array and controller fit each other, and what every run of wire takes; `result` gave the figures."""
    return Answer(
        headline=voltage_words(wiring, system),
        blocks=(
            wire_table(wiring),
            Sentence(text=loss_words(wiring)),
            *ratings_blocks(wiring),
            Caution(text=CAUTION),
            *closing_of(system, result),
        ),
        dangers=dangers_of(system, result),
        summary=wiring.summary(),
    )


def voltage_words(wiring: Wiring, system: System) -> str:
    """Whether the controller bears the array on the coldest morning, and whether it can work it on a hot day."""
    cold = f"{shown_value(wiring.coldest_c, 'temperature', system):.0f} {unit_label('temperature', system)}"
    morning = f"On the coldest morning{'' if wiring.on_record else ' of this weather, which is no record'}"
    reaches = f"{morning} ({cold}) the array's open-circuit voltage is {wiring.cold_v:.0f} V"
    limit_v = wiring.job.controller.max_input_v
    if wiring.verdict is None or limit_v is None:
        told = f"{reaches}. Hold that against the controller's label: its limit is not given. {_DECIDE}"
        return f"{told} {_window_words(wiring, system)}"
    verdict = {"within": "WITHIN THE LABEL", "close": "CLOSE", "over": "OVER, do not connect it so"}[wiring.verdict]
    if wiring.verdict == "within" and wiring.open_question:
        verdict = "NOT YET CHECKED AGAINST A RECORD LOW"
    told = f"{verdict}: {reaches}; the controller stands {limit_v:.0f} V.{_colder_words(wiring, system)}"
    decide = "" if verdict == "WITHIN THE LABEL" else f" {_DECIDE}"
    return f"{told}{decide} {_window_words(wiring, system)}"


def _colder_words(wiring: Wiring, system: System) -> str:
    """Where no record low is given: from which cold on the array is above the limit, and what to give."""
    if not wiring.open_question or wiring.limit_c is None:
        return ""
    return (
        f" The array is above that on any morning colder than {show(wiring.limit_c, 'temperature', system)}: give the "
        "coldest air on record here (site.design_low)."
    )


def _window_words(wiring: Wiring, system: System) -> str:
    """Where the array's best point lies against the controller's window; both ends may be missed, by heat and cold."""
    control = wiring.job.controller
    label = show(REFERENCE_C, "temperature", system)
    best = f"Its best point is at about {wiring.hot_v:.0f} V with hot cells and {wiring.cool_v:.0f} V at {label}"
    if control.lowest_v == 0 and control.highest_v is None:
        return best + "."
    missed = []
    if wiring.hot_v < control.lowest_v:
        missed.append(f"with hot cells below the {control.lowest_v:.0f} V from which the controller works the array")
    if control.highest_v is not None and wiring.cool_v > control.highest_v:
        missed.append(f"at {label} above the {control.highest_v:.0f} V up to which the controller works the array")
    if not missed:
        return best + ", within the controller's window."
    less = "The controller then holds the array at the edge of its window, where it gives less, or nothing."
    return f"{best}: {', and '.join(missed)}. {less}"


def ratings_blocks(wiring: Wiring) -> tuple[Block, ...]:
    """What conductors, fuses and the disconnect must at least be rated for, unit by unit."""
    lines = tuple(line for ratings in wiring.ratings for line in _ratings_lines(ratings))
    if not wiring.on_record:
        lines = (*lines, "the disconnect's volts are those of this weather's coldest air: a record low asks for more.")
    return (Sentence(text=RATINGS_FROM), Listing(lines=lines), Sentence(text=GROUNDING))


def _ratings_lines(ratings: Ratings) -> list[str]:
    who = f"{ratings.name}: " if ratings.name else ""
    fuse = f"the next standard fuse is {ratings.fuse_a} A" if ratings.fuse_a else "no standard fuse is so large"
    metals = " or ".join(
        f"{metal} of {gauge} AWG ({AWG_AREA_MM2[gauge]:.1f} mm²)" if gauge else f"{metal} beyond 4/0 AWG"
        for metal, gauge in (("copper", ratings.gauge), ("aluminium", ratings.aluminium_gauge))
    )
    lines = [
        f"{who}short-circuit current of {counted(ratings.in_parallel, 'string')} by the label "
        f"{ratings.isc_a * ratings.in_parallel:.1f} A × 1.25 × 1.25 = {ratings.least_a:.1f} A: the least rating of "
        f"conductor and fuse between array and controller; {fuse}, {metals}, or thicker, before correction.",
        f"{who}disconnect: made to break direct current, for {math.ceil(ratings.open_v)} V and {ratings.least_a:.1f} A "
        "at least.",
    ]
    if ratings.string_fuse_a:
        lines.append(
            f"{who}each string: {ratings.string_a:.1f} A or more, with a fuse of its own ({ratings.string_fuse_a} A), "
            "never above the largest series fuse on the module's label."
        )
    return lines + [f"{who}{line}" for line in _run_lines(ratings)]


def _run_lines(ratings: Ratings) -> list[str]:
    """Every run by name under what was found: where nothing is checked, silence would read as a pass."""
    found = {
        f"TOO THIN for {ratings.least_a:.1f} A by that table: {{}}.": ratings.runs_that(False),
        f"thick enough for {ratings.least_a:.1f} A by that table, before correction: {{}}.": ratings.runs_that(True),
        "NOT CHECKED, for that table has no conductor so thin or so thick: {}.": ratings.runs_that(None),
        "NOT CHECKED, for it leads to the motor: {}. What it must bear stands in the controller's manual.": (
            ratings.motor_runs
        ),
    }
    told = [words.format(", ".join(runs)) for words, runs in found.items() if runs]
    return told if ratings.bears else [*told, "NOT CHECKED: wire between array and controller, since none is given."]


def wire_table(wiring: Wiring) -> Table:
    """Each run at rated power, and its heat over the days simulated."""
    rows = (
        (
            run.name,
            run.side,
            f"{run.current_a:.1f}",
            f"{run.drop_v:.2f}",
            f"{100 * run.drop_share:.1f} %",
            f"{run.lost_kwh:.1f}",
        )
        for run in wiring.runs
    )
    return Table(header=("wire", "side", "A", "drop V", "drop", "lost kWh"), rows=tuple(rows))


def loss_words(wiring: Wiring) -> str:
    """What all wires together take."""
    if not wiring.runs:
        return "No wire is given, so none takes anything."
    share = wiring.lost_kwh / wiring.used_kwh if wiring.used_kwh > 0 else 0.0
    days = "a year" if wiring.days == 365 else f"in {counted(wiring.days, 'day')}"
    return (
        f"All wires together lose {wiring.lost_kwh:.0f} kWh {days}, {100 * share:.1f} % of what the controller gets "
        "while the pump runs. Drops are at rated power: the array's as aged, and on the "
        "motor's side the most that the pump's sheet asks at rated speed."
    )
