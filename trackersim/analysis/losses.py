"""Where the water went: an ordered account from an ideal site to the job as it stands, one step for each cause.

The account begins with an ideal rack under an open horizon, a new clean array, no wire, a controller without limits, a
new pump and pipe and an endless source, and puts one cause after the other back. Every step is the difference of two
runs of the same engine, so the steps add up; what a step takes depends on what was put back before it. Beside it stands
what mending this cause alone would gain on the job as it stands, which does not add up.

Water is water lifted. Energy is the electrical energy that the motors take while they give water: what reaches the
motor, at most what the pump takes at full speed.
"""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from trackersim.analysis.loss_terms import ELECTRICAL, mended
from trackersim.arrays import BoolArray, FloatArray
from trackersim.constants import MINUTES_A_DAY
from trackersim.errors import InputError
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.rack.fixed import ideal_rotation
from trackersim.rack.geometry import sun_on_axis
from trackersim.simulation.electrics import motor_w
from trackersim.simulation.pump_station import pump_station
from trackersim.simulation.result import Result
from trackersim.simulation.runner import Progress, prepare, simulate
from trackersim.simulation.scene import Scene, evenly_shaded, without_tree_beam, without_tree_sky
from trackersim.simulation.tracking import axis_of

IntArray = npt.NDArray[np.integer]

# Causes in the order of the account. The first six are the rack and what stands around it.
CAUSES: tuple[str, ...] = (
    "late flip",
    "later still behind trees",
    "other pointing error",
    "trees and hills: beam",
    "trees and hills: sky",
    "uneven shade in strings",
    *ELECTRICAL,
)


class Worth(NamedTuple):
    """What one run gave over its days: water lifted and energy that the motors took while giving it."""

    water_m3: float
    energy_kwh: float


@dataclass(frozen=True, kw_only=True)
class Step:
    """One cause: what putting it back took from the account (below 0: it gave), and what mending it alone would gain.

    `present` is false for a cause that this job does not have at all, so that both are exactly 0.
    """

    cause: str
    lost: Worth
    alone: Worth
    present: bool


@dataclass(frozen=True, kw_only=True)
class Ledger:
    """The account of one job: from `ideal` by the steps' losses to `own`, sums over the days of `result`."""

    job: Job
    result: Result
    ideal: Worth
    steps: tuple[Step, ...]
    own: Worth

    @property
    def days(self) -> int:
        """Whole days simulated."""
        return self.result.days

    def summary(self) -> dict[str, Any]:
        """Plain data, as `losses --json` prints it (SI)."""
        return {
            "job": self.job.site.name,
            "days": self.days,
            "water": "lifted",
            "energy": "taken by the motors while they give water",
            "ideal": self.ideal._asdict(),
            "steps": [
                {
                    "cause": step.cause,
                    "present": step.present,
                    "lost": step.lost._asdict(),
                    "mended_alone_gains": step.alone._asdict(),
                }
                for step in self.steps
            ],
            "own": self.own._asdict(),
        }


@dataclass(frozen=True, kw_only=True)
class _Run:
    """What distinguishes one run from another: the job's text, which scene, which rotation."""

    job: Job
    scene: str
    rotation: str

    @property
    def key(self) -> tuple[str, str, str]:
        """Runs with one key are one run."""
        return (self.job.canonical_text(), self.scene, self.rotation)


def losses_of(
    job: Job,
    *,
    first_day: dt.date | None = None,
    last_day: dt.date | None = None,
    scene: Scene | None = None,
    progress: Progress | None = None,
) -> Ledger:
    """The account of `job` over the days of its weather. Raises `InputError` as `simulate` does.

    Several units must stand on racks that are described alike: what one rack does is then what all do.
    """
    tell = progress or (lambda words, share: None)
    _refuse_unlike_racks(job)
    tell("weather, sun and trees", 0.0)
    scene = prepare(job, first_day=first_day, last_day=last_day) if scene is None else scene
    tell("the site as it is", 0.05)
    own = simulate(job, scene=scene)
    bare = not scene.crowns and scene.horizon is None
    scenes = _scenes(scene, bare=bare)
    tell("the rack under an open sky", 0.1)
    in_the_open = own if bare else simulate(job, scene=scenes["open"])
    chain, alone = _chain(job, bare=bare), _alone(job, bare=bare)
    as_it_is = _plain(_Run(job=job, scene="own", rotation="own"), job, bare=bare)
    known = {as_it_is.key: _worth(own)}
    worths = _run_all([*chain, *alone], known, scenes, _rotations(job, scene, own, in_the_open), tell)
    along, mending = [worths[run.key] for run in chain], [worths[run.key] for run in alone]
    here = along[-1]
    steps = tuple(
        Step(cause=cause, lost=_less(before, after), alone=_less(gained, here), present=one.key != other.key)
        for cause, before, after, gained, one, other in zip(
            CAUSES, along[:-1], along[1:], mending, chain[:-1], chain[1:], strict=True
        )
    )
    tell("done", 1.0)
    return Ledger(job=job, result=own, ideal=along[0], steps=steps, own=here)


def _refuse_unlike_racks(job: Job) -> None:
    racks = [unit.rack for unit in job.units]
    if any(rack != racks[0] for rack in racks):
        reason = "have racks of their own, and the account follows one rack for all of them."
        remedy = "Ask for the losses of each unit as a job of its own."
        raise InputError.of("unit", len(racks), reason, remedy)


def _less(more: Worth, less: Worth) -> Worth:
    return Worth(more.water_m3 - less.water_m3, more.energy_kwh - less.energy_kwh)


