"""Several pumps on one common main: at every instant the head at the junction at which all their flows agree.

Heads are metres of water above the junction. The higher the junction's head, the less the units give and the more the
main asks for, so there is one answer. Every unit has a check valve: none ever runs backward. The power offered sets
the speed, as in `operating_table`: the speed at which the input at the flow it then gives equals what is offered, at
most its largest. Centrifugal pumps follow the affinity laws, helical ones `water/helical.py`, with their ranges.

Values are taken as valid: finite, bores, C values, specific capacity and largest flow and speed above 0, the rest ≥ 0
but for static heads, of which a unit's and the main's together must not be negative.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

from trackersim.errors import InputError
from trackersim.water.helical import (
    HelicalPump,
    helical_flow_m3_s,
    helical_power_w,
    helical_shut_off_head_m,
    helical_speed,
    helical_torque_nm,
    shut_off_head_at_speed_m,
)
from trackersim.water.pipes import fittings_head_m, hazen_williams_head_m
from trackersim.water.pump import PumpCurve, peak_flow_m3_s, pump_head_m, pump_power_w, runout_flow_m3_s
from trackersim.water.source import drawdown_m

FloatArray = NDArray[np.float64]

MOST_UNITS = 8
_SAMPLES = 800
_SPEED_SAMPLES = 4096
_BLOCK = 8192  # instants solved together: their arrays stay in the processor's cache
# Of the main's friction. The flows are then exact for a main whose friction differs by less than this share.
_TOLERANCE = 1e-6
_MOST_STEPS = 90


@dataclass(frozen=True, kw_only=True)
class Segment:
    """A stretch of pipe of one bore; `fittings` is the sum of its loss factors K."""

    length_m: float
    bore_m: float
    c_value: float = 140.0
    fittings: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Main:
    """The common pipe; `static_head_m` from the junction up to the outlet, delivery pressure included."""

    static_head_m: float
    segments: tuple[Segment, ...] = ()


@dataclass(frozen=True, kw_only=True, eq=False)
class Unit:
    """A pump and its branch; `static_head_m` from its standing water up to the junction.

    `max_flow_m3_s`: the well's yield, at which a level control holds it. Below `min_speed` its drive is off.
    """

    pump: PumpCurve | HelicalPump
    static_head_m: float
    branch: tuple[Segment, ...] = ()
    specific_capacity_m3_s_per_m: float | None = None
    max_flow_m3_s: float = np.inf
    min_speed: float = 0.0
    max_speed: float = 1.0


@dataclass(frozen=True, kw_only=True, eq=False)
class UnitTable:
    """Flow of one unit over junction head and power offered, made by `unit_table`.

    `depth` is √(head below `top_m`, shut-off at largest speed, over `span_m`), `push` √(power above what shut-off
    takes, over what `most_w` exceeds it by); both 0…1 in even steps. In these flow is smooth, and a straight line or a
    parabola at shut-off. Kept is what a straight line between points follows best: `by_speed` (depths,), flow at
    largest speed over depth, of a helical pump flow itself; and `by_power` (depths, pushes), flow that the power
    allows at any speed over push, of a helical pump times its torque at rest.
    """

    unit: Unit
    top_m: float
    span_m: float
    most_w: float
    by_speed: FloatArray
    by_power: FloatArray


class JunctionFlows(NamedTuple):
    """What the units do; all (units, n) but `junction_head_m` (n,).

    `head_m` of each pump is its shut-off head at `speed` while it turns without giving water, as in `OperatingTable`.
    `power_used_w` is what it takes of the power offered.
    """

    flow_m3_s: FloatArray
    junction_head_m: FloatArray
    head_m: FloatArray
    speed: FloatArray
    power_used_w: FloatArray


def segments_head_m(flow_m3_s: ArrayLike, segments: Sequence[Segment]) -> FloatArray:
    """Head [m] lost by `flow_m3_s` (any shape) in pipes one after another: Hazen–Williams and fittings."""
    lost = np.zeros_like(np.asarray(flow_m3_s, dtype=np.float64))
    for part in segments:
        if part.length_m > 0:
            lost = lost + hazen_williams_head_m(
                flow_m3_s, bore_m=part.bore_m, length_m=part.length_m, c_value=part.c_value
            )
        if part.fittings > 0:
            lost = lost + fittings_head_m(flow_m3_s, bore_m=part.bore_m, k_sum=part.fittings)
    return lost


def pump_needs_m(unit: Unit, flow_m3_s: ArrayLike, *, junction_head_m: ArrayLike) -> FloatArray:
    """Head [m] the unit's pump must give to send `flow_m3_s` into the junction; shapes broadcast."""
    level = drawdown_m(flow_m3_s, specific_capacity_m3_s_per_m=unit.specific_capacity_m3_s_per_m)
    return unit.static_head_m + np.asarray(junction_head_m) + level + segments_head_m(flow_m3_s, unit.branch)


