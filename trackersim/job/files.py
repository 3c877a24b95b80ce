"""Job files: TOML in, overrides, the commented starter, and every fault at once."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import replace
from functools import cache
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from trackersim.data import text_of
from trackersim.errors import Fault, InputError
from trackersim.job.checks import cross_faults, weather_file_faults
from trackersim.job.faults import fault_of, toml_fault
from trackersim.job.former_names import current_data, current_key
from trackersim.job.model import Job
from trackersim.job.overrides import apply_override, place_value, value_at
from trackersim.job.plain_files import read_text
from trackersim.job.unit import UNIT_SECTIONS, keep_what_units_lack
from trackersim.job.whole_files import write_whole

if TYPE_CHECKING:
    import tomlkit

MOST_BYTES = 1_000_000  # of a job file
# What a class of module or pump, or a species of tree, fills in where a job names it.
_OF_CLASS = {
    "module_class": ("cells", "vmp", "imp", "voc", "isc", "isc_per_k", "voc_per_k", "power_per_k"),
    "pump_class": ("kind", "curve_flow", "curve_head", "curve_power", "curve_efficiency", "rated_flow", "rated_head"),
    "species": ("leaf", "transmittance_leaf_on", "transmittance_leaf_off"),
    "flip_delay": ("flip_threshold", "flip_dose", "flip_mornings"),
}


def load_job(source: str | Path, overrides: Sequence[str] = ()) -> Job:
    """The job in the TOML file `source`, or the bundled demo for "demo".

    `overrides` are texts like "rack.kind=fixed" or "trees.0.height=20 ft"; they pass the same validation.
    Raises `InputError` with every fault found.
    """
    if not isinstance(source, str | PathLike):
        raise InputError.of("job file", source, "is no path.", 'Give the path of a job file, or "demo".')
    if str(source) == "demo":
        return parse_job(demo_text(), overrides=overrides)
    path = Path(source)
    return parse_job(job_text(path), folder=path.resolve().parent, overrides=overrides)


def job_text(path: Path) -> str:
    """What a job file holds. Raises `InputError` for what is no text, too large or not to be read."""
    return read_text(
        path,
        field="job file",
        value=str(path),
        most=MOST_BYTES,
        large="A job file is a page of text.",
        unread='Give the path of a job file, or "demo"; "trackersim new FILE" writes one to start from.',
        form="text with the encoding UTF-8 (the editor's “Save as” offers it)",
    )


def editable(source: str | Path) -> tomlkit.TOMLDocument:
    """The job file, or the demo for the text "demo", to be edited without losing its comments."""
    import tomlkit  # which a job that is only read can do without
    from tomlkit.exceptions import TOMLKitError

    text = demo_text() if source == "demo" else job_text(Path(source))
    try:
        return tomlkit.parse(text)
    except (TOMLKitError, ValueError, RecursionError):
        raise InputError.of("job file", str(source), "cannot be edited as it is.", "Mend it first.") from None


def parse_job(text: str, *, folder: Path = Path(), overrides: Sequence[str] = ()) -> Job:
    """The job written in `text` (TOML); relative paths in it start at `folder`."""
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # the parser raises the plain kinds for absurd numbers and nesting
        raise InputError([toml_fault(text, error)]) from None
    return job_from_data(data, folder=folder, overrides=overrides)


def job_from_data(data: Mapping[str, Any], *, folder: Path = Path(), overrides: Sequence[str] = ()) -> Job:
    """The job held in nested plain data, as TOML gives it, every [[option]] of it checked as a job of its own."""
    try:
        merged = current_data(deepcopy(dict(data)))
    except RecursionError:
        raise InputError.of("job", "…", "is nested too deeply.", "A job has sections of fields.") from None
    faults = [fault for text in _texts(overrides) for fault in apply_override(merged, text)]
    job, found = _checked(merged, folder)
    faults += found
    if job is not None:
        faults += [fault for number in range(len(job.option)) for fault in _option_faults(job, number)]
    if faults or job is None:
        raise InputError(faults)
    return job


def _texts(overrides: Sequence[str]) -> Sequence[str]:
    """The texts of overrides; one text alone is one override, and not its letters."""
    texts = [overrides] if isinstance(overrides, str) else overrides
    if not isinstance(texts, Sequence) or not all(isinstance(text, str) for text in texts):
        raise InputError.of("override", overrides, "is no list of texts.", 'Write ["rack.kind=fixed"].')
    return texts


def _checked(data: Mapping[str, Any], folder: Path) -> tuple[Job | None, list[Fault]]:
    """The job in `data` and its faults, those of its options' changes aside; None for data that make no job."""
    try:
        job = Job.model_validate(data).in_folder(folder)
    except ValidationError as error:
        faults = _told_once([fault_of(detail, data) for detail in error.errors()])
        faults += weather_file_faults(data.get("weather"), folder)
        return None, faults + _elsewhere(data, folder, faults)
    return job, cross_faults(job)


