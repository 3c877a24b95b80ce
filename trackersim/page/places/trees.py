"""Trees: the sky coloured by the water lost there, with the trees in it to be moved by hand, and a card for each."""

from __future__ import annotations

import html
from typing import Any

import streamlit as st

from trackersim.job.files import with_overrides
from trackersim.job.overrides import value_at
from trackersim.page import parts, work
from trackersim.page.blocks import show_answer
from trackersim.page.components.sky_trees import TreeMove, sky_trees
from trackersim.page.numbers import large_fields
from trackersim.page.state import Desk, edit
from trackersim.page.strip import ViewState, shown_job
from trackersim.page.tree_cards import draw_cards, with_unit_of
from trackersim.report.site_losses import site_words
from trackersim.report.sky_by_hand import sky_data
from trackersim.report.sky_loss import class_words, days_words, sky_loss, sky_loss_alt
from trackersim.report.tree_shading import shade_answer
from trackersim.units import System, shown_value, unit_label

_LEGEND_OPACITY = {1: 0.2, 2: 0.42, 3: 0.68, 4: 1.0}
_STYLE = """
<style>
.sky-legend { display: flex; flex-wrap: wrap; gap: 0.25rem 1rem; align-items: center; margin: 0; font-size: 0.875rem; }
.sky-legend i { display: inline-block; width: 22px; height: 14px; margin-right: 0.35rem; background: #d0631d;
  vertical-align: -2px; }
.sky-legend i.more { background: none; border: 1px solid #2f86b0; }
</style>
"""


def draw(desk: Desk, view: ViewState) -> None:
    """The sky with the trees of the job, and the card of one of them."""
    st.html(_STYLE)
    large_fields("trees_place")
    with st.container(key="trees_place"):
        _sky(desk, view)
        st.header("The trees")
        draw_cards(desk, view.system)
        _month_by_month(desk, view)


def _sky(desk: Desk, view: ViewState) -> None:
    job, system = shown_job(desk, view), view.system
    with st.spinner("A year of minutes …"):
        own, site = work.own_year(job), work.site_of(job)
        reference = work.own_year(with_overrides(job, {"rack.kind": "ideal", "trees": [], "horizon.points": []}))
    parts.lead(site_words(site, system))
    found = sky_loss(own, reference)
    # The colours are those of what is looked at, the trees those of the job: they are what a hand moves.
    data = sky_data(desk.good, found, sky_loss_alt(own, found, system), system)
    data["stamp"] = st.session_state.get("sky_stamp", 0)
    sky_trees(data, lambda moved: take_move(desk, moved, system), key="sky_trees")
    _legend(class_words(found, system), f"{unit_label('volume', system)} {days_words(own)}")
    if view.trees != "as they are":
        state = "without trees" if view.trees == "none" else "with the trees in ten years"
        st.text(f"The colours are {state}; the trees drawn are those of the job today.")
    axes = "Across: bearing from the rack. Up: height above the horizon. Dotted: the sun's way, dots at full hours."
    by_hand = "Drag a tree's top for its height and its foot for its bearing; or take one and press the arrow keys."
    st.caption(f"{axes} {by_hand}" if desk.good.trees else axes)


def _legend(names: dict[int, str], unit: str) -> None:
    swatches = "".join(
        f"<span><i{' class=more' if number < 0 else f' style=opacity:{_LEGEND_OPACITY[number]}'}></i>"
        f"{html.escape(words)}</span>"
        for number, words in names.items()
    )
    head = f"Water lost in 5° × 5° of sky, {unit}:"
    st.html(f'<p class="sky-legend"><span>{html.escape(head)}</span>{swatches or "none"}</p>')


def take_move(desk: Desk, moved: TreeMove, system: System) -> None:
    """A tree was taken in hand: what it was moved to goes into the job, and its card is shown."""
    st.session_state["sky_stamp"] = st.session_state.get("sky_stamp", 0) + 1
    tree = value_at(desk.data, f"trees.{moved.number}")
    if not isinstance(tree, dict):
        return
    st.session_state["tree_picked"] = moved.number
    if moved.bearing_deg is None or moved.height_m is None or moved.number >= len(desk.good.trees):
        return
    good = desk.good.trees[moved.number]
    changes: dict[str, Any] = {}
    bearing = round((moved.bearing_deg - desk.good.site.to_true_deg(good.bearing_from)) % 360, 6)
    if abs((bearing - good.bearing_deg + 180) % 360 - 180) > 0.01:
        changes["bearing"] = bearing
    if abs(moved.height_m - good.height_m) > 0.001:
        changes["height"] = with_unit_of(float(shown_value(moved.height_m, "length", system)), "length", system)
    if not changes:
        return
    edit(desk, f"trees.{moved.number}", {**tree, **changes})


def _month_by_month(desk: Desk, view: ViewState) -> None:
    if st.toggle("Month by month: when the sun clears the trees", key="trees_months"):
        show_answer(shade_answer(work.shade_report(shown_job(desk, view), parts.bar()), view.system))
