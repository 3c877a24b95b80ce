"""Job files: TOML in, overrides, the commented starter, and every fault at once."""

from __future__ import annotations

import difflib
import os
import tempfile
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from copy import deepcopy
from importlib import resources
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from trackersim.errors import Fault, InputError
from trackersim.job.checks import cross_faults, weather_file_faults
from trackersim.job.model import Job
from trackersim.units import unit_of

_MAX_BYTES = 1_000_000


def load_job(source: str | Path, overrides: Sequence[str] = ()) -> Job:
    """The job in the TOML file `source`, or the bundled demo for "demo".

    `overrides` are texts like "rack.kind=fixed" or "trees.0.height=20 ft"; they pass the same validation.
    Raises `InputError` with every fault found.
    """
    if str(source) == "demo":
        return parse_job(demo_text(), overrides=overrides)
    path = Path(source)
    try:
        if path.stat().st_size > _MAX_BYTES:
            raise InputError.of("job file", str(path), "is larger than 1 MB.", "A job file is a page of text.")
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        reason = error.strerror or "cannot be read"
        remedy = 'Give the path of a job file, or "demo"; "trackersim new FILE" writes one to start from.'
        raise InputError.of("job file", str(path), f"cannot be read ({reason}).", remedy) from None
    except UnicodeDecodeError:
        raise InputError.of("job file", str(path), "is not text in UTF-8.", "Save it as plain text.") from None
    return parse_job(text, folder=path.resolve().parent, overrides=overrides)


def parse_job(text: str, *, folder: Path = Path(), overrides: Sequence[str] = ()) -> Job:
    """The job written in `text` (TOML); relative paths in it start at `folder`."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        remedy = 'Text values need quotes ("70 ft"), lists need brackets, each section its [name].'
        raise InputError.of("job file", _line_of(text, error), f"is not valid TOML: {error}.", remedy) from None
    return job_from_data(data, folder=folder, overrides=overrides)


def job_from_data(data: Mapping[str, Any], *, folder: Path = Path(), overrides: Sequence[str] = ()) -> Job:
    """The job held in nested plain data, as TOML gives it."""
    merged: dict[str, Any] = deepcopy(dict(data))
    faults = [fault for text in overrides for fault in _apply(merged, text)]
    merged.pop("folder", None)
    try:
        job = Job.model_validate({**merged, "folder": folder})
    except ValidationError as error:
        faults += [_fault(detail) for detail in error.errors()]
        raise InputError(faults + weather_file_faults(merged.get("weather"), folder)) from None
    faults += cross_faults(job)
    if faults:
        raise InputError(faults)
    return job


def with_overrides(job: Job, overrides: Mapping[str, Any]) -> Job:
    """A copy of `job` with dotted fields replaced: {"rack.kind": "ideal"}; validated like a file."""
    data = job.model_dump(mode="python", by_alias=True, exclude_none=True)
    data.pop("folder", None)
    for key, value in overrides.items():
        _place(data, key.split("."), value)
    return job_from_data(data, folder=job.folder)


def demo_text() -> str:
    """The bundled demonstration job, an invented site."""
    return resources.files("trackersim.data").joinpath("demo.toml").read_text(encoding="utf-8")


def write_starter(path: Path) -> None:
    """Write a commented job to start from; refuses to overwrite."""
    if path.exists():
        raise InputError.of("FILE", str(path), "exists already.", "Choose another name; nothing was overwritten.")
    write_whole(path, resources.files("trackersim.data").joinpath("starter.toml").read_bytes())


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that it appears whole or not at all."""
    try:
        handle, name = tempfile.mkstemp(dir=path.resolve().parent, prefix=f".{path.name}.")
    except OSError as error:
        reason = f"cannot be written ({error.strerror})."
        raise InputError.of("path", str(path), reason, "Choose a folder that exists and is writable.") from None
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
        Path(name).chmod(0o644)
        Path(name).replace(path)
    except OSError as error:
        Path(name).unlink(missing_ok=True)
        raise InputError.of("path", str(path), f"cannot be written ({error.strerror}).", "Choose another.") from None


# --- overrides ------------------------------------------------------------------------------------------------


def _apply(data: dict[str, Any], text: str) -> list[Fault]:
    key, sign, value = text.partition("=")
    key = key.strip()
    if not sign or not key or "" in key.split("."):
        remedy = "Write SECTION.FIELD=VALUE, such as rack.kind=fixed."
        return [Fault(field="--set", value=text, reason="is not an override.", remedy=remedy)]
    if not _place(data, key.split("."), _toml_value(value.strip())):
        remedy = "Entries of a list are counted from 0 (trees.0.height=20 ft)."
        return [Fault(field=key, value=value, reason="names no place in the job.", remedy=remedy)]
    return []


