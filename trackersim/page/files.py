"""Opening and saving the job, and weather that is brought."""

from __future__ import annotations

import streamlit as st

from trackersim.page import uploads
from trackersim.page.state import Desk, saved_text, start_new


def draw_files(desk: Desk) -> None:
    """Open and save the job; bring weather."""
    with st.expander("Files: open or save a job, bring your own weather"):
        st.file_uploader("Open a job file", type=["toml"], key="job_file", on_change=_take_job, args=(desk,))
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
            on_change=_take_weather,
            args=(desk,),
        )


def _take_job(desk: Desk) -> None:
    if st.session_state.job_file is not None:
        uploads.take_job(desk, st.session_state.job_file)


def _take_weather(desk: Desk) -> None:
    if st.session_state.weather_file is not None:
        uploads.take_weather(desk, st.session_state.weather_file)
