"""Ready-made options that change when and how fast water is pumped: tanks, floats, start power, a flow held, a backup.

Some need today's result, to begin from what the pump does now; each is then simulated like any other option.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from scipy.optimize import brentq

from trackersim.analysis.alternatives import water_outcome
from trackersim.analysis.loss_terms import Changes, for_units
from trackersim.analysis.ready_made import Ready
from trackersim.job.electrics import Controller
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.job.pipework import Pipe
from trackersim.simulation.pump_station import pump_station
from trackersim.simulation.result import Result
from trackersim.simulation.runner import Runner
from trackersim.simulation.water_notices import in_tens_w, start_that_lifts_w

_TANK_TIMES = 2.0
# Of a float's tank: how far below full, or above the low stop, the pump may start again (assumptions).
_REFILL_SHARE, _RESTART_SHARE = 0.05, 0.1
# Of today's start power, tried.
_STARTS = (0.4, 0.6, 0.8, 1.25, 1.6)
# Less gained than this share is none.
_NONE = 1e-3
_SLOWEST = 0.2
# A valve is modelled as a bore of no length with one velocity head lost in it.
_VALVE_K, _SMALLEST_BORE_M = 1.0, 0.0041


def water_options(job: Job, own: Result, runner: Runner) -> tuple[Ready, ...]:
    """All of this file, in the order of the table."""
    return (
        larger_collecting_tank(job),
        larger_tank(job),
        other_floats(job),
        other_start_power(job, own, runner),
        hold_flow(job, own),
        throttle(job, own),
        grid_at_night(job),
        generator_on_dull_days(job),
    )


def larger_collecting_tank(job: Job) -> Ready:
    """Every sump twice as large, its floats at the same shares of it."""
    made = Ready(
        name="larger-collecting-tank",
        words="collecting tank twice as large",
        presupposes="inflow that really runs over today, and room for the tank; floats at the same shares of it",
    )
    if not any(unit.source.kind == "sump" for unit in job.units):
        return made.not_here('no source is a collecting tank (source.kind = "sump")')

    def larger(unit: Job) -> Changes:
        volume_m3 = unit.source.volume_m3
        return {} if volume_m3 is None else {"source.volume": _TANK_TIMES * volume_m3}

    return made.carried_out(for_units(job, larger))


def larger_tank(job: Job) -> Ready:
    """The store twice as large, with as much in it on the first day as today: half a larger one is no gain of it."""
    made = Ready(
        name="larger-tank",
        words="tank twice as large",
        presupposes="a level pad that bears it: water weighs a tonne the cubic metre, 8.3 lb the gallon",
    )
    if job.store.capacity_m3 is None:
        return made.not_here("what the store holds is not given (store.capacity)")
    if job.store.kind != "tank":
        return made.not_here("the store is no tank")
    times = _TANK_TIMES
    return made.carried_out({"store.capacity": times * job.store.capacity_m3, "store.start": job.store.start / times})


def other_floats(job: Job) -> Ready:
    """Floats set so that the pump starts again soon after the tank falls, or the collecting tank rises."""
    made = Ready(
        name="other-floats",
        words="floats closer together",
        presupposes="a pump, motor and switch that bear the more frequent starts, and room between the floats",
    )
    tank, changes = job.store, for_units(job, _sooner)
    if tank.capacity_m3 is not None and tank.kind == "tank" and tank.low_float < tank.high_float - _REFILL_SHARE:
        changes["store.low_float"] = tank.high_float - _REFILL_SHARE
    return made.carried_out(changes) if changes else made.not_here("no float stands apart from the other")


def _sooner(unit: Job) -> Changes:
    source = unit.source
    if source.kind != "sump" or source.restart <= source.low_stop + _RESTART_SHARE:
        return {}
    return {"source.restart": source.low_stop + _RESTART_SHARE}


def other_start_power(job: Job, own: Result, runner: Runner) -> Ready:
    """The start power with which most water is used, of a few shares of today's, and of the one from which water comes
    where that is higher: a notice advises it.
    """
    made = Ready(
        name="other-start-power",
        words="another start power",
        presupposes="a controller on which it can be set, and a pump that bears more starts where it is lower",
    )
    if not any(unit.controller.start_w for unit in job.units):
        return made.not_here("no start power is given (controller.start)")
    scene = runner.scene(job)
    power = [minutes["input_w"][scene.up] for minutes in own.unit_minutes]

    def used_and_lifted(share: float) -> tuple[float, float]:
        changed = with_overrides(job, _start_at(job, share))
        outcome = water_outcome(runner.pumped(changed, power), changed, scene.month_of_day)
        return outcome.used_m3_per_day, outcome.lifted_m3_per_day

    tried = (*_STARTS, *_advised_share(job))
    water = {share: used_and_lifted(share) for share in tried}
    best, now = max(water, key=water.__getitem__), used_and_lifted(1.0)
    if all(given <= before * (1 + _NONE) for given, before in zip(water[best], now, strict=True)):
        return made.not_here(f"no start power from {100 * tried[0]:.0f} to {100 * tried[-1]:.0f} % of it gives more")
    told = replace(made, words=f"started at {100 * best:.0f} % of today's start power")
    return told.carried_out(_start_at(job, best))


def _advised_share(job: Job) -> tuple[float, ...]:
    """Share of today's start power from which water comes at every pump, where that lies beyond those tried."""
    station = pump_station(job)
    shares = [
        in_tens_w(start_that_lifts_w(unit, station, number)) / unit.controller.start_w
        for number, unit in enumerate(job.units)
        if unit.controller.start_w
    ]
    return (max(shares),) if max(shares) > _STARTS[-1] else ()


