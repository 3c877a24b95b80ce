"""Runs of the page for one visitor: Streamlit ends one wherever it is when the visitor does something else.

What such a run had to say may have reached nobody, and neither may the last words of one that the next has followed at
once: the server throws away what it has not sent yet.
"""

from __future__ import annotations

import time

import streamlit as st

_NUMBER, _ENDED, _HEARD = "run_number", "run_ended", "run_heard"
# Longer than any server takes to send what a run has said [s].
_SENT_S = 2.0


def begin() -> None:
    """Another run begins."""
    state = st.session_state
    state[_NUMBER] = this_run() + 1
    number, at_s = state.get(_ENDED, (0, 0.0))
    if time.monotonic() - at_s >= _SENT_S:
        state[_HEARD] = number


def end() -> None:
    """It has drawn all."""
    st.session_state[_ENDED] = this_run(), time.monotonic()


def this_run() -> int:
    """The number of the run that was begun last."""
    number: int = st.session_state.get(_NUMBER, 0)
    return number


def heard(number: int) -> bool:
    """Whether the browser has surely heard what the run of that number said."""
    last: int = st.session_state.get(_HEARD, 0)
    return number <= last
