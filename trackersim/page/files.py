"""Opening and saving the job, and weather that is brought."""

from __future__ import annotations

import streamlit as st

from trackersim.page import keeper, parts, uploads
from trackersim.page.downloads import download
from trackersim.page.state import Desk, saved_text, start_new
from trackersim.page.uploads import Brought


def draw_files(desk: Desk) -> None:
    """Open and save the job; bring weather."""
    with st.expander("Files: open or save a job, start a new one, bring your own weather"):
        st.file_uploader("Open a job file", type=["toml"], key="job_file", on_change=_take_job, args=(desk,))
        download("Save this job as a file", lambda: saved_text(desk.data), "job.toml", "application/toml")
        if desk.stale:
            st.text("It is saved as it is typed, faults and all; opened again it is here to be mended.")
        keeper.draw_choice()
        st.button("Start a new job", key="new", on_click=_replace, args=(desk, None))
        st.file_uploader(
            "Weather file (TMY3, TM2, EPW, PVGIS or CSV)",
            type=["csv", "epw", "tm2", "tmy3", "json", "txt"],
            key="weather_file",
            on_change=_take_weather,
            args=(desk,),
        )


def _take_job(desk: Desk) -> None:
    if st.session_state.job_file is not None:
        _replace(desk, st.session_state.job_file)


def _replace(desk: Desk, brought: Brought | None) -> None:
    """Open a job file, or start a new job (None); a job with changes that are in no file is asked for first."""
    if desk.unsaved:
        st.session_state["replacing"] = (brought,)
    else:
        _replaced(desk, brought)


def _replaced(desk: Desk, brought: Brought | None) -> None:
    st.session_state["replacing"] = None
    if brought is None:
        start_new(desk)
    else:
        uploads.take_job(desk, brought)


def _stay() -> None:
    st.session_state["replacing"] = None


def ask_to_replace(desk: Desk) -> None:
    """Ask before a changed job gives way to another."""
    replacing = st.session_state.get("replacing")
    if not replacing:
        return
    (brought,) = replacing
    other = "a new job" if brought is None else f"the file {parts.as_text(brought.name[:60])}"
    st.warning(f"Your job has changes that no file of yours has. Let {other} take its place? Undo brings it back.")
    with st.container(horizontal=True):
        st.button("Replace it", key="replace_it", on_click=_replaced, args=(desk, brought))
        st.button("Stay with mine", key="replace_not", on_click=_stay)


def _take_weather(desk: Desk) -> None:
    if st.session_state.weather_file is not None:
        uploads.take_weather(desk, st.session_state.weather_file)
