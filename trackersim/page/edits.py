"""What a change on the page does to the job's plain data."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from typing import Any

from trackersim.job.files import make_room_for_class
from trackersim.job.overrides import place_value, value_at
from trackersim.page.fields import CLASSES

_MOST_HORIZON_LETTERS = 20_000  # 720 pairs, as many as a job may have, and room for spaces


def changed(data: Mapping[str, Any], path: str, value: Any) -> dict[str, Any]:
    """The plain data with `value` at `path`; empty text takes the field out, so that its default holds."""
    made = deepcopy(dict(data))
    keys = path.split(".")
    if not isinstance(value, str) or value.strip():
        typed = _typed(path, value.strip()) if isinstance(value, str) else value
        if not place_value(made, keys, typed):
            # Something that is no section stands in the way: it makes room for one.
            place_value(made, keys[:-1], {keys[-1]: typed})
        return made
    holder = value_at(made, ".".join(keys[:-1])) if keys[:-1] else made
    if isinstance(holder, dict):
        holder.pop(keys[-1], None)
    return made


def _typed(path: str, text: str) -> Any:
    """Text as TOML would hold it: switches, pairs of the horizon, everything else as it was typed."""
    if text in ("True", "False"):
        return text == "True"
    if path == "horizon.points" and len(text) <= _MOST_HORIZON_LETTERS:
        pairs = [part.split() for part in text.split(";") if part.strip()]
        return [[number.strip(",") for number in pair] for pair in pairs]
    return text


def with_partners(data: Mapping[str, Any], path: str, text: str) -> dict[str, Any]:
    """The data after a choice that leaves no room for another: a class of pump or module brings its own sheet or label,
    cloudless days need no weather file, and a file no cloudless days."""
    made = deepcopy(dict(data))
    section, _, key = path.rpartition(".")
    holder = value_at(made, section)
    if not isinstance(holder, dict):
        return made
    if key in CLASSES and text:
        make_room_for_class(holder, key)
    if path == "weather.clear_sky":
        if text == "True":
            holder.pop("file", None)
        else:
            holder["file"] = "sample:typical-year"
    if path == "weather.file" and text and holder.get("clear_sky"):
        del holder["clear_sky"]
    return made


def with_entry(data: Mapping[str, Any], path: str) -> dict[str, Any]:
    """The plain data with one more entry in the list at `path`: a copy of its last, to be changed, or an empty one."""
    made = deepcopy(dict(data))
    found = value_at(made, path) or []
    place_value(made, path.split("."), [*found, deepcopy(found[-1]) if found else {}])
    return made


def without_entry(data: Mapping[str, Any], path: str) -> dict[str, Any]:
    """The plain data without the last entry of the list at `path`."""
    made = deepcopy(dict(data))
    place_value(made, path.split("."), (value_at(made, path) or [])[:-1])
    return made
