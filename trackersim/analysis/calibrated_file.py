"""Write what was learned into a job file, as a copy of the old one with its comments."""

from __future__ import annotations

from collections.abc import MutableMapping
from pathlib import Path
from typing import Any

import tomlkit

from trackersim.analysis.calibration import Learned, Learning
from trackersim.errors import InputError
from trackersim.job.files import editable, parse_job
from trackersim.job.former_names import FORMER_KEYS
from trackersim.job.overrides import place_in_list
from trackersim.job.ranges import field_at
from trackersim.job.whole_files import write_whole
from trackersim.quantity_writing import field_shown, written
from trackersim.units import System


def write_learned(source: str, target: Path, learning: Learning, system: System) -> None:
    """Write the job file `source` (or the demo) with the fields learned, their spread as comments, to `target`.

    A file that exists is not overwritten. Raises `InputError` and writes nothing if that or the new text is no use.
    """
    check_new(target)
    document = editable(source)
    for field in _whole(learning):
        _put(document, field, system)
    if "rack.flip_delay" in {field.key for field in learning.fitted}:
        for name in ("flip_threshold", "flip_dose"):  # in whose presence the delay says nothing
            document["rack"].pop(name, None)
    for key, count in learning.mornings.items():
        place, last = _place(document, key)
        place[last] = count
        place[last].comment("from so many mornings")
    _same_weather(document, learning, target)
    text = tomlkit.dumps(document)
    parse_job(text, folder=target.resolve().parent)
    write_whole(target, text.encode(), field="out")


def check_new(target: Path) -> None:
    """`InputError` if `target` exists: a job file is never overwritten."""
    if target.exists():
        raise InputError.of("out", str(target), "exists already.", "Choose another name; nothing was overwritten.")


def _whole(learning: Learning) -> tuple[Learned, ...]:
    """The fields to write: of threshold and dose both, since neither says anything alone."""
    pair, fitted = ("rack.flip_threshold", "rack.flip_dose"), learning.fitted
    missing = [key for key in pair if key not in {field.key for field in fitted}]
    if len(missing) != 1:
        return fitted
    rack = learning.learned_job.units[0].rack
    value = rack.flip_threshold_w_m2 if missing[0] == pair[0] else rack.flip_dose_kj_m2
    assert value is not None
    return (*fitted, Learned(key=missing[0], was=value, value=value, low=value, high=value, held="as it was"))


def _place(document: MutableMapping[str, Any], key: str) -> tuple[Any, str]:
    """The table in which a dotted key stands, made if it is not there, and the key's last part."""
    *sections, last = key.split(".")
    place: Any = document
    for part in sections:
        entry = place_in_list(part)
        if isinstance(place, list):
            place = place[entry or 0]
            if entry is not None:
                continue
        elif entry is not None:
            continue  # a single section that may be a list
        if part not in place:
            place[part] = tomlkit.table()
        place = place[part]
    return place[0] if isinstance(place, list) else place, last


def _put(document: MutableMapping[str, Any], field: Learned, system: System) -> None:
    place, last = _place(document, field.key)
    found = field_at(field.key)
    assert found is not None
    names = (last, found.info.alias, found.name, FORMER_KEYS.get(found.name, last))
    key = next((key for key in names if key in place), last)
    said = place[key].trivia.comment.lstrip("# ") if key in place else ""
    place[key] = _value(field.value, found.name, system)
    place[key].comment(comment_of(field, found.name, system) + (f"; {said}" if said else ""))


def _value(value: float, name: str, system: System) -> Any:
    text = written(value, name, system)
    try:
        return tomlkit.item(float(text))
    except ValueError:
        return tomlkit.item(text)


def comment_of(field: Learned, name: str, system: System) -> str:
    """The spread in words: "learned: 90 % between 57.1 min and 63 min, was 45 min"; of what was held, that it is
    not learned."""
    shown = (field_shown(value, name, system) for value in (field.low, field.high, field.was))
    low, high, was = (f"{number:.4g}{unit}" for number, unit in shown)
    return f"not learned: {field.held}" if field.held else f"learned: 90 % between {low} and {high}, was {was}"


def _same_weather(document: MutableMapping[str, Any], learning: Learning, target: Path) -> None:
    """A weather file named from the old file's folder is named whole where the new file is in another."""
    folder, weather = learning.job.folder.resolve(), document.get("weather", {})
    name = weather.get("file", "")
    path = folder / name if name else None
    if path is None or name.startswith(("sample:", "~", "/")) or folder == target.resolve().parent:
        return
    if path.is_file():
        weather["file"] = str(path)
