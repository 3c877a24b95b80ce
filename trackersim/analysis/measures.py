"""Ready-made options at rack, trees, wire and pipe: what each changes in a job, what it presupposes, or why it is not
for this job. Those with more modules stand in `array_measures`, those that change when water is pumped in
`water_measures`.

Their costs are unknown here; a job gives them by the option's name ([[option]] ready = "…").
"""

from __future__ import annotations

import math
from collections.abc import Callable

from trackersim.analysis.array_measures import longer_strings, one_more_string
from trackersim.analysis.loss_terms import Changes, for_units, new_pipes
from trackersim.analysis.ready_made import Ready
from trackersim.job.electrics import Wire
from trackersim.job.gauges import AWG_AREA_MM2
from trackersim.job.model import Job
from trackersim.job.pipework import Pipe
from trackersim.job.thermal import Thermal
from trackersim.rack.dose import SOUND_DOSE_KJ_M2, SOUND_THRESHOLD_W_M2
from trackersim.simulation.watched import flip_dose

# Of a sound rack that is described as watched, beside its dose and threshold (assumptions).
SOUND_TURNING_MIN, SOUND_LAG_DEG = 20.0, 3.0
# What a driven tracker takes while the pump runs: drives take 2…3 % of what they gain (Mousazadeh et
# al., Renewable and Sustainable Energy Reviews 13, 2009, recalled from memory), some 20 Wh of a pole's 0.8 kWh a day.
DRIVE_W = 2.0
# Dull black paint on the canisters (assumption).
_DULL_BLACK = 0.97
_TRIMMED_TO = 2 / 3
_MOVED_M = 18.288  # 60 ft
_SIZES_UP = 2
# The area that two sizes of the American gauge mean: 92^(4/39), about.
_AREA_UP = 1.6
_CONDITION = ("charge", "shade_plates", "damper", "pivot_friction_nm", "balance_m", "stuck")


def repair_rack(job: Job) -> Ready:
    """The rack's condition as new."""
    made = Ready(
        name="repair-rack",
        words="rack repaired, as new",
        presupposes="a rack whose fault can be found and mended; refrigerant is work for those who are licensed for it",
    )
    if all(unit.rack.kind == "ideal" or unit.rack.stands_by_intent for unit in job.units):
        return made.not_here("no rack here turns by the sun's warmth")
    return made.carried_out(for_units(job, _repaired))


def _repaired(unit: Job) -> Changes:
    rack = unit.rack
    if rack.kind == "thermal":
        fields = Thermal.model_fields
        return {f"rack.thermal.{fields[name].alias or name}": fields[name].default for name in _CONDITION}
    if rack.kind == "ideal" or rack.stands_by_intent:
        return {}
    sound: Changes = {
        "rack.turning": min(rack.turning_min, SOUND_TURNING_MIN),
        "rack.lag": min(rack.lag_deg, SOUND_LAG_DEG),
    }
    turned = {} if rack.kind == "delayed" else {"rack.kind": "delayed", "rack.fixed_rotation": 0}
    needed = flip_dose(unit)
    return (
        sound
        | turned
        | {
            "rack.flip_threshold": min(needed.threshold_w_m2, SOUND_THRESHOLD_W_M2),
            "rack.flip_dose": min(needed.dose_kj_m2, SOUND_DOSE_KJ_M2),
        }
    )


def driven_tracker(job: Job) -> Ready:
    """A rack that follows the sun by motor."""
    made = Ready(
        name="driven-tracker",
        words=f"driven tracker, {DRIVE_W:.0f} W for itself",
        presupposes="a drive that holds in wind, and controls that somebody looks after",
    )
    if all(unit.rack.kind == "ideal" for unit in job.units):
        return made.not_here("the rack follows the sun already")
    return made.carried_out(
        for_units(job, lambda unit: {"rack.kind": "ideal", "controller.own_use": unit.controller.own_use_w + DRIVE_W})
    )


def early_light_aid(job: Job) -> Ready:
    """More of the first light on the canister that must be warmed."""
    made = Ready(
        name="early-light-aid",
        words="canisters dull black, plates straight",
        presupposes="canisters that may be painted, and plates that are bent and not lost",
    )
    if not any(unit.rack.kind == "thermal" and not unit.rack.thermal.stuck for unit in job.units):
        return made.not_here('needs a working rack by physics (rack.kind = "thermal")')

    def aided(unit: Job) -> Changes:
        if unit.rack.kind != "thermal":
            return {}
        return {
            "rack.thermal.absorptance": max(unit.rack.thermal.absorptance, _DULL_BLACK),
            "rack.thermal.shade_plates": 1.0,
        }

    return made.carried_out(for_units(job, aided))


def without_tree(job: Job, number: int) -> Changes:
    """One tree felled."""
    return {"trees": [tree.plain() for place, tree in enumerate(job.trees) if place != number]}


