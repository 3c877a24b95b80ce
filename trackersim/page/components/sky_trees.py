"""The sky with the trees in it, to be moved by hand: a tree's top is dragged for its height, its foot for its bearing.

Mouse, finger and arrow keys do the same. It runs in the visitor's browser and asks nobody; what a job says reaches it
as text only. Python is told once, when a tree is let go of or the keys have rested, and gives back what the job says.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import streamlit as st

from trackersim.page.browser import text_of

HTML, CSS = text_of("sky_trees.html"), text_of("sky_trees.css")
JS = text_of("free_place.js") + text_of("sky_trees.js")
_mounted = st.components.v2.component("trackersim_sky_trees", html=HTML, css=CSS, js=JS)
_MOST_M = 120.0  # as high as a tree of a job may be


@dataclass(frozen=True, kw_only=True)
class TreeMove:
    """A tree that was taken in hand: its place in the job, and where it was left; None where it was not moved.

    `bearing_deg` is true, 0 … 360.
    """

    number: int
    bearing_deg: float | None
    height_m: float | None


def sky_trees(data: Mapping[str, Any], took: Callable[[TreeMove], None], *, key: str) -> None:
    """Put the sky on the page; `took` is told of every tree that was moved."""

    def moved() -> None:
        found = moved_of(st.session_state[key].get("moved"))
        if found is not None:
            took(found)

    _mounted(key=key, data=dict(data), on_moved_change=moved)


def moved_of(told: Any) -> TreeMove | None:
    """What the browser tells, which may be anything; None where it is no move."""
    if not isinstance(told, Mapping):
        return None
    number, bearing, height = (told.get(name) for name in ("number", "bearing_deg", "height_m"))
    if not isinstance(number, int) or isinstance(number, bool) or number < 0:
        return None
    if bearing is None or height is None:
        return TreeMove(number=number, bearing_deg=None, height_m=None)
    if not all(isinstance(each, int | float) and not isinstance(each, bool) for each in (bearing, height)):
        return None
    if not (-360 <= bearing <= 720 and 0 < height <= _MOST_M):
        return None
    return TreeMove(number=number, bearing_deg=float(bearing) % 360, height_m=float(height))
