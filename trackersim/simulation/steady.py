"""The chain at one instant: from the sky as it is to the flow as it would be, for one whole job.

The same functions as in `simulate`, without what carries over from minute to minute: a pump runs if it has the power
to start (in the afternoon, to go on).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from typing import Any, NamedTuple

import numpy as np

from trackersim.arrays import FloatArray
from trackersim.job.model import Job
from trackersim.simulation.electrics import motor_w
from trackersim.simulation.generation import (
    ArrayPower,
    Machine,
    array_cell_c,
    array_light,
    array_power,
    array_shade,
)
from trackersim.simulation.in_use import array_in_use
from trackersim.simulation.pump_station import PumpStation, UnitFlows, unit_flows
from trackersim.simulation.scene import Scene
from trackersim.simulation.tracking import Orientation
from trackersim.sky.irradiance import PlaneLight, SkyLight
from trackersim.sky.shading import shade_edges
from trackersim.sky.trees import SkyView


@dataclass(frozen=True, kw_only=True)
class Instant:
    """One minute at a job. `scenes` hold that one sun-up minute, one for each unit, as do the tuples beside it.

    `light` multiplies all light; `power` the power at the controllers; `rising` is true before noon.
    """

    job: Job
    scenes: tuple[Scene, ...]
    orientations: tuple[Orientation, ...]
    views: tuple[SkyView, ...]
    machines: tuple[Machine, ...]
    station: PumpStation
    rotation_deg: tuple[float, ...]
    month: int
    rising: bool
    light: float = 1.0
    power: float = 1.0


@dataclass(frozen=True, kw_only=True)
class Point:
    """What comes of it: flow of all units; light, angle, power, voltage and head of the first unit.

    `input_w` is what its array could give at the controller, `used_w` what is taken, at `input_v`.
    """

    flow_m3_s: float
    head_m: float
    input_w: float
    used_w: float
    input_v: float
    plane_w_m2: float
    rotation_deg: float
    running: bool


def one_minute(scene: Scene, minute: int) -> Scene | None:
    """The scene with nothing but one minute.

    Parameters
    ----------
    scene : Scene
        A scene of whole days.
    minute : int
        Index over all its minutes.

    Returns
    -------
    Scene | None
        None if the sun is down in it.
    """
    place = int(np.searchsorted(scene.up, minute))
    if place >= len(scene.up) or scene.up[place] != minute:
        return None
    at = slice(place, place + 1)
    return replace(
        scene,
        up=scene.up[at],
        up_day=scene.up_day[at],
        up_direction=np.ascontiguousarray(scene.up_direction[:, at]),
        light=_each(scene.light, lambda values: values[at]),
        beam_share=scene.beam_share[at],
        hidden=scene.hidden[at],
        key=object(),
    )


def _each(light: SkyLight, change: Callable[[FloatArray], FloatArray]) -> SkyLight:
    return SkyLight(**{field.name: change(getattr(light, field.name)) for field in fields(light)})


def point_of(instant: Instant) -> Point:
    """The running point of all units.

    Parameters
    ----------
    instant : Instant
        One minute at a job.

    Returns
    -------
    Point
        Flow of all units; light, angle, power, voltage and head of the first.
    """
    sides = [_side(instant, number) for number in range(len(instant.scenes))]
    found, able = _water(instant, [side.power.input_w for side in sides])
    first = sides[0]
    used = array_in_use(
        instant.job.units[0],
        first.scene,
        instant.machines[0],
        light=first.light,
        cell_c=first.cell_c,
        power=first.power,
        motor_w=found.motor_w[0] if able[0] else np.zeros(1),
    )
    flow = float(found.flow_m3_s[np.array(able), 0].sum())
    return Point(
        flow_m3_s=flow,
        head_m=float(found.head_m[0, 0]) if able[0] else 0.0,
        input_w=float(first.power.input_w[0]),
        used_w=float(used.used_w[0]),
        input_v=float(used.input_v[0]),
        plane_w_m2=float(first.light.plane_w_m2[0]),
        rotation_deg=instant.rotation_deg[0],
        running=flow > 0,
    )


class _Side(NamedTuple):
    """One unit's array in one minute."""

    scene: Scene
    light: PlaneLight
    cell_c: FloatArray
    power: ArrayPower


def _side(instant: Instant, number: int) -> _Side:
    job, orientation = instant.job.units[number], instant.orientations[number]
    scene = instant.scenes[number]
    scene = replace(scene, light=_each(scene.light, lambda values: values * instant.light), key=object())
    sky = scene.light
    machine = instant.machines[number]
    edges = shade_edges(
        scene.up_direction, sky.beam_w_m2 + sky.circumsolar_w_m2, scene.crowns, radius_m=machine.places.radius_m
    )
    rotation = np.array([instant.rotation_deg[number]])
    shade = array_shade(job, scene, orientation, replace(machine, edges=edges), rotation)
    light = array_light(scene, orientation, instant.views[number], rotation, shade)
    cell = array_cell_c(job, scene, light)
    given = array_power(job, scene, machine, light=light, cell_c=cell, shade=shade)
    power = ArrayPower(given.array_w * instant.power, given.input_w * instant.power, given.input_v)
    return _Side(scene, light, cell, power)


def _water(instant: Instant, watts: list[FloatArray]) -> tuple[UnitFlows, list[bool]]:
    """What the units do with `watts` (1,) at each controller, and which of them run."""
    units = instant.job.units
    able = [watt[0] >= _needed_w(unit, rising=instant.rising) for unit, watt in zip(units, watts, strict=True)]
    month = np.array([instant.month])
    for _ in range(len(units) + 1):
        motors = [motor_w(unit, watt if on else np.zeros(1)) for unit, watt, on in zip(units, watts, able, strict=True)]
        found = unit_flows(instant.station, motors, month)
        still = [
            on and found.flow_m3_s[n, 0] >= unit.pump.cutout_flow_m3_s
            for n, (on, unit) in enumerate(zip(able, units, strict=True))
        ]
        if still == able:
            break
        able = still
    return found, able


def _needed_w(unit: Job, *, rising: bool) -> float:
    control = unit.controller
    return max(control.start_w if rising else control.stops_at_w, 1e-9)


def changed(job: Job, section: str, change: Callable[[Any], Any]) -> Job:
    """The job with a section changed, at every unit if it has units.

    Parameters
    ----------
    job : Job
        A job.
    section : str
        Name of one of its sections.
    change : Callable[[Any], Any]
        Makes the new section of the old.

    Returns
    -------
    Job
        It is not validated again.
    """
    units = tuple(unit.model_copy(update={section: change(getattr(unit, section))}) for unit in job.unit)
    return job.model_copy(update={section: change(getattr(job, section)), "unit": units}).in_folder(job.folder)