def trimmed_tree(job: Job, number: int) -> Changes:
    """One tree cut to two thirds of its height, or to half its crown where that leaves no crown, and kept there."""
    tree = job.trees[number]
    height_m = _TRIMMED_TO * tree.height_m
    if height_m <= tree.crown_base_m:
        height_m = (tree.height_m + tree.crown_base_m) / 2
    return {f"trees.{number}.height": height_m, f"trees.{number}.yearly_growth": 0}


def tree_name(job: Job, number: int) -> str:
    """What a tree is called."""
    return job.trees[number].name or f"tree {number + 1}"


def larger_wire(job: Job) -> Ready:
    """Every run two sizes larger."""
    made = Ready(
        name="larger-wire",
        words="wire two sizes larger",
        presupposes="conduit and terminals that take the larger size",
    )
    if not any(unit.wire for unit in job.units):
        return made.not_here("no wire is given")
    return made.carried_out(for_units(job, lambda unit: {"wire": [_larger(wire) for wire in unit.wire]}))


def _larger(wire: Wire) -> Changes:
    data, sizes = wire.plain(), list(AWG_AREA_MM2)
    if wire.gauge:
        return {**data, "gauge": sizes[min(sizes.index(wire.gauge) + _SIZES_UP, len(sizes) - 1)]}
    return {**data, "area": min(wire.conductor_mm2 * _AREA_UP, 1000.0)}


def clean_pipe(job: Job) -> Ready:
    """Build-up taken off the pipe's wall."""
    made = Ready(
        name="clean-pipe",
        words="pipe cleaned",
        presupposes="build-up that comes off, and a pipe that bears the cleaning",
    )
    if not any(pipe.scale_m for pipes in (job.main_pipes, *(unit.pipes for unit in job.units)) for pipe in pipes):
        return made.not_here("no build-up is given (pipes.scale)")
    return made.carried_out(_all_pipes(job, lambda pipes: [{**pipe.plain(), "scale": 0} for pipe in pipes]))


def _all_pipes(job: Job, changed: Callable[[tuple[Pipe, ...]], list[Changes]]) -> Changes:
    """What `changed` makes of the pipes of each unit, and of the main's if there is one."""
    main = {"main.pipes": changed(job.main_pipes)} if job.main_pipes else {}
    return for_units(job, lambda unit: {"pipes": changed(unit.pipes)}) | main


def new_pipe(job: Job) -> Ready:
    """The pipe replaced by a new one of the same bore."""
    made = Ready(
        name="new-pipe",
        words="new pipe of the same bore",
        presupposes="a trench along the same way",
    )
    return made.carried_out(_all_pipes(job, new_pipes))


def fell_all_trees(job: Job) -> Ready:
    """No tree left."""
    made = Ready(
        name="fell-all-trees",
        words="all trees felled",
        presupposes="that they may be felled, and by whom",
    )
    return made.carried_out({"trees": []}) if len(job.trees) > 1 else made.not_here("there are not several trees")


def move_rack(job: Job) -> Ready:
    """The rack set up again 60 ft away from its trees, on the same lie of the land, wire and pipe as now."""
    made = Ready(
        name="move-rack",
        words="rack moved about {} off",
        presupposes="firm ground there that lies alike, a new footing, and wire and pipe as long as now",
        size=(_MOVED_M, "length"),
    )
    if not job.trees:
        return made.not_here("there is no tree to move away from")
    true = [math.radians(tree.bearing_deg + job.site.to_true_deg(tree.bearing_from)) for tree in job.trees]
    weight = [tree.height_m / tree.distance_m for tree in job.trees]
    away = math.atan2(
        -sum(w * math.sin(b) for w, b in zip(weight, true, strict=True)),
        -sum(w * math.cos(b) for w, b in zip(weight, true, strict=True)),
    )
    changes: Changes = {}
    for number, (tree, bearing) in enumerate(zip(job.trees, true, strict=True)):
        east = tree.distance_m * math.sin(bearing) - _MOVED_M * math.sin(away)
        north = tree.distance_m * math.cos(bearing) - _MOVED_M * math.cos(away)
        changes[f"trees.{number}.distance"] = math.hypot(east, north)
        seen_deg = math.degrees(math.atan2(east, north)) - job.site.to_true_deg(tree.bearing_from)
        changes[f"trees.{number}.bearing"] = seen_deg % 360
        if tree.kind == "row" and tree.runs_deg is None:  # it runs on as it did, whatever way it is seen
            changes[f"trees.{number}.runs"] = (tree.bearing_deg + 90) % 360
    return made.carried_out(changes)


def plain_options(job: Job, coldest_c: float) -> tuple[Ready, ...]:
    """All of this file that need no search."""
    makers: tuple[Callable[[Job], Ready], ...] = (
        repair_rack, driven_tracker, early_light_aid, lambda job: longer_strings(job, coldest_c),
        lambda job: one_more_string(job, coldest_c), larger_wire, clean_pipe, new_pipe, fell_all_trees, move_rack,
    )  # fmt: skip
    return tuple(make(job) for make in makers)
