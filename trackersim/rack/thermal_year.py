"""Thermal racks marched: one step of many alike, the days of one, and its mornings."""

from __future__ import annotations

import numpy as np

from trackersim.arrays import FloatArray, check_array
from trackersim.job.rack import Rack
from trackersim.rack.refrigerant import march_table
from trackersim.rack.thermal import Forcing, Now, State, StepResult, ThermalHistory, numbers_of, resting_west_deg
from trackersim.rack.thermal_march import follow, step_each

# In the dark, with no wind that pushes, nothing moves and canisters only follow the air: longer strides do.
_DARK_STRIDE_MIN = 5
# A day that is taken again since its rack is restless is taken by so many steps a minute.
_RESTLESS_STEPS = 8


def step(rack: Rack, state: State, forcing: Forcing, seconds: float | FloatArray) -> StepResult:
    """One step of `seconds` for n racks side by side; 60 while a rack follows the sun, 15 or less while it swings.

    Parameters
    ----------
    rack : Rack
        A thermal rack in its present condition.
    state : State
        State of n racks at the beginning of the step.
    forcing : Forcing
        What acts on the rack during the step.
    seconds : float or FloatArray
        Length of the step [s]; a number or one for each rack (n,).

    Returns
    -------
    StepResult
        The state of n racks at the end, and the liquid that moved [kg].
    """
    racks = len(state.west_kg)
    states = np.stack([*state.canister_c, state.west_kg, state.rotation_deg, *state.liquid_c, np.zeros(racks)])
    acting = [forcing.sun_rotation_deg, *np.broadcast_to(forcing.beam_w, (2, racks)), *forcing[2:]]
    drives = np.stack([np.broadcast_to(values, racks) for values in acting])
    lengths = np.array(np.broadcast_to(seconds, racks), dtype=float)
    step_each(tuple(numbers_of(rack)), march_table(rack.thermal.fluid), states, drives, lengths)
    return StepResult(State(states[:2], states[2], states[3], states[4:6]), states[6])


def march_thermal(
    rack: Rack, forcing: Forcing, *, beam_share: FloatArray | None = None, substeps: int = 1
) -> ThermalHistory:
    """March all days, one after the other. The first begins at rest in the west, at air temperature.

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
        Rotation, liquid and temperatures, minute by minute.

    Raises
    ------
    InputError
        For arrays of different shapes, or with what is no finite number.
    """
    return _marched(rack, forcing, beam_share, substeps=substeps, restless_steps=_RESTLESS_STEPS)


def march_mornings(rack: Rack, forcing: Forcing, *, beam_share: FloatArray | None = None) -> FloatArray:
    """Mornings that need not follow each other, each begun at midnight at rest in the west, at air temperature.

    A rack that hunts is not taken again by shorter steps, as in a year: its first moments are those of the steps taken.

    Parameters
    ----------
    rack : Rack
        A thermal rack in its present condition.
    forcing : Forcing
        What drives it, every array (days, minutes) from midnight on; `beam_w` alike at both canisters, before trees.
    beam_share : FloatArray | None
        Shape (3, 2, days, minutes), as in `march_thermal`.

    Returns
    -------
    FloatArray
        Shape (days, minutes). Rotation at the centres of minutes [degrees], + west.

    Raises
    ------
    InputError
        As `march_thermal` does.
    """
    found = np.empty(forcing.air_c.shape)
    for day in range(len(found)):
        own = Forcing(*(values[day : day + 1] for values in forcing))
        share = None if beam_share is None else beam_share[:, :, day : day + 1]
        found[day] = _marched(rack, own, share, substeps=1, restless_steps=1).rotation_deg[0]
    return found


def _marched(
    rack: Rack, forcing: Forcing, beam_share: FloatArray | None, *, substeps: int, restless_steps: int
) -> ThermalHistory:
    check_array("forcing.air_c", forcing.air_c, ("days", "minutes"))
    for name, values in forcing._asdict().items():
        check_array(f"forcing.{name}", values, forcing.air_c.shape)
    if beam_share is not None:
        check_array("beam_share", beam_share, (3, 2, *forcing.air_c.shape), least=0, most=1)
    # Of one type whatever comes, writable and in rows: for each other type the march would be compiled anew.
    share, *given = (
        np.require(values, float, ["C", "W"])
        for values in (np.ones((3, 2, 0, 0)) if beam_share is None else beam_share, *forcing)
    )
    air_c, liquid_kg = float(forcing.air_c[0, 0]), float(rack.thermal.liquid_now_kg)
    rest = Now(air_c, air_c, liquid_kg, float(resting_west_deg(rack)), air_c, air_c)
    told = np.empty((4, *forcing.air_c.shape))
    follow(
        tuple(numbers_of(rack)), march_table(rack.thermal.fluid), tuple(rest), tuple(given), share, substeps,
        restless_steps, _DARK_STRIDE_MIN, told,
    )  # fmt: skip
    return ThermalHistory(rotation_deg=told[0], west_kg=told[1], canister_c=told[2:])