# ---- what a pump must turn and draw -----------------------------------------------------------------------------


class _Drive(NamedTuple):
    speed: FloatArray
    power_w: FloatArray


class _SpeedFit(NamedTuple):
    bend: float
    per_step: float
    inverse_root: FloatArray
    power_w: FloatArray


@lru_cache(maxsize=64)
def _speed_fit(curve: PumpCurve) -> _SpeedFit:
    """1/√(H₁ + c q²) and P₁ over q/√(H₁ + c q²), which finds q from any flow and head without a root to solve."""
    runout = runout_flow_m3_s(curve)
    bend = float(curve.head_m[0]) / runout**2
    q = np.linspace(0, runout, 4 * _SPEED_SAMPLES)
    root = np.sqrt(pump_head_m(curve, q) + bend * q**2)
    even = np.linspace(0, 1 / np.sqrt(bend), _SPEED_SAMPLES + 1)
    flow = np.interp(even, q / root, q)
    return _SpeedFit(
        bend=bend,
        per_step=_SPEED_SAMPLES * float(np.sqrt(bend)),
        inverse_root=1 / np.sqrt(pump_head_m(curve, flow) + bend * flow**2),
        power_w=pump_power_w(curve, flow),
    )


def _drive(pump: PumpCurve | HelicalPump, flow_m3_s: FloatArray, head_m: FloatArray) -> _Drive:
    """Speed and electrical input for this flow at this head (shapes broadcast)."""
    if isinstance(pump, HelicalPump):
        speed = helical_speed(pump, flow_m3_s=flow_m3_s, head_m=head_m)
        return _Drive(speed, helical_power_w(pump, speed=speed, head_m=head_m))
    fit = _speed_fit(pump)
    root = np.sqrt(head_m + fit.bend * flow_m3_s**2)
    at, share = _place(flow_m3_s / np.maximum(root, 1e-12) * fit.per_step, steps=_SPEED_SAMPLES)
    speed = root * _between(fit.inverse_root, at, share)
    return _Drive(speed, speed**3 * _between(fit.power_w, at, share))


def _churning(unit: Unit, power_w: FloatArray) -> tuple[FloatArray, _Drive]:
    """Head, speed and input of the unit while it gives no water."""
    pump = unit.pump
    if isinstance(pump, HelicalPump):
        most_m = shut_off_head_at_speed_m(pump, unit.max_speed)
        head = np.minimum(helical_shut_off_head_m(pump, power_w=power_w), most_m)
    else:
        speed = np.minimum(np.cbrt(power_w / pump.power_w[0]), unit.max_speed)
        head = pump_head_m(pump, 0.0, speed=speed)
    return head, _drive(pump, np.zeros_like(head), head)


def _place(at: FloatArray, *, steps: int) -> tuple[NDArray[np.intp], FloatArray]:
    """Index on a regular grid, and the share of the way to the next one."""
    index = np.minimum(at.astype(np.intp), steps - 1)
    return index, at - index


def _between(values: FloatArray, index: NDArray[np.intp], share: FloatArray) -> FloatArray:
    low = values.take(index)
    between: FloatArray = low + share * (values.take(index + 1) - low)
    return between


# ---- one unit ---------------------------------------------------------------------------------------------------


def _shut_off_m(unit: Unit, speed: float) -> float:
    if isinstance(unit.pump, HelicalPump):
        return float(shut_off_head_at_speed_m(unit.pump, speed))
    return float(pump_head_m(unit.pump, 0.0, speed=speed))


def _runout_m3_s(unit: Unit, speed: float) -> float:
    pump = unit.pump
    return speed * (pump.rated_flow_m3_s if isinstance(pump, HelicalPump) else runout_flow_m3_s(pump))


