"""Pydantic's findings told in the words of a job file: field, value, reason, remedy."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Sequence
from typing import Any

from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from trackersim.errors import Fault
from trackersim.job.fields import Section
from trackersim.job.model import Job
from trackersim.job.ranges import section_of
from trackersim.quantity_reading import UnitError, read_quantity
from trackersim.quantity_writing import held_unit, in_both

# Parts of a location that pydantic adds for its own validators; everything else is a key or a place in a list.
_INNER_PART = re.compile(r"^(function-|tuple\[|nullable|constrained)")

UNKNOWN_FIELD = "is not a known field."
_MOST_KEY = 40  # letters of a key that are held against the known ones: longer than any


def fault_of(detail: ErrorDetails, data: Any) -> Fault:
    """The fault behind one of pydantic's findings about the job in `data`, its value as it was typed."""
    context = detail.get("ctx", {})
    location = [part for part in detail["loc"] if not (isinstance(part, str) and _INNER_PART.match(part))]
    location = _as_written(location, data)
    value = _typed(location, data, detail["input"])
    if "field" in context:  # a fault between fields of one section names the field to mend
        location.append(str(context["field"]))
        value = value.get(str(context["field"])) if isinstance(value, dict) else None
    field = ".".join(str(part) for part in location) or "job"
    info, unit, siblings = _described(location)
    if detail["type"] == "extra_forbidden":
        return Fault(
            field=field,
            value=value,
            reason=UNKNOWN_FIELD,
            remedy=_nearest(location, siblings),
        )
    if detail["type"] == "missing":
        return Fault(field=field, value=None, reason="is missing.", remedy=_remedy(location, info))
    remedy = _percent_meant(detail, value, unit) + _remedy(location, info)
    return Fault(field=field, value=value, reason=_reason(detail, unit), remedy=remedy)


def _percent_meant(detail: ErrorDetails, value: object, unit: str) -> str:
    """A question for a share that is larger than 1: soiling = 3 is meant as 3 %."""
    context = detail.get("ctx", {})
    limit = context.get("le", context.get("lt"))
    try:
        number = read_quantity(value, "")
    except UnitError:
        return ""
    if unit or limit is None or limit > 1 or not 1 <= number <= 100 * limit:
        return ""
    return f"Did you mean {number:g} %? "


def _as_written(location: list[int | str], data: Any) -> list[int | str]:
    """The place without numbers where a single section was written for a list of them ([pipes] for [[pipes]])."""
    kept: list[int | str] = []
    for part in location:
        if isinstance(part, int) and isinstance(data, dict):
            continue
        kept.append(part)
        try:
            data = data[part]
        except (KeyError, IndexError, TypeError):
            data = None
    return kept


def _typed(location: Sequence[int | str], data: Any, converted: Any) -> Any:
    """What stands at `location` of the plain data; `converted` if the place cannot be found."""
    for part in location:
        try:
            data = data[part]
        except (KeyError, IndexError, TypeError):
            return converted
    return data


def _reason(detail: ErrorDetails, unit: str) -> str:
    context = detail.get("ctx", {})
    limits = {
        "greater_than_equal": "at least",
        "greater_than": "more than",
        "less_than_equal": "at most",
        "less_than": "less than",
    }
    if detail["type"] in limits:
        limit = next(iter(context.values()))
        return f"must be {limits[detail['type']]} {in_both(limit, unit)}."
    if detail["type"] in ("value_error", "fault"):
        return str(context.get("error", context.get("reason", detail["msg"])))
    if detail["type"] == "literal_error":
        return f"must be one of {context.get('expected', '')}."
    if detail["type"] in ("model_type", "model_attributes_type", "dict_type"):
        return "must be a section with fields."
    return _TYPES.get(detail["type"].partition("_")[0], "is not accepted here.")


