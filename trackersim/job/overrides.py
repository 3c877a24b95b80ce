"""Fields of nested plain data by their paths: read, and overridden (`rack.kind=fixed`, `trees.0.height=20 ft`)."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

from trackersim.errors import Fault
from trackersim.job.former_names import current_key

MOST_LETTERS = 20_000  # of an override: a whole horizon fits
_DEEPEST = 8  # parts of a key: unit.0.array.layout.rows has five
_LONGEST_PLACE = 4  # digits of a place in a list


def apply_override(data: dict[str, Any], text: str) -> list[Fault]:
    """Put the override written in `text` into `data`; the faults that keep it from being put there."""
    if len(text) > MOST_LETTERS:
        remedy = "Write it into the job file."
        return [Fault(field="override", value=text, reason="is too long for an override.", remedy=remedy)]
    key, sign, value = text.partition("=")
    key = key.strip()
    if not sign or not key or "" in key.split("."):
        remedy = "Write SECTION.FIELD=VALUE, such as rack.kind=fixed."
        return [Fault(field="override", value=text, reason="is not an override.", remedy=remedy)]
    if not place_value(data, current_key(key).split("."), _toml_value(value.strip())):
        remedy = "Entries of a list are counted from 0 (trees.0.height=20 ft)."
        return [Fault(field=key, value=value, reason="names no place in the job.", remedy=remedy)]
    return []


def _toml_value(text: str) -> Any:
    """`text` as TOML if it is a TOML value, else as plain text: 20, true, [1, 2], 70 ft."""
    try:
        return tomllib.loads(f"value = {text}")["value"]
    except (ValueError, RecursionError):
        return text


def place_value(data: Any, keys: Sequence[str], value: Any) -> bool:
    """Put `value` at the place `keys` of nested dictionaries and lists; False if there is no such place.

    A list of one entry may be spoken of as the entry itself (pipes.bore), and a section that may be a list, by its
    number (pipes.0.bore).
    """
    if len(keys) > _DEEPEST:
        return False
    for place, key in enumerate(keys[:-1]):
        if isinstance(data, list) and len(data) == 1 and place_in_list(key) is None:
            data = data[0]
        if isinstance(data, dict) and key == "0" and key not in data and place:
            continue
        if isinstance(data, dict):
            data = data.setdefault(key, {})
        elif (entry := _entry(data, key)) is not None:
            data = data[entry]
        else:
            return False
    if isinstance(data, list) and len(data) == 1 and place_in_list(keys[-1]) is None:
        data = data[0]
    if isinstance(data, dict):
        data[keys[-1]] = value
    elif (entry := _entry(data, keys[-1])) is not None:
        data[entry] = value
    else:
        return False
    return True


def value_at(data: Any, path: str) -> Any:
    """What stands at a dotted path of plain data; None if nothing does.

    >>> value_at({"trees": [{"height": "20 ft"}]}, "trees.0.height")
    '20 ft'
    """
    for key in path.split("."):
        if isinstance(data, Mapping):
            data = data.get(key)
        elif (entry := _entry(data, key)) is not None:
            data = data[entry]
        else:
            return None
    return data


def place_in_list(key: str) -> int | None:
    """The place in a list that a part of a path names; None where it is a name.

    >>> place_in_list("3"), place_in_list("bore"), place_in_list("²")
    (3, None, None)
    """
    return int(key) if key.isascii() and key.isdigit() and len(key) <= _LONGEST_PLACE else None


def _entry(data: Any, key: str) -> int | None:
    place = place_in_list(key)
    return place if isinstance(data, list) and place is not None and place < len(data) else None
