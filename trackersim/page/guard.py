"""Rules for every answer of the page's server, pages and files as well as the line to a visitor."""

from __future__ import annotations

from typing import Any

import streamlit as st
from starlette.datastructures import MutableHeaders
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware

from trackersim.page.place_address import PlacesFound


def rules() -> list[Middleware]:
    """Only names in `server.allowedHosts` are answered to (all where it is empty); no other page frames this one.

    A place is found under other spellings of its address.
    """
    hosts = [str(host) for host in st.get_option("server.allowedHosts") or ["*"]]
    named = Middleware(TrustedHostMiddleware, allowed_hosts=hosts, www_redirect=False)
    return [named, Middleware(Unframed), Middleware(PlacesFound)]


class Unframed:
    """Tells browsers that no page of another address may show this one in a frame."""

    def __init__(self, app: Any) -> None:
        self._app = app

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        """Answer as what stands behind does, with one head line more."""

        async def told(message: Any) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message)["Content-Security-Policy"] = "frame-ancestors 'self'"
            await send(message)

        await self._app(scope, receive, told if scope["type"] == "http" else send)
