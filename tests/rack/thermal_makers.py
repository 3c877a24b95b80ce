"""Racks and weather for the tests of the thermal rack: built by hand, without a job."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

from trackersim import load_job
from trackersim.constants import GRAVITY_M_S2
from trackersim.job.rack import Rack
from trackersim.job.thermal import Thermal
from trackersim.rack.canister import canister_loss_w_k
from trackersim.rack.events import MorningEvents, morning_events, solar_midnight_min
from trackersim.rack.geometry import Axis, sun_on_axis
from trackersim.rack.refrigerant import liquid_density_kg_m3
from trackersim.rack.thermal import Forcing, State, ThermalHistory
from trackersim.rack.thermal_year import march_thermal, step
from trackersim.rack.tube import tube_resistances
from trackersim.simulation.scene import Scene, make_scene

FloatArray = npt.NDArray[np.float64]

MAX_DEG = 50.0
TILT_DEG = 20.0
# Days of the year (from 0), ordered by their air at midnight: a rack marched through them meets no cold spell at night.
SEASON_OF = {
    14: "winter", 364: "winter", 354: "winter", 79: "spring", 310: "autumn", 95: "spring", 120: "spring", 265: "autumn",
    150: "summer", 240: "autumn", 171: "summer", 200: "summer",
}  # fmt: skip
SEASON_DAYS = tuple(SEASON_OF)


def make_rack(refrigerant: str = "R-134a", **changes: Any) -> Rack:
    """A healthy rack of the job's defaults, but for `changes`."""
    rack = Rack(kind="thermal", max_rotation_deg=MAX_DEG, axis_tilt_deg=TILT_DEG)
    return changed_rack(rack, refrigerant=refrigerant, **changes)


def changed_rack(rack: Rack, **changes: Any) -> Rack:
    """The rack with other fields, or fields of its `thermal`, beyond the ranges of a job too; `mixing_s` in seconds."""
    own = {name: changes.pop(name, getattr(rack, name)) for name in ("max_rotation_deg", "axis_tilt_deg")}
    if "mixing_s" in changes:
        changes["mixing_min"] = changes.pop("mixing_s") / 60
    assert changes.keys() <= Thermal.model_fields.keys()
    return rack.model_copy(update={**own, "thermal": rack.thermal.model_copy(update=changes)})


@cache
def clear_scene(latitude: float = 36.1, *more: str) -> Scene:
    """A year of clear sky over an open horizon."""
    clear = ["weather.file=", "weather.clear_sky=true", "trees=[]", f"site.latitude={latitude}", "rack.axis_tilt=20"]
    return make_scene(load_job("demo", [*clear, *more]))


def make_weather(
    scene: Scene,
    rack: Rack,
    *,
    air_c: float | None = None,
    colder_k: float = 0.0,
    wind_m_s: float | None = None,
    days: Sequence[int] | None = None,
    azimuth_deg: float = 180.0,
    bore_m: float = Thermal().tube_bore_m,
    resistance_pa_s_kg: float | None = None,
) -> Forcing:
    """What drives `rack` in `scene` without trees; canisters of the job's default size and paint, wind at the rack."""
    weather, size = scene.weather, Thermal()
    takes_m2 = size.absorptance * size.canister_diameter_m * size.canister_length_m
    sun_rotation, reach = sun_on_axis(scene.sun.direction, Axis(azimuth_deg=azimuth_deg, tilt_deg=TILT_DEG))
    air = weather.air_c - colder_k if air_c is None else np.full_like(weather.air_c, air_c)
    wind = weather.wind_m_s if wind_m_s is None else np.full_like(weather.air_c, wind_m_s)
    rise_m = 2 * rack.thermal.lever_m * np.cos(np.radians(TILT_DEG))
    laminar, turbulent = tube_resistances(rack.thermal.fluid, air, bore_m=bore_m, length_m=size.tube_length_m)
    if resistance_pa_s_kg is not None:
        laminar, turbulent = np.full_like(air, resistance_pa_s_kg), np.zeros_like(air)
    whole = Forcing(
        sun_rotation_deg=scene.by_day(sun_rotation),
        beam_w=scene.by_day(takes_m2 * weather.dni_w_m2 * reach),
        diffuse_w=scene.by_day(takes_m2 * size.diffuse_share * weather.dhi_w_m2),
        air_c=scene.by_day(air),
        loss_w_k=scene.by_day(canister_loss_w_k(size, wind_m_s=wind, air_c=air)),
        lift_pa=scene.by_day(GRAVITY_M_S2 * rise_m * liquid_density_kg_m3(rack.thermal.fluid, air)),
        laminar_pa_s_kg=scene.by_day(laminar),
        turbulent_pa_s_kg=scene.by_day(turbulent),
        wind_moment_nm=np.zeros((scene.days, 1440)),
        sky_w=np.zeros((scene.days, 1440)),
    )
    return whole if days is None else pick_days(whole, days)