# By the kind of value that was wanted.
_TYPES = {
    "int": "is not a whole number.",
    "bool": "is neither true nor false.",
    "string": "is not accepted: a text of at most 400 letters in quotes is wanted.",
    "tuple": "is not accepted: a list is wanted, and every entry of it whole.",
    "too": "is not accepted: the list is too long or too short.",
}


def _described(location: Sequence[int | str]) -> tuple[FieldInfo | None, str, list[str]]:
    """The description of the field at `location`, its own unit, and the keys of its section."""
    section: type[Section] | None = Job
    info: FieldInfo | None = None
    unit = ""
    siblings: list[str] = []
    for part in location:
        if isinstance(part, int) or section is None:
            continue
        fields = {field.alias or name: field for name, field in section.model_fields.items()}
        siblings = list(fields)
        info = fields.get(str(part))
        unit = next((held_unit(name) for name, field in section.model_fields.items() if field is info), "")
        section = section_of(info) if info else None
    return info, unit, siblings


def _remedy(location: Sequence[int | str], info: FieldInfo | None) -> str:
    if info is None or info.description is None:
        section = next((str(part) for part in location if isinstance(part, str)), "")
        return f"Add or mend the section [{section}]; `trackersim new FILE` writes an example." if section else ""
    example = ""
    if info.examples:
        first = info.examples[0]
        key = next(part for part in reversed(location) if isinstance(part, str))
        example = f", for example {key} = " + (f'"{first}"' if isinstance(first, str) else f"{first}")
    return f"Expected: {info.description}{example}."


def _nearest(location: Sequence[int | str], siblings: Sequence[str]) -> str:
    near = difflib.get_close_matches(str(location[-1])[:_MOST_KEY], siblings, n=1, cutoff=0.5)
    return f'Did you mean "{near[0]}"?' if near else f"Known here: {', '.join(siblings)}."


# The parser's findings, by their beginnings, in words for who has never seen the parser.
_TOML_WORDS = {
    "Expected '=' after": "a name is not followed by =",
    "Invalid value": "what stands behind = is neither a number, true, false, a list nor a text in quotes",
    "Unclosed array": "a list is not closed with ]",
    "Unclosed inline table": "a { is not closed with }",
    "Unterminated string": "a text is not closed with a quote",
    "Expected newline or end of document": "something follows where the line should end; text needs quotes",
    "Expected end of line": "something follows where the line should end; text needs quotes",
    "Cannot overwrite": "a key is given twice",
    "Cannot declare": "a section is given twice",
    "Cannot mutate": "a section is given twice",
    "Expected ']'": "the name of a section is not closed with ]",
    "Illegal character": "a character stands there that no text may hold",
    "Unescaped": "a backslash in a text in quotes must be doubled",
    "Invalid initial character": "a name begins with a character that no name has",
    "Invalid statement": "neither a name with = nor a [section]",
    "Invalid date or datetime": "a date that is none",
}


def _toml_words(found: str) -> str:
    return next((words for begins, words in _TOML_WORDS.items() if found.startswith(begins)), "it cannot be read there")


def toml_fault(text: str, error: ValueError | RecursionError) -> Fault:
    """The fault of text that is no TOML, with the line it stands on if the parser knows it."""
    found = re.search(r"line (\d+)", str(error))
    lines = text.splitlines()
    number = int(found[1]) if found else 0
    line = lines[number - 1].strip() if 0 < number <= len(lines) else ""
    if isinstance(error, tomllib.TOMLDecodeError):
        where = f" at line {number}" if number else ""
        reason = f"is not valid TOML{where}: {_toml_words(str(error))}."
    else:
        reason = "is nested too deeply or holds a number of thousands of digits."
    remedy = 'Text values need quotes ("70 ft"), lists need brackets, each section its [name].'
    if set(line) & set("“”„«»‘’"):  # what word processors make of a quote
        remedy = 'Only straight quotes count: write "70 ft", not “70 ft”.'
    return Fault(field="job file", value=line, reason=reason, remedy=remedy)
