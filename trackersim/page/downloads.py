"""Files to take away: links to addresses of their own, good for as long as the visitor is there.

No `st.download_button`: the toolkit keeps the file of a button that the latest run of the page has drawn. A run in
progress has not come to it yet: if other runs end meanwhile, this visitor's or another's, the file is thrown away, and
a click on the button that is still seen gives nothing.
"""

from __future__ import annotations

import html
import secrets
from collections.abc import Callable
from typing import NamedTuple
from weakref import WeakValueDictionary

import streamlit as st
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from trackersim.page import runs

_KEY = "offers"


class _Offer(NamedTuple):
    """A file that is made when it is asked for; `run` is the run of the page that drew its link last."""

    content: Callable[[], str | bytes]
    kind: str
    run: int


class _Offers(dict[str, _Offer]):
    """The files offered to one visitor, by name. They go with the visitor's session."""


# By a word that nobody can guess: whoever knows it has the visitor's job.
_OF_VISITORS: WeakValueDictionary[str, _Offers] = WeakValueDictionary()


def download(label: str, content: Callable[[], str | bytes], name: str, kind: str) -> None:
    """Draw a link that saves a file of that name and media type; `content` makes it at the click."""
    if _KEY not in st.session_state:
        word, offers = secrets.token_urlsafe(16), _Offers()
        _OF_VISITORS[word] = offers
        st.session_state[_KEY] = word, offers
    word, offers = st.session_state[_KEY]
    offers[name] = _Offer(content, kind, runs.this_run())
    st.html(
        f'<a class="download" download="{name}" href="/save/{word}/{name}">{html.escape(label)}</a>', width="content"
    )


def forget_undrawn() -> None:
    """Let go of files that a whole run of the page has not offered again, and of what they would be made of."""
    if _KEY in st.session_state:
        _, offers = st.session_state[_KEY]
        for name in [name for name, offer in offers.items() if offer.run != runs.this_run()]:
            del offers[name]


def saves() -> list[BaseRoute]:
    """Where the server gives the files."""
    return [Route("/save/{word}/{name}", saved)]


def saved(request: Request) -> Response:
    """The file of that name that is offered to the visitor of that word."""
    name = request.path_params["name"]
    offer = _OF_VISITORS.get(request.path_params["word"], _Offers()).get(name)
    if offer is None:
        return Response(status_code=404)
    headers = {"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "no-store"}
    return Response(offer.content(), media_type=offer.kind, headers=headers)
