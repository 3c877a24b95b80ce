"""The chain at one instant: from the sky as it is to the flow as it would be, for one whole job.

The same functions as in `simulate`, without what carries over from minute to minute: a pump runs if it has the power
to start (in the afternoon, to go on).
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from trackersim.arrays import FloatArray
from trackersim.job.model import Job
from trackersim.simulation.array_power import ArrayModel, edges_in
from trackersim.simulation.electrics import motor_w
from trackersim.simulation.generation import Generation, generated
from trackersim.simulation.in_use import ArrayInUse, array_in_use, used_power_w
from trackersim.simulation.orientation import Orientation
from trackersim.simulation.pump_station import PumpStation, unit_flows
from trackersim.simulation.scene import Scene
from trackersim.sky.irradiance import SkyLight
from trackersim.sky.trees import SkyView
from trackersim.water.operating import OperatingPoint
from trackersim.water.unit_state import UnitState

# With less used of what could be given than this share, the array floats.
_SPARE = 0.995


@dataclass(frozen=True, kw_only=True)
class Instant:
    """One minute at a job. `scenes` hold that one sun-up minute, one for each unit, as do the tuples beside it.

    `light` multiplies all light; `power` the power at the controllers; `rising` is true before noon. `held` names what
    keeps a unit from running whatever power it has, None for a unit that is free to; empty: all are.
    """

    job: Job
    scenes: tuple[Scene, ...]
    orientations: tuple[Orientation, ...]
    views: tuple[SkyView, ...]
    models: tuple[ArrayModel, ...]
    station: PumpStation
    rotation_deg: tuple[float, ...]
    month: int
    rising: bool
    light: float = 1.0
    power: float = 1.0
    held: tuple[UnitState | None, ...] = ()

    def holding(self, units: Collection[int], state: UnitState) -> Instant:
        """The same minute with some of the units held."""
        before = self.held or (None,) * len(self.scenes)
        return replace(self, held=tuple(state if n in units else was for n, was in enumerate(before)))


@dataclass(frozen=True, kw_only=True)
class UnitPoint:
    """What one unit does: its flow and head, light on its plane, its rack's angle.

    `input_w` is what its array could give at the controller, at `best_v`; `used_w` is what the controller draws, at
    `input_v`, which is `open_v` while nothing is drawn. `flow_m3_s`, `head_m` and `used_w` are 0 unless it runs.
    """

    state: UnitState
    flow_m3_s: float
    head_m: float
    input_w: float
    used_w: float
    input_v: float
    best_v: float
    open_v: float
    plane_w_m2: float
    rotation_deg: float

    @property
    def running(self) -> bool:
        """Whether it runs."""
        return self.state is UnitState.RUNNING

    @property
    def is_off(self) -> bool:
        """Whether it has no power at all."""
        return self.state is UnitState.OFF

    @property
    def input_a(self) -> float:
        """Current at the controller's input [A]."""
        return self.used_w / self.input_v if self.input_v > 0 else 0.0

    @property
    def has_spare(self) -> bool:
        """Whether it runs on less than it could have: at full speed, or at the controller's rating."""
        return self.running and self.used_w < _SPARE * self.input_w

    def summary(self) -> dict[str, Any]:
        """Plain data in SI units."""
        return {**vars(self), "state": str(self.state), "input_a": self.input_a}