def unit_table(unit: Unit, *, lowest_head_m: float, depths: int = 400, pushes: int = 200) -> UnitTable:
    """The table of one unit, for mains whose static head [m] is `lowest_head_m` or more.

    Flow is taken as the largest at which the pump holds its own, and as 0 up to shut-off. A humped curve sets in with
    a jump, which is spread as in `operating_table`; unlike there, it must start against the head that the flows in the
    main make, and not that of standing water. Within 1e-4 of the exact flow, 1e-3 where jumps are spread and where a
    helical pump meets its largest head. Raises `InputError` if the unit would be asked for a negative head.
    """
    if not 0 <= unit.static_head_m + lowest_head_m < np.inf:
        raise InputError.of(
            "static_head", unit.static_head_m, "lets water run through without a pump.", "Give the height of the lift."
        )
    top_m = _shut_off_m(unit, unit.max_speed) - unit.static_head_m
    span_m = max(top_m - lowest_head_m, 1e-9)
    depth, push = np.linspace(0, 1, depths + 1), np.linspace(0, 1, pushes + 1)
    head = top_m - span_m * depth[:, None] ** 2
    flow = 1.3 * _runout_m3_s(unit, unit.max_speed) * np.linspace(0, 1, _SAMPLES) ** 3
    needs = np.maximum(pump_needs_m(unit, flow, junction_head_m=head), 0)
    drive = _drive(unit.pump, flow, needs)
    full, power = _full_m3_s(unit, flow, needs, drive), _rising(_power_through_jump(flow, drive))
    most_w = max(float(np.interp(q, flow, row)) for q, row in zip(full, power, strict=True))
    start_w = _shut_off_w(unit.pump, needs[:, :1])
    offered = start_w + (most_w - start_w) * push**2
    pushed = np.array([np.interp(at, row, flow) for at, row in zip(offered, power, strict=True)])
    return UnitTable(
        unit=unit,
        top_m=top_m,
        span_m=span_m,
        most_w=most_w,
        by_speed=full if isinstance(unit.pump, HelicalPump) else _divided(full[None], depth)[0],
        by_power=_divided(pushed * _torque_nm(unit.pump, needs[:, :1]), push),
    )


def _full_m3_s(unit: Unit, flow: FloatArray, needs: FloatArray, drive: _Drive) -> FloatArray:
    """The largest flow at each head that neither its largest speed nor its largest head forbids."""
    limit_m = unit.pump.max_head_m if isinstance(unit.pump, HelicalPump) else np.inf
    strain = _rising(np.maximum(drive.speed / unit.max_speed, needs / limit_m))
    full = np.array([np.interp(1.0, row, flow) for row in strain])
    shut = (drive.speed[:, 0] >= unit.max_speed * (1 - 1e-12)) | (needs[:, 0] >= limit_m)
    return np.where(shut, 0.0, full)


def _divided(flow: FloatArray, by: FloatArray) -> FloatArray:
    """Rows over a grid that begins at 0, where the quotient is taken as at the next point."""
    return np.concatenate([flow[:, 1:2] / by[1], flow[:, 1:] / by[1:]], axis=1)


def _shut_off_w(pump: PumpCurve | HelicalPump, head_m: FloatArray) -> FloatArray:
    """Input at which shut-off reaches this head; exact, since flow just above it rises steeply with power."""
    if isinstance(pump, HelicalPump):
        return helical_power_w(pump, speed=helical_speed(pump, flow_m3_s=0.0, head_m=head_m), head_m=head_m)
    share = head_m / pump.head_m[0]
    power: FloatArray = pump.power_w[0] * share * np.sqrt(share)
    return power


def _torque_nm(pump: PumpCurve | HelicalPump, head_m: FloatArray) -> FloatArray | float:
    """What flow of a helical pump falls with at a given power; 1 for a centrifugal one, whose flow is smooth as is."""
    return helical_torque_nm(pump, head_m) if isinstance(pump, HelicalPump) else 1.0


def _power_through_jump(flow: FloatArray, drive: _Drive) -> FloatArray:
    """Input over flow at each head; a straight line up to where a humped curve goes on at its shut-off's speed."""
    jump = np.array([np.interp(row[0], _rising(row[None])[0], flow) for row in drive.speed])
    landed = np.array([np.interp(q, flow, row) for q, row in zip(jump, drive.power_w, strict=True)])
    share = flow / np.maximum(jump, 1e-12)[:, None]
    straight = drive.power_w[:, :1] + share * (landed[:, None] - drive.power_w[:, :1])
    return np.where(share < 1, straight, drive.power_w)


