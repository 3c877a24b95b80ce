"""The job: one immutable description of everything the technician knows about the site."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

from pydantic import Field

from trackersim.job.fields import Section
from trackersim.job.machine import Array, Controller, Rack, Wire
from trackersim.job.place import Horizon, Site, Tree, WeatherChoice
from trackersim.job.waterworks import Pipes, Pump, Source, Store


class Job(Section):
    """A valid job. Build it with `load_job` or `parse_job`, which report every fault at once."""

    site: Site
    weather: WeatherChoice
    horizon: Horizon = Field(default_factory=Horizon)
    trees: tuple[Tree, ...] = Field((), max_length=40)
    rack: Rack = Field(default_factory=Rack)
    array: Array
    wire: Wire = Field(default_factory=Wire)
    controller: Controller
    pump: Pump
    pipes: Pipes
    source: Source
    store: Store = Field(default_factory=Store)
    folder: Path = Field(
        Path(), exclude=True, repr=False, description="where relative paths start; not part of the job"
    )

    @property
    def axis_azimuth_deg(self) -> float:
        """True compass direction of the axis's low end: as given, else toward the equator."""
        given = self.rack.axis_azimuth_deg
        return given if given is not None else (180.0 if self.site.latitude_deg >= 0 else 0.0)

    def canonical_text(self) -> str:
        """The job as one line of sorted JSON in SI units: equal jobs give equal text, however they were written."""
        return json.dumps(self.model_dump(mode="json"), sort_keys=True, separators=(",", ":"), ensure_ascii=False)

    def sha256(self) -> str:
        """Hash of the canonical text; printed with every result."""
        return hashlib.sha256(self.canonical_text().encode()).hexdigest()