def pick_days(weather: Forcing, days: Sequence[int]) -> Forcing:
    """Some days of the weather, one after the other."""
    return Forcing(*(np.ascontiguousarray(values[list(days)]) for values in weather))


@dataclass(frozen=True, kw_only=True)
class Course:
    """A rack's days and their moments."""

    history: ThermalHistory
    events: MorningEvents
    ideal_deg: FloatArray
    up: npt.NDArray[np.bool_]

    @property
    def flip_min(self) -> FloatArray:
        """Minutes from sunrise to the flip (days,), NaN where there is none."""
        return np.where(self.events.flip >= 0, (self.events.flip - self.events.sunrise).astype(float), np.nan)


def course(scene: Scene, rack: Rack, *, days: Sequence[int] = SEASON_DAYS, substeps: int = 1,
           weather: Forcing | None = None, **kwargs: Any) -> Course:  # fmt: skip
    """March `rack` through some days of `scene`."""
    if weather is None:
        weather = make_weather(scene, rack, days=days, **kwargs)
    return _told(scene, rack, days, weather, march_thermal(rack, weather, substeps=substeps))


def courses(
    scene: Scene,
    rack: Rack,
    weathers: Sequence[Mapping[str, Any]],
    *,
    days: Sequence[int] = SEASON_DAYS,
    substeps: int = 1,
) -> list[Course]:
    """March `rack` through the same days in several weathers, all in one march, which takes little longer than one.

    Each weather begins with a day more, so that its first evening is its own.
    """
    parts = [make_weather(scene, rack, days=(days[0], *days), **weather) for weather in weathers]
    whole = march_thermal(
        rack, Forcing(*(np.concatenate(values) for values in zip(*parts, strict=True))), substeps=substeps
    )
    found = []
    for number, part in enumerate(parts):
        first = number * (len(days) + 1) + 1
        own = slice(first, first + len(days))
        history = replace(
            whole,
            rotation_deg=whole.rotation_deg[own],
            west_kg=whole.west_kg[own],
            canister_c=whole.canister_c[:, own],
        )
        found.append(_told(scene, rack, days, pick_days(part, range(1, len(days) + 1)), history))
    return found


def _told(scene: Scene, rack: Rack, days: Sequence[int], weather: Forcing, history: ThermalHistory) -> Course:
    elevation = scene.by_day(scene.sun.true_elevation_deg)[list(days)]
    events = morning_events(
        rotation_deg=history.rotation_deg,
        sun_rotation_deg=weather.sun_rotation_deg,
        true_elevation_deg=elevation,
        beam_w_m2=scene.by_day(scene.weather.dni_w_m2)[list(days)],
        midnight_min=solar_midnight_min(elevation),
        max_rotation_deg=rack.max_rotation_deg,
    )
    ideal = np.clip(weather.sun_rotation_deg, -rack.max_rotation_deg, rack.max_rotation_deg)
    return Course(history=history, events=events, ideal_deg=ideal, up=scene.by_day(scene.sun.is_up)[list(days)])


def drive_at(weather: Forcing, minute: int) -> Forcing:
    """What drives all days at one minute, without trees."""
    return Forcing(*(values[:, minute] for values in weather))


def resting(rack: Rack, air_c: npt.ArrayLike, rotation_deg: float = MAX_DEG) -> State:
    """All liquid in the west, canisters as warm as the air."""
    air = np.atleast_1d(np.asarray(air_c, dtype=float))
    both = np.stack([air, air])
    return State(both, np.full(len(air), rack.thermal.liquid_kg), np.full(len(air), rotation_deg), both)


def plain_step(rack: Rack, state: State, forcing_of: Callable[[State], Forcing], seconds: float = 60.0) -> State:
    """One step; where the rack moves by more than 1° or 1 % of its liquid in it, four at least and none above 15 s.

    The march's rule, written anew, for one rack or several that move alike.
    """
    after = step(rack, state, forcing_of(state), seconds).state
    turned, moved = (np.abs(getattr(after, name) - getattr(state, name)) for name in ("rotation_deg", "west_kg"))
    if turned.max() <= 1.0 and moved.max() <= 0.01 * rack.thermal.liquid_kg:
        return after
    count = max(round(seconds / 15), 4)
    for _ in range(count):
        state = step(rack, state, forcing_of(state), seconds / count).state
    return state
