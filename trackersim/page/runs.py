"""Runs of the page for one visitor: Streamlit ends one wherever it is when the visitor does something else."""

from __future__ import annotations

import streamlit as st

_BEGUN, _ENDED = "runs_begun", "last_whole_run"


def begin() -> None:
    """Another run begins."""
    st.session_state[_BEGUN] = this_run() + 1


def end() -> None:
    """It has drawn all."""
    st.session_state[_ENDED] = this_run()


def this_run() -> int:
    """The number of the run that was begun last."""
    number: int = st.session_state.get(_BEGUN, 0)
    return number


def came_to_its_end(number: int) -> bool:
    """Whether that run or a later one drew all, so that the browser has heard what it said."""
    last: int = st.session_state.get(_ENDED, 0)
    return number <= last
