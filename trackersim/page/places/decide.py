"""Decide: what could be done, by the water it wins, with its cost typed beside it and the price of water above."""

from __future__ import annotations

import html
from collections.abc import Sequence

import streamlit as st

from trackersim.analysis.alternatives import Choice
from trackersim.analysis.options import Options
from trackersim.page import parts, work
from trackersim.page.blocks import show_block
from trackersim.page.numbers import large_fields, number_field
from trackersim.page.prices import CostName, cost_of, options_with_cost
from trackersim.page.state import Desk, edit
from trackersim.page.strip import ViewState, shown_job
from trackersim.report.choice_words import by_water, name_of, pays_words, per_volume, volume_words, won_words
from trackersim.report.options import backup_words, meaning_words, refused_words, safety_words, side_by_side, tree_words
from trackersim.report.verdict import first_words, repair_or_replace_words
from trackersim.units import System, own_first

_MOST_COST, _MOST_PRICE, _MOST_LIFE = 1e9, 1e6, 200.0
_MOST_BESIDE = 3
# One hue in two looks, solid and hatched, that stand out from white and from black alike.
_STYLE = """
<style>
.measure { margin: 0; overflow-wrap: anywhere; }
.measure .name { font-weight: 600; }
.measure .track { position: relative; height: 16px; margin: 4px 0; background: rgba(128, 128, 128, 0.18); }
.measure .track span { position: absolute; top: 0; bottom: 0; }
.measure .lifted { background: repeating-linear-gradient(45deg, #3d8fb8 0 2px, transparent 2px 6px); }
.measure .used { background: #3d8fb8; }
.measure .less { background: #c0682f; }
.measure .zero { width: 2px; background: currentColor; }
.measure .presupposed { font-size: 0.875rem; }
[class*="st-key-measure_"] { border-top: 1px solid rgba(128, 128, 128, 0.35); padding-top: 0.5rem; }
.st-key-decide [class*="st-key-price_of_water"] { max-width: 22rem; }
</style>
"""


def draw(desk: Desk, view: ViewState) -> None:
    """The measures of the job as it is looked at."""
    st.html(_STYLE)
    large_fields("decide")
    with st.container(key="decide"):
        words, price = st.container(), st.container()
        with price:
            _price_of_water(desk, view.system)
        found = work.options_report(shown_job(desk, view), parts.bar())
        with words:
            parts.lead(first_words(found, view.system))
            st.text(repair_or_replace_words(found, view.system))
        _measures(desk, found, view.system)
        _beside(desk, found, view.system)
        _what_is_taken_for_granted(found, view.system)


def _price_of_water(desk: Desk, system: System) -> None:
    money = desk.good.money
    given = None if money.price_of_water is None else float(f"{per_volume(money.price_of_water, system):.6g}")

    def took(typed: float | None) -> None:
        edit(desk, "money.price_of_water", "" if typed is None else f"{typed:.12g} per {volume_words(system)}")

    label = f"What {volume_words(system)} of water are worth ({money.currency})"
    key = f"price_of_water|{system}|{desk.version}"
    number_field(label, key, given, least=0.0, most=_MOST_PRICE, took=took, empty="not known")
    if money.price_of_water is None:
        st.caption("What it costs to haul or buy, for instance. Without it no measure can be said to pay.")


def _measures(desk: Desk, found: Options, system: System) -> None:
    """A row for each measure that can be: its bar, whether it pays, and its cost to type."""
    choices = by_water(found)
    if not choices:
        st.text("Nothing here can be changed for more water.")
        return
    sure = "of wanted water" if found.asked else "of water"
    hatched = "; hatched: of all water lifted, wanted or not" if found.asked else ""
    parts.caption(f"Bars: gain {sure} against leaving it as it is{hatched}.")
    ends = [m3 for each in choices for m3 in (each.used_gain_m3_per_day, each.gain_m3_per_day)]
    span = min(0.0, *ends), max(1e-9, *ends)
    for choice in choices:
        ident = _ident(choice)
        with st.container(key=f"measure_{ident}"):
            left, right = st.columns([3, 1], vertical_alignment="bottom")
            left.html(_bar(choice, found, span, system))
            with right:
                label = f"Cost ({found.job.money.currency}), {name_of(choice, system)}"
                _cost(desk, choice, "cost", label, _MOST_COST)