def _start_at(job: Job, share: float) -> Changes:
    def started(unit: Job) -> Changes:
        control: Controller = unit.controller
        start_w = min(share * control.start_w, 0.99 * control.rated_w)
        stop_w = None if control.stop_w is None else min(share * control.stop_w, start_w)
        return {"controller.start": start_w, "controller.stop": stop_w}

    return for_units(job, started)


def hold_flow(job: Job, own: Result) -> Ready:
    """A speed limit with which no more flows than is told, or than a collecting tank's inflow keeps up all day."""
    made = Ready(
        name="hold-flow",
        words="speed limit",
        presupposes="a drive whose largest speed can be set",
    )
    held_m3_s, why = _held_m3_s(job, own, made.name)
    if held_m3_s is None:
        return made.not_here(why)

    def too_much_m3_s(share: float) -> float:
        return _full_flow_m3_s(with_overrides(job, _slower(job, share))) - held_m3_s

    if too_much_m3_s(_SLOWEST) > 0:
        return made.not_here("the pumps give more at a fifth of their speed")
    share = float(brentq(too_much_m3_s, _SLOWEST, 1.0, xtol=1e-6))
    return _holding(made, held_m3_s).carried_out(_slower(job, share))


def throttle(job: Job, own: Result) -> Ready:
    """A valve behind the junction, or behind the one pump, that lets no more through at full power."""
    made = Ready(
        name="throttle",
        words="throttle valve",
        presupposes="a pipe that bears the pump's pressure at the valve; full speed, and its power, go on",
    )
    if any(unit.pump.kind == "helical" for unit in job.units):
        # Common practice, no source: its flow hardly falls with head, so that a valve only raises the pressure.
        return made.not_here("a helical pump is slowed, never throttled: against a closing valve it bursts pipe")
    held_m3_s, why = _held_m3_s(job, own, made.name)
    if held_m3_s is None:
        return made.not_here(why)

    def too_much_m3_s(bore_m: float) -> float:
        return _full_flow_m3_s(with_overrides(job, _with_valve(job, bore_m))) - held_m3_s

    widest_m = min(pipe.inside_m for pipe in _common_pipes(job))
    if too_much_m3_s(_SMALLEST_BORE_M) > 0:
        return made.not_here("a valve as small is none of this pipe's")
    if too_much_m3_s(widest_m) <= 0:
        return made.not_here("an open valve holds that already")
    bore_m = float(brentq(too_much_m3_s, _SMALLEST_BORE_M, widest_m, xtol=1e-7))
    return _holding(made, held_m3_s).carried_out(_with_valve(job, bore_m))


def _holding(made: Ready, held_m3_s: float) -> Ready:
    return replace(made, words=f"{made.words} that holds {{}}", size=(held_m3_s, "flow"))


