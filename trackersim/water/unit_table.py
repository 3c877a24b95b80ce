"""One pump and its branch on a common main: its flow over junction head and power offered, tabulated once.

Heads are metres of water above the junction. Values are taken as valid, as in `junction`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from trackersim.arrays import BoolArray, FloatArray, IndexArray
from trackersim.errors import InputError
from trackersim.job.pipework import Pipe
from trackersim.job.pump import Pump
from trackersim.job.water import Source
from trackersim.water.helical import (
    HelicalPump,
    helical_power_w,
    helical_shut_off_head_m,
    helical_speed,
    helical_torque_share,
    shut_off_head_at_speed_m,
)
from trackersim.water.motor import motor_input_w, speed_at_input
from trackersim.water.pump import PumpCurve, pump_head_m, pump_power_w, pump_torque_share, runout_flow_m3_s
from trackersim.water.source import yield_limit_m3_s
from trackersim.water.system import system_head_m
from trackersim.water.wear import PumpModel

_SAMPLES = 800
_SPEED_SAMPLES = 4096


@dataclass(frozen=True, kw_only=True, eq=False)
class PumpBranch:
    """One pump where it stands: sections of its unit, and what is computed of them for the months of one lift.

    Computed are `model`, the laws of the pump as worn today (`pump_model`), and `static_head_m`, from its standing
    water up to the end of `pipes`: the junction with the main, or the outlet. Of `pump` only the speeds are read that
    its drive allows; below the least it is off.
    """

    model: PumpModel
    pump: Pump
    source: Source
    pipes: tuple[Pipe, ...]
    static_head_m: float

    @property
    def max_flow_m3_s(self) -> float:
        """The well's yield, at which a level control holds it."""
        return yield_limit_m3_s(self.source)


@dataclass(frozen=True, kw_only=True, eq=False)
class UnitTable:
    """Flow of one unit over junction head and power offered, made by `unit_table`.

    `depth` is √(head below `top_m`, shut-off at largest speed, over `span_m`), `push` √(power above what shut-off
    takes, over what `most_w` exceeds it by); both 0…1 in even steps. In these flow is smooth, and a straight line or a
    parabola at shut-off. Kept is what a straight line between points follows best: `by_speed` (depths,), flow at
    largest speed over depth, of a helical pump flow itself; and `by_power` (depths, pushes), flow that the power
    allows at any speed over push, of a helical pump times what it takes more with speed.
    """

    unit: PumpBranch
    top_m: float
    span_m: float
    most_w: float
    by_speed: FloatArray
    by_power: FloatArray


def pump_needs_m(unit: PumpBranch, flow_m3_s: ArrayLike, *, junction_head_m: ArrayLike) -> FloatArray:
    """Head that a pump must give to send a flow into the junction.

    Parameters
    ----------
    unit : PumpBranch
        The pump where it stands.
    flow_m3_s : ArrayLike
        Any shape. Its flow [m³/s], ≥ 0.
    junction_head_m : ArrayLike
        Broadcasts with the flow. Head of the water above the junction [m].

    Returns
    -------
    FloatArray
        Head [m], of the common shape.
    """
    static_head_m = unit.static_head_m + np.asarray(junction_head_m)
    return system_head_m(flow_m3_s, static_head_m=static_head_m, pipes=unit.pipes, source=unit.source)


class Drive(NamedTuple):
    """What a pump's drive does: speed (share of rated) and electrical input."""

    speed: FloatArray
    power_w: FloatArray


class _SpeedFit(NamedTuple):
    bend: float
    per_step: float
    inverse_root: FloatArray
    torque_share: FloatArray


@lru_cache(maxsize=64)
def _speed_fit(curve: PumpCurve) -> _SpeedFit:
    """1/√(H₁ + c q²) and torque T₁ over q/√(H₁ + c q²), which finds q from any flow and head: no root to solve."""
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
        torque_share=pump_torque_share(curve, flow),
    )


