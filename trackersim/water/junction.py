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
from typing import NamedTuple

import numpy as np

from trackersim.arrays import BoolArray, FloatArray, check_array
from trackersim.errors import InputError
from trackersim.job.water import Main
from trackersim.water.branch import PumpBranch, at_shut_off, power_at_speed_w, pump_needs_m
from trackersim.water.drive import drive_of
from trackersim.water.pipes import pipe_head_m
from trackersim.water.unit_table import UnitTable, unit_flow_m3_s

MOST_UNITS = 8
_BLOCK = 8192  # instants solved together: their arrays stay in the processor's cache
# Of the main's friction. The flows are then exact for a main whose friction differs by less than this share.
_TOLERANCE = 1e-6
_MOST_STEPS = 90


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


def junction_flows(tables: Sequence[UnitTable], main: Main, power_w: FloatArray) -> JunctionFlows:
    """Flows of several units on one main at the powers they are offered.

    With no flow at all the junction's head is the main's static head. Where units would turn below their `min_speed`
    on what they are offered, the one that lacks most is off and the others are solved again, until none lacks power;
    an off unit has flow, head, speed and power 0.

    Parameters
    ----------
    tables : Sequence[UnitTable]
        One a unit, 1…8.
    main : Main
        The pipe that they share.
    power_w : FloatArray
        Shape (units, n). Power offered [W], ≥ 0 and finite.

    Returns
    -------
    JunctionFlows
        What the units do at each of the n instants.

    Raises
    ------
    InputError
        For a number of units, or a main, that the tables are not made for, and for a power of another
        shape, or not finite.
    """
    _check(tables, main)
    check_array("power_w", power_w, (len(tables), "n"))
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
    if any(main.lift_m < table.top_m - table.span_m - 1e-9 * (1 + table.span_m) for table in tables):
        reason = "lies below the heads of a unit's table."
        raise InputError.of("static_head", main.lift_m, reason, "Make the tables for this main.")


def _steady(tables: Sequence[UnitTable], main: Main, offered_w: FloatArray) -> JunctionFlows:
    blocks = [
        _agree(tables, main, offered_w[:, at : at + _BLOCK]) for at in range(0, max(offered_w.shape[1], 1), _BLOCK)
    ]
    flow = np.concatenate([block[0] for block in blocks], axis=1)
    junction = main.lift_m + np.concatenate([block[1] for block in blocks])
    units = [
        _running(table.unit, unit_flow, junction, unit_w)
        for table, unit_flow, unit_w in zip(tables, flow, offered_w, strict=True)
    ]
    head, speed, used = (np.stack(values) for values in zip(*units, strict=True))
    return JunctionFlows(flow, junction, head, speed, used)


def _running(
    unit: PumpBranch, flow: FloatArray, junction_head_m: FloatArray, offered_w: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Head of the pump, its speed and the power it takes."""
    idle_head, idle = at_shut_off(unit, offered_w)
    pumps = flow > 0
    head = np.where(pumps, pump_needs_m(unit, flow, junction_head_m=junction_head_m), idle_head)
    drive = drive_of(unit.model, flow, head)
    speed, used = np.where(pumps, drive.speed, idle.speed), np.where(pumps, drive.power_w, idle.power_w)
    # A unit held by its well or its largest head turns no slower than its drive can.
    if unit.pump.min_speed > 0 and np.any(held := (speed < unit.pump.min_speed) & (offered_w > 0)):
        used = np.where(held, power_at_speed_w(unit, unit.pump.min_speed, flow, head), used)
        speed = np.where(held, unit.pump.min_speed, speed)
    # A helical pump whose motor cannot hold the torque that turns it stands, and its drive gives up.
    used = np.where(speed > 0, used, 0.0)
    return head, np.minimum(speed, unit.pump.max_speed), np.minimum(used, offered_w)


def _agree(tables: Sequence[UnitTable], main: Main, offered_w: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Flows (units, n) and rise of the junction above the main's static head (n,) at which all agree.

    The rise is where the main's friction at the sum of flows equals it. Friction at zero rise bounds it. Secants with
    Anderson and Björck's weights (BIT 13 (1973), 253), of a nearly straight function: a few steps; every fourth step
    halves the bracket, so that jumps end too.
    """
    rise = np.zeros(offered_w.shape[1])
    flow = _flows(tables, offered_w, main.lift_m + rise)
    friction = pipe_head_m(flow.sum(axis=0), main.pipes)
    left = np.flatnonzero(friction > 0)
    power = offered_w[:, left]
    at = np.minimum(friction[left], max(table.top_m for table in tables) - main.lift_m)
    bracket = _Bracket.before(at, friction[left])
    for step in range(_MOST_STEPS):
        now = _flows(tables, power, main.lift_m + at)
        gap = pipe_head_m(now.sum(axis=0), main.pipes) - at
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
    low_moved: BoolArray

    @classmethod
    def before(cls, high: FloatArray, low_gap: FloatArray) -> _Bracket:
        """From 0 to `high`, where the function has not been looked at yet."""
        return cls(np.zeros_like(high), low_gap, high, np.full_like(high, -1.0), np.ones(high.shape, dtype=np.bool_))

    def of(self, which: BoolArray) -> _Bracket:
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


def _lack_power(tables: Sequence[UnitTable], result: JunctionFlows, offered_w: FloatArray) -> BoolArray:
    """Which unit (units, n) is furthest below what its least speed takes; none where no unit is."""
    covered = np.ones_like(offered_w)
    for row, table in enumerate(tables):
        unit, flow, head = table.unit, result.flow_m3_s[row], result.head_m[row]
        if unit.pump.min_speed <= 0:
            continue
        least_w = power_at_speed_w(unit, unit.pump.min_speed, flow, head)
        slow = (offered_w[row] > 0) & (drive_of(unit.model, flow, head).speed < unit.pump.min_speed)
        covered[row] = np.where(slow & (offered_w[row] < least_w), offered_w[row] / least_w, 1.0)
    weak: BoolArray = (covered < 1) & (covered == covered.min(axis=0))
    return weak
