"""[[unit]]: one of several arrays with a pump of its own on a common main."""

from __future__ import annotations

from typing import Any

from pydantic import Field

from trackersim.job.array import Array
from trackersim.job.electrics import Controller, Wires
from trackersim.job.fields import Section
from trackersim.job.pipework import Pipes
from trackersim.job.pump import Pump
from trackersim.job.rack import Rack
from trackersim.job.water import Source

UNIT_SECTIONS = ("rack", "array", "wire", "controller", "pump", "pipes", "source")
# Sections of which a unit may say only what differs; the others it replaces whole.
_MERGED = ("rack", "array", "controller")


class Unit(Section):
    """Rack, array, controller and pump, and the pipe from its source to the junction with the main.

    Every section it does not have is taken from the job's own; in rack, array and controller, every field.
    """

    name: str = Field("", description="what you call it", examples=["lower array"])
    rack: Rack = Field(default_factory=Rack)
    array: Array
    wire: Wires = Field((), max_length=20)
    controller: Controller
    pump: Pump
    pipes: Pipes = Field(max_length=20)
    source: Source


def with_common_sections(data: Any) -> Any:
    """A job's plain data with every unit whole; the first unit's sections stand in for those the job has not."""
    units = data.get("unit") if isinstance(data, dict) else None
    if not isinstance(units, list | tuple) or not units or not all(isinstance(unit, dict) for unit in units):
        return data
    whole = [{**_common(data, unit), **{key: unit[key] for key in unit if key not in _MERGED}} for unit in units]
    lacking = {name: whole[0][name] for name in UNIT_SECTIONS if name not in data and name in whole[0]}
    return {**data, **lacking, "unit": whole}


def keep_what_units_lack(data: dict[str, Any]) -> None:
    """Say in a job's dumped data, whose units are whole, that a unit lacks what the common sections alone have.

    Else a field that was taken from a unit (its layout's rows, a rate of dirt) would come back with the next change.
    """
    for unit in data.get("unit", ()):
        for name in _MERGED:
            _lack(data.get(name), unit.get(name))


def _lack(common: Any, own: Any) -> None:
    if not isinstance(common, dict) or not isinstance(own, dict):
        return
    for key, value in common.items():
        if key in own:
            _lack(value, own[key])
        else:
            own[key] = None


def _common(data: dict[str, Any], unit: dict[str, Any]) -> dict[str, Any]:
    common = {name: data[name] for name in UNIT_SECTIONS if name in data}
    for name in _MERGED:
        if name in unit:
            common[name] = _merged(common.get(name, {}), unit[name])
    return common


def _merged(common: Any, own: Any) -> Any:
    if not isinstance(common, dict) or not isinstance(own, dict):
        return own
    return {**common, **{key: _merged(common.get(key, {}), value) for key, value in own.items()}}
