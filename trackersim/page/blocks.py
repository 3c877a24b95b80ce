"""An answer on the page: dangers, the headline, then the blocks in their order. Text of a job is never markup."""

from __future__ import annotations

import streamlit as st

from trackersim.page import parts
from trackersim.page.charts import show_charts
from trackersim.report.blocks import Answer, Block, Caution, Heading, Listing, Note, Picture, Sentence, Table


def show_answer(answer: Answer) -> None:
    """Draw an answer where the page stands."""
    show_head(answer)
    for block in answer.blocks:
        show_block(block)


def show_head(answer: Answer) -> None:
    """Draw its dangers and its headline."""
    for danger in answer.dangers:
        parts.danger(danger.text)
    parts.lead(answer.headline)


def show_block(block: Block) -> None:
    """Draw one block."""
    if isinstance(block, Heading):
        st.subheader(parts.as_text(block.text))
    elif isinstance(block, Sentence | Note):
        parts.lines([block.text])
    elif isinstance(block, Listing):
        parts.lines(f"{n}. {line}" if block.numbered else f"• {line}" for n, line in enumerate(block.lines, start=1))
    elif isinstance(block, Table):
        if block.title:
            parts.caption(block.title)
        st.table(
            [dict(zip(map(parts.as_text, block.header), map(parts.as_text, row), strict=True)) for row in block.rows],
            hide_index=True,
        )
    elif isinstance(block, Picture):
        if block.charts is None:
            parts.picture(block.draw(), block.alt)
        else:
            show_charts(block.charts(), block.alt)
    elif isinstance(block, Caution):
        st.warning(parts.as_text(block.text)) if block.level == "safety" else st.text(block.text)
