"""Faults to try at one minute of a job: what each does to it, and how far it can go there.

A fault goes only as far as it can at this job: the water in a buried tank cannot stand deeper than its floor.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import numpy as np

from trackersim.analysis.fault_odds import HIGH, LOW, Prior
from trackersim.job.model import Job
from trackersim.simulation.array_power import array_model
from trackersim.simulation.pump_station import pump_station
from trackersim.simulation.steady import Instant, Point, changed, point_of
from trackersim.water.source import drawdown_m
from trackersim.water.unit_state import UnitState

# How far water can sink or rise (common practice, no source): a buried collecting tank is some 8 ft deep, wells move
# with the seasons, and no pump sucks from deeper than this.
_TANK_DEEP_M, _WELL_SINKS_M, _WELL_RISES_M, _SUCTION_M = 2.5, 15.0, 10.0, 7.5
_LEAST_C, _MOST_C = 40.0, 160.0
_OUT_OF_REACH_M = 3000.0
_MOST_UNITS_TOGETHER = 4  # of larger stations only one unit at a time is tried, and all together


@dataclass(frozen=True, kw_only=True)
class Trial:
    """A cause to try at `units` (empty: common to all): from `none` (no effect) to `most`, all that can be believed.

    `at` builds the minute with it. `steps` are the sizes of a cause that has only these. `told` makes of a size tried
    the one that is told.
    """

    name: str
    kind: str
    units: tuple[int, ...]
    odds: float
    none: float
    most: float
    at: Callable[[float], Instant]
    steps: tuple[float, ...] = ()
    small_first: bool = True
    told: Callable[[float], float] = float


def trials_of(instant: Instant, expected: Point, *, low: bool, known: Collection[str]) -> list[Trial]:
    """Every fault to try for too little water or for too much, without those in `known`, which were measured."""
    trials = _lowering(instant, expected) if low else _raising(instant)
    trials += _angle_trials(instant, (LOW if low else HIGH)["rack"], away=low)
    return [trial for trial in trials if trial.name not in known]


def _lowering(instant: Instant, expected: Point) -> list[Trial]:
    """Causes of too little water."""
    own_c = _c_value(instant)
    trials = [
        _common("light", "share", LOW, lambda x: replace(instant, light=instant.light * (1 - x))),
        _common("dirt", "share", LOW, lambda x: replace(instant, power=instant.power * (1 - x))),
        _valve_trial(instant),
        _common("pipe", "c_value", LOW, lambda x: _piped(instant, x / own_c), none=own_c),
        *_standing(instant),
        *_dead_parts(instant),
    ]
    if own_c <= trials[3].most:
        del trials[3]
    for alike in _alike(instant.job):
        trials.append(_pump_trial(instant, alike))
        deepest_m = _may_sink_m(instant.job.units[alike[0]], expected.units[alike[0]].flow_m3_s)
        if deepest_m > 0:
            trials.append(_level_trial(instant, alike, LOW["level"], deepest_m))
    return trials


def _raising(instant: Instant) -> list[Trial]:
    """Causes of more water than expected."""
    own_c = _c_value(instant)
    trials = [
        _common("light", "share", HIGH, lambda x: replace(instant, light=instant.light * (1 + x))),
        _common("dirt", "share", HIGH, lambda x: replace(instant, power=instant.power * (1 + x))),
        _common("pipe", "c_value", HIGH, lambda x: _piped(instant, x / own_c), none=own_c),
    ]
    if own_c >= trials[2].most:
        del trials[2]
    for alike in _alike(instant.job):
        trials.append(_level_trial(instant, alike, HIGH["level"], -_may_rise_m(instant, alike[0])))
    return trials


def _valve_trial(instant: Instant) -> Trial:
    """A valve partly open, up to one all but shut. Flow falls about evenly with the root of its factor K."""
    prior = LOW["valve"]
    assert prior.most is not None
    return Trial(
        name="valve", kind="factor", units=(), odds=prior.odds, none=0.0, most=math.sqrt(prior.most),
        at=lambda root: _throttled(instant, root**2), told=lambda root: root**2,
    )  # fmt: skip


def shut_in(instant: Instant) -> tuple[Point, Point]:
    """What pumps do with a valve shut beyond them: while they press against it, and once their cut-outs have tripped.

    No pump reaches an outlet as high as this, so each turns against its own closed pipe. All head above the outlet's is
    lost at the valve, and check valves hold it when the pumps stand.
    """

    def out_of_reach(source: Any) -> Any:
        months = tuple(lift + _OUT_OF_REACH_M for lift in source.lifts_m)
        return source.model_copy(update={"lift_m": months[0], "lift_by_month_m": months})

    def unprotected(pump: Any) -> Any:
        return pump.model_copy(update={"cutout_flow_m3_s": 0.0})

    shut = _worked(instant, "source", out_of_reach)
    pressing, tripped = point_of(_worked(shut, "pump", unprotected)), point_of(shut)
    lifts_m = [unit.source.lifts_m[instant.month - 1] for unit in instant.job.units]
    pressed_m = max(unit.head_m - lift for unit, lift in zip(pressing.units, lifts_m, strict=True))
    lost_m = max(pressed_m - instant.job.main_lift_m, 0.0)
    return replace(pressing, common_loss_m=lost_m), replace(tripped, common_loss_m=lost_m)


def _common(
    name: str, kind: str, table: Mapping[str, Prior], at: Callable[[float], Instant], *, none: float = 0.0
) -> Trial:
    """A cause that is the same for all units, up to the size that its table believes."""
    prior = table[name]
    assert prior.most is not None
    return Trial(name=name, kind=kind, units=(), odds=prior.odds, none=none, most=prior.most, at=at)


def _alike(job: Job) -> list[tuple[int, ...]]:
    """Units in groups of equals: what is tried at one of them need not be tried at the others."""
    groups: dict[Any, list[int]] = {}
    for number, unit in enumerate(job.units):
        parts = (unit.rack, unit.array, unit.wire, unit.controller, unit.pump, unit.pipes, unit.source)
        groups.setdefault(parts, []).append(number)
    return [tuple(group) for group in groups.values()]


def _shared(odds: float, job: Job, units: Sequence[int]) -> float:
    """The part of a cause's odds that falls on these units."""
    return odds * len(units) / len(job.units)