def _elsewhere(data: Mapping[str, Any], folder: Path, faults: Sequence[Fault]) -> list[Fault]:
    """The contradictions between the sections of `data` without `faults`; the demo's stand in for the others."""
    unsound = {fault.field.split(".")[0] for fault in faults}
    if "unit" in unsound:
        unsound |= set(UNIT_SECTIONS)
    demo = _demo()
    sound = {name: section for name, section in data.items() if name not in unsound}
    try:
        job = Job.model_validate({name: demo[name] for name in unsound if name in demo} | sound).in_folder(folder)
    except ValidationError:
        return []
    return cross_faults(job, unsound)


@cache
def _demo() -> Mapping[str, Any]:
    """The demo's sections as plain data, parsed once for all; nobody may change them."""
    return tomllib.loads(demo_text())


def with_overrides(job: Job, overrides: Mapping[str, Any]) -> Job:
    """A copy of `job` with dotted fields replaced: {"rack.kind": "ideal"}; validated like a file.

    The job's own options are not held against the change: they belong to the job as it was. What nobody gave stays so.
    """
    if not isinstance(overrides, Mapping):
        raise InputError.of("override", overrides, "names no fields with values.", 'Write {"rack.kind": "fixed"}.')
    data = job.model_dump(mode="json", by_alias=True, exclude_none=True, exclude_unset=True)
    keep_what_units_lack(data)
    faults = []
    everywhere = _for_every_unit(overrides, len(job.unit))
    _make_room_for_classes(data, everywhere)
    for key, value in everywhere.items():
        if not place_value(data, current_key(key).split("."), value):
            remedy = "Entries of a list are counted from 0 (trees.0.height)."
            faults.append(Fault(field=key, value=value, reason="names no place in the job.", remedy=remedy))
    changed, found = _checked(data, job.folder)
    if faults or found or changed is None:
        raise InputError([*faults, *found])
    return changed


def option_job(job: Job, number: int) -> Job:
    """The job with its option `number` carried out."""
    return with_overrides(job, job.option[number].set)


def _option_faults(job: Job, number: int) -> list[Fault]:
    """What is wrong with the changes of an option, each fault told at the change that brings it."""
    changes = job.option[number].set
    try:
        option_job(job, number)
    except InputError as error:
        told = {_of_change(fault.field, changes): fault for fault in error.faults}  # once for all units
        return [replace(fault, field=f"option.{number}.set.{key}") for key, fault in told.items()]
    return []


def _of_change(field: str, changes: Mapping[str, Any]) -> str:
    """The key of a change at which a fault of some unit arose."""
    bare = field.split(".", 2)[-1] if field.startswith("unit.") else field
    return next((key for key in changes if current_key(key) == bare), field)


def _for_every_unit(overrides: Mapping[str, Any], units: int) -> dict[str, Any]:
    """The overrides, those of a unit's sections also at every unit: the whole job's are only what units begin with."""
    changed = dict(overrides)
    for key, value in overrides.items():
        if key.split(".")[0] in UNIT_SECTIONS:
            changed |= {f"unit.{number}.{key}": value for number in range(units)}
    return changed


def _make_room_for_classes(data: Any, overrides: Mapping[str, Any]) -> None:
    """Drop from `data` what an override brings that names a class of module or pump, or a species."""
    for key, value in overrides.items():
        place, _, name = key.rpartition(".")
        if value in ("", None) or name not in _OF_CLASS:
            continue
        section = value_at(data, place)
        if isinstance(section, dict):
            make_room_for_class(section, name)


def make_room_for_class(section: dict[str, Any], key: str) -> None:
    """Drop from a plain section what a class ("module_class", "pump_class", "species") brings by itself."""
    for given in _OF_CLASS[key]:
        section.pop(given, None)
    for size in ("module_width", "module_height"):
        section.get("layout", {}).pop(size, None)


def _told_once(faults: list[Fault]) -> list[Fault]:
    """The faults without those of a common section that some unit has as its own."""
    in_units = {(fault.field.split(".", 2)[-1], fault.reason) for fault in faults if fault.field.startswith("unit.")}
    return [fault for fault in faults if (fault.field, fault.reason) not in in_units]


def demo_text() -> str:
    """The bundled demonstration job, an invented site."""
    return text_of("demo.toml")


def starter_text() -> str:
    """The commented job to start from."""
    return text_of("starter.toml")


def write_starter(path: Path) -> None:
    """Write a commented job to start from; refuses to overwrite."""
    if path.exists():
        raise InputError.of("FILE", str(path), "exists already.", "Choose another name; nothing was overwritten.")
    write_whole(path, starter_text().encode())
