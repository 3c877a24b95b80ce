"""The job, and the mornings typed on site, in the visitor's own browser: there they outlive a reload and a restart of
the server, and nowhere else.

What comes from there is read as warily as a file that is brought.
"""

from __future__ import annotations

import secrets
import time
import tomllib
from typing import Any

import streamlit as st

from trackersim.job.files import MOST_BYTES
from trackersim.page import mornings_watched, parts
from trackersim.page.browser import text_of
from trackersim.page.state import Desk, open_text, saved_text

_KEY = "keeper"
_FLAG = "trackersim_job"  # a name of its own: cookies are shared by all servers of a machine
# How long the page waits for a browser's answer before it is drawn without one [s]; it comes within a few hundredths.
_ANSWER_WAITED_S = 3.0
_keeper = st.components.v2.component("trackersim_keeper", js=text_of("keeper.js"))


def opened(desk: Desk) -> bool:
    """Whether the desk is ready: false while this browser is asked for the job that it keeps."""
    state = st.session_state
    if "kept_opened" not in state:
        flag = st.context.cookies.get(_FLAG)
        state["keep_session"], state["keep_job"] = secrets.token_hex(8), flag != "0"
        state["kept_opened"] = flag != "1"
    if state["kept_opened"]:
        return True
    st.text("Opening your job …")
    _keeper(
        key=_KEY,
        data={"ask": True, "session": state["keep_session"]},
        on_found_change=lambda: _take_found(desk),
    )
    _wait_for_answer()
    return False


def _wait_for_answer() -> None:
    """Let this run of the page last until the browser's answer ends it.

    The browser forgets what was clicked in the fields that a finished run has not drawn.
    """
    end = time.monotonic() + _ANSWER_WAITED_S
    while time.monotonic() < end and not st.session_state["kept_opened"]:  # where it is read, a run can be ended
        time.sleep(0.02)


def _told(name: str) -> Any:
    return (st.session_state.get(_KEY) or {}).get(name)


def _take_found(desk: Desk) -> None:
    st.session_state["kept_opened"] = True
    found = _told("found")
    _open(desk, found)
    mornings = found.get("mornings") if isinstance(found, dict) else None
    if isinstance(mornings, str):
        mornings_watched.restore(mornings)


def _open(desk: Desk, found: Any) -> None:
    text = found.get("text") if isinstance(found, dict) else None
    if isinstance(text, str) and len(text) <= MOST_BYTES:
        open_text(desk, text)
        desk.unsaved = True


def keep(desk: Desk) -> None:
    """Have the browser keep the job on the desk, once it is the visitor's own."""
    state = st.session_state
    _keeper(
        key=_KEY,
        data={
            "ask": False,
            "session": state["keep_session"],
            "keep": state["keep_job"],
            "text": saved_text(desk.data) if desk.own else None,
            "over": state.get("keep_over", False),
            "mornings": mornings_watched.typed(),
        },
        on_found_change=lambda: None,
        on_other_change=_take_other,
        on_failed_change=_take_failed,
        on_back_change=lambda: None,
    )


def _take_other() -> None:
    st.session_state["kept_other"] = _told("other")


def _take_failed() -> None:
    st.session_state["keep_failed"] = True


def told(desk: Desk) -> None:
    """Ask about another window's job before it is replaced."""
    other = st.session_state.get("kept_other")
    if not other:
        return
    st.warning(f"This browser keeps another job: {parts.as_text(_name_in(other))}. Only one can be kept.")
    with st.container(horizontal=True):
        st.button("Keep this one instead", key="keep_this", on_click=_keep_this)
        st.button("Open the other one here", key="keep_other", on_click=_open_other, args=(desk,))


def _name_in(other: Any) -> str:
    try:
        return str(tomllib.loads(other["text"])["site"]["name"])[:60] or "unnamed"
    except (ValueError, KeyError, TypeError, RecursionError):
        return "unnamed"


def _keep_this() -> None:
    st.session_state["kept_other"], st.session_state["keep_over"] = None, True


def _open_other(desk: Desk) -> None:
    _open(desk, st.session_state["kept_other"])
    _keep_this()


def draw_choice() -> None:
    """What is kept where, and the button that forgets it."""
    state = st.session_state
    if state.get("keep_failed"):
        st.caption("This browser lets no page keep anything: save the job as a file.")
    elif state["keep_job"]:
        st.caption(
            "Your job is kept in this browser, on this machine alone, so that it is here again after a reload, and so "
            "are the mornings typed on site. Whoever uses this browser can open them. Brought weather files are not "
            "kept: bring them again."
        )
        st.button("Forget the job kept in this browser", key="forget", on_click=_set_keep, args=(False,))
    else:
        st.caption("Nothing is kept in this browser: the job is gone when the page is closed or loaded again.")
        st.button("Keep the job in this browser", key="keep_again", on_click=_set_keep, args=(True,))


def _set_keep(keep_job: bool) -> None:
    st.session_state["keep_job"] = keep_job