def drive_of(pump: PumpModel, flow_m3_s: FloatArray, head_m: FloatArray) -> Drive:
    """Speed and electrical input that give a flow at a head.

    Parameters
    ----------
    pump : PumpModel
        The pump's laws.
    flow_m3_s : FloatArray
        Any shape. Flow [m³/s], ≥ 0.
    head_m : FloatArray
        Broadcasts with the flow. Head of the pump [m], ≥ 0.

    Returns
    -------
    Drive
        Speed [share of rated] and input [W], of the common shape.
    """
    if isinstance(pump, HelicalPump):
        speed = helical_speed(pump, flow_m3_s=flow_m3_s, head_m=head_m)
        return Drive(speed, helical_power_w(pump, speed=speed, head_m=head_m))
    fit = _speed_fit(pump)
    root = np.sqrt(head_m + fit.bend * flow_m3_s**2)
    at, share = _place(flow_m3_s / np.maximum(root, 1e-12) * fit.per_step, steps=_SPEED_SAMPLES)
    speed = root * _between(fit.inverse_root, at, share)
    torque = speed**2 * _between(fit.torque_share, at, share)
    return Drive(speed, motor_input_w(pump.motor, speed=speed, torque_share=torque))


def churning(unit: PumpBranch, power_w: FloatArray) -> tuple[FloatArray, Drive]:
    """Head, speed and input of a pump while it gives no water.

    Parameters
    ----------
    unit : PumpBranch
        The pump where it stands.
    power_w : FloatArray
        Any shape. Electrical input offered [W], ≥ 0.

    Returns
    -------
    tuple[FloatArray, Drive]
        Its shut-off head [m], and the speed and input that go with it, of that shape.
    """
    pump = unit.model
    if isinstance(pump, HelicalPump):
        most_m = shut_off_head_at_speed_m(pump, unit.pump.max_speed)
        head = np.minimum(helical_shut_off_head_m(pump, power_w=power_w), most_m)
    else:
        speed = speed_at_input(pump.motor, input_w=power_w, torque_share=_shut_off_torque_share(pump))
        speed = np.minimum(speed, unit.pump.max_speed)
        head = pump_head_m(pump, 0.0, speed=speed)
    return head, drive_of(pump, np.zeros_like(head), head)


def _place(at: FloatArray, *, steps: int) -> tuple[IndexArray, FloatArray]:
    """Index on a regular grid, and the share of the way to the next one."""
    index = np.minimum(at.astype(np.intp), steps - 1)
    return index, at - index


def _between(values: FloatArray, index: IndexArray, share: FloatArray) -> FloatArray:
    low = values.take(index)
    between: FloatArray = low + share * (values.take(index + 1) - low)
    return between


def shut_off_head_m(unit: PumpBranch, speed: ArrayLike) -> FloatArray:
    """Head that a pump reaches at a speed without giving water.

    Parameters
    ----------
    unit : PumpBranch
        The pump where it stands.
    speed : ArrayLike
        Any shape. Share of rated speed, ≥ 0.

    Returns
    -------
    FloatArray
        Shape of the speed [m].
    """
    if isinstance(unit.model, HelicalPump):
        return shut_off_head_at_speed_m(unit.model, speed)
    return pump_head_m(unit.model, 0.0, speed=speed)


def runout_m3_s(unit: PumpBranch, speed: float) -> float:
    """Flow that a pump gives at a speed against no head.

    Parameters
    ----------
    unit : PumpBranch
        The pump where it stands.
    speed : float
        Share of rated speed, ≥ 0.

    Returns
    -------
    float
        Flow [m³/s].
    """
    pump = unit.model
    return speed * (pump.rated_flow_m3_s if isinstance(pump, HelicalPump) else runout_flow_m3_s(pump))


def unit_table(unit: PumpBranch, *, lowest_head_m: float, depths: int = 400, pushes: int = 200) -> UnitTable:
    """Tabulate one unit for a main of a given static head or more.

    Flow is taken as the largest at which the pump holds its own, and as 0 up to shut-off. A humped curve sets in with
    a jump, which is spread as in `operating_table`; unlike there, it must start against the head that the flows in the
    main make, and not that of standing water. Within 1e-4 of the exact flow, 1e-3 where jumps are spread and where a
    helical pump meets its largest head.

    Parameters
    ----------
    unit : PumpBranch
        The pump where it stands.
    lowest_head_m : float
        Least static head of the mains [m].
    depths : int
        Steps of the table in head.
    pushes : int
        Steps of the table in power.

    Returns
    -------
    UnitTable
        Its flow over junction head and power offered.

    Raises
    ------
    InputError
        If the unit would be asked for a negative head.
    """
    if not 0 <= unit.static_head_m + lowest_head_m < np.inf:
        raise InputError.of(
            "static_head", unit.static_head_m, "lets water run through without a pump.", "Give the height of the lift."
        )
    top_m = float(shut_off_head_m(unit, unit.pump.max_speed)) - unit.static_head_m
    span_m = max(top_m - lowest_head_m, 1e-9)
    depth, push = np.linspace(0, 1, depths + 1), np.linspace(0, 1, pushes + 1)
    head = top_m - span_m * depth[:, None] ** 2
    flow = sampled_flow_m3_s(unit)
    needs = np.maximum(pump_needs_m(unit, flow, junction_head_m=head), 0)
    drive = drive_of(unit.model, flow, needs)
    full, power = largest_flow_m3_s(unit, flow, needs, drive.speed), rising(_power_through_jump(unit, flow, drive))
    most_w = max(float(np.interp(q, flow, row)) for q, row in zip(full, power, strict=True))
    start_w = _shut_off_w(unit.model, needs[:, :1])
    offered = start_w + (most_w - start_w) * push**2
    pushed = np.array([np.interp(at, row, flow) for at, row in zip(offered, power, strict=True)])
    return UnitTable(
        unit=unit,
        top_m=top_m,
        span_m=span_m,
        most_w=most_w,
        by_speed=full if isinstance(unit.model, HelicalPump) else _divided(full[None], depth)[0],
        by_power=_divided(pushed * _input_by_speed_w(unit.model, needs[:, :1]), push),
    )