def _toml_value(text: str) -> Any:
    """`text` as TOML if it is a TOML value, else as plain text: 20, true, [1, 2], 70 ft."""
    try:
        return tomllib.loads(f"value = {text}")["value"]
    except tomllib.TOMLDecodeError:
        return text


def _place(data: Any, keys: Sequence[str], value: Any) -> bool:
    for key in keys[:-1]:
        if isinstance(data, dict):
            data = data.setdefault(key, {})
        else:
            entry = _entry(data, key)
            if entry is None:
                return False
            data = data[entry]
    if isinstance(data, dict):
        data[keys[-1]] = value
        return True
    entry = _entry(data, keys[-1])
    if entry is None or not isinstance(data, list):
        return False
    data[entry] = value
    return True


def _entry(data: Any, key: str) -> int | None:
    if isinstance(data, list | tuple) and key.isdigit() and int(key) < len(data):
        return int(key)
    return None


# --- faults in words ------------------------------------------------------------------------------------------


def _fault(detail: ErrorDetails) -> Fault:
    context = detail.get("ctx", {})
    location = [part for part in detail["loc"] if not (isinstance(part, str) and "[" in part)]
    value = detail["input"]
    if "field" in context:  # a fault between fields of one section names the field to mend
        location.append(str(context["field"]))
        value = value.get(str(context["field"])) if isinstance(value, dict) else None
    field = ".".join(str(part) for part in location) or "job"
    info, unit, siblings = _described(location)
    if detail["type"] == "extra_forbidden":
        return Fault(
            field=field,
            value=detail["input"],
            reason="is not a known field.",
            remedy=_nearest(location, siblings),
        )
    if detail["type"] == "missing":
        return Fault(field=field, value=None, reason="is missing.", remedy=_remedy(location, info))
    return Fault(field=field, value=value, reason=_reason(detail, unit), remedy=_remedy(location, info))


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
        return f"must be {limits[detail['type']]} {limit:g}{f' {unit}' if unit else ''}."
    if detail["type"] in ("value_error", "fault"):
        return str(context.get("error", context.get("reason", detail["msg"])))
    if detail["type"] == "literal_error":
        return f"must be one of {context.get('expected', '')}."
    if detail["type"] in ("model_type", "model_attributes_type", "dict_type"):
        return "must be a section with fields."
    return f"is not accepted ({detail['msg'][:1].lower()}{detail['msg'][1:]})."


def _described(location: Sequence[int | str]) -> tuple[FieldInfo | None, str, list[str]]:
    """The description of the field at `location`, its own unit, and the keys of its section."""
    section: type[BaseModel] | None = Job
    info: FieldInfo | None = None
    unit = ""
    siblings: list[str] = []
    for part in location:
        if isinstance(part, int) or section is None:
            continue
        fields = {field.alias or name: field for name, field in section.model_fields.items()}
        siblings = [key for key in fields if key != "folder"]
        info = fields.get(str(part))
        unit = next((unit_of(name) for name, field in section.model_fields.items() if field is info), "")
        section = _section_of(info) if info else None
    return info, unit, siblings


def _section_of(info: FieldInfo) -> type[BaseModel] | None:
    kinds: Iterable[Any] = (info.annotation, *getattr(info.annotation, "__args__", ()))
    return next((kind for kind in kinds if isinstance(kind, type) and issubclass(kind, BaseModel)), None)


def _remedy(location: Sequence[int | str], info: FieldInfo | None) -> str:
    if info is None or info.description is None:
        section = next((str(part) for part in location if isinstance(part, str)), "")
        return f"Add or mend the section [{section}]; `trackersim new FILE` writes an example." if section else ""
    example = ""
    if info.examples:
        first = info.examples[0]
        example = f", for example {location[-1]} = " + (f'"{first}"' if isinstance(first, str) else f"{first}")
    return f"Expected: {info.description}{example}."


def _nearest(location: Sequence[int | str], siblings: Sequence[str]) -> str:
    near = difflib.get_close_matches(str(location[-1]), siblings, n=1, cutoff=0.5)
    return f'Did you mean "{near[0]}"?' if near else f"Known here: {', '.join(siblings)}."


def _line_of(text: str, error: tomllib.TOMLDecodeError) -> str:
    """The line a TOML error points at, for the message."""
    words = str(error).split("line ")
    if len(words) > 1:
        number = int("".join(ch for ch in words[1].split(",")[0] if ch.isdigit()) or 0)
        lines = text.splitlines()
        if 0 < number <= len(lines):
            return lines[number - 1].strip()
    return ""
