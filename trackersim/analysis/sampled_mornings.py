"""A dozen ways the morning may go: sky, air, wind, trees and rack drawn within stated ranges, and the rack in each.

The ranges are those of `uncertain_inputs`. Draws are a Latin hypercube with a fixed seed: every unknown is
spread evenly over its range, and the same question gets the same answer. The first run has everything at its likely
value.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.stats import qmc

from trackersim.analysis.observed_sky import AIR_NUMBERS, Days, Seen, air_drawn, day_weather, scene_under, within
from trackersim.analysis.uncertain_inputs import range_of_input
from trackersim.arrays import FloatArray
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.job.ranges import clipped
from trackersim.quantity_reading import without_unit
from trackersim.simulation.racks_side_by_side import turned_side_by_side
from trackersim.simulation.reuse import StageCache
from trackersim.simulation.scene import Scene
from trackersim.simulation.tracking import track
from trackersim.simulation.watched import flip_dose

RUNS = 12  # beside the likely one
_SEED = 20250321
_TREES = ("tree_height", "transmittance_leaf_on", "transmittance_leaf_off")
# What a sound rack of the kind that the job describes may differ in.
_SOUND = ("pivot_friction_nm", "damper", "absorptance", "tube_bore_m", "sound_charge", "sound_plates")
_FIELD = {"sound_charge": "charge", "sound_plates": "shade_plates"}
_MOST = {
    "absorptance": 1.0,
    "shade_plates": 1.0,
    "charge": 1.2,
    "damper": 200.0,
    "tube_bore_m": 0.05,
    "pivot_friction_nm": 500.0,
}
_LEAST = {"absorptance": 0.05, "damper": 0.05, "tube_bore_m": 0.0005}
# What a watched rack may differ in.
_WATCHED = ("flip_threshold", "turning", "flip_dose")


@dataclass(frozen=True, kw_only=True)
class Run:
    """One way the day may go: the job with its trees and rack as drawn, the scene in its air, and what the rack does.

    `rotation_deg` (days, 1440); moments are minutes of the last day, None where they do not happen.
    """

    job: Job
    scene: Scene
    rotation_deg: FloatArray
    sunrise: int | None
    flip: int | None
    arrival: int | None

    @property
    def today_deg(self) -> FloatArray:
        """Rotation on the day asked for (1440,)."""
        return np.asarray(self.rotation_deg[-1])


def runs_of(job: Job, days: Days, seen: Seen, minute: int, *, count: int = RUNS) -> tuple[Run, ...]:
    """The likely run, then `count` drawn ones, of a job with one rack; `minute` is when the air was seen."""
    width = AIR_NUMBERS + _FACTORS
    shares = np.vstack([np.full(width, 0.5), latin(count, width)])
    watched = _watched(job)
    airs = [air_drawn(days.usual, seen, minute, row[:AIR_NUMBERS]) for row in shares]
    jobs = [_varied(job, watched, row[AIR_NUMBERS:]) for row in shares]
    scenes = [scene_under(varied, days, day_weather(days, air)) for varied, air in zip(jobs, airs, strict=True)]
    marched = job.rack.kind == "thermal" and not job.rack.thermal.stuck
    rotations = turned_side_by_side(jobs, scenes) if marched else [None] * len(jobs)
    cache = StageCache()
    return tuple(
        _run(varied, scene, rotation_deg, cache)
        for varied, scene, rotation_deg in zip(jobs, scenes, rotations, strict=True)
    )


def latin(count: int, width: int) -> FloatArray:
    """Latin hypercube (count, width) of shares 0…1, the same every time."""
    return np.asarray(qmc.LatinHypercube(d=width, scramble=False, rng=_SEED).random(count))


_FACTORS = 3 + 2 + len(_SOUND)


def _watched(job: Job) -> tuple[float, ...]:
    """The numbers `_WATCHED` of a watched rack; of another none."""
    if job.rack.kind != "delayed":
        return ()
    needed = flip_dose(job)
    return needed.threshold_w_m2, job.rack.turning_min, needed.dose_kj_m2


def _varied(job: Job, watched: Sequence[float], shares: Sequence[float] | FloatArray) -> Job:
    """The job with trees and rack, of a watched one the numbers `watched`, within their ranges."""
    changes: dict[str, Any] = {}
    height, leaf, bare = (within(r, u) for r, u in zip(map(range_of_input, _TREES), shares[:3], strict=True))
    for number, tree in enumerate(job.trees):
        place = f"trees.{number}."
        changes[place + "height"] = max(tree.height_m * height, tree.crown_base_m + 0.01)
        changes[place + "transmittance_leaf_on"] = min(tree.transmittance_leaf_on * leaf, 1.0)
        changes[place + "transmittance_leaf_off"] = min(tree.transmittance_leaf_off * bare, 1.0)
    for name, value, share in zip(_WATCHED, watched, shares[3:6], strict=False):
        changes[f"rack.{name}"] = clipped(f"rack.{name}", value * within(range_of_input(name), share))
    if job.rack.kind == "thermal":
        changes |= _varied_thermal(job, shares[5:])
    return with_overrides(job, changes) if changes else job


def _varied_thermal(job: Job, shares: Sequence[float] | FloatArray) -> dict[str, Any]:
    changes = {}
    for drawn, share in zip(_SOUND, shares, strict=True):
        name = _FIELD.get(drawn, drawn)
        value = float(getattr(job.rack.thermal, name)) * within(range_of_input(drawn), share)
        key = f"rack.thermal.{without_unit(name)}"
        changes[key] = float(np.clip(value, _LEAST.get(name, 0.0), _MOST.get(name, 1e8)))
    return changes


def _run(job: Job, scene: Scene, rotation_deg: FloatArray | None, cache: StageCache) -> Run:
    tracking = track(job, scene, rotation_deg=rotation_deg, reuse=cache.get)
    moments = {name: int(getattr(tracking.morning, name)[-1]) for name in ("sunrise", "flip", "arrival")}
    told = {name: minute if minute >= 0 else None for name, minute in moments.items()}
    return Run(job=job, scene=scene, rotation_deg=tracking.rotation_deg, **told)
