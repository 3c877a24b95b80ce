"""Where the pump's curve meets the system's: one table of flow over electrical power, then interpolation."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from trackersim.arrays import FloatArray
from trackersim.errors import InputError
from trackersim.job.pipework import Pipe
from trackersim.job.water import Source
from trackersim.water.pipes import fittings_head_m, hazen_williams_head_m
from trackersim.water.pump import PumpCurve, peak_flow_m3_s, pump_head_m, pump_power_w, runout_flow_m3_s
from trackersim.water.source import drawdown_m, yield_limit_m3_s

_CHURNING_SPEEDS = 50
_HALVINGS = 52  # down to rounding error of a float


@dataclass(frozen=True, kw_only=True, eq=False)
class OperatingTable:
    """Steady running points, one per speed; five facts of equal standing, arrays of one length, none ever falling.

    `power_w` is what the drive must be given to hold `speed` (share of rated); the drive is off below `power_w[0]`.
    While the pump churns without flow, `head_m` is its shut-off head; otherwise the head of pump and system.
    `can_lift` is False if even at full speed no water comes. `yield_limited` is True if the well and not the
    drive sets the largest flow.
    """

    speed: FloatArray
    power_w: FloatArray
    flow_m3_s: FloatArray
    head_m: FloatArray
    can_lift: bool
    yield_limited: bool


class OperatingPoint(NamedTuple):
    """What the pump does with the power it is offered; arrays of the shape of that power."""

    flow_m3_s: FloatArray
    head_m: FloatArray
    speed: FloatArray
    power_used_w: FloatArray


def system_head_m(
    flow_m3_s: ArrayLike, *, static_head_m: ArrayLike, pipes: Sequence[Pipe], source: Source
) -> FloatArray:
    """Head [m] that `flow_m3_s` asks for: static lift, drawdown, friction (Hazen–Williams) and fittings.

    Shapes of flow and static head broadcast. `source.lift_m` is not read: the caller decides what is static.
    """
    level = drawdown_m(flow_m3_s, specific_capacity_m3_s_per_m=source.yield_m3_s_per_m)
    return np.asarray(np.asarray(static_head_m, dtype=np.float64) + level + pipe_head_m(flow_m3_s, pipes))


def pipe_head_m(flow_m3_s: ArrayLike, pipes: Sequence[Pipe]) -> FloatArray:
    """Friction (Hazen–Williams) and fittings [m] of pipes one after the other, in the shape of the flow."""
    head = np.zeros_like(np.asarray(flow_m3_s, dtype=np.float64))
    for pipe in pipes:
        bore = pipe.inside_m
        head = head + hazen_williams_head_m(flow_m3_s, bore_m=bore, length_m=pipe.length_m, c_value=pipe.c_now)
        head = head + fittings_head_m(flow_m3_s, bore_m=bore, k_sum=pipe.fittings)
    return head


def operating_flow_m3_s(
    curve: PumpCurve, *, speed: ArrayLike, static_head_m: ArrayLike, pipes: Sequence[Pipe], source: Source
) -> FloatArray:
    """Flow [m³/s] at which s² H₁(Q/s) equals the system's head; shapes of speed and static head broadcast.

    0 where the shut-off head does not exceed the static head: a pump at rest against a full pipe cannot start there,
    even if a hump of its curve reaches higher. On a humped curve the largest flow is taken, which is the stable
    one. The limit of the well's yield is not applied here.
    """
    s, static = np.broadcast_arrays(np.asarray(speed, dtype=np.float64), np.asarray(static_head_m, dtype=np.float64))

    def surplus_m(flow: FloatArray) -> FloatArray:
        needed = system_head_m(flow, static_head_m=static, pipes=pipes, source=source)
        return pump_head_m(curve, flow, speed=s) - needed

    # Right of the hump's top the surplus only falls, so the crossing there is the largest flow.
    peak = s * peak_flow_m3_s(curve)
    beyond = surplus_m(peak) >= 0
    low = np.where(beyond, peak, 0.0)
    high = np.where(beyond, s * runout_flow_m3_s(curve), peak)
    flow = _last_not_negative(surplus_m, low, high)
    return np.where(surplus_m(np.zeros_like(s)) > 0, flow, 0.0)


def _last_not_negative(function: Callable[[FloatArray], FloatArray], low: FloatArray, high: FloatArray) -> FloatArray:
    """Bisection, element by element, of a function that is ≥ 0 at `low` and falls below 0 before or at `high`."""
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        right = function(middle) >= 0
        low = np.where(right, middle, low)
        high = np.where(right, high, middle)
    return low


def operating_table(
    curve: PumpCurve,
    *,
    static_head_m: float,
    pipes: Sequence[Pipe],
    source: Source,
    max_speed: float = 1.0,
    min_speed: float = 0.0,
    speeds: int = 400,
) -> OperatingTable:
    """Steady running points of one pump on one pipe against one static head [m], from standstill to `max_speed`.

    Speeds are shares of rated speed. Below the speed at which the shut-off head equals the static head no water
    moves and the pump churns, drawing s³ P₁(0). Flow stops rising at the well's yield, and with it speed and power.
    A humped curve sets in with a jump of flow and power; powers inside the jump are given the straight line between.
    Raises `InputError` if the static head is negative or not finite.
    """
    if not 0 <= static_head_m < np.inf:
        raise InputError.of("static_head", static_head_m, "must be 0 m or more.", "Give the height of the lift.")
    threshold = float(np.sqrt(static_head_m / curve.head_m[0]))
    limit = yield_limit_m3_s(source)
    top = max_speed
    full = operating_flow_m3_s(curve, speed=top, static_head_m=static_head_m, pipes=pipes, source=source)
    yield_limited = bool(full > limit)
    if yield_limited:
        needed = float(system_head_m(limit, static_head_m=static_head_m, pipes=pipes, source=source))
        enough = _speed_for(curve, flow_m3_s=limit, head_m=needed, max_speed=max_speed)
        # Some step above the threshold must remain: a hump can reach the yield at the very speed that starts it.
        top = max(enough, min_speed, threshold * (1 + 1e-6))
    speed = _speed_grid(threshold=threshold, low=min_speed, high=top, count=speeds)
    flow = operating_flow_m3_s(curve, speed=speed, static_head_m=static_head_m, pipes=pipes, source=source)
    # At the threshold itself rounding may find the surplus of a humped curve a hair above 0, and its jump with it.
    flow = np.where(speed <= threshold * (1 + 1e-12), 0.0, flow)
    # Rounding, or a sheet whose input falls steeply, must not let more speed mean less water or power.
    flow = np.maximum.accumulate(np.minimum(flow, limit))
    power = np.maximum.accumulate(pump_power_w(curve, flow, speed=speed))
    moving = system_head_m(flow, static_head_m=static_head_m, pipes=pipes, source=source)
    return OperatingTable(
        speed=speed,
        power_w=power,
        flow_m3_s=flow,
        head_m=np.where(flow > 0, moving, pump_head_m(curve, 0.0, speed=speed)),
        can_lift=bool(full > 0),
        yield_limited=yield_limited,
    )


def _speed_for(curve: PumpCurve, *, flow_m3_s: float, head_m: float, max_speed: float) -> float:
    """The least speed that gives this flow at this head, known to lie below `max_speed`."""

    def missing_m(speed: FloatArray) -> FloatArray:
        return head_m - pump_head_m(curve, flow_m3_s, speed=speed)

    return float(_last_not_negative(missing_m, np.array(0.0), np.array(max_speed)))


def _speed_grid(*, threshold: float, low: float, high: float, count: int) -> FloatArray:
    """Speeds from `low` to `high`, with churning speeds up to `threshold` and finest steps just above it.

    A curve that starts flat gives flow ∝ √(speed − threshold) there; steps that grow as squares follow it evenly.
    """
    if threshold >= high:
        return np.linspace(low, high, _CHURNING_SPEEDS)
    squares = np.linspace(0, 1, count + 1) ** 2
    if threshold < low:
        return low + (high - low) * squares
    churning = np.linspace(low, threshold, _CHURNING_SPEEDS)
    return np.concatenate([churning, threshold + (high - threshold) * squares[1:]])


def flow_at_power(table: OperatingTable, power_w: ArrayLike) -> OperatingPoint:
    """The running point at each offered power [W] (any shape, negative counts as none).

    Never falls with power. Above the table the drive takes what its largest speed needs and no more; below its
    first power it is off and all four arrays are 0.
    """
    power = np.asarray(power_w, dtype=np.float64)
    on = (power >= table.power_w[0]) & (power > 0)
    offered = power[on]

    def spread(values: FloatArray) -> FloatArray:
        result = np.zeros(power.shape)
        result[on] = np.interp(offered, table.power_w, values)
        return result

    used = np.where(on, np.minimum(power, table.power_w[-1]), 0.0)
    return OperatingPoint(spread(table.flow_m3_s), spread(table.head_m), spread(table.speed), used)