def _ident(choice: Choice) -> str:
    """What tells a measure from all others of its job."""
    return choice.ready or f"own-{choice.option}"


def _bar(choice: Choice, found: Options, span: tuple[float, float], system: System) -> str:
    won, pays = won_words(choice, found, system), pays_words(choice, found, system)
    name = name_of(choice, system)
    looks = (
        ("lifted", choice.gain_m3_per_day if found.asked else 0.0),
        ("used" if choice.used_gain_m3_per_day >= 0 else "less", choice.used_gain_m3_per_day),
    )
    bars = "".join(_piece(look, m3, span) for look, m3 in looks)
    zero = 100 * -span[0] / (span[1] - span[0])
    words = html.escape(own_first(choice.presupposes, system))
    presupposed = f'<div class="presupposed">Presupposed, not checked: {words}.</div>' if words else ""
    told = f"{won}. {pays[:1].upper()}{pays[1:]}." if pays else f"{won}."
    return (
        f'<div class="measure"><span class="name">{html.escape(name[:1].upper() + name[1:])}</span>'
        f'<div class="track" role="img" aria-label="{html.escape(f"{name}: {won}")}">{bars}'
        f'<span class="zero" style="left:{zero:.2f}%"></span></div>'
        f"<div>{html.escape(told)}</div>{presupposed}</div>"
    )


def _piece(look: str, m3_per_day: float, span: tuple[float, float]) -> str:
    low, high = span
    start, end = sorted((0.0, m3_per_day))
    left, width = 100 * (start - low) / (high - low), 100 * (end - start) / (high - low)
    return f'<span class="{look}" style="left:{left:.2f}%;width:{width:.2f}%"></span>'


def _cost(desk: Desk, choice: Choice, name: CostName, label: str, most: float) -> None:
    """One figure of a measure's cost, kept in the job."""

    def took(typed: float | None) -> None:
        edit(desk, "option", options_with_cost(desk.data, choice, name, typed) or "")

    key, given = f"{name}|{_ident(choice)}|{desk.version}", cost_of(desk.data, choice, name)
    least = -most if name == "cost_per_year" else 0.0
    number_field(label, key, given, least=least, most=most, took=took, empty="not known")


def _beside(desk: Desk, found: Options, system: System) -> None:
    """Two or three measures in full, with what each costs a year and how long it lasts."""
    choices = {_ident(choice): choice for choice in by_water(found)}
    st.header("Side by side")

    def named(ident: str) -> str:
        return parts.as_text(name_of(choices[ident], system)) if ident in choices else ident

    picked: Sequence[str] = st.multiselect(
        "Two or three measures to hold against each other",
        list(choices),
        key="beside",
        format_func=named,
        max_selections=_MOST_BESIDE,
        placeholder="Choose measures",
    )
    shown = [choices[ident] for ident in picked if ident in choices]
    if not shown:
        return
    for choice, column in zip(shown, st.columns(len(shown)), strict=True):
        with column:
            name, sign = name_of(choice, system), found.job.money.currency
            _cost(desk, choice, "cost_per_year", f"More a year than today ({sign}), {name}", _MOST_COST)
            _cost(desk, choice, "life_years", f"Years it lasts, {name}", _MOST_LIFE)
    show_block(side_by_side(found, shown, system))


def _what_is_taken_for_granted(found: Options, system: System) -> None:
    with st.expander("What these figures take for granted"):
        parts.lines([meaning_words(found), tree_words(found, system), *backup_words(found, system)])
        parts.lines([refused_words(found, system)])
    parts.caption(safety_words(found.job))
