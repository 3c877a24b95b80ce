"""The manual within reach: the guide's chapters, read offline."""

from __future__ import annotations

import streamlit as st

from trackersim.guide import chapter_text, chapters
from trackersim.page.state import Desk
from trackersim.page.strip import ViewState


def draw(desk: Desk, view: ViewState) -> None:
    """One chapter, and the list to choose from."""
    titles = chapters()
    name = st.selectbox("Chapter", list(titles), format_func=titles.__getitem__, key="chapter")
    _, _, text = chapter_text(name).partition("\n")  # the title stands in the list
    st.markdown(text)
