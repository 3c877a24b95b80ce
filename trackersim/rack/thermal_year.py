"""A year of the thermal rack: all days side by side, each begun where the evening before left it."""

from __future__ import annotations

from dataclasses import dataclass
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


class _Driven(NamedTuple):
    """What drives the rack with the minute as leading axis, so that one minute of all days lies together in memory.

    Forcing (minutes, days); beam share (minutes, 3, 2, days), None where nothing stands in the way.
    """

    forcing: Forcing
    beam_share: FloatArray | None


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


def march_thermal(
    rack: Rack, forcing: Forcing, *, beam_share: FloatArray | None = None, substeps: int = 1
) -> ThermalHistory:
    """March all days. The first day begins at rest in the west, at air temperature.

    Parameters
    ----------
    rack : Rack
        A thermal rack in its present condition.
    forcing : Forcing
        What drives it, every array (days, minutes); `beam_w` alike at both canisters, before trees.
    beam_share : FloatArray | None
        Shape (3, 2, days, minutes). Share of the direct light that reaches the west and the east canister with the
        rack at its east stop, centre and west stop; None where nothing stands in the way.
    substeps : int
        Steps a minute.

    Returns
    -------
    ThermalHistory
        Rotation, liquid and temperatures, minute by minute; `settled` says whether evenings and mornings agree.
    """
    by_minute = _Driven(
        Forcing(*(_minute_major(values) for values in forcing)),
        None if beam_share is None else _minute_major(beam_share),
    )
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


def _first_tries(rack: Rack, weather: _Driven, strides: list[Stride], *, substeps: int) -> FloatArray:
    """Morning states (days, 6): the first day at rest, the others as their evening before leaves a resting rack."""
    air_c = weather.forcing.air_c
    minutes, days = air_c.shape
    evening = [stride for stride in strides if stride.minute >= minutes - _EVENING_MIN]
    start = at_rest(rack, air_c[evening[0].minute])
    end, _ = _walk(rack, weather, np.arange(days), start, evening, substeps=substeps)
    return np.concatenate([at_rest(rack, air_c[0, :1]), end[:-1]])


def _strides(weather: _Driven) -> list[Stride]:
    """Strides of one minute; of up to five through minutes in which no day has light or wind that pushes."""
    forcing = weather.forcing
    busy = (forcing.beam_w + forcing.diffuse_w > 0) | (forcing.wind_moment_nm != 0)
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
    weather: _Driven,
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
    weather: _Driven,
    chosen: IndexArray,
    start: FloatArray,
    strides: list[Stride],
    *,
    substeps: int,
) -> tuple[FloatArray, dict[str, FloatArray]]:
    """The chosen days side by side: a loop over strides of minutes, arrays over days."""
    every = len(chosen) == weather.forcing.air_c.shape[1]
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
    weather: _Driven,
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
    rack: Rack, weather: _Driven, minute: int, pick: slice | IndexArray, state: State, *, shaded: bool
) -> Forcing:
    now = Forcing(*(values[minute, pick] for values in weather.forcing))
    return now._replace(beam_w=now.beam_w * _share(rack, weather, minute, pick, state)) if shaded else now


def _share(rack: Rack, weather: _Driven, minute: int, pick: slice | IndexArray, state: State) -> FloatArray:
    """Beam share at the two canisters (2, n), between the places they have at the stops and at centre."""
    assert weather.beam_share is not None
    east, centre, west = weather.beam_share[minute][..., pick]
    lean = state.rotation_deg / rack.max_rotation_deg
    return np.asarray(centre + np.maximum(lean, 0) * (west - centre) + np.maximum(-lean, 0) * (east - centre))


def _minute_major(values: FloatArray) -> FloatArray:
    """(…, days, minutes) as (minutes, …, days)."""
    return np.ascontiguousarray(np.moveaxis(values, -1, 0))
