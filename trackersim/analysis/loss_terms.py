"""The job with some losses removed: new clean modules, no wire, no limits, new pipe, endless water.

Each function gives overrides of one unit, as `with_overrides` takes them.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import Any

from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.job.pipework import Pipe

Changes = dict[str, Any]

# What the source takes: the level drawn down, or too little that runs in.
SOURCE = "source"
# What a full tank leaves in the well: no loss where nobody asks for it.
TANK_FULL = "tank full"
# Causes between the light on the array and the water, in the order in which the account puts them back.
EQUIPMENT: tuple[str, ...] = (
    "age, dirt and mismatch",
    "wire",
    "controller limits and start",
    "pipe and pump wear",
    SOURCE,
    TANK_FULL,
)
_NEW_PLASTIC_C = 150.0
_LARGEST_W = 100_000.0
# A rating this far above the array's label is no limit: light beyond 1000 W/m² and cold included.
_MORE_THAN_LABEL = 2.0


def for_units(job: Job, changes: Callable[[Job], Changes]) -> Changes:
    """What `changes` gives for each unit, as overrides of the whole job."""
    if not job.unit:
        return changes(job)
    return {f"unit.{n}.{key}": value for n, unit in enumerate(job.units) for key, value in changes(unit).items()}


def with_losses_removed(job: Job, causes: Collection[str]) -> Job:
    """The job without these of the `EQUIPMENT` causes; the job itself where there is none to take away."""
    changes: Changes = {}
    for cause in causes:
        if cause == TANK_FULL:
            changes["store.capacity"] = None
        else:
            changes |= for_units(job, _REMOVES[cause])
    if "pipe and pump wear" in causes and job.main:
        changes["main.pipes"] = new_pipes(job.main.pipes)
    return with_overrides(job, changes) if changes else job


def _new_array(job: Job) -> Changes:
    return {"array.age_years": 0, "array.soiling": 0, "array.soiling_per_day": None, "array.mismatch": 0}


def _no_wire(job: Job) -> Changes:
    return {"wire": []}


def _no_limits(job: Job) -> Changes:
    """A controller that starts at once and bears everything; its efficiency and own use stay."""
    control = job.controller
    rated_w = max(control.rated_w, min(_MORE_THAN_LABEL * job.array.rated_w, _LARGEST_W))
    changes: Changes = {
        **dict.fromkeys(("controller.min_input", "controller.track_low", "controller.track_high"), None),
        **dict.fromkeys(("controller.max_input", "controller.max_input_current", "controller.stop"), None),
        **dict.fromkeys(("controller.start", "controller.start_delay"), 0),
        **dict.fromkeys(("pump.min_speed", "pump.cutout_flow", "pump.cutout_tries"), 0),
    }
    if control.efficiency_load is not None:
        changes["controller.efficiency_load"] = [load * control.rated_w / rated_w for load in control.efficiency_load]
    return {**changes, "controller.rated": rated_w}


def _new_waterway(job: Job) -> Changes:
    return {"pump.head_lost": 0, "pump.flow_lost": 0, "pipes": new_pipes(job.pipes)}


def _endless_source(job: Job) -> Changes:
    return {
        "source.kind": "well",
        "source.volume": None,
        "source.specific_capacity": None,
        "source.max_drawdown": None,
    }


_REMOVES: dict[str, Callable[[Job], Changes]] = {
    "age, dirt and mismatch": _new_array,
    "wire": _no_wire,
    "controller limits and start": _no_limits,
    "pipe and pump wear": _new_waterway,
    SOURCE: _endless_source,
}


def new_pipes(pipes: tuple[Pipe, ...]) -> list[Changes]:
    """The pipes as new, of the same bore and with the same fittings; plastic where no material is named."""
    return [{**pipe.plain(), "age_years": 0, "scale": 0, "c_value": new_c(pipe)} for pipe in pipes]


def new_c(pipe: Pipe) -> float:
    """Hazen–Williams C of the pipe when it was new, or today's if that is better."""
    as_new = pipe.model_copy(update={"c_value": None, "age_years": 0.0}).c_now if pipe.material else _NEW_PLASTIC_C
    return max(as_new, pipe.c_now)
