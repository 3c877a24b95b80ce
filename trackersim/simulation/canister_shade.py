"""What trees and hills leave of the direct light at the canisters of the job's thermal rack."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trackersim.arrays import FloatArray, IndexArray
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.model import Job
from trackersim.rack.canister import canister_places_m
from trackersim.rack.geometry import Axis
from trackersim.simulation.orientation import axis_of
from trackersim.simulation.scene import Scene
from trackersim.sky.crowns import Crown
from trackersim.sky.trees import HorizonProfile, beam_share, behind_horizon, near_crowns


def canister_shares(unit: Job, scene: Scene) -> FloatArray | None:
    """What trees and hills leave of the direct light at the canisters, through the scene's days.

    Parameters
    ----------
    unit : Job
        A job of one unit with a thermal rack.
    scene : Scene
        Where it stands.

    Returns
    -------
    FloatArray | None
        Shape (3, 2, days, 1440), as `canister_beam_share`; None where nothing stands in the way.
    """
    if not scene.crowns and scene.horizon is None:
        return None
    share = np.ones((3, 2, scene.days, MINUTES_A_DAY))
    share.reshape(3, 2, -1)[..., scene.up] = canister_beam_share(
        scene.up_direction,
        scene.up_day,
        scene.crowns,
        scene.horizon,
        axis=axis_of(unit),
        lever_m=unit.rack.thermal.lever_m,
        max_rotation_deg=unit.rack.max_rotation_deg,
    )
    return share


def canister_beam_share(
    direction: FloatArray,
    day: IndexArray,
    crowns: Sequence[Crown],
    horizon: HorizonProfile | None,
    *,
    axis: Axis,
    lever_m: float,
    max_rotation_deg: float,
) -> FloatArray:
    """Share of the direct beam that reaches the canisters.

    Parameters
    ----------
    direction : FloatArray
        Shape (3, n). Unit vectors toward the sun: east, north, up.
    day : IndexArray
        Shape (n,). Row of each instant in `transmittance_by_day`.
    crowns : Sequence[Crown]
        Trees and rows, places relative to the rack's axis.
    horizon : HorizonProfile | None
        The far horizon; None for an open, level one.
    axis : Axis
        The axis of the rack.
    lever_m : float
        Distance from the axis to a canister [m].
    max_rotation_deg : float
        The stops [degrees].

    Returns
    -------
    FloatArray
        Shape (3, 2, n), 0…1: the rack at its east stop, centre and west stop; its west and its east canister.
    """
    share = np.ones((3, 2, direction.shape[1]))
    near = near_crowns(direction, crowns, within_m=lever_m)
    suns, days = direction[:, near], day[near]
    for stop, rotation in enumerate((-max_rotation_deg, 0.0, max_rotation_deg)):
        places = canister_places_m(axis, lever_m=lever_m, rotation_deg=rotation)
        for side, (east, north, up) in enumerate(places.tolist()):
            share[stop, side, near] = beam_share(suns, days, crowns, from_m=(east, north, up))
    share[..., behind_horizon(direction, horizon)] = 0.0
    return share
