"""A real browser: Debian's headless chromium through playwright, every request recorded.

Without a browser on the machine these tests are skipped, unless TRACKERSIM_BROWSER=required (as `.ci/run` sets it).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from visited_job import open_in
from visiting import CHROMIUM, ONE_DAY, PATIENCE_MS, REQUIRED, Server, listen, opened, settled


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
    """Its demonstration is one clear day: what most tests ask does not need the year."""
    made = Server(program=ONE_DAY)
    made.start()
    yield made
    made.stop()


@pytest.fixture(scope="session")
def year_server(browser: Any) -> Iterator[Server]:
    """As visitors have it, the demonstration its whole year."""
    made = Server()
    made.start()
    yield made
    made.stop()


@pytest.fixture
def new_page(browser: Any) -> Iterator[Callable[..., Any]]:
    """An empty page of a visitor of its own, closed at the end: one left open goes on to ask the server for more.

    It asks for less motion: the toolkit's fading took half of the browser's time, and nothing of ours heeds the wish.
    """
    contexts = []

    def made(**options: Any) -> Any:
        context = browser.new_context(reduced_motion="reduce", **options)
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
    yield from _visiting(new_page, server)


@pytest.fixture
def year_visitor(new_page: Callable[..., Any], year_server: Server) -> Iterator[Any]:
    """As `visitor`, with the demonstration's whole year."""
    yield from _visiting(new_page, year_server)


def _visiting(new_page: Callable[..., Any], server: Server) -> Iterator[Any]:
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
    """Opens a place, with a job where one is given: `visit("trees", text)`, on a phone with `width=390`."""

    def opened_there(where: str, job: str | None = None, *, width: int = 1280) -> Any:
        page = new_page(viewport={"width": width, "height": 844}, has_touch=width < 600, accept_downloads=True)
        if job is not None:
            open_in(page, server, where, job)
            return page
        page.goto(f"{server.url}/{where}")
        page.locator(f".st-key-at_{where} h1").wait_for(state="attached", timeout=PATIENCE_MS)
        settled(page)
        return page

    return opened_there