def _held_m3_s(job: Job, own: Result, name: str) -> tuple[float | None, str]:
    """The flow to hold, or None and why there is nothing to hold."""
    told = next((o.hold_flow_m3_s for o in job.option if o.ready == name and o.hold_flow_m3_s is not None), None)
    held_m3_s = _sustained_m3_s(job, own) if told is None else told
    if held_m3_s is None:
        return None, "no collecting tank runs low; a flow can be told (option.hold_flow)"
    if held_m3_s >= _full_flow_m3_s(job):
        return None, "the pumps give less at full power"
    return held_m3_s, ""


def _sustained_m3_s(job: Job, own: Result) -> float | None:
    """Inflow of all collecting tanks over the minutes with power; None where a source has no end, or none is low."""
    water = own.water
    if any(unit.source.kind != "sump" for unit in job.units) or not sum(
        minutes.sum() for cause, minutes in water.lost_min.items() if cause == "source low"
    ):
        return None
    powered_min = [
        int((minutes["input_w"] >= max(unit.controller.stops_at_w, 1.0)).sum())
        for unit, minutes in zip(job.units, own.unit_minutes, strict=True)
    ]
    month = own.stages.scene.month_of_day
    inflow_m3 = sum(float(np.array(unit.source.inflows_m3_per_day)[month - 1].sum()) for unit in job.units)
    return inflow_m3 / (60 * max(powered_min)) if max(powered_min) else None


def _full_flow_m3_s(job: Job) -> float:
    """What all pumps give together at full power, in the month in which they give most."""
    flow = sum(pump_station(job).full_flow_m3_s)
    assert math.isfinite(flow)
    return flow


def _slower(job: Job, share: float) -> Changes:
    def limited(unit: Job) -> Changes:
        most = unit.pump.max_speed
        return {"pump.max_speed": max(share * most, np.nextafter(unit.pump.min_speed, 2.0), 0.1001)}

    return for_units(job, limited)


def _common_pipes(job: Job) -> tuple[Pipe, ...]:
    return job.main_pipes or job.units[0].pipes


def _with_valve(job: Job, bore_m: float) -> Changes:
    valve = {"name": "valve", "length": 0, "bore": bore_m, "fittings": _VALVE_K}
    pipes = [pipe.plain() for pipe in _common_pipes(job)]
    return {"main.pipes" if job.main_pipes else "pipes": [*pipes, valve]}


_SWITCH = "a change-over switch that lets one source on at a time, a controller made for it, a licensed electrician"


def grid_at_night(job: Job) -> Ready:
    """The grid, every night until the tank's float stops it; where none does, until what is wanted is there."""
    store = job.store
    by_want = any(store.demands_m3_per_day) and (store.kind != "tank" or store.capacity_m3 is None)
    until = "every night"
    if by_want:
        rest = "the day's want is met" if store.capacity_m3 is None else f"the {store.kind} holds the next day's want"
        until = f"until {rest} (by a timer that somebody sets)"
    made = Ready(
        name="grid-at-night", words="grid at night", presupposes=f"a line to the site, 8 pm to 6 am {until}; {_SWITCH}"
    )
    return _backed_up(made, job, {"kind": "grid", "when": "dull" if by_want else "every", "begins": 20, "ends": 6})


def generator_on_dull_days(job: Job) -> Ready:
    """A generator in the evenings of days on which the sun lifted, or left in a store that is followed, less than is
    wanted, until that is made good."""
    made = Ready(
        name="generator-on-dull-days",
        words="generator on evenings of dull days",
        presupposes="somebody who starts it from 6 pm on when the day brought too little, or the store holds less "
        f"than the next day's want, fuel, and {_SWITCH}",
    )
    if not any(job.store.demands_m3_per_day):
        return made.not_here("no demand is given (store.demand), so no day brings too little")
    return _backed_up(made, job, {"kind": "generator", "when": "dull", "begins": 18, "ends": 24})


def _backed_up(made: Ready, job: Job, backup: Changes) -> Ready:
    if job.backup is not None:
        return made.not_here("the job has a backup already; its figures are in every row")
    return made.carried_out({"backup": backup})
