"""A year of the thermal rack: all days side by side, each begun where the evening before left it."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
import numpy.typing as npt

from trackersim.march import march_days
from trackersim.rack.thermal import Drive, State, ThermalRack, step

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.intp]

# A start this close to the evening before is the same: K, K, kg, degrees.
_TOLERANCE = (1e-9, 1e-9, 1e-9, 1e-9)
# First tries of a morning come from the last hours of the evening before, begun at rest on the west stop.
_EVENING_MIN = 480
_MAX_ROUNDS = 20


@dataclass(frozen=True, kw_only=True)
class ThermalWeather:
    """What drives the rack, minute by minute; every array (days, minutes).

    `beam_w_m2`: direct light on a plane that faces the sun's rotation, before trees. `beam_share` (3, 2, days,
    minutes): share of it that reaches the west and the east canister with the rack at its east stop, centre and west
    stop; None where nothing stands in the way. `loss_w_k`: heat loss of one canister per kelvin. `wind_torque_nm`: +
    turns the rack west.
    """

    sun_rotation_deg: FloatArray
    beam_w_m2: FloatArray
    beam_share: FloatArray | None
    diffuse_w_m2: FloatArray
    air_c: FloatArray
    loss_w_k: FloatArray
    liquid_kg_m3: FloatArray
    wind_torque_nm: FloatArray

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


def march_thermal(rack: ThermalRack, weather: ThermalWeather, *, substeps: int = 1) -> ThermalHistory:
    """March all days; `substeps` steps a minute. The first day begins at rest on the west stop, at air temperature."""
    by_minute = weather.minute_major()
    days = weather.air_c.shape[0]

    def run_days(chosen: IntArray, start: FloatArray) -> tuple[FloatArray, dict[str, FloatArray]]:
        return _run_days(rack, by_minute, chosen, start, substeps=substeps)

    march = march_days(
        run_days,
        guess=_first_tries(rack, by_minute, days, substeps=substeps),
        tolerance=np.array(_TOLERANCE),
        max_rounds=_MAX_ROUNDS,
    )
    return ThermalHistory(
        rotation_deg=march.outputs["rotation_deg"],
        west_kg=march.outputs["west_kg"],
        canister_c=np.moveaxis(march.outputs["canister_c"], 0, 1),
        rounds=march.rounds,
        settled=march.settled,
    )


def at_rest(rack: ThermalRack, air_c: FloatArray) -> FloatArray:
    """Start states (n, 4) of racks that lie on the west stop with all liquid west and canisters as warm as the air."""
    count = len(air_c)
    return np.column_stack([air_c, air_c, np.full(count, rack.liquid_kg), np.full(count, rack.max_rotation_deg)])


def _first_tries(rack: ThermalRack, weather: ThermalWeather, days: int, *, substeps: int) -> FloatArray:
    minutes = weather.air_c.shape[0]
    evening = range(max(0, minutes - _EVENING_MIN), minutes)
    start = at_rest(rack, weather.air_c[evening[0]])
    end, _ = _run_days(rack, weather, np.arange(days), start, substeps=substeps, minutes=evening)
    return np.concatenate([at_rest(rack, weather.air_c[0, :1]), end[:-1]])


def _run_days(
    rack: ThermalRack,
    weather: ThermalWeather,
    chosen: IntArray,
    start: FloatArray,
    *,
    substeps: int,
    minutes: range | None = None,
) -> tuple[FloatArray, dict[str, FloatArray]]:
    """The chosen days side by side: a loop over minutes, arrays over days.

    States are (n, 4): west °C, east °C, kg in the west, rotation.
    """
    every = len(chosen) == weather.air_c.shape[1]
    pick: slice | IntArray = slice(None) if every else chosen
    walked = range(weather.air_c.shape[0]) if minutes is None else minutes
    state = State(np.ascontiguousarray(start[:, :2].T), start[:, 2].copy(), start[:, 3].copy())
    rotation, west = np.empty((2, len(walked), len(chosen)))
    canister = np.empty((len(walked), 2, len(chosen)))
    seconds = 60.0 / substeps
    for row, minute in enumerate(walked):
        before = state
        for _ in range(substeps):
            state = step(rack, state, _drive(rack, weather, minute, pick, state), seconds).state
        # What a minute's centre saw is the mean of its ends.
        rotation[row] = (before.rotation_deg + state.rotation_deg) / 2
        west[row] = (before.west_kg + state.west_kg) / 2
        canister[row] = (before.canister_c + state.canister_c) / 2
    end = np.column_stack([state.canister_c[0], state.canister_c[1], state.west_kg, state.rotation_deg])
    outputs = {
        "rotation_deg": np.ascontiguousarray(rotation.T),
        "west_kg": np.ascontiguousarray(west.T),
        "canister_c": np.ascontiguousarray(canister.transpose(2, 1, 0)),
    }
    return end, outputs


def _drive(rack: ThermalRack, weather: ThermalWeather, minute: int, pick: slice | IntArray, state: State) -> Drive:
    beam = weather.beam_w_m2[minute, pick]
    both = np.stack([beam, beam]) if weather.beam_share is None else beam * _share(rack, weather, minute, pick, state)
    return Drive(
        sun_rotation_deg=weather.sun_rotation_deg[minute, pick],
        beam_w_m2=both,
        diffuse_w_m2=weather.diffuse_w_m2[minute, pick],
        air_c=weather.air_c[minute, pick],
        loss_w_k=weather.loss_w_k[minute, pick],
        liquid_kg_m3=weather.liquid_kg_m3[minute, pick],
        wind_torque_nm=weather.wind_torque_nm[minute, pick],
    )


def _share(
    rack: ThermalRack, weather: ThermalWeather, minute: int, pick: slice | IntArray, state: State
) -> FloatArray | float:
    """Beam share at the two canisters (2, n), between the places they have at the stops and at centre."""
    assert weather.beam_share is not None
    east, centre, west = weather.beam_share[minute][..., pick]
    lean = state.rotation_deg / rack.max_rotation_deg
    return np.asarray(centre + np.maximum(lean, 0) * (west - centre) + np.maximum(-lean, 0) * (east - centre))


def _minute_major(values: FloatArray) -> FloatArray:
    """(…, days, minutes) as (minutes, …, days)."""
    return np.ascontiguousarray(np.moveaxis(values, -1, 0))
