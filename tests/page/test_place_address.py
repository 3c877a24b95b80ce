"""A place is found under other letters and signs of its address, and everything else is left alone."""

from __future__ import annotations

from typing import Any

import pytest

from trackersim.page.app import PLACES
from trackersim.page.place_address import FIRST, NAMES, PlacesFound, led_to


def test_every_place_has_its_address() -> None:
    assert tuple(PLACES) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_a_place_is_found_under_other_spellings(name: str) -> None:
    own = "/" if name == FIRST else f"/{name}"
    assert led_to(own) is None  # no circle
    spelled = {f"/{word}" for word in (name, name.upper(), name.replace("-", "_"), name.replace("-", " "), f"{name}/")}
    assert {led_to(path) for path in spelled - {own}} == {own}


@pytest.mark.parametrize(
    "path",
    ["/", "", "/nowhere", "/_stcore/health", "/static/js/index.js", "/ahead/answer", "/typeface/a.woff2", "/answers"],
)
def test_what_is_no_place_is_left_alone(path: str) -> None:
    assert led_to(path) is None


def answered(path: str, state: str) -> dict[str, str]:
    """The head of the answer, or that of what stands behind."""
    head: dict[str, str] = {}

    async def behind(scope: Any, receive: Any, send: Any) -> None:
        head["behind"] = scope["path"]

    async def send(message: Any) -> None:
        head.update({name.decode(): value.decode() for name, value in message.get("headers", [])})

    scope = {"type": "http", "method": "GET", "path": path, "query_string": state.encode(), "headers": []}
    with pytest.raises(StopIteration):  # it waits for nothing; and a browser's loop may run in this thread already
        PlacesFound(behind)(scope, None, send).send(None)
    return head


def test_the_state_comes_along_and_nobody_is_led_elsewhere() -> None:
    assert answered("/Answer", "delay=150&units=metric")["location"] == "/?delay=150&units=metric"
    assert answered("/on_site/", "")["location"] == "/on-site"
    assert answered("/answer", "https://evil.example/")["location"].startswith("/?")
    assert answered("//answer", "")["location"] == "/"
    assert answered("/morning", "day=2025-06-01") == {"behind": "/morning"}
