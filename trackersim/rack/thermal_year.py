"""A year of the thermal rack: all days side by side, each begun where the evening before left it."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import NamedTuple

import numpy as np

from trackersim.arrays import BoolArray, FloatArray, IndexArray
from trackersim.job.rack import Rack
from trackersim.rack.thermal import Forcing, State, resting_west_deg, step
from trackersim.side_by_side import march_days

# A start this close to the evening before is the same: K, K, kg, degrees, K, K. What warmth differs at midnight fades
# a hundredfold and more by sunrise.
_TOLERANCE = (1e-6, 1e-6, 1e-9, 1e-9, 1e-6, 1e-6)
# First tries of a morning come from the last hours of the evening before, begun at rest in the west: long enough for
# the liquid, slow as it mixes, to forget how they began.
_EVENING_MIN = 720
# In the dark, with no wind that pushes, nothing moves and canisters only follow the air: longer strides do.
_DARK_STRIDE_MIN = 5
# A day whose rack turns farther than this within a step, or moves more than this share of its liquid, takes the step
# again in this many shorter ones: a swing is over in minutes.
_SWIFT_DEG, _SWIFT_SHARE, _SWIFT_STEPS = 1.0, 0.01, 4
# A rack that follows the sun and swings back once travels four times its largest rotation. Where one travels more than
# this many times it, the day is taken again in the end with so many steps a minute: steps of a minute make a rack
# hunt that does not, near the frost in which it begins to. The morning after begins as it would have without.
_RESTLESS_TRAVEL, _RESTLESS_STEPS = 5.0, 8
_MAX_ROUNDS = 20


class Stride(NamedTuple):
    """Minutes walked in one stride: the first of them, how many, and whether anything is shaded in them on any day."""

    minute: int
    length: int
    shaded: bool


@dataclass(frozen=True, kw_only=True)
class ThermalWeather:
    """What drives the rack, minute by minute; every array (days, minutes).

    `beam_w`: what a fully lit canister takes up of the direct light before trees; `diffuse_w`: of the sky.
    `beam_share` (3, 2, days, minutes): share of it that reaches the west and the east canister with the rack at its
    east stop, centre and west stop; None where nothing stands in the way. `loss_w_k`: heat loss of one canister per
    kelvin. `lift_pa`: hydrostatic pressure between the canisters with the rack on edge. `laminar_pa_s_kg`,
    `turbulent_pa_s_kg`: of the tube between. `wind_moment_nm`: times sin 2θ it turns the rack away from level.
    """

    sun_rotation_deg: FloatArray
    beam_w: FloatArray
    beam_share: FloatArray | None
    diffuse_w: FloatArray
    air_c: FloatArray
    loss_w_k: FloatArray
    lift_pa: FloatArray
    laminar_pa_s_kg: FloatArray
    turbulent_pa_s_kg: FloatArray
    wind_moment_nm: FloatArray

    def minute_major(self) -> ThermalWeather:
        """The same with the minute as leading axis, so that one minute of all days lies together in memory."""
        present = {field.name: getattr(self, field.name) for field in fields(self)}
        return replace(self, **{name: _minute_major(values) for name, values in present.items() if values is not None})


@dataclass(frozen=True, kw_only=True)
class ThermalHistory:
    """The rack through its days, at the centres of minutes: rotation [°] and liquid in the west canister [kg] (days,
    minutes), canister temperatures [°C] (2, days, minutes). `settled` is False if mornings and evenings did not come to
    agree within the rounds allowed.
    """

    rotation_deg: FloatArray
    west_kg: FloatArray
    canister_c: FloatArray
    rounds: int
    settled: bool


def march_thermal(rack: Rack, weather: ThermalWeather, *, substeps: int = 1) -> ThermalHistory:
    """March all days; `substeps` steps a minute. The first day begins at rest in the west, at air temperature.

    Parameters
    ----------
    rack : Rack
        A thermal rack in its present condition.
    weather : ThermalWeather
        What drives the rack, minute by minute of every day.
    substeps : int
        Steps a minute.

    Returns
    -------
    ThermalHistory
        Rotation, liquid and temperatures, minute by minute; `settled` says whether evenings and mornings agree.
    """
    by_minute = weather.minute_major()
    strides = _strides(by_minute)

    def run_days(chosen: IndexArray, start: FloatArray) -> tuple[FloatArray, dict[str, FloatArray]]:
        return _walk(rack, by_minute, chosen, start, strides, substeps=substeps)

    march = march_days(
        run_days,
        guess=_first_tries(rack, by_minute, strides, substeps=substeps),
        tolerance=np.array(_TOLERANCE),
        max_rounds=_MAX_ROUNDS,
    )
    _calmed(rack, by_minute, march.start_state, march.outputs, strides, substeps=substeps)
    return ThermalHistory(
        rotation_deg=march.outputs["rotation_deg"],
        west_kg=march.outputs["west_kg"],
        canister_c=np.moveaxis(march.outputs["canister_c"], 0, 1),
        rounds=march.rounds,
        settled=march.settled,
    )


def at_rest(rack: Rack, air_c: FloatArray) -> FloatArray:
    """Start states (n, 6) of racks that rest in the west with all liquid there, as warm as the air throughout.

    Parameters
    ----------
    rack : Rack
        A thermal rack in its present condition.
    air_c : FloatArray
        Shape (n,). Temperature of the air [°C].

    Returns
    -------
    FloatArray
        Shape (n, 6): °C west and east, kg in the west, degrees, °C of the liquid west and east.
    """
    count = len(air_c)
    west, rotation = np.full(count, rack.thermal.liquid_now_kg), np.full(count, resting_west_deg(rack))
    return np.column_stack([air_c, air_c, west, rotation, air_c, air_c])


def _first_tries(rack: Rack, weather: ThermalWeather, strides: list[Stride], *, substeps: int) -> FloatArray:
    """Morning states (days, 6): the first day at rest, the others as their evening before leaves a resting rack."""
    minutes, days = weather.air_c.shape
    evening = [stride for stride in strides if stride.minute >= minutes - _EVENING_MIN]
    start = at_rest(rack, weather.air_c[evening[0].minute])
    end, _ = _walk(rack, weather, np.arange(days), start, evening, substeps=substeps)
    return np.concatenate([at_rest(rack, weather.air_c[0, :1]), end[:-1]])


def _strides(weather: ThermalWeather) -> list[Stride]:
    """Strides of one minute; of up to five through minutes in which no day has light or wind that pushes."""
    busy = (weather.beam_w + weather.diffuse_w > 0) | (weather.wind_moment_nm != 0)
    lit = [bool(minute.any()) for minute in busy]
    shaded = [False] * len(lit)
    if weather.beam_share is not None:
        shaded = [bool((share < 1).any()) for share in weather.beam_share]
    strides: list[Stride] = []
    minute = 0
    while minute < len(lit):
        ahead = lit[minute : minute + _DARK_STRIDE_MIN]
        length = 1 if lit[minute] else ahead.index(True) if True in ahead else len(ahead)
        strides.append(Stride(minute, length, any(shaded[minute : minute + length])))
        minute += length
    return strides


def _calmed(
    rack: Rack,
    weather: ThermalWeather,
    morning: FloatArray,
    outputs: dict[str, FloatArray],
    strides: list[Stride],
    *,
    substeps: int,
) -> None:
    """Take days with a restless rack again by shorter steps, from their states in the morning (days, 6)."""
    travel = np.abs(np.diff(outputs["rotation_deg"], axis=1)).sum(axis=1)
    restless = np.flatnonzero(travel > _RESTLESS_TRAVEL * rack.max_rotation_deg)
    if restless.size and substeps < _RESTLESS_STEPS:
        _, again = _walk(rack, weather, restless, morning[restless], strides, substeps=_RESTLESS_STEPS)
        for name, values in again.items():
            outputs[name][restless] = values


def _walk(
    rack: Rack,
    weather: ThermalWeather,
    chosen: IndexArray,
    start: FloatArray,
    strides: list[Stride],
    *,
    substeps: int,
) -> tuple[FloatArray, dict[str, FloatArray]]:
    """The chosen days side by side: a loop over strides of minutes, arrays over days."""
    every = len(chosen) == weather.air_c.shape[1]
    columns = np.ascontiguousarray(start.T)
    state = State(columns[:2], columns[2], columns[3], columns[4:])
    first = strides[0].minute
    rows = strides[-1].minute + strides[-1].length - first
    rotation, west = np.empty((2, rows, len(chosen)))
    canister = np.empty((rows, 2, len(chosen)))
    for minute, length, shaded in strides:
        before = state
        at = minute + length // 2
        for _ in range(substeps):
            state = _step_of(rack, weather, at, chosen, every, state, seconds=60.0 * length / substeps, shaded=shaded)
        for row in range(length):
            part = (row + 0.5) / length  # a minute is told by its centre
            place = minute - first + row
            rotation[place] = before.rotation_deg + part * (state.rotation_deg - before.rotation_deg)
            west[place] = before.west_kg + part * (state.west_kg - before.west_kg)
            canister[place] = before.canister_c + part * (state.canister_c - before.canister_c)
    end = np.column_stack([*state.canister_c, state.west_kg, state.rotation_deg, *state.liquid_c])
    outputs = {
        "rotation_deg": np.ascontiguousarray(rotation.T),
        "west_kg": np.ascontiguousarray(west.T),
        "canister_c": np.ascontiguousarray(canister.transpose(2, 1, 0)),
    }
    return end, outputs


def _step_of(
    rack: Rack,
    weather: ThermalWeather,
    minute: int,
    chosen: IndexArray,
    every: bool,
    state: State,
    *,
    seconds: float,
    shaded: bool,
) -> State:
    """The chosen days (of all, if `every`) a step on; those whose rack moves far by shorter steps."""
    pick = slice(None) if every else chosen
    after = step(rack, state, _forcing(rack, weather, minute, pick, state, shaded=shaded), seconds).state
    swift = np.flatnonzero(_swift(rack, state, after))
    if not swift.size:
        return after
    days, part = chosen[swift], State(*(values[..., swift] for values in state))
    count = _SWIFT_STEPS * max(round(seconds / 60), 1)
    for _ in range(count):
        part = step(rack, part, _forcing(rack, weather, minute, days, part, shaded=shaded), seconds / count).state
    for whole, found in zip(after, part, strict=True):
        whole[..., swift] = found
    return after


def _swift(rack: Rack, before: State, after: State) -> BoolArray:
    """Days (n,) whose rack has moved far in one step."""
    turned = np.abs(after.rotation_deg - before.rotation_deg)
    moved = np.abs(after.west_kg - before.west_kg)
    return np.asarray((turned > _SWIFT_DEG) | (moved > _SWIFT_SHARE * rack.thermal.liquid_now_kg))


def _forcing(
    rack: Rack, weather: ThermalWeather, minute: int, pick: slice | IndexArray, state: State, *, shaded: bool
) -> Forcing:
    beam = weather.beam_w[minute, pick]
    if shaded:
        beam = beam * _share(rack, weather, minute, pick, state)
    return Forcing(
        sun_rotation_deg=weather.sun_rotation_deg[minute, pick],
        beam_w=beam,
        diffuse_w=weather.diffuse_w[minute, pick],
        air_c=weather.air_c[minute, pick],
        loss_w_k=weather.loss_w_k[minute, pick],
        lift_pa=weather.lift_pa[minute, pick],
        laminar_pa_s_kg=weather.laminar_pa_s_kg[minute, pick],
        turbulent_pa_s_kg=weather.turbulent_pa_s_kg[minute, pick],
        wind_moment_nm=weather.wind_moment_nm[minute, pick],
    )


def _share(rack: Rack, weather: ThermalWeather, minute: int, pick: slice | IndexArray, state: State) -> FloatArray:
    """Beam share at the two canisters (2, n), between the places they have at the stops and at centre."""
    assert weather.beam_share is not None
    east, centre, west = weather.beam_share[minute][..., pick]
    lean = state.rotation_deg / rack.max_rotation_deg
    return np.asarray(centre + np.maximum(lean, 0) * (west - centre) + np.maximum(-lean, 0) * (east - centre))


def _minute_major(values: FloatArray) -> FloatArray:
    """(…, days, minutes) as (minutes, …, days)."""
    return np.ascontiguousarray(np.moveaxis(values, -1, 0))
