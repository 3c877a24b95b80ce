"""The page as AppTest runs it. What it keeps is keyed by what it depends on, so tests of one file share it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import streamlit as st
from PIL import Image
from starlette.requests import Request
from starlette.responses import Response
from streamlit.components.v2 import manifest_scanner
from streamlit.runtime.state.session_state import SessionState
from streamlit.testing.v1 import AppTest
from streamlit.util import calc_hash

from trackersim.page import work
from trackersim.page.ahead import DialTable
from trackersim.page.downloads import saved, saves
from trackersim.page.state import Desk
from trackersim.report.animation.stage import Stage

APP = str(Path(__file__).parents[2] / "trackersim" / "page" / "door.py")
QUICK_PLACE = "manual"  # simulates nothing of its own

Go = Callable[..., AppTest]
Take = Callable[[AppTest, str], Response]


@pytest.fixture(scope="session", autouse=True)
def _nothing_ahead() -> Iterator[None]:
    """No thread works ahead: its years would take most of the time."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(work, "table_of", lambda job: DialTable(job, done=True))
        yield


@pytest.fixture(scope="session", autouse=True)
def _packages_looked_through_once() -> Iterator[None]:
    """Streamlit looks for parts of pages in every installed package, 0.2 s for each new page."""
    with pytest.MonkeyPatch.context() as patch:
        scan = manifest_scanner.scan_component_manifests
        patch.setattr(manifest_scanner, "scan_component_manifests", cache(scan))
        yield


class _AsAsked(Mapping[str, Any]):
    """What a session holds, each value read when it is asked for."""

    def __init__(self, session: SessionState) -> None:
        self._session = session

    def __getitem__(self, key: str) -> Any:
        return self._session[key]

    def __iter__(self) -> Iterator[str]:
        return iter(_WHOLE.fget(self._session))

    def __len__(self) -> int:
        return len(_WHOLE.fget(self._session))


_WHOLE: Any = SessionState.filtered_state


@pytest.fixture(scope="session", autouse=True)
def _values_read_as_asked() -> Iterator[None]:
    """Streamlit reads every field of the page to draw one of them: half of the time of tests with the form open."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(SessionState, "filtered_state", property(_AsAsked))
        yield


@pytest.fixture(scope="module", autouse=True)
def _memory_given_back() -> Iterator[None]:
    yield
    st.cache_resource.clear()


@pytest.fixture
def blank_frames(monkeypatch: pytest.MonkeyPatch) -> None:
    """No picture of a morning is drawn: there are fifty, each takes 0.1 s, and what is asked are their words."""
    monkeypatch.setattr(Stage, "picture", lambda stage, minute: Image.new("RGB", (2, 2)))


@pytest.fixture(scope="session")
def new_page() -> Callable[[], AppTest]:
    """A new visitor with the job open, in a place that simulates nothing by itself."""

    def opened() -> AppTest:
        page = AppTest.from_file(APP, default_timeout=120)
        page.session_state["form_open"] = True
        page._page_hash = calc_hash(QUICK_PLACE)
        return page.run()

    return opened


@pytest.fixture(scope="session")
def go() -> Go:
    """Go to a place, with a detail of the answer open, and words of the address changed (None takes one away)."""

    def gone(page: AppTest, place: str | None = None, detail: str | None = None, **address: str | None) -> AppTest:
        if place is not None:
            page._page_hash = calc_hash("" if place == "answer" else place)
        if detail is not None:
            page.session_state["detail"] = detail
        for name, word in address.items():
            if word is None:
                page.query_params.pop(name, None)
            else:
                page.query_params[name] = word
        return page.run()

    return gone


@pytest.fixture
def page(new_page: Callable[[], AppTest]) -> AppTest:
    return new_page()


@pytest.fixture(scope="module")
def stubborn(new_page: Callable[[], AppTest]) -> AppTest:
    """One visitor who brings one faulty file after the other; a page for each would take most of the time."""
    return new_page()


@pytest.fixture
def shown() -> Callable[[AppTest], str]:
    """All words on the page."""

    def words(page: AppTest) -> str:
        assert not page.exception, page.exception
        leads = [part.proto.body for part in page.get("html")]
        kinds = (page.text, page.error, page.warning, page.caption)
        return "\n".join([*leads, *(str(part.value) for kind in kinds for part in kind)])

    return words


_LINK = re.compile(r'<a class="download".* href="(.*)">(.*)</a>')


def _links(page: AppTest) -> dict[str, str]:
    drawn = (_LINK.fullmatch(part.proto.body) for part in page.get("html"))
    return {link[2]: link[1] for link in drawn if link}


def _asked(address: str) -> Response:
    (route,) = saves()
    scope = {"type": "http", "method": "GET", "path": address, "headers": []}
    _, found = route.matches(scope)
    return saved(Request({**scope, **found}))


@pytest.fixture(scope="session")
def offered() -> Callable[[AppTest], dict[str, str]]:
    """The links that save a file: label and address."""
    return _links


@pytest.fixture(scope="session")
def asked() -> Callable[[str], Response]:
    """What the server answers at the address of such a link."""
    return _asked


@pytest.fixture(scope="session")
def take() -> Take:
    """What the server answers to a click on the link of that label."""
    return lambda page, label: _asked(_links(page)[label])


@pytest.fixture
def desk_of() -> Callable[[AppTest], Desk]:
    """What the page remembers for its visitor."""

    def found(page: AppTest) -> Desk:
        desk = page.session_state["desk"]
        assert isinstance(desk, Desk)
        return desk

    return found


@pytest.fixture
def told() -> Callable[[AppTest], list[str]]:
    """The faults beside their fields."""
    return lambda page: [text.value for text in page.text if text.value.startswith("⚠")]
