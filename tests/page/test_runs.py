"""What a run says is said again until the browser itself tells that it drew that run."""

from __future__ import annotations

import json
from typing import Any

from starlette.requests import Request
from streamlit.testing.v1 import AppTest

from trackersim.page.runs import tell


def script() -> None:
    """One field, which shows 5 at first."""
    from trackersim.page import numbers, runs

    runs.begin()
    numbers.number_field("Price", "price", 5.0)
    runs.end()


def address(page: AppTest) -> str:
    """Where the browser is asked to tell that it drew the run."""
    (mounted,) = page.get("bidi_component")
    return str(json.loads(mounted.proto.json)["address"])


def told(word: str, number: int) -> int:
    request: dict[str, Any] = {"type": "http", "path_params": {"word": word, "number": number}}
    return tell(Request(request)).status_code


def said(page: AppTest) -> bool:
    """Whether the run told the browser what the field shows."""
    return bool(page.number_input[0].proto.set_value)


def test_a_value_is_said_until_the_browser_tells_that_it_drew_it() -> None:
    page = AppTest.from_function(script, default_timeout=30).run()
    assert said(page)
    assert said(page.run())
    _, _, word, number = address(page).split("/")
    assert told(word, int(number) - 1) == 204  # an earlier run, of which nothing follows for this one
    assert said(page.run())
    *_, word, number = address(page).split("/")
    assert told(word, int(number)) == 204
    assert not said(page.run())
    assert page.number_input[0].value == 5.0


def test_what_the_visitor_typed_is_not_said_to_him() -> None:
    page = AppTest.from_function(script, default_timeout=30).run()
    page.number_input[0].set_value(7.0).run()
    assert not said(page.run())
    assert page.number_input[0].value == 7.0


def test_nobody_tells_of_runs_of_a_visitor_whose_word_he_does_not_know() -> None:
    page = AppTest.from_function(script, default_timeout=30).run()
    _, _, word, number = address(page).split("/")
    assert len(word) >= 20
    assert told(word[:-1], int(number)) == 404
    assert said(page.run())
