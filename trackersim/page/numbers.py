"""Fields for a thumb: numbers bring up a phone's numeric keypad, an empty one stays empty, and all are large enough."""

from __future__ import annotations

import re
from collections.abc import Callable

import streamlit as st

from trackersim.page import parts, runs

# What markup could begin with; a label without any is the name of its field to those who hear it, as it is.
_MARKUP = re.compile(r"[\\`*_\[\]<>~:#|&@!]|\$.*\$", re.DOTALL)
# What the buttons beside a field add or take away; what is typed may lie between. The toolkit's own step is 0.01.
_STEP = 1.0
# Stands for the number of a run where the visitor has said what a field holds.
_BY_HAND = 0
_LARGE = """
<style>
{0} input {{ min-height: 44px; font-size: 1.05rem; }}
{0} [data-testid="stNumberInputContainer"] {{ min-height: 46px; height: auto; }}
{0} [data-testid="stNumberInputContainer"] button {{ min-width: 44px; min-height: 44px; }}
{0} :is(.stDateInput, .stTimeInput, .stSelectbox, .stMultiSelect) [role="group"] {{ min-height: 46px; }}
{0} :is(.stDateInput, .stTimeInput) button {{ min-width: 44px; min-height: 44px; }}
{0} [data-testid="stCheckbox"] label {{ min-height: 44px; align-items: center; }}
{0} :is([data-testid="stButton"], [data-testid="stDownloadButton"]) button {{ min-height: 44px; }}
{0} [data-testid="stButtonGroup"] button {{ min-height: 46px; padding: 0 1rem; font-size: 1rem; }}
</style>
"""


def large_fields(key: str) -> None:
    """Make everything in the container of this key at least 44 pixels high."""
    st.html(_LARGE.format(f".st-key-{key}"))


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
    inside = value is None or ((least is None or value >= least) and (most is None or value <= most))
    _show(key, value, value if inside else None)

    def tell() -> None:
        st.session_state[f"said.{key}"] = (value, _BY_HAND)  # the browser knows what it holds, or that it was emptied
        if took is not None:
            took(st.session_state[key])

    return st.number_input(
        parts.as_text(label) if _MARKUP.search(label) else label,
        None if least is None else float(least),
        None if most is None else float(most),
        None,
        step=_STEP,
        format="%g",
        key=key,
        on_change=tell,
        placeholder=empty,
        persist_state="session" if kept else None,
    )


def _show(key: str, value: float | None, shown: float | None) -> None:
    """Have the field of this key show `shown` whenever `value` has become another.

    It is said again until the browser has heard it: else the field stands empty there, and is reported as emptied with
    the visitor's next click.
    """
    state, said = st.session_state, st.session_state.get(f"said.{key}")
    if key not in state or (said is not None and said[0] != value):
        state[key] = shown
    elif said is None or not (said[1] == _BY_HAND or runs.heard(said[1])):
        state[key] = shown if state[key] is None else state[key]
    else:
        return
    state[f"said.{key}"] = (value, runs.speak())
