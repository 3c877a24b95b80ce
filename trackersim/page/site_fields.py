"""What the questions on site share: words to tap, and the answer that stays in view."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import streamlit as st

from trackersim.errors import Fault
from trackersim.page import parts
from trackersim.page.blocks import show_block, show_head
from trackersim.report.blocks import Answer

SKIES = {"unknown": "not sure", "clear": "clear", "haze": "haze", "cloud": "cloud", "overcast": "overcast"}
WINDS = {"unknown": "not sure", "calm": "calm", "breeze": "breeze", "windy": "windy"}


def word(label: str, key: str, words: Mapping[str, str]) -> str:
    """One of a few words, each a target for a thumb; the first unless another is chosen."""
    first = next(iter(words))
    chosen = st.pills(
        label,
        [*words],
        default=first,
        key=key,
        required=True,
        format_func=lambda each: words[each],
        persist_state="session",
    )
    return chosen or first


def pinned(text: str) -> None:
    """A sentence that stays in view while fields are filled in."""
    with st.container(key="on_site_result"):
        parts.lead(text)


def to_mend(faults: Iterable[Fault]) -> str:
    """Which fields keep the question from being answered."""
    return f"Not answered yet. Please mend: {', '.join(dict.fromkeys(fault.field for fault in faults))}."


def show_pinned(answer: Answer) -> None:
    """An answer: its headline stays in view, the rest lies below it."""
    with st.container(key="on_site_result"):
        show_head(answer)
    for block in answer.blocks:
        show_block(block)
