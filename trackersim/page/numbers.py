"""Number fields: a phone shows its numeric keypad for them, and an empty one stays empty."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from trackersim.page import parts


def number_field(
    label: str,
    key: str,
    value: float | None,
    *,
    least: float | None = None,
    most: float | None = None,
    took: Callable[[float | None], None] | None = None,
    empty: str = "",
    kept: bool = False,
) -> float | None:
    """A field for one number; None while it is empty. `took` is told what is typed, `empty` stands where nothing is.

    It shows `value` at first and whenever that becomes another: as Streamlit's default it would also come back whenever
    the field is emptied. `kept`: what is typed is still there when the visitor comes back from another place.
    """
    given = f"given.{key}"
    if key not in st.session_state or st.session_state.get(given, value) != value:
        inside = value is None or ((least is None or value >= least) and (most is None or value <= most))
        st.session_state[key] = value if inside else None
    st.session_state[given] = value

    def tell() -> None:
        if took is not None:
            took(st.session_state[key])

    return st.number_input(
        parts.as_text(label),
        None if least is None else float(least),
        None if most is None else float(most),
        None,
        format="%g",
        key=key,
        on_change=tell,
        placeholder=empty,
        persist_state="session" if kept else None,
    )
