"""The strip that stays in view in every place: what is supposed, in which units, and what it does to the water."""

from __future__ import annotations

import datetime as dt
from typing import Any

import streamlit as st

from trackersim.analysis.first_look import DaysOf
from trackersim.page import work
from trackersim.page.ahead import Dial, dial_of, trees_of
from trackersim.page.browser import text_of
from trackersim.page.figures_shown import ahead_shown, steps_in
from trackersim.page.state import Desk, replace
from trackersim.page.strip import CONDITION, ViewState, current_view, go_to, moved, shown_job, view_of

_KEY = "strip"
_strip = st.components.v2.component(
    "trackersim_strip",
    html=text_of("strip.html"),
    css=text_of("strip.css"),
    js=text_of("hub.js") + text_of("strip.js"),
)
_table = st.components.v2.component("trackersim_table", js=text_of("hub.js") + text_of("table.js"))
# How long the browser waits until it asks for more of a table.
_MORE_AFTER_MS = 1500


def draw_strip(desk: Desk, view: ViewState, now: DaysOf, stands: DaysOf, *, day: dt.date | None) -> None:
    """Draw the strip: `now` is what is looked at, `stands` the job as it stands.

    `day` is the one looked at, None in places that have none.
    """
    steps = steps_in(view.system)
    dial = dial_of(desk.good)
    _strip(
        key=_KEY,
        data={
            "sent": _sent().get("sent", 0),
            "dial": dial and _dial_shown(dial, view),
            "dial_decimals": 0 if dial and dial.step >= 1 else 2,
            "trees": [[word, word] for word in trees_of(desk.good)],
            "trees_now": view.trees if view.trees in trees_of(desk.good) else "as they are",
            "first": now.first_day.isoformat(),
            "last": now.last_day.isoformat(),
            "day": None if day is None else day.isoformat(),
            "system": view.system,
            "supposed": not view.as_in_job,
            "now": round(now.m3_per_day / steps.m3),
            "stands": round(stands.m3_per_day / steps.m3),
            "decimals": steps.decimals,
            "unit": steps.unit,
            "table": work.water_key_of(_on_the_dial(desk, view)),
        },
        on_view_change=lambda: _take_view(desk),
        on_act_change=lambda: _act(desk),
    )


def _dial_shown(dial: Dial, view: ViewState) -> dict[str, Any]:
    value = getattr(view, dial.name)
    return {
        "label": dial.label,
        "unit": dial.unit,
        "least": dial.points[0],
        "most": dial.points[-1],
        "step": dial.step,
        "value": dial.own if value is None else value,
    }


def _sent() -> dict[str, Any]:
    return dict((st.session_state.get(_KEY) or {}).get("view") or {})


def _take_view(desk: Desk) -> None:
    """What the visitor moved goes into the address, read as warily as an address."""
    took, dial = _sent(), dial_of(desk.good)
    words = {"units": "metric" if took.get("units") == "si" else "us", "day": str(took.get("day") or "")}
    told = view_of(words)
    changes: dict[str, Any] = {"system": told.system}
    if took.get("day") != took.get("day_given"):
        changes["day"] = told.day
    if took.get("trees") in trees_of(desk.good):
        changes["trees"] = took["trees"]
    value = took.get("dial")
    if dial is not None and isinstance(value, int | float) and dial.points[0] <= value <= dial.points[-1]:
        changes[dial.name] = None if value == dial.own else float(value)
    go_to(**changes)


def _act(desk: Desk) -> None:
    act = (st.session_state.get(_KEY) or {}).get("act")
    if act == "put":
        put_into_job(desk, current_view())
    if act in ("put", "back"):
        as_in_job()


def put_into_job(desk: Desk, view: ViewState) -> None:
    """What is supposed becomes the job."""
    replace(desk, shown_job(desk, view).plain())


def as_in_job() -> None:
    """Nothing is supposed any more; units and day stay."""
    go_to(delay_min=None, trees="as they are", **dict.fromkeys(CONDITION))


def _on_the_dial(desk: Desk, view: ViewState) -> Any:
    """The job whose table holds what is looked at: with all that is supposed but the dial and the trees."""
    dial = dial_of(desk.good)
    rest = {name: value for name, value in view.condition.items() if dial is None or name != dial.name}
    return shown_job(desk, moved(ViewState(), rest))


def draw_table(desk: Desk, view: ViewState) -> None:
    """Hand the browser what is worked out ahead; while that is not all, it asks `table_address` for more by itself."""
    job = _on_the_dial(desk, view)
    key = work.water_key_of(job)
    _table(
        key="table",
        data={
            "address": f"/ahead/{key}?units={view.system}",
            "after_ms": _MORE_AFTER_MS,
            **ahead_shown(key, work.table_of(job), view.system),
        },
    )
