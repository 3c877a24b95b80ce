"""What the chain works on: the scene, the aim, the machine. Each is computed once and shared between racks."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from trackersim.arrays import BoolArray, FloatArray, IndexArray
from trackersim.constants import MINUTES_A_DAY
from trackersim.power.module import Diode, ModuleTable
from trackersim.rack.geometry import Axis
from trackersim.sky.crowns import Crown
from trackersim.sky.irradiance import SkyLight
from trackersim.sky.shading import ArrayPlaces, ShadeEdges
from trackersim.sky.sun import Sun
from trackersim.sky.trees import HorizonProfile, SkyView
from trackersim.weather.weather import Weather


@dataclass(frozen=True, kw_only=True)
class Scene:
    """Place and weather, minute by minute. Arrays named `up_…` and `light` run over sun-up minutes only (n,).

    `beam_share` (n,) is that at the middle of the axis; `hidden` (n,) says that the sun is behind the far horizon.
    `crowns` and `horizon` cover the sky, `beam_crowns` and `beam_horizon` stand before the sun: the same things, unless
    an account of losses looks at one without the other. Nor does `module_by_module` say anything else than whether
    uneven shade is followed into the strings.
    `coldest_c` is the coldest air of the whole weather, whatever days of it are in the scene.
    """

    weather: Weather
    sun: Sun
    up: IndexArray
    up_day: IndexArray
    up_direction: FloatArray
    light: SkyLight
    beam_share: FloatArray
    hidden: BoolArray
    crowns: tuple[Crown, ...]
    horizon: HorizonProfile | None
    beam_crowns: tuple[Crown, ...]
    beam_horizon: HorizonProfile | None
    coldest_c: float
    module_by_module: bool = True

    @property
    def days(self) -> int:
        """Whole days."""
        return self.weather.days

    def spread(self, values: FloatArray, fill: float = 0.0) -> FloatArray:
        """Sun-up values as an array over all minutes, `fill` at night."""
        whole = np.full(self.days * MINUTES_A_DAY, fill)
        whole[self.up] = values
        return whole

    def by_day(self, values: FloatArray) -> FloatArray:
        """An array over all minutes as (days, 1440)."""
        return values.reshape(self.days, MINUTES_A_DAY)


def without_tree_beam(scene: Scene) -> Scene:
    """The scene with nothing before the sun, although trees and hills still cover the sky."""
    count = len(scene.beam_share)
    open_beam, seen = np.ones(count), np.zeros(count, dtype=bool)
    return replace(scene, beam_share=open_beam, hidden=seen, beam_crowns=(), beam_horizon=None)


def without_tree_sky(scene: Scene) -> Scene:
    """The scene with an open sky, although trees and hills still stand before the sun."""
    return replace(scene, crowns=(), horizon=None)


def evenly_shaded(scene: Scene) -> Scene:
    """The scene with all modules under the mean shade of the array."""
    return replace(scene, module_by_module=False)


@dataclass(frozen=True, kw_only=True)
class Aim:
    """One axis in a scene: the sun along it at all minutes, and what the plane sees of the sky at each rotation."""

    axis: Axis
    sun_rotation_deg: FloatArray
    reach: FloatArray
    view: SkyView


@dataclass(frozen=True, kw_only=True)
class Machine:
    """Modules of one unit, at their terminals and as the controller gets them, and where they lie; tabulated once.

    `at_controller` is through the wire and within the controller's limits. `places` and `edges` are where and when
    trees are looked at module by module.
    """

    diode: Diode
    module: ModuleTable
    at_controller: ModuleTable
    places: ArrayPlaces
    edges: ShadeEdges
