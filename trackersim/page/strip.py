"""The one state of the page: units, what-ifs and day. It stands in the address; the job never does."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any, Literal

import streamlit as st

from trackersim.analysis.tree_shading import grown
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.page.state import Desk
from trackersim.simulation.watched import LONGEST_DELAY_MIN, ordinary_delay_min
from trackersim.units import System

TreesShown = Literal["as they are", "none", "in ten years"]

GROWN_YEARS = 10
# What may be changed of the condition of a thermal rack, with the least and the most of each.
CONDITION: Mapping[str, tuple[float, float]] = {
    "charge": (0.0, 1.2),
    "shade_plates": (0.0, 1.0),
    "damper": (0.1, 20.0),
}
_TREE_WORDS: Mapping[str, TreesShown] = {"none": "none", "ten": "in ten years"}


@dataclass(frozen=True, kw_only=True)
class ViewState:
    """What is looked at: units, a day, and the what-ifs; None for what is as in the job.

    `delay_min` are minutes of sun until a rack turns; `charge`, `shade_plates` and `damper` are the condition of a
    thermal rack, as in the job file.
    """

    system: System = "us"
    delay_min: float | None = None
    trees: TreesShown = "as they are"
    day: dt.date | None = None
    charge: float | None = None
    shade_plates: float | None = None
    damper: float | None = None

    @property
    def as_in_job(self) -> bool:
        """Whether nothing is supposed."""
        return self.trees == "as they are" and self.delay_min is None and not self.condition

    @property
    def condition(self) -> dict[str, float]:
        """What is supposed of a thermal rack."""
        return {name: value for name in CONDITION if (value := getattr(self, name)) is not None}


def view_of(address: Mapping[str, str]) -> ViewState:
    """The state that an address tells; what makes no sense in it is as in the job.

    >>> view_of({"delay": "95", "trees": "none", "units": "metric", "day": "tomorrow"})
    ViewState(system='si', delay_min=95.0, trees='none', day=None, charge=None, shade_plates=None, damper=None)
    """
    return ViewState(
        system="si" if address.get("units") == "metric" else "us",
        delay_min=_number(address.get("delay"), 0.0, LONGEST_DELAY_MIN),
        trees=_TREE_WORDS.get(address.get("trees", ""), "as they are"),
        day=_date(address.get("day")),
        **{name: _number(address.get(name), *limits) for name, limits in CONDITION.items()},
    )


def address_of(view: ViewState) -> dict[str, str]:
    """The state as words for the address, without what is as usual."""
    told: dict[str, str] = {}
    if view.system == "si":
        told["units"] = "metric"
    if view.delay_min is not None:
        told["delay"] = f"{view.delay_min:g}"
    if view.trees != "as they are":
        told["trees"] = next(word for word, trees in _TREE_WORDS.items() if trees == view.trees)
    if view.day is not None:
        told["day"] = view.day.isoformat()
    return told | {name: f"{value:g}" for name, value in view.condition.items()}


def _number(text: str | None, least: float, most: float) -> float | None:
    try:
        value = float(text or "")
    except ValueError:
        return None
    return value if math.isfinite(value) and least <= value <= most else None


def _date(text: str | None) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text or "")
    except ValueError:
        return None


def current_view() -> ViewState:
    """The state in the visitor's address."""
    return view_of(st.query_params.to_dict())


def go_to(**state: Any) -> None:
    """Change the state, and with it the address: `go_to(trees="none", day=None)`."""
    st.query_params.from_dict(address_of(moved(current_view(), state)))


def moved(view: ViewState, changes: Mapping[str, Any]) -> ViewState:
    """The state with some fields changed."""
    return ViewState(**({field.name: getattr(view, field.name) for field in fields(view)} | dict(changes)))


def shown_job(desk: Desk, view: ViewState) -> Job:
    """The last job without a fault, with what is supposed."""
    return supposed(desk.good, view)


def supposed(job: Job, view: ViewState) -> Job:
    """The job with the what-ifs of a state; those that it cannot have are left out."""
    changes: dict[str, Any] = {}
    if job.rack.kind == "thermal":
        changes |= {f"rack.thermal.{name}": value for name, value in view.condition.items()}
    elif view.delay_min is not None and (job.rack.kind != "delayed" or view.delay_min != own_delay_min(job)):
        changes |= {"rack.kind": "delayed", "rack.flip_delay": view.delay_min}
    if view.trees == "in ten years" and job.trees:
        job = grown(job, GROWN_YEARS)
    if view.trees == "none" and job.trees:
        changes["trees"] = []
    return with_overrides(job, changes) if changes else job


def own_delay_min(job: Job) -> float:
    """Minutes of sun that the job's own rack waits, on the morning that was watched or on an ordinary one."""
    unit = job.units[0]
    if unit.rack.flip_threshold_w_m2 is None:
        return unit.rack.flip_delay_min
    return float(round(ordinary_delay_min(unit)))
