"""The chain at one instant: from the sky as it is to the flow as it would be, for one whole job.

The same functions as in `simulate`, without what carries over from minute to minute: a pump runs if it has the power
to start (in the afternoon, to go on).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from trackersim.arrays import FloatArray
from trackersim.job.model import Job
from trackersim.simulation.electrics import motor_w
from trackersim.simulation.generation import Machine, array_cell_c, array_light, array_power, array_shade
from trackersim.simulation.pump_station import PumpStation, unit_flows
from trackersim.simulation.scene import Scene
from trackersim.simulation.tracking import Orientation
from trackersim.sky.irradiance import SkyLight
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
    """What comes of it: flow of all units; light, angle, power, voltage and head of the first unit."""

    flow_m3_s: float
    head_m: float
    input_w: float
    input_v: float
    plane_w_m2: float
    rotation_deg: float
    running: bool


def one_minute(scene: Scene, minute: int) -> Scene | None:
    """The scene with nothing but that minute (index over all minutes); None if the sun is down in it."""
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
    """The running point of all units."""
    sides = [_side(instant, number) for number in range(len(instant.scenes))]
    watts = [side[0] for side in sides]
    flow, head, running = _water(instant, watts)
    _, volts, plane = sides[0]
    return Point(
        flow_m3_s=flow,
        head_m=head,
        input_w=watts[0],
        input_v=volts,
        plane_w_m2=plane,
        rotation_deg=instant.rotation_deg[0],
        running=running,
    )


def _side(instant: Instant, number: int) -> tuple[float, float, float]:
    """Power and voltage at one unit's controller, and the light on its modules."""
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
    return float(given.input_w[0]) * instant.power, float(given.input_v[0]), float(light.plane_w_m2[0])


def _water(instant: Instant, watts: list[float]) -> tuple[float, float, bool]:
    """Flow of all units together, head of the first, and whether any runs."""
    units = instant.job.units
    able = [watt >= _needed_w(unit, rising=instant.rising) for unit, watt in zip(units, watts, strict=True)]
    month = np.array([instant.month])
    for _ in range(len(units) + 1):
        motors = [
            motor_w(unit, np.array([watt if on else 0.0])) for unit, watt, on in zip(units, watts, able, strict=True)
        ]
        found = unit_flows(instant.station, motors, month)
        still = [
            on and found.flow_m3_s[n, 0] >= unit.pump.cutout_flow_m3_s
            for n, (on, unit) in enumerate(zip(able, units, strict=True))
        ]
        if still == able:
            break
        able = still
    flow = float(found.flow_m3_s[np.array(able), 0].sum())
    return flow, float(found.head_m[0, 0]) if able[0] else 0.0, flow > 0


def _needed_w(unit: Job, *, rising: bool) -> float:
    control = unit.controller
    return max(control.start_w if rising else control.stops_at_w, 1e-9)


def changed(job: Job, section: str, change: Callable[[Any], Any]) -> Job:
    """The job with a section changed, at every unit if it has units. What it becomes is not validated again."""
    units = tuple(unit.model_copy(update={section: change(getattr(unit, section))}) for unit in job.unit)
    return job.model_copy(update={section: change(getattr(job, section)), "unit": units}).in_folder(job.folder)