@dataclass(frozen=True, kw_only=True)
class Point:
    """What comes of it, unit by unit; `common_loss_m` is the head that their water loses on the pipe that they share,
    up to the outlet: of one pump on all its pipe, of several on the main."""

    units: tuple[UnitPoint, ...]
    common_loss_m: float

    @property
    def flow_m3_s(self) -> float:
        """Flow of all units."""
        return sum(unit.flow_m3_s for unit in self.units)


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
        What every unit does, and what their water loses on the pipe that they share.
    """
    each = [_generation(instant, number) for number in range(len(instant.scenes))]
    found, states = _water(instant, [float(given.power.input_w[0]) for given in each])
    units = tuple(_unit_point(instant, number, given, found, states[number]) for number, given in enumerate(each))
    loss_m = instant.station.common_loss_m(sum(unit.flow_m3_s for unit in units))
    return Point(units=units, common_loss_m=loss_m)


def _unit_point(instant: Instant, number: int, given: Generation, found: OperatingPoint, state: UnitState) -> UnitPoint:
    unit, scene, runs = instant.job.units[number], instant.scenes[number], state is UnitState.RUNNING

    def taking(motor_w: FloatArray) -> ArrayInUse:
        return array_in_use(unit, scene, given, used_power_w(unit, power=given.power, motor_w=motor_w))

    nothing = taking(np.zeros(1))
    used = taking(found.power_used_w[number]) if runs else nothing
    return UnitPoint(
        state=state,
        flow_m3_s=float(found.flow_m3_s[number, 0]) if runs else 0.0,
        head_m=float(found.head_m[number, 0]) if runs else 0.0,
        input_w=float(given.power.input_w[0]),
        used_w=float(used.used_w[0]),
        input_v=float(used.input_v[0]),
        best_v=float(given.power.input_v[0]),
        open_v=float(nothing.input_v[0]),
        plane_w_m2=float(given.light.plane_w_m2[0]),
        rotation_deg=instant.rotation_deg[number],
    )


def highest_v(instant: Instant, number: int, power_w: float) -> float:
    """The highest voltage at which the array of a unit gives a power, whatever its pump does.

    Parameters
    ----------
    instant : Instant
        One minute at a job.
    number : int
        The unit, from 0.
    power_w : float
        Power at the controller's input [W], ≥ 0.

    Returns
    -------
    float
        That of its best point at its best power, more for less power; 0 for more power than the light gives [V].
    """
    given = _generation(instant, number)
    if power_w > given.power.input_w[0]:
        return 0.0
    giving = array_in_use(instant.job.units[number], instant.scenes[number], given, np.array([power_w]))
    return float(giving.input_v[0])


def _generation(instant: Instant, number: int) -> Generation:
    """What the array of one unit gives in this minute's light, of which so much arrives at its controller."""
    scene, model = instant.scenes[number], instant.models[number]
    scene = replace(scene, light=_each(scene.light, lambda values: values * instant.light), key=object())
    given = generated(
        instant.job.units[number],
        scene,
        instant.orientations[number],
        np.array([instant.rotation_deg[number]]),
        model=replace(model, edges=edges_in(scene, model.places)),
        view=instant.views[number],
    )
    power = given.power
    power = power._replace(array_w=power.array_w * instant.power, input_w=power.input_w * instant.power)
    return replace(given, power=power)


def _water(instant: Instant, watts: list[float]) -> tuple[OperatingPoint, list[UnitState]]:
    """What the units do with `watts` at each controller."""
    units, month = instant.job.units, np.array([instant.month])
    held = instant.held or (None,) * len(units)
    states = [
        hold or _allowed(unit, watt, rising=instant.rising) for unit, watt, hold in zip(units, watts, held, strict=True)
    ]
    for _ in range(len(units) + 1):
        runs = [state is UnitState.RUNNING for state in states]
        offered = [watt if on else 0.0 for watt, on in zip(watts, runs, strict=True)]
        at_motor = [motor_w(unit, np.array([watt])) for unit, watt in zip(units, offered, strict=True)]
        found = unit_flows(instant.station, at_motor, month)
        tripped = [
            on and found.flow_m3_s[n, 0] < unit.pump.cutout_flow_m3_s
            for n, (on, unit) in enumerate(zip(runs, units, strict=True))
        ]
        if not any(tripped):
            break
        states = [UnitState.CUT_OUT if trips else state for trips, state in zip(tripped, states, strict=True)]
    return found, states


def _allowed(unit: Job, watt: float, *, rising: bool) -> UnitState:
    """What the power alone allows a unit."""
    if not motor_w(unit, np.array([watt]))[0] > 0:
        return UnitState.OFF
    return UnitState.RUNNING if watt >= _needed_w(unit, rising=rising) else UnitState.START_POWER


def _needed_w(unit: Job, *, rising: bool) -> float:
    control = unit.controller
    return max(control.start_w if rising else control.stops_at_w, 1e-9)


def changed(job: Job, section: str, change: Callable[[Any], Any], *, unit: int | None = None) -> Job:
    """The job with a section changed, at every unit or at one of them.

    Parameters
    ----------
    job : Job
        A job.
    section : str
        Name of one of its sections.
    change : Callable[[Any], Any]
        Makes the new section of the old.
    unit : int | None
        The only unit changed, from 0; None for all.

    Returns
    -------
    Job
        It is not validated again.
    """
    units = tuple(
        one.model_copy(update={section: change(getattr(one, section))}) if unit in (None, number) else one
        for number, one in enumerate(job.unit)
    )
    whole = change(getattr(job, section)) if unit is None or not job.unit else getattr(job, section)
    return job.model_copy(update={section: whole, "unit": units})
