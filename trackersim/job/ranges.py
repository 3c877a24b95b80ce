"""The range that a field of the job allows, from the field itself."""

from __future__ import annotations

import math
import types
import typing
from collections.abc import Iterable
from typing import Any, NamedTuple

from pydantic.fields import FieldInfo

from trackersim.job.fields import Section
from trackersim.job.former_names import current_key
from trackersim.job.model import Job
from trackersim.job.overrides import place_in_list

# Of an open end, so much of its size is left out.
_JUST_INSIDE = 1e-9


class Range(NamedTuple):
    """Least and largest value that a field takes; infinite where it sets no limit."""

    low: float
    high: float


class Field(NamedTuple):
    """A field of the job: its name with the unit, and its description."""

    name: str
    info: FieldInfo


def field_at(key: str) -> Field | None:
    """The field at a dotted key such as "trees.0.height" or "rack.flip_delay"; None if there is no such field."""
    section: type[Section] | None = Job
    found: Field | None = None
    for part in current_key(key).split("."):
        if place_in_list(part) is not None:
            continue
        if section is None:
            return None
        found = next((Field(n, f) for n, f in section.model_fields.items() if part in (n, f.alias)), None)
        section = section_of(found.info) if found else None
        if found is None:
            return None
    return found


def range_of(key: str) -> Range:
    """The range of the field at `key`; unlimited for fields that set none. Raises `KeyError` for no field."""
    found = field_at(key)
    if found is None:
        raise KeyError(key)
    low, high = -math.inf, math.inf
    for limit in found.info.metadata:
        for end, at_least in (("ge", True), ("gt", True), ("le", False), ("lt", False)):
            value: Any = getattr(limit, end, None)
            if value is None:
                continue
            inside = _JUST_INSIDE * max(abs(value), 1.0) if end in ("gt", "lt") else 0.0
            low, high = (float(value) + inside, high) if at_least else (low, float(value) - inside)
    return Range(low, high)


def clipped(key: str, value: float) -> float:
    """`value` brought into the range of the field at `key`."""
    low, high = range_of(key)
    return min(max(value, low), high)


def section_of(info: FieldInfo) -> type[Section] | None:
    """The section that a field holds, alone, in a list, or perhaps; None for a plain value."""
    return next(
        (kind for kind in _kinds(info.annotation) if isinstance(kind, type) and issubclass(kind, Section)), None
    )


def _kinds(annotation: Any) -> Iterable[Any]:
    yield annotation
    if typing.get_origin(annotation) in (tuple, list, types.UnionType, typing.Union):
        for inner in typing.get_args(annotation):
            yield from _kinds(inner)
