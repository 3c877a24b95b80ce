"""The page: five places and a sheet around one job and one state. No physics, no unit factors."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import streamlit as st

from trackersim.errors import InputError
from trackersim.page import deciding, downloads, files, keeper, parts, runs, work
from trackersim.page.browser import text_of
from trackersim.page.form import draw_form, where_of
from trackersim.page.place_address import FIRST
from trackersim.page.places import answer, decide, manual, morning, on_site, trees
from trackersim.page.state import Desk, first_desk, go_back, settle, undo
from trackersim.page.strip import ViewState, address_of, current_view, shown_job
from trackersim.page.strip_bar import draw_strip, draw_table

Place = Callable[[Desk, ViewState], None]


# The places by the last part of their address (`place_address.NAMES`): what they are called, their question, and what
# draws them.
PLACES: dict[str, tuple[str, str, Place]] = {
    "answer": ("Answer", answer.QUESTION, answer.draw),
    "morning": ("Morning", "What happens on one morning?", morning.draw),
    "trees": ("Trees", "What do the trees take?", trees.draw),
    "decide": ("Decide", "Repair or replace?", decide.draw),
    "on-site": ("On site", "Is it as it should be?", on_site.draw),
    "sheet": ("Sheet", "The customer's sheet", lambda desk, view: deciding.sheet(desk, view.system)),
    "manual": ("Manual", "How is it done?", manual.draw),
}
# Reached by links of their own, beside the job.
_BESIDE = ("manual", "sheet")
_links = st.components.v2.component("trackersim_place_links", js=text_of("place_links.js"))


def desk_of_visitor() -> Desk:
    """This visitor's desk; the demonstration job on the first visit."""
    if "desk" not in st.session_state:
        st.session_state.desk = first_desk()
    desk: Desk = st.session_state.desk
    return desk


def told_faults(desk: Desk) -> None:
    """What stands in the way of the job being edited, before anything that is older than it."""
    if not desk.stale:
        return
    st.error("Please mend this first. What is shown below it is the last job without a fault.")
    for fault in desk.faults[: parts.MOST_FAULTS]:
        place = where_of(fault)
        st.text(f"• {place + ': ' if place else ''}{fault}")
        if not place:
            parts.leave_out(desk, fault)
    if len(desk.faults) > parts.MOST_FAULTS:
        st.text(f"• and {len(desk.faults) - parts.MOST_FAULTS} more")
    st.button("Go back to the last job without a fault", key="go_back", on_click=go_back, args=(desk,))


def _top(desk: Desk, view: ViewState, here: str) -> None:
    """The row of places, the job and the sheet; the link named `here` is marked."""
    pages, address = st.session_state["places"], address_of(view)
    with st.container(key="top", horizontal=True, vertical_alignment="center"):
        with st.container(key="places", horizontal=True):
            for name, (title, _, _) in PLACES.items():
                if name not in _BESIDE:
                    st.page_link(pages[name], label=title, width="content", query_params=address)
        with st.container(key="job_row", horizontal=True, vertical_alignment="center"):
            if desk.undone:
                st.button("Undo", key="undo", on_click=undo, args=(desk,))
            shown = st.session_state.get("form_open", False)
            # The name of a job is text and no markup.
            site = parts.as_text(desk.good.site.name or "unnamed")
            st.button(f"{'Close' if shown else 'Job'}: {site}", key="form_toggle", on_click=_toggle_form)
            for name in _BESIDE:
                st.page_link(pages[name], label=PLACES[name][0], width="content", query_params=address)
    _links(key="place_links", data={"here": here})


def _toggle_form() -> None:
    st.session_state["form_open"] = not st.session_state.get("form_open", False)


def _place(desk: Desk, name: str) -> None:
    """One place below its question."""
    _, question, draw = PLACES[name]
    st.title(question)
    try:
        draw(desk, current_view())
    except InputError as error:
        _unanswered(error)


def _unanswered(error: InputError) -> None:
    st.error("This cannot be answered for the job as it is:")
    parts.faults(error.faults)


def _form(desk: Desk, view: ViewState, *, trees_elsewhere: bool) -> None:
    with st.container(key="job_form"):
        st.header("The job")
        st.caption("Fill in what you know, from the top. What you do not know may stay as it is.")
        files.draw_files(desk)
        draw_form(desk, view.system, trees_elsewhere=trees_elsewhere)


def main() -> None:
    """Draw the page."""
    st.set_page_config(page_title="Water behind a late rack", layout="wide", initial_sidebar_state="collapsed")
    parts.style()
    runs.begin()
    desk = desk_of_visitor()
    pages = {
        name: st.Page(partial(_place, desk, name), title=title, url_path=name, default=name == FIRST)
        for name, (title, _, _) in PLACES.items()
    }
    st.session_state["places"] = pages
    chosen = st.navigation(list(pages.values()), position="hidden")
    if not keeper.opened(desk):
        return  # only now: a page without its places would come back at the first of them
    answer.followed()
    of_days = chosen in (pages["answer"], pages["morning"])
    view = current_view()
    _top(desk, view, chosen.title)
    strip = st.container(key="strip_place")
    if st.session_state.get("form_open", False):
        left, right = st.columns([13, 7], gap="large")
        with right:
            _form(desk, view, trees_elsewhere=chosen is pages["trees"])
    else:
        left = st.container()
    with left, st.container(key=f"at_{chosen.url_path or FIRST}"):
        keeper.told(desk)
        files.ask_to_replace(desk)
        work.queue_up(parts.line())
        try:
            with st.spinner("A year of minutes …"):
                settle(desk, lambda job: work.days_given([job]))
                now, stands = work.days_given([shown_job(desk, view), desk.good])
                day = work.first_look_of(shown_job(desk, view)).day_shown(view.day) if of_days else None
            with strip:
                draw_strip(desk, view, now, stands, day=day)
            told_faults(desk)
            answer.dangers(now.notices, view.system)
        except InputError as error:
            told_faults(desk)
            _unanswered(error)
        else:
            chosen.run()
            draw_table(desk, view)
    keeper.keep(desk)
    downloads.forget_undrawn()
    runs.end()


if __name__ == "__main__":
    main()
