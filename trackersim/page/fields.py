"""The job as a form: which fields stand together, which first, and how each is filled in."""

from __future__ import annotations

import types
import typing
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from pydantic.fields import FieldInfo

from trackersim.job.array import module_classes
from trackersim.job.fields import Section
from trackersim.job.model import Job
from trackersim.job.overrides import value_at
from trackersim.job.pump import pump_classes
from trackersim.job.ranges import section_of

Kind = Literal["text", "choice", "switch"]

MOST_ENTRIES = 40  # of a list: no job may have more of anything


@dataclass(frozen=True, kw_only=True)
class Group:
    """What a technician asks together: sections of the job, and the fields that are shown before all others.

    `lists` are those of its sections that may have any number of entries, each with what one of them is called.
    """

    title: str
    sections: tuple[str, ...]
    first: tuple[str, ...]
    lists: tuple[tuple[str, str], ...] = ()


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
        lists=(("wire", "run of wire"),),
    ),
    Group(
        title="Pump and pipe",
        sections=("pump", "pipes"),
        first=("kind", "pump_class", "curve_flow", "curve_head", "curve_power", "head_lost", "length", "bore",
               "nominal", "c_value"),
        lists=(("pipes", "piece of pipe"),),
    ),
    Group(
        title="Water: source and store",
        sections=("source", "store"),
        first=("kind", "lift", "specific_capacity", "max_drawdown", "volume", "inflow", "demand", "capacity"),
    ),
    Group(
        title="Money",
        sections=("money",),
        first=("price_of_water", "currency", "rate", "horizon_years"),
    ),
)  # fmt: skip