def _standing(instant: Instant) -> list[Trial]:
    """Units that stand though they have power: switched off or broken, their tank empty, held by float or cut-out."""
    job = instant.job
    every = tuple(range(len(job.units)))
    trials = []
    for alike in _alike(job):
        trials.append(_stopped(instant, "not running", alike, (alike[0],), UnitState.OFF))
        if job.units[alike[0]].source.kind == "sump":
            trials.append(_stopped(instant, "tank empty", alike, (alike[0],), UnitState.SOURCE_LOW))
        trials.append(_stopped(instant, "held", alike, (alike[0],), UnitState.CUT_OUT))
    several = [some for count in range(2, len(every)) for some in combinations(every, count)]
    if len(every) <= _MOST_UNITS_TOGETHER:
        trials += [
            replace(_stopped(instant, "several not running", some, some, UnitState.OFF),
                    odds=LOW["several not running"].odds / len(several))
            for some in several
        ]  # fmt: skip
    if len(every) > 1:
        trials.append(_stopped(instant, "none running", every, every, UnitState.OFF))
    if job.store.kind == "tank":
        trials.append(_stopped(instant, "store full", every, every, UnitState.STORE_FULL))
    return trials


def _stopped(instant: Instant, name: str, units: tuple[int, ...], stopped: tuple[int, ...], state: UnitState) -> Trial:
    return Trial(
        name=name, kind="none", units=units, odds=_shared(LOW[name].odds, instant.job, units), none=1.0, most=1.0,
        steps=(1.0,), at=lambda _: instant.holding(stopped, state),
    )  # fmt: skip


def _worked(instant: Instant, section: str, change: Callable[[Any], Any], *, unit: int | None = None) -> Instant:
    return _with_job(instant, changed(instant.job, section, change, unit=unit))


def _with_job(instant: Instant, job: Job) -> Instant:
    return replace(instant, job=job, station=pump_station(job))


def _pump_trial(instant: Instant, alike: tuple[int, ...]) -> Trial:
    """Wear of one pump: a centrifugal pump's head, a helical one's flow."""
    pump = instant.job.units[alike[0]].pump
    name, field = ("pump flow", "flow_lost") if pump.kind == "helical" else ("pump head", "head_lost")
    prior = LOW[name]
    assert prior.most is not None

    def worn(share: float) -> Any:
        return pump.model_copy(update={field: min(1 - (1 - getattr(pump, field)) * (1 - share), 0.9)})

    return Trial(
        name=name, kind="share", units=alike,
        odds=_shared(prior.odds, instant.job, alike), none=0.0, most=prior.most,
        at=lambda x: _worked(instant, "pump", lambda _: worn(x), unit=alike[0]),
    )  # fmt: skip


def _c_value(instant: Instant) -> float:
    """C of the longest pipe of the first unit and the main."""
    job = instant.job
    return max((*job.units[0].pipes, *job.main_pipes), key=lambda pipe: pipe.length_m).c_now


def rougher_pipes(job: Job, factor: float) -> Job:
    """The job with every pipe's C times `factor`, that of the main too."""

    def rougher(pipes: Any) -> Any:
        c_values = (float(np.clip(pipe.c_now * factor, _LEAST_C, _MOST_C)) for pipe in pipes)
        return tuple(pipe.model_copy(update={"c_value": c}) for pipe, c in zip(pipes, c_values, strict=True))

    job = changed(job, "pipes", rougher)
    if job.main is None:
        return job
    main = job.main.model_copy(update={"pipes": rougher(job.main.pipes)})
    return job.model_copy(update={"main": main})


def _piped(instant: Instant, factor: float) -> Instant:
    return _with_job(instant, rougher_pipes(instant.job, factor))