def _rising(values: FloatArray) -> FloatArray:
    """The least of each value and all to its right: its inverse is the largest flow that a limit allows."""
    return np.minimum.accumulate(values[:, ::-1], axis=1)[:, ::-1]


def unit_flow_m3_s(table: UnitTable, *, power_w: FloatArray, junction_head_m: FloatArray) -> FloatArray:
    """Flow [m³/s] the unit gives into the junction, any one shape; never rises with head nor falls with power."""
    pump, (depths, pushes) = table.unit.pump, (size - 1 for size in table.by_power.shape)
    depth = np.sqrt(np.maximum(table.top_m - junction_head_m, 0) / table.span_m)
    row, down = _place(np.minimum(depth, 1) * depths, steps=depths)
    rest_m = np.maximum(junction_head_m + table.unit.static_head_m, 0)  # no less than 0 but for rounding
    shut_off_w = _shut_off_w(pump, rest_m)
    spare_w = np.maximum(np.minimum(power_w, table.most_w) - shut_off_w, 0)
    push = np.minimum(np.sqrt(spare_w / np.maximum(table.most_w - shut_off_w, 1e-12)), 1)
    column, right = _place(push * pushes, steps=pushes)
    cell, values = row * (pushes + 1) + column, table.by_power.ravel()
    upper = _between(values, cell, right)
    between = upper + down * (_between(values, cell + pushes + 1, right) - upper)
    by_power = push * between / _torque_nm(pump, rest_m)
    by_speed = _between(table.by_speed, row, down) * (1.0 if isinstance(pump, HelicalPump) else depth)
    return np.minimum(np.minimum(by_power, by_speed), table.unit.max_flow_m3_s)


# ---- all units --------------------------------------------------------------------------------------------------


def junction_flows(tables: Sequence[UnitTable], main: Main, power_w: FloatArray) -> JunctionFlows:
    """Flows of 1…8 units on one main at `power_w` offered (units, n), ≥ 0, finite.

    With no flow at all the junction's head is the main's static head. Where units would turn below their `min_speed`
    on what they are offered, the one that lacks most is off and the others are solved again, until none lacks power;
    an off unit has flow, head, speed and power 0. Raises `InputError` for a number of units or a main the tables
    are not made for.
    """
    _check(tables, main)
    offered = np.maximum(power_w, 0)
    result = _steady(tables, main, offered)
    for _ in tables:
        weak = _lack_power(tables, result, offered)
        again = np.flatnonzero(weak.any(axis=0))
        if not again.size:
            break
        offered[weak] = 0.0
        for whole, part in zip(result, _steady(tables, main, offered[:, again]), strict=True):
            whole[..., again] = part
    return result


def _check(tables: Sequence[UnitTable], main: Main) -> None:
    if not 1 <= len(tables) <= MOST_UNITS:
        raise InputError.of("units", len(tables), f"must be 1…{MOST_UNITS}.", "Give each pump on the main.")
    # The table's first head is computed, not copied: a metre of rounding error is some 1e-12.
    if any(main.static_head_m < table.top_m - table.span_m - 1e-9 * (1 + table.span_m) for table in tables):
        reason = "lies below the heads of a unit's table."
        raise InputError.of("static_head", main.static_head_m, reason, "Make the tables for this main.")


def _steady(tables: Sequence[UnitTable], main: Main, offered_w: FloatArray) -> JunctionFlows:
    blocks = [
        _agree(tables, main, offered_w[:, at : at + _BLOCK]) for at in range(0, max(offered_w.shape[1], 1), _BLOCK)
    ]
    flow = np.concatenate([block[0] for block in blocks], axis=1)
    junction = main.static_head_m + np.concatenate([block[1] for block in blocks])
    units = [
        _running(table.unit, unit_flow, junction, unit_w)
        for table, unit_flow, unit_w in zip(tables, flow, offered_w, strict=True)
    ]
    head, speed, used = (np.stack(values) for values in zip(*units, strict=True))
    return JunctionFlows(flow, junction, head, speed, used)


