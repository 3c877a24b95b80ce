"""Garbage is not looked for among the libraries after every run of the page."""

from __future__ import annotations

import gc

from trackersim.page import work


def test_after_the_first_question_what_is_loaded_is_left_out() -> None:
    with work.asked():
        pass
    assert gc.get_freeze_count() > 50_000