# What the form calls fields whose description speaks of words in a job file.
_LABELS = {
    "rack.kind": "how the rack turns",
    "rack.flip_delay": "minutes of sun on the rack until it swings east",
    "rack.watched.on": "day on which that was watched, month and day",
    "rack.watched.sun_from": "when the sun came over trees onto the rack that morning, clock time",
    "rack.watched.air": "air while it waited",
    "rack.watched.wind": "wind at the rack while it waited",
    "rack.watched.sky": "sky while it waited",
    "rack.flip_threshold": "instead of minutes: beam on its canister that just does not turn it, at 10 °C and 2 m/s",
    "rack.flip_dose": "and what it must get beyond that",
    "rack.flip_mornings": "mornings from which that was learned; none: from one",
    "rack.turning": "minutes from stop to stop",
    "rack.lag": "degrees it points east of the sun's place",
    "rack.fixed_tilt": "tilt of a rack that stands still; default the axis's",
    "rack.fixed_azimuth": "true compass direction faced by one that stands still",
    "rack.fixed_rotation": "angle at which it is stuck, west positive",
    "rack.thermal.stuck": "does not move at all by hand or sun: seized or tied",
    "rack.thermal.wind_upset": "wind pushes the rack as well as cooling it",
    "weather.clear_sky": "cloudless days all year, which need no file",
    "weather.file": "weather: an uploaded file's name, or sample:NAME",
    "horizon.points": "hills: bearing and height in degrees, pair by pair, such as 80 4; 100 9; 120 5",
    "horizon.bearing_from": "bearings of the hills are from this north",
    "array.layout.strung_by": "modules of a string follow each other along rows or down columns",
    "wire.side": "before the controller (array) or after it (motor)",
    "wire.name": "name of this run",
    "wire.length": "length of the run, one way",
    "wire.gauge": "gauge of the conductor (AWG)",
    "wire.temperature": "conductor temperature at work",
    "pump.name": "name of the pump",
    "pump.pump_class": "a generic pump instead of a sheet that is lost",
    "array.module_class": "a generic module instead of a label that is gone",
    "pipes.name": "name of this piece",
    "source.inflow": "what runs into the sump in a day",
    "store.capacity": "what the tank or pond holds; none: it is not followed",
    "money.price_of_water": "what water is worth, such as 6 per 1000 gal",
    "wire.current": "dc (two wires) or three-phase (motor side)",
    "wire.material": "metal",
    "pump.kind": "kind of pump",
    "pipes.material": "what it is made of; sets c_value from its age",
    "source.kind": "where the water comes from",
    "source.quality": "how clean the water is",
    "store.kind": "where the water goes",
}
# Names of data files' rows that a field may hold; a list to choose from serves better than a guess.
CLASSES = {"module_class": module_classes, "pump_class": pump_classes}
# Words for choices whose own word says too little.
CHOICE_WORDS = {
    ("rack.kind", "fixed"): "stands still",
    ("rack.kind", "ideal"): "follows the sun at once",
    ("rack.kind", "delayed"): "turns late, as watched with a clock",
    ("rack.kind", "thermal"): "turns by its canisters, by physics",
    ("rack.kind", "logged"): "turns as an instrument logged it (a file)",
    ("pump.kind", "helical"): "helical rotor (positive displacement)",
    ("source.kind", "sump"): "sump: a collecting tank that fills slowly",
}
# Fields that say nothing unless another field has one of these values; they stand among "all others" then.
_ONLY_WITH: tuple[tuple[str, str, tuple[Any, ...]], ...] = (
    ("rack.flip_delay", "rack.kind", ("delayed",)),
    ("rack.turning", "rack.kind", ("delayed",)),
    ("rack.lag", "rack.kind", ("delayed",)),
    ("rack.thermal.", "rack.kind", ("thermal",)),
    ("rack.log", "rack.kind", ("logged",)),
    ("rack.max_rotation", "rack.kind", ("delayed", "thermal", "ideal", "logged")),
    ("source.specific_capacity", "source.kind", ("well",)),
    ("source.max_drawdown", "source.kind", ("well",)),
    ("source.volume", "source.kind", ("sump",)),
    ("source.inflow", "source.kind", ("sump",)),
    ("array.module_class", "array.vmp", (None,)),
    ("pump.pump_class", "pump.curve_flow", (None,)),
)


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One field of the form: `path` in the job's plain data, its label, help and how it is filled in.

    `rule` is its path without the numbers of lists and units: what the page knows of the field stands under it.
    """

    path: str
    rule: str
    name: str
    label: str
    help: str
    kind: Kind
    choices: tuple[str, ...]
    default: str
    first: bool


def entries(group: Group, section: str, data: Mapping[str, Any], within: str = "") -> list[Entry]:
    """The fields of one section, those to show first before the others; lists have a set for each entry.

    `within` is where the section stands: "" for the job's own, "unit.1." for that of a unit.
    """
    kind = section_of(Job.model_fields[section])
    if kind is None:
        return []
    found = value_at(data, within + section)
    listed = section in dict(group.lists)
    numbers = range(len(found)) if listed and isinstance(found, list) else ()
    places = [f"{within}{section}.{n}" for n in numbers] if listed else [within + section]
    made = [entry for place in places for entry in _fields(kind, place, "", group, data)]
    return sorted(made, key=lambda entry: not entry.first)


def without_numbers(path: str) -> str:
    """A path as its field is known by: neither the numbers of lists nor the unit it belongs to.

    >>> without_numbers("unit.1.wire.0.length")
    'wire.length'
    """
    parts = [part for part in path.split(".") if not part.isdigit()]
    return ".".join(parts[1:] if parts[0] == "unit" and len(parts) > 1 else parts)


def _fields(model: type[Section], place: str, inner: str, group: Group, data: Mapping[str, Any]) -> list[Entry]:
    made: list[Entry] = []
    for name, info in model.model_fields.items():
        key = info.alias or name
        nested = section_of(info)
        if nested is not None:
            made += _fields(nested, f"{place}.{key}", f"{inner}{key}.", group, data)
            continue
        kind, choices = _kind(key, info)
        path = f"{place}.{key}"
        rule = without_numbers(path)
        label = _LABELS.get(rule, info.description or key)
        example = f", for example {info.examples[0]}" if info.examples else ""
        made.append(
            Entry(
                path=path,
                rule=rule,
                name=name,
                label=label[0].upper() + label[1:],
                help=f"In the job file: {rule}{example}",
                kind=kind,
                choices=choices,
                default=str(info.default) if info.default in choices else (choices or ("",))[0],
                first=f"{inner}{key}" in group.first and _says_something(path, rule, data),
            )
        )
    return made


def _says_something(path: str, rule: str, data: Mapping[str, Any]) -> bool:
    """Whether a field has any effect with the others as they are."""
    if value_at(data, path) is not None and rule in ("array.module_class", "pump.pump_class"):
        return True
    before = path[: len(path) - len(rule)]
    return all(
        _standing(data, before, other) in allowed
        for begins, other, allowed in _ONLY_WITH
        if rule == begins or (begins.endswith(".") and rule.startswith(begins))
    )


def _standing(data: Mapping[str, Any], before: str, rule: str) -> Any:
    """What a field of a section is, or is by default."""
    found = value_at(data, before + rule)
    if found is not None:
        return found
    section, key = rule.split(".")
    model = section_of(Job.model_fields[section])
    fields = model.model_fields.items() if model else ()
    return next((info.default for name, info in fields if key in (name, info.alias) and not info.is_required()), None)


def _kind(key: str, info: FieldInfo) -> tuple[Kind, tuple[str, ...]]:
    if key in CLASSES:
        return "choice", ("", *CLASSES[key]())
    annotation = info.annotation
    if annotation is bool:
        return "switch", ()
    options = [annotation, *typing.get_args(annotation)] if isinstance(annotation, types.UnionType) else [annotation]
    for option in options:
        if typing.get_origin(option) is Literal:
            return "choice", tuple(str(value) for value in typing.get_args(option))
    return "text", ()
