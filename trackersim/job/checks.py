"""Faults that only two sections together can show."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from trackersim.errors import Fault
from trackersim.job.model import Job


def cross_faults(job: Job) -> list[Fault]:
    """Every contradiction between sections of an otherwise valid job."""
    return [*_clock(job), *weather_file_faults({"file": job.weather.file}, job.folder), *_trees(job)]


def _clock(job: Job) -> list[Fault]:
    gap = (job.site.standard_offset_h - job.site.longitude_deg / 15 + 12) % 24 - 12
    if abs(gap) <= 4:
        return []
    reason = f"is {abs(gap):.0f} h from the longitude's own solar time."
    remedy = "Check the sign: west of Greenwich both longitude and utc_offset are negative."
    return [Fault(field="site.utc_offset", value=job.site.utc_offset_h, reason=reason, remedy=remedy)]


def weather_file_faults(weather: object, folder: Path) -> list[Fault]:
    """The fault of a section [weather], still plain data, that names a file which is not there."""
    name = weather.get("file") if isinstance(weather, Mapping) else None
    if not isinstance(name, str) or not name or name.startswith("sample:"):
        return []
    try:
        if (folder / name).is_file():
            return []
    except (OSError, ValueError):  # a name too long, a closed folder, a null character
        pass
    remedy = 'Check the path (it starts at the job file), or use file = "sample:typical-year" or clear_sky = true.'
    return [Fault(field="weather.file", value=name, reason="is not there or cannot be read.", remedy=remedy)]


def _trees(job: Job) -> list[Fault]:
    faults = []
    for number, tree in enumerate(job.trees):
        if tree.kind == "tree" and tree.distance_m < tree.width_m / 2:
            remedy = "Measure from the rack to the crown's centre; it must be more than half the width."
            reason = "puts the rack inside the crown."
            faults.append(Fault(field=f"trees.{number}.distance", value=tree.distance_m, reason=reason, remedy=remedy))
    return faults
