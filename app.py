"""The page: inputs → job → cached simulation → words and pictures. No physics, no unit factors."""

from __future__ import annotations

import streamlit as st

from trackersim.errors import InputError
from trackersim.page import asking, views
from trackersim.page.form import draw_form
from trackersim.page.state import Desk, first_desk, keep_weather, open_text, saved_text
from trackersim.units import System

VIEWS = {
    "The answer": views.answer,
    "If it turns later": views.late,
    "One morning": views.morning,
    "The year and the water": views.year,
    "The trees": views.trees,
    "Where the water went": asking.losses,
    "The choices": asking.choices,
    "On site": asking.on_site,
    "The morning, moving": asking.moving_picture,
    "The customer's sheet": asking.sheet,
}


def desk_of_visitor() -> Desk:
    """This visitor's desk; the demonstration job on the first visit."""
    if "desk" not in st.session_state:
        st.session_state.desk = first_desk()
    desk: Desk = st.session_state.desk
    return desk


def take_job() -> None:
    """A job file was chosen."""
    upload = st.session_state.job_file
    if upload is not None:
        desk = desk_of_visitor()
        try:
            open_text(desk, upload.getvalue().decode("utf-8-sig"))
        except UnicodeDecodeError:
            desk.faults = list(InputError.of("job file", upload.name, "is not text in UTF-8.", "Save it so.").faults)


def take_weather() -> None:
    """A weather file was chosen."""
    upload = st.session_state.weather_file
    if upload is not None:
        keep_weather(desk_of_visitor(), upload.name, upload.getvalue())


def files(desk: Desk) -> None:
    """Open and save the job; upload weather."""
    with st.expander("Files: open or save a job, bring your own weather"):
        st.file_uploader("Open a job file", type=["toml"], key="job_file", on_change=take_job)
        st.download_button(
            "Save this job as a file",
            saved_text(desk.good),
            "job.toml",
            "application/toml",
            on_click="ignore",
            key="save",
        )
        st.file_uploader(
            "Weather file (TMY3, TM2, EPW, PVGIS or CSV)",
            type=["csv", "epw", "tm2", "tmy3", "json", "txt"],
            key="weather_file",
            on_change=take_weather,
        )


def main() -> None:
    """Draw the page."""
    st.set_page_config(page_title="Water behind a late rack", layout="wide")
    st.title("What does a late rack cost in water?")
    system: System = "si" if st.radio("Units", ["US", "metric"], horizontal=True, key="units") == "metric" else "us"
    desk = desk_of_visitor()
    view = st.radio("Show", list(VIEWS), horizontal=True, key="view")
    if desk.stale:
        st.error("To mend before anything changes below; what is shown is the last job without a fault:")
        for fault in desk.faults:
            st.text(f"• {fault}")
    try:
        VIEWS[view](desk.good, system)
    except InputError as error:
        st.error("Nothing was simulated. To mend:")
        for fault in error.faults:
            st.text(f"• {fault}")
    st.header("The job")
    files(desk)
    draw_form(desk, system)


main()
