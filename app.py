"""The page: inputs → job → kept simulations → words and pictures. No physics, no unit factors."""

from __future__ import annotations

import streamlit as st

from trackersim.errors import InputError
from trackersim.page import deciding, moving_view, on_site, parts, uploads, views, work
from trackersim.page.form import draw_form, where_of
from trackersim.page.state import Desk, first_desk, go_back, saved_text, settle, start_new
from trackersim.units import System

VIEWS = {
    "The answer": views.answer,
    "Earlier or later": views.late,
    "One morning explained": views.morning,
    "Watch the morning": moving_view.moving_picture,
    "The trees": views.trees,
    "Year, pump and wire": views.year,
    "Where the water went": deciding.losses,
    "Repair or replace": deciding.choices,
    "On site": on_site.on_site,
    "The customer's sheet": deciding.sheet,
}


def desk_of_visitor() -> Desk:
    """This visitor's desk; the demonstration job on the first visit."""
    if "desk" not in st.session_state:
        st.session_state.desk = first_desk()
    desk: Desk = st.session_state.desk
    return desk


def take_job() -> None:
    """A job file was chosen."""
    if st.session_state.job_file is not None:
        uploads.take_job(desk_of_visitor(), st.session_state.job_file)


def take_weather() -> None:
    """A weather file was chosen."""
    if st.session_state.weather_file is not None:
        uploads.take_weather(desk_of_visitor(), st.session_state.weather_file)


def files(desk: Desk) -> None:
    """Open and save the job; bring weather."""
    with st.expander("Files: open or save a job, bring your own weather"):
        st.file_uploader("Open a job file", type=["toml"], key="job_file", on_change=take_job)
        st.download_button(
            "Save this job as a file",
            saved_text(desk.data),
            "job.toml",
            "application/toml",
            on_click="ignore",
            key="save",
        )
        if desk.stale:
            st.text("It is saved as it is typed, faults and all; opened again it is here to be mended.")
        st.caption("Saved on your machine; the page itself forgets the job when it is closed or loaded again.")
        st.button("Start a new job", key="new", on_click=start_new, args=(desk,))
        st.file_uploader(
            "Weather file (TMY3, TM2, EPW, PVGIS or CSV)",
            type=["csv", "epw", "tm2", "tmy3", "json", "txt"],
            key="weather_file",
            on_change=take_weather,
        )


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


def answer(desk: Desk, view: str, system: System) -> None:
    """The view that was chosen."""
    st.header(view)
    try:
        with st.spinner("A year of minutes …"):
            settle(desk, work.own_year)
        told_faults(desk)
        VIEWS[view](desk, system)
    except InputError as error:
        st.error("This cannot be answered for the job as it is:")
        parts.faults(error.faults)


def main() -> None:
    """Draw the page."""
    st.set_page_config(page_title="Water behind a late rack", layout="wide")
    parts.style()
    st.title("What does a late rack cost in water?")
    desk = desk_of_visitor()
    with st.container(key="controls"):
        system: System = "si" if st.radio("Units", ["US", "metric"], horizontal=True, key="units") == "metric" else "us"
        view = st.radio("Show", list(VIEWS), horizontal=True, key="view")
        parts.link_to_job()
    left, right = st.columns([13, 7], gap="large")
    with left:
        answer(desk, view, system)
    with right, st.container(key="job_form"):
        st.header("The job")
        files(desk)
        draw_form(desk, system, trees_elsewhere=view == "The trees")


main()
