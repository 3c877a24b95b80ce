"""Faults that only two sections together can show."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import replace
from pathlib import Path

from trackersim.errors import Fault
from trackersim.job.folders import ClosedFolder, path_in
from trackersim.job.model import Job
from trackersim.job.place import Tree, zone_offset_h

# The most by which a site's standard time departs from the sun's.
_FARTHEST_H = 4


def cross_faults(job: Job, unsound: Collection[str] = ()) -> list[Fault]:
    """Every contradiction between sections of an otherwise valid job; none that reads a section named in `unsound`."""
    faults: list[Fault] = []
    for check, sections in _OF_JOB.items():
        if not any(section in unsound for section in sections):
            faults += check(job)
    for check, sections in _OF_UNIT.items():
        if any(section in unsound for section in ("unit", *sections)):
            continue
        for number, unit in enumerate(job.units):
            place = f"unit.{number}." if job.unit and check is not _trees else ""
            faults += [replace(fault, field=place + fault.field) for fault in check(unit)]
    return list(dict.fromkeys(faults))


def _main(job: Job) -> list[Fault]:
    if not job.unit or job.main is not None:
        return []
    reason, remedy = "is missing.", "Units join in one main: give its lift and its pipes."
    return [Fault(field="main", value=None, reason=reason, remedy=remedy)]


def _backup(job: Job) -> list[Fault]:
    if job.backup is None or job.backup.when == "every" or any(job.store.demands_m3_per_day):
        return []
    reason, remedy = "needs a demand: a dull day is one that lifts less than is wanted.", "Give store.demand."
    return [Fault(field="backup.when", value=job.backup.when, reason=reason, remedy=remedy)]


def _clock(job: Job) -> list[Fault]:
    site = job.site
    gap = (site.standard_offset_h - site.longitude_deg / 15 + 12) % 24 - 12
    if abs(gap) <= _FARTHEST_H:
        return []
    told, value = ("timezone", site.timezone) if site.utc_offset_h is None else ("utc_offset", site.utc_offset_h)
    zone_agrees = bool(site.timezone) and _agrees(site.longitude_deg, zone_offset_h(site.timezone))
    if _agrees(-site.longitude_deg, site.standard_offset_h) and not zone_agrees:
        reason = f"lies {abs(gap):.0f} h from {told}; with the other sign they agree."
        remedy = f"West of Greenwich longitude is negative, east positive: is it {-site.longitude_deg:g}?"
        return [Fault(field="site.longitude", value=site.longitude_deg, reason=reason, remedy=remedy)]
    reason = f"is {abs(gap):.0f} h from the longitude's own solar time."
    remedy = "Check the sign: west of Greenwich both longitude and utc_offset are negative."
    return [Fault(field=f"site.{told}", value=value, reason=reason, remedy=remedy)]


def _agrees(longitude_deg: float, offset_h: float) -> bool:
    return abs((offset_h - longitude_deg / 15 + 12) % 24 - 12) <= _FARTHEST_H


def _weather_file(job: Job) -> list[Fault]:
    return weather_file_faults({"file": job.weather.file}, job.folder)


def weather_file_faults(weather: object, folder: Path) -> list[Fault]:
    """The fault of a section [weather], still plain data, that names a file which is not there."""
    name = weather.get("file") if isinstance(weather, Mapping) else None
    if not isinstance(name, str) or not name or name.startswith("sample:"):
        return []
    if _is_there(folder, name):
        return []
    reason = "is not there or cannot be read."
    remedy = 'Check the path (it starts at the job file), or use file = "sample:typical-year" or clear_sky = true.'
    if isinstance(folder, ClosedFolder):
        # Nothing may be learnt here about other files: one answer for those that are there and those that are not.
        reason = "is no file that was brought here."
        remedy = 'Bring the file itself (under "Files"), or use sample:typical-year or the clear sky.'
    return [Fault(field="weather.file", value=name, reason=reason, remedy=remedy)]


def _rotation_log(job: Job) -> list[Fault]:
    """The fault of a log that is not there, whatever turns the rack now."""
    name = job.rack.log
    if not name or _is_there(job.folder, name):
        return []
    reason, remedy = "is not there or cannot be read.", "Check the path (it starts at the job file)."
    if isinstance(job.folder, ClosedFolder):
        reason, remedy = "is no file that was brought here.", "Logs are read from a folder, by the command line."
    return [Fault(field="rack.log", value=name, reason=reason, remedy=remedy)]


def _is_there(folder: Path, name: str) -> bool:
    """Whether a job in `folder` may name this file, and it exists."""
    path = path_in(folder, name)
    try:
        return path is not None and path.is_file()
    except (OSError, ValueError):  # a name too long, a folder nobody may enter, a null character
        return False


def _trees(job: Job) -> list[Fault]:
    """Crowns that reach into the room in which the array turns."""
    faults = []
    room_m = job.array.laid_out.radius_m
    for number, tree in enumerate(job.trees):
        lift_m = (tree.ground_m or 0.0) - job.rack.height_m
        if tree.height_m + lift_m < -room_m or tree.crown_base_m + lift_m > room_m:
            continue  # wholly below or above it
        reach_m = room_m + (tree.width_m / 2 if tree.kind == "tree" else 0.0)
        if _nearest_m(tree) < reach_m:
            reason = f"puts it inside the array, which turns in a room of {room_m:.1f} m around the axis."
            remedy = "Measure from the pole to the trunk, and its height, width and lowest leaves again."
            faults.append(Fault(field=f"trees.{number}.distance", value=tree.distance_m, reason=reason, remedy=remedy))
    return faults


def _nearest_m(tree: Tree) -> float:
    """Level distance from the pole to the trunk, or to the nearest point of a row that runs as it is said to."""
    if tree.runs_deg is None:
        return tree.distance_m
    apart = math.radians(tree.runs_deg - tree.bearing_deg)
    ahead, aside = tree.distance_m * math.cos(apart), tree.distance_m * math.sin(apart)
    beyond = max(abs(ahead) - tree.width_m / 2, 0.0)
    return math.hypot(beyond, aside)


def _voltage(job: Job) -> list[Fault]:
    """A string whose voltage is too high for the controller on any day needs no weather to be refused."""
    array, limit_v = job.array, job.controller.max_input_v
    string_v = array.in_series * array.voc_v
    if limit_v is None or string_v <= limit_v:
        return []
    reason = f"of {array.voc_v:g} V open-circuit make {string_v:.0f} V at 25 °C; the controller stands {limit_v:g} V."
    remedy = "Do not connect it so: fewer modules in series, or another controller. A licensed person decides."
    return [Fault(field="array.in_series", value=array.in_series, reason=reason, remedy=remedy)]


def _motor_runs(job: Job) -> list[Fault]:
    if job.controller.motor_voltage_v is not None or all(wire.side == "array" for wire in job.wire):
        return []
    reason, remedy = "is needed for the wire to the motor.", "Give the motor's voltage from its label."
    return [Fault(field="controller.motor_voltage", value=None, reason=reason, remedy=remedy)]


# Each check with the sections that it reads.
_OF_JOB = {_clock: ("site",), _weather_file: ("weather",), _main: ("unit", "main"), _backup: ("backup", "store")}
_OF_UNIT = {
    _trees: ("trees", "array", "rack"),
    _rotation_log: ("rack",),
    _voltage: ("array", "controller"),
    _motor_runs: ("controller", "wire"),
}
