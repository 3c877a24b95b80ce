"""Answer: what the late rack and the trees cost together, what can be won back, and every day of the year."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from typing import Any

import streamlit as st

from trackersim.analysis.first_look import FirstLook
from trackersim.constants import DAYS_A_YEAR
from trackersim.errors import Notice
from trackersim.page import deciding, parts, views, work
from trackersim.page.browser import text_of
from trackersim.page.field_text import shown_text
from trackersim.page.figures_shown import printed, steps_in
from trackersim.page.state import Desk
from trackersim.page.strip import ViewState, address_of, current_view, go_to, shown_job
from trackersim.report.words import CLOUDLESS
from trackersim.units import System, own_first

QUESTION = "What do the late rack and the trees cost?"
_front = st.components.v2.component(
    "trackersim_front",
    html=text_of("front.html"),
    css=text_of("front.css"),
    js=text_of("hub.js") + text_of("front.js"),
)
DETAILS: dict[str, Callable[[Desk, ViewState], None]] = {
    "Every kind of rack": views.racks,
    "Earlier or later": views.late,
    "Year, pump and wire": views.year,
    "Where the water went": deciding.losses,
}


def draw(desk: Desk, view: ViewState) -> None:
    """The first screen, and the details behind it."""
    job = shown_job(desk, view)
    look = work.first_look_of(job)
    _front(key="front", data=front_data(look, desk, view), on_morning_change=_open_morning)
    _details(desk, view)


def front_data(look: FirstLook, desk: Desk, view: ViewState) -> dict[str, Any]:
    """What the browser draws the first screen from; texts are shown as text."""
    steps, stands = steps_in(view.system), work.first_look_of(desk.good)
    money = desk.good.money
    price = money.price_of_water
    now = printed(look, steps)
    return {
        "now": now,
        "decimals": steps.decimals,
        "unit": steps.unit,
        "day_unit": steps.day_unit,
        "lost_words": "lost to rack and trees" if look.job.trees else "lost to the rack",
        "worth_per_step": None if price is None else price * steps.m3 * DAYS_A_YEAR,
        "currency": money.currency,
        "price": "" if price is None else f"{money.currency}{shown_text(price, 'price_of_water', view.system)}",
        "late_word": "late flip" if look.waits else "rack not following the sun",
        "has_trees": bool(look.job.trees),
        "had_trees": bool(desk.good.trees),
        "repair_word": "Repair the rack",
        "all_word": "Fell all trees" if len(look.job.trees) > 1 else "Fell the tree",
        # Of this table the best tree holds: it stands in what is worked out ahead of the job as it stands.
        "best_tree_of": work.water_key_of(desk.good) if view.as_in_job else None,
        "win_note": _win_note(look),
        "first": look.first_day.isoformat(),
        "dull": look.dull.tolist(),
        "picked": (look.day_shown(view.day) - look.first_day).days,
        # The scale stays as it is for the job as it stands, so that before and after can be compared.
        "most_lost": round(float(stands.lost_m3.max(initial=0.0)) / steps.m3),
        "key_words": _key_words(look),
    }


def _win_note(look: FirstLook) -> str:
    if look.job.weather.clear_sky:
        told = CLOUDLESS
    elif look.repaired_m3_per_day is None or look.job.rack.kind != "delayed":
        told = ""
    else:
        told = "A repaired rack still waits for the sun to warm it."
    wanted = any(look.job.store.demands_m3_per_day)
    more = "This is water lifted: how much of it is wanted stands in Decide." if wanted else "More in Decide."
    return f"{told} {more}".lstrip()


def _key_words(look: FirstLook) -> str:
    words = (
        "The stronger the colour, the more water was lost that day. Dots: dull days. Choose a day to see its morning."
    )
    share = look.not_turned_share
    if look.turned is None or share is None or look.turned.all():
        return words
    still = ~look.turned
    return (
        f"{words} On {still.sum()} days the rack did not turn: {int((still & look.dull).sum())} of them were dull. "
        f"Together those days hold {100 * share:.0f} % of the loss."
    )


def _open_morning() -> None:
    """A day of the calendar was chosen: its morning is opened at the end of this run."""
    try:
        day = dt.date.fromisoformat(str(st.session_state["front"]["morning"]))
    except (KeyError, ValueError):
        return
    go_to(day=day)
    st.session_state["go_to_place"] = "morning"


def followed() -> None:
    """Open the place that a click asked for."""
    place = st.session_state.pop("go_to_place", None)
    if place is not None:
        st.switch_page(st.session_state["places"][place], query_params=address_of(current_view()))


def _details(desk: Desk, view: ViewState) -> None:
    with st.container(key="details"):
        chosen = st.segmented_control("Details", list(DETAILS), key="detail")
        if chosen is not None:
            st.header(chosen)
            DETAILS[chosen](desk, view)


def dangers(notices: Iterable[Notice], system: System) -> None:
    """Dangers of what is looked at, before anything else."""
    for notice in notices:
        if notice.level == "danger":
            parts.danger(own_first(notice.text, system))