def _running(
    unit: Unit, flow: FloatArray, junction_head_m: FloatArray, offered_w: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Head of the pump, its speed and the power it takes."""
    idle_head, idle = _churning(unit, offered_w)
    pumps = flow > 0
    head = np.where(pumps, pump_needs_m(unit, flow, junction_head_m=junction_head_m), idle_head)
    drive = _drive(unit.pump, flow, head)
    speed, used = np.where(pumps, drive.speed, idle.speed), np.where(pumps, drive.power_w, idle.power_w)
    # A unit held by its well or its largest head turns no slower than its drive can.
    if unit.min_speed > 0 and np.any(held := (speed < unit.min_speed) & (offered_w > 0)):
        used = np.where(held, _power_at_speed(unit, unit.min_speed, flow, head), used)
        speed = np.where(held, unit.min_speed, speed)
    return head, np.minimum(speed, unit.max_speed), np.minimum(used, offered_w)


def _agree(tables: Sequence[UnitTable], main: Main, offered_w: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Flows (units, n) and rise of the junction above the main's static head (n,) at which all agree.

    The rise is where the main's friction at the sum of flows equals it. Friction at zero rise bounds it. Secants with
    Anderson and Björck's weights (BIT 13 (1973), 253), of a nearly straight function: a few steps; every fourth step
    halves the bracket, so that jumps end too.
    """
    rise = np.zeros(offered_w.shape[1])
    flow = _flows(tables, offered_w, main.static_head_m + rise)
    friction = segments_head_m(flow.sum(axis=0), main.segments)
    left = np.flatnonzero(friction > 0)
    power = offered_w[:, left]
    at = np.minimum(friction[left], max(table.top_m for table in tables) - main.static_head_m)
    bracket = _Bracket.before(at, friction[left])
    for step in range(_MOST_STEPS):
        now = _flows(tables, power, main.static_head_m + at)
        gap = segments_head_m(now.sum(axis=0), main.segments) - at
        flow[:, left], rise[left] = now, at
        wide = np.abs(gap) > _TOLERANCE * at
        if not wide.any():
            break
        left, power = left[wide], power[:, wide]
        bracket = bracket.narrowed(at, gap).of(wide)
        at = bracket.middle() if step % 4 == 3 else bracket.secant()
    return flow, rise


def _flows(tables: Sequence[UnitTable], power_w: FloatArray, junction_head_m: FloatArray) -> FloatArray:
    each = zip(tables, power_w, strict=True)
    return np.stack([unit_flow_m3_s(table, power_w=watts, junction_head_m=junction_head_m) for table, watts in each])


class _Bracket(NamedTuple):
    """Ends of the brackets (n,), the function there (≥ 0 at low, ≤ 0 at high), and which end was moved last."""

    low: FloatArray
    low_gap: FloatArray
    high: FloatArray
    high_gap: FloatArray
    low_moved: NDArray[np.bool_]

    @classmethod
    def before(cls, high: FloatArray, low_gap: FloatArray) -> _Bracket:
        """From 0 to `high`, where the function has not been looked at yet."""
        return cls(np.zeros_like(high), low_gap, high, np.full_like(high, -1.0), np.ones(high.shape, dtype=np.bool_))

    def of(self, which: NDArray[np.bool_]) -> _Bracket:
        """Some of them."""
        low, low_gap, high, high_gap = (ends[which] for ends in self[:4])
        return _Bracket(low, low_gap, high, high_gap, self.low_moved[which])

    def narrowed(self, at: FloatArray, gap: FloatArray) -> _Bracket:
        """With `gap` found at `at`; an end that stays twice counts for less."""
        rises = gap > 0
        weight = 1 - gap / np.where(rises, self.low_gap, self.high_gap)
        weight = np.where(rises == self.low_moved, np.where(weight > 0, weight, 0.5), 1.0)
        low_gap = np.where(rises, gap, self.low_gap * weight)
        high_gap = np.where(rises, self.high_gap * weight, gap)
        return _Bracket(np.where(rises, at, self.low), low_gap, np.where(rises, self.high, at), high_gap, rises)

    def secant(self) -> FloatArray:
        """Where the straight line through both ends is 0."""
        share = self.low_gap / (self.low_gap - self.high_gap)
        return self.low + share * (self.high - self.low)

    def middle(self) -> FloatArray:
        """Half-way."""
        return (self.low + self.high) / 2


def _lack_power(tables: Sequence[UnitTable], result: JunctionFlows, offered_w: FloatArray) -> NDArray[np.bool_]:
    """Which unit (units, n) is furthest below what its least speed takes; none where no unit is."""
    covered = np.ones_like(offered_w)
    for row, table in enumerate(tables):
        unit, flow, head = table.unit, result.flow_m3_s[row], result.head_m[row]
        if unit.min_speed <= 0:
            continue
        least_w = _power_at_speed(unit, unit.min_speed, flow, head)
        slow = (offered_w[row] > 0) & (_drive(unit.pump, flow, head).speed < unit.min_speed)
        covered[row] = np.where(slow & (offered_w[row] < least_w), offered_w[row] / least_w, 1.0)
    weak: NDArray[np.bool_] = (covered < 1) & (covered == covered.min(axis=0))
    return weak


def _power_at_speed(unit: Unit, speed: float, flow: FloatArray, head: FloatArray) -> FloatArray:
    """Input at a speed above the one that would do; a unit without flow then churns at its shut-off head."""
    if not isinstance(unit.pump, HelicalPump):
        return pump_power_w(unit.pump, flow, speed=speed)
    idle_m = shut_off_head_at_speed_m(unit.pump, speed)
    return helical_power_w(unit.pump, speed=speed, head_m=np.where(flow > 0, head, idle_m))


# ---- a few cases, exactly ---------------------------------------------------------------------------------------


def fixed_speed_flows(units: Sequence[Unit], main: Main, speeds: ArrayLike) -> JunctionFlows:
    """The same at given speeds (units, n), share of rated, ≥ 0, whatever power that takes; root by root, no tables.

    For a few cases, as a check: flows to about 1e-9. `min_speed` and `max_speed` are not looked at.
    """
    turning = np.asarray(speeds, dtype=np.float64)
    cases = [_fixed_case(units, main, case.tolist()) for case in turning.T]
    flow = np.array([case[0] for case in cases]).T
    junction = main.static_head_m + np.array([case[1] for case in cases])
    head, used = np.empty_like(flow), np.empty_like(flow)
    for row, unit in enumerate(units):
        idle_m = np.array([_shut_off_m(unit, speed) for speed in turning[row].tolist()])
        needs = pump_needs_m(unit, flow[row], junction_head_m=junction)
        head[row] = np.where(flow[row] > 0, needs, idle_m)
        pump = unit.pump
        if isinstance(pump, HelicalPump):
            used[row] = helical_power_w(pump, speed=turning[row], head_m=head[row])
        else:
            used[row] = pump_power_w(pump, flow[row], speed=turning[row])
    return JunctionFlows(flow, junction, head, turning, used)


def _fixed_case(units: Sequence[Unit], main: Main, speeds: Sequence[float]) -> tuple[list[float], float]:
    """Flows of all units and the rise of the junction."""

    def flows(rise: float) -> list[float]:
        head = main.static_head_m + rise
        return [_fixed_flow(unit, speed, head) for unit, speed in zip(units, speeds, strict=True)]

    def gap(rise: float) -> float:
        return float(segments_head_m(sum(flows(rise)), main.segments)) - rise

    most = gap(0.0)
    # At its own friction the gap is 0 or less, but for rounding; a little more makes sure of the sign.
    rise = float(brentq(gap, 0.0, most * (1 + 1e-9), xtol=1e-14, rtol=1e-14)) if most > 0 else 0.0
    return flows(rise), rise


def _fixed_flow(unit: Unit, speed: float, junction_head_m: float) -> float:
    """Flow of one unit at a speed, by the rules of `unit_table`."""
    pump = unit.pump
    limit_m = pump.max_head_m if isinstance(pump, HelicalPump) else np.inf

    def needs(flow: float) -> float:
        return float(pump_needs_m(unit, flow, junction_head_m=junction_head_m))

    def surplus(flow: float) -> float:
        if isinstance(pump, HelicalPump):
            return float(helical_flow_m3_s(pump, speed=speed, head_m=needs(flow))) - flow
        return float(pump_head_m(pump, flow, speed=speed)) - needs(flow)

    if _shut_off_m(unit, speed) <= needs(0.0) or needs(0.0) >= limit_m:
        return 0.0
    peak = 0.0 if isinstance(pump, HelicalPump) else speed * peak_flow_m3_s(pump)
    ends = (peak, _runout_m3_s(unit, speed)) if surplus(peak) > 0 else (0.0, peak)
    most = float(brentq(surplus, *ends, xtol=1e-15, rtol=1e-14))
    if needs(most) > limit_m:
        most = float(brentq(lambda flow: needs(flow) - limit_m, 0.0, most, xtol=1e-15, rtol=1e-14))
    return min(most, unit.max_flow_m3_s)
