"""The job: one immutable description of everything the technician knows about the site."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

from pydantic import Field, PrivateAttr, model_validator

from trackersim.job.array import Array
from trackersim.job.backup import BackupPower
from trackersim.job.economics import Money, Option
from trackersim.job.electrics import Controller, Wires
from trackersim.job.fields import Section
from trackersim.job.former_names import FORMER_KEYS, LATER_KEYS
from trackersim.job.pipework import Pipe, Pipes
from trackersim.job.place import Horizon, Site, Tree, WeatherChoice
from trackersim.job.pump import Pump
from trackersim.job.rack import Rack
from trackersim.job.unit import UNIT_SECTIONS, Unit, with_common_sections
from trackersim.job.water import Main, Source, Store


class Job(Section):
    """A valid job. Build it with `load_job` or `parse_job`, which report every fault at once."""

    site: Site
    weather: WeatherChoice
    horizon: Horizon = Field(default_factory=Horizon)
    trees: tuple[Tree, ...] = Field((), max_length=40)
    rack: Rack = Field(default_factory=Rack)
    array: Array
    wire: Wires = Field((), max_length=20)
    controller: Controller
    pump: Pump
    pipes: Pipes = Field(max_length=20)
    source: Source
    store: Store = Field(default_factory=Store)
    main: Main | None = None
    backup: BackupPower | None = None
    unit: tuple[Unit, ...] = Field((), max_length=8)
    option: tuple[Option, ...] = Field((), max_length=40)
    money: Money = Field(default_factory=Money)
    _folder: Path = PrivateAttr(default_factory=Path)

    @model_validator(mode="before")
    @classmethod
    def _units_filled(cls, data: Any) -> Any:
        """A unit takes what it does not say itself from the sections common to all."""
        return with_common_sections(data)

    @property
    def units(self) -> tuple[Job, ...]:
        """Each unit as a job of its own, one array and one pump; this job itself if it has no [[unit]]."""
        if not self.unit:
            return (self,)
        return tuple(self._of_unit(unit) for unit in self.unit)

    @property
    def unit_names(self) -> tuple[str, ...]:
        """What each unit is called: its name or "unit 2"; "" for a job without [[unit]]."""
        return tuple(unit.name or f"unit {number}" for number, unit in enumerate(self.unit, 1)) or ("",)

    @property
    def main_pipes(self) -> tuple[Pipe, ...]:
        """The pipes that all units share; none without a main."""
        return self.main.pipes if self.main else ()

    @property
    def main_lift_m(self) -> float:
        """Lift of the main that all units share; 0 without one."""
        return self.main.lift_m if self.main else 0.0

    def alone(self, number: int) -> Job:
        """One unit as a job of its own, named after the site and the unit."""
        name = self.unit_names[number]
        site = self.site.model_copy(update={"name": f"{self.site.name}, {name}" if name else self.site.name})
        return self.units[number].model_copy(update={"site": site})

    def _of_unit(self, unit: Unit) -> Job:
        return self.model_copy(update={**{name: getattr(unit, name) for name in UNIT_SECTIONS}, "unit": ()})

    @property
    def folder(self) -> Path:
        """Where relative paths start. It is no part of the job, neither written nor hashed; `model_copy` keeps it."""
        return self._folder

    def in_folder(self, folder: Path) -> Job:
        """The same job with relative paths starting at `folder`."""
        moved = self.model_copy()
        moved._folder = folder
        return moved

    @property
    def of_water(self) -> Job:
        """This job without what moves no water: the name of its site, its options and its money."""
        site = self.site.model_copy(update={"name": ""})
        return self.model_copy(update={"site": site, "option": (), "money": Money()})

    @property
    def axis_azimuth_deg(self) -> float:
        """True compass direction of the axis's low end: as given, else toward the equator."""
        given = self.rack.axis_azimuth_deg
        return given if given is not None else (180.0 if self.site.latitude_deg >= 0 else 0.0)

    def __eq__(self, other: object) -> bool:
        """Jobs are equal when their canonical texts are."""
        return isinstance(other, Job) and self.canonical_text() == other.canonical_text()

    def __hash__(self) -> int:
        return hash(self.canonical_text())

    def canonical_text(self) -> str:
        """The job as one line of sorted JSON in SI units: equal jobs give equal text, however they were written.

        Numbers are rounded to twelve digits, since "450 ft" and 137.16 differ in the sixteenth. Options and money that
        nobody gave leave no trace in it, nor do `LATER_KEYS` that say nothing, and a renamed key keeps its former name:
        a job's hash outlasts new versions that have the same defaults.
        """
        data = _rounded(self.model_dump(mode="json"))
        if self.option == () and self.money == Money():
            del data["option"], data["money"]
        return json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=False)

    def sha256(self) -> str:
        """Hash of the canonical text; printed with every result."""
        return hashlib.sha256(self.canonical_text().encode()).hexdigest()


def _rounded(data: Any) -> Any:
    """Plain data under former keys, its floats at twelve significant digits, and no negative zero."""
    if isinstance(data, float):
        return float(f"{data:.12g}") + 0.0
    if isinstance(data, dict):
        return {
            FORMER_KEYS.get(key, key): _rounded(value)
            for key, value in data.items()
            if key not in LATER_KEYS or value != LATER_KEYS[key]
        }
    if isinstance(data, list):
        return [_rounded(value) for value in data]
    return data
