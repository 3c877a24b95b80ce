"""A field's value as text to edit, in the visitor's units, and what is meant by a number typed without one."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from trackersim.quantity_reading import unit_of
from trackersim.quantity_writing import written
from trackersim.report.choice_words import per_volume, volume_words
from trackersim.units import System

_BARE = re.compile(r"[-+−\d.,;/¼½¾⅛⅜⅝⅞\s]+")
_UNIT_BEHIND = re.compile(r"[^\d.,+\-−\s].*$", re.DOTALL)


def shown_text(value: Any, name: str, system: System) -> str:
    """A value of the plain data as text to edit: numbers with their unit, text as it was typed, nothing as nothing.

    What is no value of any field (a job file may hold anything) is shown as it is, to be mended.
    """
    if value is None:
        return ""
    if isinstance(value, bool | str):
        return str(value)
    try:
        if name == "price_of_water" and isinstance(value, int | float):
            return f"{per_volume(float(value), system):.6g} {_price_unit(system)}"
        if isinstance(value, int | float):
            return written(float(value), name, system)
        if isinstance(value, list | tuple):
            return _listed(value, name, system)
    except (TypeError, ValueError, OverflowError):
        pass
    return str(value)


def with_unit(text: str, shown: str, name: str, system: System) -> str:
    """A bare number as it is meant: in the unit in which its field shows numbers.

    `shown` is what stood in the field. Text with a unit, and fields without one, stay as they are.
    """
    bare = text.strip().lstrip("$").strip() if name == "price_of_water" else text.strip()
    if not bare or not _BARE.fullmatch(bare):
        return text
    if name == "price_of_water":
        return f"{bare} {_price_unit(system)}"
    if not unit_of(name):
        return text
    found = _UNIT_BEHIND.search(shown) or _UNIT_BEHIND.search(written(1.0, name, system))
    return f"{bare} {found[0]}" if found else text


def _price_unit(system: System) -> str:
    return f"per {volume_words(system)}"


def _listed(values: Sequence[Any], name: str, system: System) -> str:
    if not values:
        return ""
    if any(isinstance(value, list | tuple) for value in values):
        return "; ".join(" ".join(part if isinstance(part, str) else f"{part:g}" for part in pair) for pair in values)
    texts = [written(float(value), name, system) for value in values]
    words = {text.partition(" ")[2] for text in texts}
    if len(words) == 1:
        return f"{' '.join(text.partition(' ')[0] for text in texts)} {words.pop()}".strip()
    # Small and large lengths of one list must not change unit in the middle.
    return " ".join(f"{value:.6g}" for value in values) + " m"