def sampled_flow_m3_s(unit: PumpBranch) -> FloatArray:
    """Flows from 0 to beyond all that a unit can give, densest near 0.

    Parameters
    ----------
    unit : PumpBranch
        The pump where it stands.

    Returns
    -------
    FloatArray
        Shape (800,), rising [m³/s].
    """
    return np.asarray(1.3 * runout_m3_s(unit, unit.pump.max_speed) * np.linspace(0, 1, _SAMPLES) ** 3)


def largest_flow_m3_s(unit: PumpBranch, flow: FloatArray, needs: FloatArray, speed: FloatArray) -> FloatArray:
    """The largest flow at each head that neither a unit's largest speed nor its largest head forbids.

    Parameters
    ----------
    unit : PumpBranch
        The pump where it stands.
    flow : FloatArray
        Shape (flows,). Rising flows [m³/s].
    needs : FloatArray
        Shape (heads, flows). Head of the pump at each of them [m].
    speed : FloatArray
        Shape (heads, flows). Its speed there, share of rated.

    Returns
    -------
    FloatArray
        Shape (heads,) [m³/s]; 0 where it lifts nothing.
    """
    limit_m = largest_head_m(unit.model)
    full = np.array([np.interp(1.0, row, flow) for row in rising(load_of(unit, needs, speed))])
    shut: BoolArray = (speed[:, 0] >= unit.pump.max_speed * (1 - 1e-12)) | (needs[:, 0] >= limit_m)
    return np.where(shut, 0.0, full)


def _divided(flow: FloatArray, by: FloatArray) -> FloatArray:
    """Rows over a grid that begins at 0, where the quotient is taken as at the next point."""
    return np.concatenate([flow[:, 1:2] / by[1], flow[:, 1:] / by[1:]], axis=1)


def _shut_off_w(pump: PumpModel, head_m: FloatArray) -> FloatArray:
    """Input at which shut-off reaches this head; exact, since flow just above it rises steeply with power."""
    if isinstance(pump, HelicalPump):
        return helical_power_w(pump, speed=helical_speed(pump, flow_m3_s=0.0, head_m=head_m), head_m=head_m)
    share = head_m / pump.head_m[0]
    return motor_input_w(pump.motor, speed=np.sqrt(share), torque_share=share * _shut_off_torque_share(pump))


def _shut_off_torque_share(pump: PumpCurve) -> float:
    """Torque at rated speed with the valve shut, as a share of the motor's rated torque."""
    return float(pump.shaft_w[0] / pump.motor.shaft_w)


def _input_by_speed_w(pump: PumpModel, head_m: FloatArray) -> FloatArray | float:
    """Input that a helical pump takes more with speed at this head, by which its flow at a power falls with head.

    1 for a centrifugal one, whose flow is smooth as is.
    """
    if not isinstance(pump, HelicalPump):
        return 1.0
    return pump.motor.shaft_w * helical_torque_share(pump, head_m) + pump.motor.no_load_w


