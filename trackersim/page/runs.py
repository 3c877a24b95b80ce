"""Runs of the page for one visitor: Streamlit ends one wherever it is when the visitor does something else.

What a run had to say may have reached nobody: it was ended half-way; the next began before the server had sent it, and
the server throws away what it has not sent yet; or the line to the browser broke. So the browser itself tells, by an
address of this visitor's own, of which runs it has drawn all.
"""

from __future__ import annotations

import secrets
from weakref import WeakValueDictionary

import streamlit as st
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from trackersim.page.browser import text_of

_NUMBER, _SPOKE, _HEARD = "run_number", "run_spoke", "run_heard"


class _Heard(set[int]):
    """The runs of one visitor that the browser has heard."""


# By a word that nobody can guess.
_OF_VISITORS: WeakValueDictionary[str, _Heard] = WeakValueDictionary()
_heard = st.components.v2.component("trackersim_heard", js=text_of("heard.js"))


def begin() -> None:
    """Another run begins."""
    state = st.session_state
    state[_NUMBER] = this_run() + 1
    if _HEARD not in state:
        word, heard_runs = secrets.token_urlsafe(16), _Heard()
        _OF_VISITORS[word] = heard_runs
        state[_HEARD] = word, heard_runs


def speak() -> int:
    """The number of this run, which says something that the browser must hear."""
    st.session_state[_SPOKE] = this_run()
    return this_run()


def end() -> None:
    """It has drawn all: the browser is asked to tell so, if it is to hear anything new."""
    state = st.session_state
    word, _ = state[_HEARD]
    _heard(key="heard", data={"address": f"/heard/{word}/{state[_SPOKE]}" if _SPOKE in state else ""})


def this_run() -> int:
    """The number of the run that was begun last."""
    number: int = st.session_state.get(_NUMBER, 0)
    return number


def heard(number: int) -> bool:
    """Whether the browser has told that it drew all of the run of that number."""
    _, heard_runs = st.session_state.get(_HEARD, ("", ()))
    return number in heard_runs


def ears() -> list[BaseRoute]:
    """Where a browser tells that it has drawn all of a run."""
    return [Route("/heard/{word}/{number:int}", tell)]


def tell(request: Request) -> Response:
    """Take a browser's word for a run of the visitor whose word it knows."""
    heard_runs = _OF_VISITORS.get(request.path_params["word"])
    if heard_runs is None:
        return Response(status_code=404)
    heard_runs.add(request.path_params["number"])
    return Response(status_code=204, headers={"Cache-Control": "no-store"})
