"""The few things the page is drawn with: words, pictures, tables, a progress bar. Text of a job is never markup."""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Iterable

import streamlit as st
from matplotlib.figure import Figure

from trackersim.errors import Fault
from trackersim.job.model import Job
from trackersim.job.overrides import value_at
from trackersim.page.browser import text_of
from trackersim.page.edits import changed
from trackersim.page.state import Desk, replace
from trackersim.page.work import Bar
from trackersim.report import safety

MOST_FAULTS = 20
_MARKUP = re.compile(r"([\\`*_\[\]<>$~:#|&.@!])")


def style() -> None:
    """Put the page's look in place."""
    st.html(f"<style>{text_of('page.css')}</style>")


def lead(text: str) -> None:
    """The sentence everything else on the page explains."""
    st.html(f'<p class="lead">{html.escape(text)}</p>')


def danger(text: str) -> None:
    """What may hurt somebody, before anything else."""
    st.error("Danger")
    st.text(text)


def bar() -> Bar:
    """A progress bar that goes away when the work is done."""
    place = st.empty()

    def tell(text: str, share: float) -> None:
        if share >= 1:
            place.empty()
        else:
            place.progress(min(max(share, 0.0), 1.0), text=text)

    return tell


def line() -> Callable[[str], None]:
    """A line of small words that can be changed; none for ""."""
    place = st.empty()

    def tell(words: str) -> None:
        if words:
            place.caption(as_text(words))
        else:
            place.empty()

    return tell


def picture(figure: Figure, alt: str) -> None:
    """A figure with the sentence that stands for it to those who cannot see it."""
    st.pyplot(figure, alt=alt)


def as_text(words: str) -> str:
    """Words for a place that reads markup, so that they are seen as they are: names in a job may hold anything."""
    return _MARKUP.sub(r"\\\1", words)


def caption(words: str) -> None:
    """A small line below or above something."""
    st.caption(as_text(words))


def lines(sentences: Iterable[str]) -> None:
    """Sentences, one below the other; empty ones are left out."""
    for sentence in sentences:
        if sentence:
            st.text(sentence)


def faults(found: Iterable[Fault]) -> None:
    """What is wrong with the input, one line each."""
    told = list(found)
    for fault in told[:MOST_FAULTS]:
        st.text(f"⚠ {fault}")
    if len(told) > MOST_FAULTS:
        st.text(f"⚠ and {len(told) - MOST_FAULTS} more")


def leave_out(desk: Desk, fault: Fault) -> None:
    """A button for what has no field of its own, such as a word no job knows: it is left out of the job."""
    if value_at(desk.data, fault.field) is not None:
        st.button(
            f"Leave out {as_text(fault.field)}",
            key=f"leave.{fault.field}.{desk.version}",
            on_click=lambda: replace(desk, changed(desk.data, fault.field, "")),
        )


def cautions(job: Job) -> None:
    """What may hurt somebody on the job's site."""
    st.warning("\n".join(f"- {line}" for line in safety.cautions(job)))