def _scenes(scene: Scene, *, bare: bool) -> dict[str, Scene]:
    """The scenes of the account by name; all the same where nothing stands around."""
    if bare:
        return dict.fromkeys(("own", "open", "beam", "sky", "even", "no beam", "no sky"), scene)
    no_sky = without_tree_sky(scene)
    return {
        "own": scene,
        "open": without_tree_beam(no_sky),
        "beam": evenly_shaded(no_sky),
        "even": evenly_shaded(scene),
        "no beam": without_tree_beam(scene),
        "no sky": no_sky,
    }


def _chain(job: Job, *, bare: bool) -> list[_Run]:
    """The runs of the account in order, one more than there are causes."""
    new = mended(job, ELECTRICAL)
    racks = [("open", name) for name in ("ideal", "flip in the open", "flip", "own")]
    light = [(scene, "own") for scene in ("beam", "even", "own")]
    runs = [_Run(job=new, scene=scene, rotation=rotation) for scene, rotation in [*racks, *light]]
    runs += [_Run(job=mended(job, ELECTRICAL[n:]), scene="own", rotation="own") for n in range(1, len(ELECTRICAL) + 1)]
    return [_plain(run, job, bare=bare) for run in runs]


def _alone(job: Job, *, bare: bool) -> list[_Run]:
    """For each cause, the job as it stands with this one cause mended."""
    places = [
        ("own", "no flip"), ("own", "open until arrival"), ("own", "ideal from arrival"), ("no beam", "own"),
        ("no sky", "own"), ("even", "own"),
    ]  # fmt: skip
    runs = [_Run(job=job, scene=scene, rotation=rotation) for scene, rotation in places]
    runs += [_Run(job=mended(job, (cause,)), scene="own", rotation="own") for cause in ELECTRICAL]
    return [_plain(run, job, bare=bare) for run in runs]


def _plain(run: _Run, job: Job, *, bare: bool) -> _Run:
    """The run under the name that equal runs share; an ideal rotation is that of the job on an ideal rack."""
    rotation, scene = run.rotation, "own" if bare else run.scene
    if bare:
        rotation = {"flip": "flip in the open", "open until arrival": "own"}.get(rotation, rotation)
    if not job.rack.waits:
        rotation = {"no flip": "own", "open until arrival": "own", "own": "own"}.get(rotation, "ideal")
    if rotation == "ideal" or job.rack.kind == "ideal":
        return _Run(job=with_overrides(run.job, {"rack.kind": "ideal"}), scene=scene, rotation="ideal")
    return _Run(job=run.job, scene=scene, rotation=rotation)


def _rotations(job: Job, scene: Scene, own: Result, in_the_open: Result) -> dict[str, FloatArray]:
    """Rotations of the rack (days, 1440) by name, made of what it does here, in the open, and what an ideal one does.

    Until arrival a day belongs to the late flip; a day without a flip does so as a whole, one on which the rack did not
    rest in the west not at all.
    """
    here, there = own.by_day("rotation_deg"), in_the_open.by_day("rotation_deg")
    sun_rotation, _ = sun_on_axis(scene.sun.direction, axis_of(job.units[0]))
    ideal = ideal_rotation(scene.by_day(sun_rotation), max_rotation_deg=job.units[0].rack.max_rotation_deg)
    late, late_there = _late(own), _late(in_the_open)
    return {
        "own": here,
        "flip in the open": np.where(late_there, there, ideal),
        "flip": np.where(late, here, ideal),
        "no flip": np.where(late, ideal, here),
        "open until arrival": np.where(late, there, here),
        "ideal from arrival": np.where(late, here, ideal),
    }


def _late(result: Result) -> BoolArray:
    """Minutes (days, 1440) before the rack, having rested in the west, has arrived at the sun."""
    morning, rotation = result.morning, result.by_day("rotation_deg")
    start = np.maximum(morning.sunrise, 0)
    rested_west = rotation[np.arange(len(start)), start] > 0
    flipped = morning.flip >= 0
    until = np.where(morning.arrival >= 0, morning.arrival, np.where(flipped, morning.flip, MINUTES_A_DAY))
    return np.arange(MINUTES_A_DAY) < np.where(rested_west, until, 0)[:, None]


def _run_all(
    runs: list[_Run],
    known: Mapping[tuple[str, str, str], Worth],
    scenes: Mapping[str, Scene],
    rotations: Mapping[str, FloatArray],
    tell: Callable[[str, float], None],
) -> dict[tuple[str, str, str], Worth]:
    """What every different run gives."""
    worths = dict(known)
    todo = {run.key: run for run in runs if run.key not in worths}

    def give(run: _Run) -> Worth:
        return _worth(simulate(run.job, scene=scenes[run.scene], rotation_deg=rotations.get(run.rotation)))

    with ThreadPoolExecutor(max_workers=min(2, os.cpu_count() or 1)) as pool:
        for number, (key, worth) in enumerate(zip(todo, pool.map(give, todo.values()), strict=True)):
            worths[key] = worth
            tell("one cause after the other", 0.15 + 0.85 * (number + 1) / len(todo))
    return worths


def _worth(result: Result) -> Worth:
    return Worth(result.water_m3, motor_kwh(result))


def motor_kwh(result: Result) -> float:
    """Energy that the motors of a result took while they gave water: what reached them, at most that of full speed."""
    station = pump_station(result.job)
    month = np.repeat(np.asarray(result.times[::MINUTES_A_DAY].month), MINUTES_A_DAY)
    total = 0.0
    for number, (unit, minutes) in enumerate(zip(result.job.units, result.unit_minutes, strict=True)):
        lifts = minutes["flow_m3_s"] > 0
        offered = motor_w(unit, minutes["input_w"][lifts])
        total += float(np.minimum(offered, station.full_power_by_month_w(number)[month[lifts] - 1]).sum())
    return total / 60_000
