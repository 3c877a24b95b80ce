"""Several pumps on one main at given speeds, root by root: the check on `junction`; and how tests make a branch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq

from trackersim.job.pipework import Pipe
from trackersim.job.pump import Pump
from trackersim.job.water import Main, Source
from trackersim.water.branch import PumpBranch, pump_needs_m, runout_m3_s, shut_off_head_m
from trackersim.water.helical import (
    HelicalPump,
    helical_flow_m3_s,
    helical_power_w,
)
from trackersim.water.junction import JunctionFlows
from trackersim.water.pipes import pipe_head_m
from trackersim.water.pump import pump_head_m, pump_power_w
from trackersim.water.wear import PumpModel

STEADY = Source(lift_m=0)


def branch_of(
    model: PumpModel, static_head_m: float, pipes: Sequence[Pipe] = (), *, source: Source = STEADY, **speeds: float
) -> PumpBranch:
    """A pump of given laws where it stands; `speeds` are those that its drive allows."""
    section = Pump(rated_flow_m3_s=1e-3, rated_head_m=10, **speeds)
    return PumpBranch(model=model, pump=section, source=source, pipes=tuple(pipes), static_head_m=static_head_m)


def at_speeds(unit: PumpBranch, **speeds: float) -> PumpBranch:
    """The same with a drive that allows other speeds."""
    return replace(unit, pump=unit.pump.model_copy(update=speeds))


def well(capacity_m3_s_per_m: float, most_m3_s: float | None = None) -> Source:
    """A well by its specific capacity and its yield."""
    limit = None if most_m3_s is None else most_m3_s / capacity_m3_s_per_m
    return Source(lift_m=0, specific_capacity_m3_s_per_m=capacity_m3_s_per_m, max_drawdown_m=limit)


def fixed_speed_flows(units: Sequence[PumpBranch], main: Main, speeds: ArrayLike) -> JunctionFlows:
    """The same at given speeds (units, n), share of rated, ≥ 0, whatever power that takes; root by root, no tables.

    For a few cases, as a check: flows to about 1e-9. `min_speed` and `max_speed` are not looked at.
    """
    turning = np.asarray(speeds, dtype=np.float64)
    cases = [_fixed_case(units, main, case.tolist()) for case in turning.T]
    flow = np.array([case[0] for case in cases]).T
    junction = main.lift_m + np.array([case[1] for case in cases])
    head, used = np.empty_like(flow), np.empty_like(flow)
    for row, unit in enumerate(units):
        idle_m = shut_off_head_m(unit, turning[row])
        needs = pump_needs_m(unit, flow[row], junction_head_m=junction)
        head[row] = np.where(flow[row] > 0, needs, idle_m)
        pump = unit.model
        if isinstance(pump, HelicalPump):
            used[row] = helical_power_w(pump, speed=turning[row], head_m=head[row])
        else:
            used[row] = pump_power_w(pump, flow[row], speed=turning[row])
    return JunctionFlows(flow, junction, head, turning, used)


def _fixed_case(units: Sequence[PumpBranch], main: Main, speeds: Sequence[float]) -> tuple[list[float], float]:
    """Flows of all units and the rise of the junction."""

    def flows(rise: float) -> list[float]:
        head = main.lift_m + rise
        return [_fixed_flow(unit, speed, head) for unit, speed in zip(units, speeds, strict=True)]

    def gap(rise: float) -> float:
        return float(pipe_head_m(sum(flows(rise)), main.pipes)) - rise

    most = gap(0.0)
    # At its own friction the gap is 0 or less, but for rounding; a little more makes sure of the sign.
    rise = float(brentq(gap, 0.0, most * (1 + 1e-9), xtol=1e-14, rtol=1e-14)) if most > 0 else 0.0
    return flows(rise), rise


def _fixed_flow(unit: PumpBranch, speed: float, junction_head_m: float) -> float:
    """Flow of one unit at a speed, by the rules of `unit_table`."""
    pump = unit.model
    limit_m = pump.max_head_m if isinstance(pump, HelicalPump) else np.inf

    def needs(flow: float) -> float:
        return float(pump_needs_m(unit, flow, junction_head_m=junction_head_m))

    def surplus(flow: float) -> float:
        if isinstance(pump, HelicalPump):
            return float(helical_flow_m3_s(pump, speed=speed, head_m=needs(flow))) - flow
        return float(pump_head_m(pump, flow, speed=speed)) - needs(flow)

    if shut_off_head_m(unit, speed) <= needs(0.0) or needs(0.0) >= limit_m:
        return 0.0
    peak = 0.0 if isinstance(pump, HelicalPump) else speed * float(pump.flow_m3_s[np.argmax(pump.head_m)])
    ends = (peak, runout_m3_s(unit, speed)) if surplus(peak) > 0 else (0.0, peak)
    most = float(brentq(surplus, *ends, xtol=1e-15, rtol=1e-14))
    if needs(most) > limit_m:
        most = float(brentq(lambda flow: needs(flow) - limit_m, 0.0, most, xtol=1e-15, rtol=1e-14))
    return min(most, unit.max_flow_m3_s)
