"""A real browser: Debian's headless chromium through playwright, every request recorded.

Without a browser on the machine these tests are skipped, unless TRACKERSIM_BROWSER=required (as `.ci/run` sets it).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from visited_job import open_in
from visiting import CHROMIUM, PATIENCE_MS, REQUIRED, Server, listen, opened


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    if not REQUIRED and CHROMIUM is None:
        pytest.skip("no chromium on this machine")
    if not REQUIRED:
        pytest.importorskip("playwright.sync_api")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        chromium = driver.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-background-networking"]
        )
        yield chromium
        chromium.close()


@pytest.fixture(scope="session")
def server(browser: Any) -> Iterator[Server]:
    made = Server()
    made.start()
    yield made
    made.stop()


@pytest.fixture
def new_page(browser: Any) -> Iterator[Callable[..., Any]]:
    """An empty page of a visitor of its own, closed at the end: one left open goes on to ask the server for more."""
    contexts = []

    def made(**options: Any) -> Any:
        context = browser.new_context(**options)
        context.set_default_timeout(PATIENCE_MS)
        contexts.append(context)
        page = context.new_page()
        listen(page)
        return page

    yield made
    for context in contexts:
        context.close()


@pytest.fixture
def visitor(new_page: Callable[..., Any], server: Server) -> Iterator[Any]:
    """A fresh visitor on the page, whose every request must stay on this machine."""
    page = new_page(viewport={"width": 1280, "height": 900}, accept_downloads=True)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("websocket", lambda socket: asked.append(socket.url))
    opened(page, server)
    yield page
    page.context.close()
    assert asked
    assert [url for url in asked if not server.is_home(url)] == []


@pytest.fixture
def visit(new_page: Callable[..., Any], server: Server) -> Callable[..., Any]:
    """Opens a job in a place: `visit("trees", text)`, on a phone with `width=390`."""

    def opened_there(where: str, job: str, *, width: int = 1280) -> Any:
        page = new_page(viewport={"width": width, "height": 844}, has_touch=width < 600, accept_downloads=True)
        open_in(page, server, where, job)
        return page

    return opened_there
