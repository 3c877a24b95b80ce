"""A job's fields as pairs of words: what was given, and which fields were left as they come."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from trackersim.job.model import Job
from trackersim.quantity_reading import unit_of, without_unit
from trackersim.quantity_writing import held_unit, trimmed
from trackersim.report.choice_words import per_volume, volume_words
from trackersim.units import System, unit_label

# Ending of a field's name -> the kind in which it is shown; others stay in the field's own unit.
_KINDS = {
    "_m3_s_per_m": "yield",
    "_m3_per_day": "volume_per_day",
    "_m3_s": "flow",
    "_mm2": "wire",
    "_m2": "surface",
    "_kpa": "pressure",
    "_kg": "mass",
    "_m_s": "speed",
    "_m3": "volume",
    "_m": "length",
    "_w": "power",
    "_c": "temperature",
}
_PRICE = "price_of_water"
# Lengths below this are told in inches or millimetres.
_SMALL_M = 0.9
_LONGEST = 240
_SIGNS = {"deg": "°", "hour": "h"}


def input_rows(job: Job, system: System) -> list[tuple[str, str]]:
    """Every field that was typed or differs from its default, as a job file calls it, with its value in words."""
    typed = _typed(job)
    everything = _leaves(job.model_dump(mode="json"), "")
    return [(key, _cut(_value_words(name, value, system))) for key, name, value in everything if key in typed]


def _typed(job: Job) -> set[str]:
    """Keys of the fields that somebody gave, be it with the value that is their default, or that differ from it."""
    dumps = (job.model_dump(mode="json", exclude_unset=True), job.model_dump(mode="json", exclude_defaults=True))
    return {key for dump in dumps for key, _, _ in _leaves(dump, "")}


def default_words(job: Job) -> str:
    """The fields left at their defaults, section by section, in one paragraph; nothing typed is among them."""
    given = _typed(job)
    told = []
    for section, value in job.model_dump(mode="json").items():
        if not isinstance(value, dict):
            continue
        names = [key for key, _, _ in _leaves({section: value}, "") if key not in given]
        if names:
            told.append(f"{section}: {', '.join(key.removeprefix(f'{section}.') for key in names)}")
    return "; ".join(told) + "." if told else "none."


def _leaves(data: Mapping[str, Any], before: str) -> Iterator[tuple[str, str, Any]]:
    """Dotted key as in a job file, the field's own name, and the value; entries of lists are counted from 1."""
    for name, value in data.items():
        key = f"{before}{without_unit(name)}"
        if isinstance(value, dict):
            yield from _leaves(value, f"{key}.")
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            for number, entry in enumerate(value, start=1):
                yield from _leaves(entry, f"{key} {number}.")
        elif value is not None and value != "":
            yield key, name, value


def _value_words(name: str, value: Any, system: System) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return _list_words(name, value, system)
    if not isinstance(value, int | float):
        return str(value)
    if name == _PRICE:
        return f"{per_volume(value, system):.7g} per {volume_words(system)}"
    kind = _kind_of(name, value)
    if kind is not None:
        return f"{trimmed(value, kind, system)} {unit_label(kind, system)}"
    unit = unit_of(name)
    sign = _SIGNS.get(unit, unit)
    return f"{value:.7g}{'' if sign in ('°', '') else ' '}{sign}"


def _list_words(name: str, values: list[Any], system: System) -> str:
    if any(isinstance(value, list) for value in values):
        return "; ".join(" ".join(f"{part:g}" for part in value) for value in values)
    numeric = all(isinstance(value, int | float) for value in values)
    kind = _kind_of(name, max(map(abs, values))) if numeric and values else None
    if kind is None:
        unit = unit_of(name)
        return f"{', '.join(map(_plain, values))} {_SIGNS.get(unit, unit)}".strip()
    told = ", ".join(trimmed(value, kind, system) for value in values)
    return f"{told} {unit_label(kind, system)}"


def _plain(value: Any) -> str:
    return f"{value:.7g}" if isinstance(value, int | float) else str(value)


def _kind_of(name: str, size: float) -> str | None:
    """The kind in which a field is shown; lengths as small as `size` in inches or millimetres."""
    if held_unit(name) == "delta_degC":
        return "difference"
    kind = _KINDS.get(name.removeprefix(without_unit(name)))
    return "bore" if kind == "length" and 0 < abs(size) < _SMALL_M else kind


def _cut(words: str) -> str:
    return words if len(words) <= _LONGEST else f"{words[:_LONGEST]} … ({len(words)} characters; see the job file)"