def load_of(unit: PumpBranch, needs: FloatArray, speed: FloatArray) -> FloatArray:
    """Load of a drive: speed as a share of the largest, or head of the one it can hold, whichever is larger.

    Parameters
    ----------
    unit : PumpBranch
        The pump where it stands.
    needs : FloatArray
        Any shape. Head of the pump [m].
    speed : FloatArray
        Of the same shape. Its speed, share of rated.

    Returns
    -------
    FloatArray
        Of that shape; 1 at the limit.
    """
    return np.maximum(speed / unit.pump.max_speed, needs / largest_head_m(unit.model))


def largest_head_m(pump: PumpModel) -> float:
    """Head that the drive of a helical pump can hold.

    Parameters
    ----------
    pump : PumpModel
        The pump's laws.

    Returns
    -------
    float
        Head [m]; inf for a centrifugal pump, which has no such limit.
    """
    return pump.max_head_m if isinstance(pump, HelicalPump) else np.inf


def jump_of(unit: PumpBranch, flow: FloatArray, speed: FloatArray) -> FloatArray:
    """Flow with which a pump sets in at the speed of its shut-off, at most what the well yields.

    Parameters
    ----------
    unit : PumpBranch
        The pump where it stands.
    flow : FloatArray
        Shape (flows,). Rising flows [m³/s].
    speed : FloatArray
        Shape (heads, flows). Speed at each of them, share of rated.

    Returns
    -------
    FloatArray
        Shape (heads,) [m³/s]; 0 unless the curve humps.
    """
    jump = np.array([np.interp(row[0], row_rising, flow) for row, row_rising in zip(speed, rising(speed), strict=True)])
    within: FloatArray = np.minimum(jump, unit.max_flow_m3_s)
    return within


def _power_through_jump(unit: PumpBranch, flow: FloatArray, drive: Drive) -> FloatArray:
    """Input over flow at each head; a straight line up to where a humped curve goes on at its shut-off's speed.

    A well that yields less than that ends the line at its yield.
    """
    jump, speed = jump_of(unit, flow, drive.speed), drive.speed[:, 0]
    if isinstance(unit.model, HelicalPump):
        return drive.power_w
    landed = pump_power_w(unit.model, jump, speed=speed)[:, None]
    share = flow / np.maximum(jump, 1e-12)[:, None]
    straight = drive.power_w[:, :1] + share * (landed - drive.power_w[:, :1])
    return np.where(share < 1, straight, np.maximum(drive.power_w, landed))


def rising(values: FloatArray) -> FloatArray:
    """The least of each value and all to its right: its inverse is the largest flow that a limit allows.

    Parameters
    ----------
    values : FloatArray
        Shape (heads, flows).

    Returns
    -------
    FloatArray
        Shape (heads, flows), nowhere falling along a row.
    """
    least: FloatArray = np.minimum.accumulate(values[:, ::-1], axis=1)[:, ::-1]
    return least


def power_at_speed_w(unit: PumpBranch, speed: ArrayLike, flow: FloatArray, head: FloatArray) -> FloatArray:
    """Input at a speed at or above the one that would do; a unit without flow then turns at its shut-off head.

    Parameters
    ----------
    unit : PumpBranch
        The pump where it stands.
    speed : ArrayLike
        Any shape. Share of rated speed.
    flow : FloatArray
        Broadcasts with the speed. Its flow [m³/s].
    head : FloatArray
        Broadcasts with the speed. Its head [m].

    Returns
    -------
    FloatArray
        Electrical input [W], of the common shape.
    """
    if not isinstance(unit.model, HelicalPump):
        return pump_power_w(unit.model, flow, speed=speed)
    idle_m = shut_off_head_at_speed_m(unit.model, speed)
    return helical_power_w(unit.model, speed=speed, head_m=np.where(flow > 0, head, idle_m))


def unit_flow_m3_s(table: UnitTable, *, power_w: FloatArray, junction_head_m: FloatArray) -> FloatArray:
    """Flow that a unit gives into the junction; it never rises with head nor falls with power.

    Parameters
    ----------
    table : UnitTable
        What `unit_table` gives.
    power_w : FloatArray
        Any shape. Power offered [W], ≥ 0.
    junction_head_m : FloatArray
        Of the same shape. Head of the water above the junction [m].

    Returns
    -------
    FloatArray
        Of that shape [m³/s].
    """
    pump, (depths, pushes) = table.unit.model, (size - 1 for size in table.by_power.shape)
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
    by_power = push * between / _input_by_speed_w(pump, rest_m)
    by_speed = _between(table.by_speed, row, down) * (1.0 if isinstance(pump, HelicalPump) else depth)
    return np.minimum(np.minimum(by_power, by_speed), table.unit.max_flow_m3_s)
