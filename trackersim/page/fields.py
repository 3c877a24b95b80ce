"""The job as a form: which fields stand together, how each is shown, and what a change does to the job's plain data."""

from __future__ import annotations

import types
import typing
from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from typing import Any, Literal

from pydantic.fields import FieldInfo

from trackersim.job.fields import Section
from trackersim.job.model import Job
from trackersim.job.overrides import place_value
from trackersim.units import System, written

Kind = Literal["text", "choice", "switch"]


@dataclass(frozen=True, kw_only=True)
class Group:
    """What a technician asks together: sections of the job, and the fields that are shown before all others."""

    title: str
    sections: tuple[str, ...]
    first: tuple[str, ...]


GROUPS: tuple[Group, ...] = (
    Group(
        title="Where",
        sections=("site", "weather", "horizon"),
        first=("name", "latitude", "longitude", "elevation", "timezone", "file", "clear_sky"),
    ),
    Group(
        title="Rack",
        sections=("rack",),
        first=("kind", "axis_tilt", "max_rotation", "height", "flip_delay", "turning", "lag", "thermal.charge",
               "thermal.shade_plates", "thermal.damper", "thermal.pivot_friction_nm"),
    ),
    Group(
        title="Modules",
        sections=("array",),
        first=("in_series", "in_parallel", "module_class", "vmp", "imp", "voc", "isc", "cells", "age_years",
               "layout.rows", "layout.columns", "layout.strung_by"),
    ),
    Group(
        title="Wire and controller",
        sections=("wire", "controller"),
        first=("length", "gauge", "side", "rated", "start", "max_input", "min_input", "motor_voltage"),
    ),
    Group(
        title="Pump and pipe",
        sections=("pump", "pipes"),
        first=("kind", "pump_class", "curve_flow", "curve_head", "curve_power", "head_lost", "length", "bore",
               "nominal", "c_value"),
    ),
    Group(
        title="Water: source and store",
        sections=("source", "store"),
        first=("kind", "lift", "specific_capacity", "max_drawdown", "volume", "inflow", "demand", "capacity"),
    ),
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One field of the form: `path` in the job's plain data, its label, example and how it is filled in."""

    path: str
    name: str
    label: str
    example: str
    kind: Kind
    choices: tuple[str, ...]
    first: bool


def entries(group: Group, section: str, data: Mapping[str, Any]) -> list[Entry]:
    """The fields of one section, those of `group.first` first; lists (wire, pipes) have a set for each entry."""
    info = next(field for name, field in Job.model_fields.items() if name == section)
    kind = section_of(info)
    if kind is None:
        return []
    found = data.get(section)
    places = [f"{section}.{n}" for n in range(len(found))] if isinstance(found, list) else [section]
    made = [entry for place in places for entry in _fields(kind, place, "", group)]
    return sorted(made, key=lambda entry: not entry.first)


def section_of(info: FieldInfo) -> type[Section] | None:
    """The section that a field of a model holds, or holds a list of; None for a plain value."""
    kinds: list[Any] = [info.annotation]
    while kinds:
        kind = kinds.pop()
        if isinstance(kind, type) and issubclass(kind, Section):
            return kind
        kinds += typing.get_args(kind)
    return None


def _fields(model: type[Section], place: str, inner: str, group: Group) -> list[Entry]:
    made: list[Entry] = []
    for name, info in model.model_fields.items():
        key = info.alias or name
        nested = section_of(info)
        if nested is not None:
            made += _fields(nested, f"{place}.{key}", f"{inner}{key}.", group)
            continue
        kind, choices = _kind(info)
        example = info.examples[0] if info.examples else ""
        made.append(
            Entry(
                path=f"{place}.{key}",
                name=name,
                label=info.description or key,
                example=f"{key}: for example {example}" if example != "" else key,
                kind=kind,
                choices=choices,
                first=f"{inner}{key}" in group.first,
            )
        )
    return made


def _kind(info: FieldInfo) -> tuple[Kind, tuple[str, ...]]:
    annotation = info.annotation
    if annotation is bool:
        return "switch", ()
    options = [annotation, *typing.get_args(annotation)] if isinstance(annotation, types.UnionType) else [annotation]
    for option in options:
        if typing.get_origin(option) is Literal:
            return "choice", tuple(str(value) for value in typing.get_args(option))
    return "text", ()


def value_at(data: Any, path: str) -> Any:
    """What stands at a dotted path of plain data; None if nothing does."""
    for part in path.split("."):
        if isinstance(data, Mapping):
            data = data.get(part)
        elif isinstance(data, Sequence) and not isinstance(data, str) and part.isdigit() and int(part) < len(data):
            data = data[int(part)]
        else:
            return None
    return data


def shown_text(value: Any, name: str, system: System) -> str:
    """A value of the plain data as text to edit: numbers with their unit, text as it was typed, nothing as nothing."""
    if value is None:
        return ""
    if isinstance(value, bool | str):
        return str(value)
    if isinstance(value, int | float):
        return written(float(value), name, system)
    if isinstance(value, list | tuple):
        return _listed(value, name, system)
    return str(value)


def _listed(values: Sequence[Any], name: str, system: System) -> str:
    if not values:
        return ""
    if any(isinstance(value, list | tuple) for value in values):
        return "; ".join(" ".join(f"{number:g}" for number in pair) for pair in values)
    texts = [written(float(value), name, system) for value in values]
    words = {text.partition(" ")[2] for text in texts}
    if len(words) == 1:
        return f"{' '.join(text.partition(' ')[0] for text in texts)} {words.pop()}".strip()
    # Small and large lengths of one list must not change unit in the middle.
    return " ".join(f"{value:.6g}" for value in values) + " m"


def changed(data: Mapping[str, Any], path: str, text: str) -> dict[str, Any]:
    """The plain data with `text` at `path`; empty text takes the field out, so that its default holds."""
    made = deepcopy(dict(data))
    keys = path.split(".")
    if text.strip():
        place_value(made, keys, _typed(path, text.strip()))
        return made
    holder = value_at(made, ".".join(keys[:-1]))
    if isinstance(holder, dict):
        holder.pop(keys[-1], None)
    return made


def _typed(path: str, text: str) -> Any:
    """Text as TOML would hold it: switches, pairs of the horizon, everything else as it was typed."""
    if text in ("True", "False"):
        return text == "True"
    if path == "horizon.points":
        pairs = [part.split() for part in text.split(";") if part.strip()]
        return [[number.strip(",") for number in pair] for pair in pairs]
    return text
