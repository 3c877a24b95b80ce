"""Prices as they stand in a job's plain data: what a typed cost does to its options."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from typing import Any, Literal

from trackersim.analysis.alternatives import Choice
from trackersim.job.overrides import value_at

CostName = Literal["cost", "cost_per_year", "life_years"]
# An option of the job that says nothing but these costs nothing, and is taken away.
_SAYS_NOTHING: Mapping[str, Any] = {"name": "", "set": {}, "cost_per_year": 0.0}


def cost_of(data: Mapping[str, Any], choice: Choice, name: CostName) -> float | None:
    """What the plain data say that a choice costs; None if they do not, or say it in words that are no number."""
    entry = _entry(data, choice)
    found = None if entry is None else value_at(data, f"option.{entry}.{name}")
    return float(found) if isinstance(found, int | float) and not isinstance(found, bool) else None


def options_with_cost(
    data: Mapping[str, Any], choice: Choice, name: CostName, value: float | None
) -> list[dict[str, Any]]:
    """The options of the plain data with a cost of `choice`, or without it (None).

    A ready-made option that has none of its own yet is added, and goes again with its last figure.
    """
    options = [dict(each) for each in deepcopy(_listed(data))]
    entry = _entry(data, choice)
    if entry is None:
        if value is None or not choice.ready:
            return options
        return [*options, {"ready": choice.ready, name: value}]
    options[entry].pop(name, None)
    if value is not None:
        options[entry][name] = value
    elif choice.ready and all(key == "ready" or _SAYS_NOTHING.get(key) == each for key, each in options[entry].items()):
        del options[entry]
    return options


def _listed(data: Mapping[str, Any]) -> list[dict[str, Any]]:
    found = data.get("option")
    return found if isinstance(found, list) and all(isinstance(each, dict) for each in found) else []


def _entry(data: Mapping[str, Any], choice: Choice) -> int | None:
    """The place of the option that gives a choice its cost; the data may have been edited since it was read."""
    options = _listed(data)
    if choice.ready:
        return next((place for place, each in enumerate(options) if each.get("ready") == choice.ready), None)
    place = choice.option
    known = place is not None and place < len(options) and options[place].get("name") == choice.name
    return place if known else None
