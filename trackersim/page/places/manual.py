"""The manual within reach: the guide's chapters, read offline."""

from __future__ import annotations

import re

import streamlit as st

from trackersim.guide import chapter_text, chapters
from trackersim.page import parts
from trackersim.page.state import Desk
from trackersim.page.strip import ViewState

_FENCED = re.compile(r"^```[^\n]*\n(.*?)^```$", re.DOTALL | re.MULTILINE)


def draw(desk: Desk, view: ViewState) -> None:
    """One chapter, and the list to choose from."""
    titles = chapters()
    name = st.selectbox("Chapter", list(titles), format_func=titles.__getitem__, key="chapter")
    _, _, text = chapter_text(name).partition("\n")  # the title stands in the list
    # What is typed stands in one colour and in lines that wrap: coloured words are too pale, and a phone is narrow.
    parts.caption("What stands in grey boxes is typed in a terminal; on this page the places above ask the same.")
    for number, part in enumerate(_FENCED.split(text)):
        if number % 2:
            st.code(part.rstrip("\n"), language=None, wrap_lines=True)
        elif part.strip():
            st.markdown(part)