def _throttled(instant: Instant, factor_k: float) -> Instant:
    """A valve half shut in the pipe that all share, or in that of each unit if they share none."""

    def with_valve(pipes: Any) -> Any:
        return (pipes[0].model_copy(update={"fittings": pipes[0].fittings + factor_k}), *pipes[1:])

    job = instant.job
    if job.main is None or not job.main.pipes:
        return _worked(instant, "pipes", with_valve)
    main = job.main.model_copy(update={"pipes": with_valve(job.main.pipes)})
    return _with_job(instant, job.model_copy(update={"main": main}))


def _may_sink_m(unit: Job, flow_m3_s: float) -> float:
    """How much deeper than told the water of a unit may stand while its pump still gets any."""
    source = unit.source
    deepest = _TANK_DEEP_M if source.kind == "sump" else _WELL_SINKS_M
    if source.kind == "well" and source.max_drawdown_m is not None:
        down = float(drawdown_m(flow_m3_s, source))
        deepest = min(deepest, source.max_drawdown_m - down)
    return min(deepest, _SUCTION_M - source.suction_m) if source.suction_m > 0 else deepest


def _may_rise_m(instant: Instant, number: int) -> float:
    source = instant.job.units[number].source
    most = _TANK_DEEP_M if source.kind == "sump" else _WELL_RISES_M
    return max(min(most, float(source.lifts_m[instant.month - 1]) - 0.01), 0.01)


def _level_trial(instant: Instant, alike: tuple[int, ...], prior: Prior, most_m: float) -> Trial:
    """Water standing deeper than told, or (below 0) higher; shown as a length above 0."""
    sign = 1.0 if most_m > 0 else -1.0
    return Trial(
        name="level", kind="length", units=alike, odds=_shared(prior.odds, instant.job, alike), none=0.0,
        most=abs(most_m), at=lambda x: _sunk(instant, sign * x, alike[0]),
    )  # fmt: skip


def _sunk(instant: Instant, deeper_m: float, unit: int) -> Instant:
    def sunk(source: Any) -> Any:
        months = tuple(max(lift + deeper_m, 0.0) for lift in source.lifts_m)
        return source.model_copy(update={"lift_m": months[0], "lift_by_month_m": months})

    return _worked(instant, "source", sunk, unit=unit)


def _angle_trials(instant: Instant, prior: Prior, *, away: bool) -> list[Trial]:
    """A rack standing elsewhere: away from the sun for too little water, toward it for more."""
    trials = []
    for alike in _alike(instant.job):
        number, rack = alike[0], instant.job.units[alike[0]].rack
        here, stop = instant.rotation_deg[number], rack.max_rotation_deg
        sun = float(np.clip(instant.orientations[number].sun_rotation_deg[instant.scenes[number].up][0], -stop, stop))
        end = sun if not away else (stop if sun < 0 else -stop)  # the whole arc: it waits on the sun's far side
        if rack.kind != "fixed" and abs(end - here) >= 1:
            trials.append(_angle_trial(instant, alike, prior, here=here, end=end))
    return trials


def _angle_trial(instant: Instant, alike: tuple[int, ...], prior: Prior, *, here: float, end: float) -> Trial:
    def turned(angle: float) -> Instant:
        all_angles = list(instant.rotation_deg)
        all_angles[alike[0]] = angle
        return replace(instant, rotation_deg=tuple(all_angles))

    return Trial(
        name="rack", kind="angle", units=alike, odds=_shared(prior.odds, instant.job, alike), none=here, most=end,
        at=turned, small_first=prior.small_first,
    )  # fmt: skip


def _dead_parts(instant: Instant) -> list[Trial]:
    """Strings that give nothing, and modules that every string lacks (bypassed, or never wired), at one unit.

    With a single string dead, or with most modules of each gone, that is a pump that does not run.
    """
    trials = []
    for alike in _alike(instant.job):
        array = instant.job.units[alike[0]].array
        for name, field, most, share in (
            ("strings", "in_parallel", array.in_parallel - 1, 1.0),
            ("modules", "in_series", array.in_series // 2, 1 / array.in_parallel),
        ):
            if most > 0:
                trial = _part_trial(instant, alike, name, field, most)
                trials.append(replace(trial, odds=share * trial.odds))
    return trials


def _part_trial(instant: Instant, alike: tuple[int, ...], name: str, field: str, most: int) -> Trial:
    number = alike[0]

    def without(dead: float) -> Instant:
        def fewer(array: Any) -> Any:
            layout = array.layout.model_copy(update={"rows": None, "columns": None})
            return array.model_copy(update={field: getattr(array, field) - round(dead), "layout": layout})

        job = changed(instant.job, "array", fewer, unit=number)
        models = list(instant.models)
        models[number] = array_model(job.units[number], instant.scenes[number])
        return replace(instant, job=job, models=tuple(models))

    return Trial(
        name=name, kind=name, units=alike, odds=_shared(LOW[name].odds, instant.job, alike), none=1.0,
        most=1.0, steps=tuple(float(dead) for dead in range(1, most + 1)), at=without,
    )  # fmt: skip
