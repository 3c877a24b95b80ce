"""One pump and its branch on a common main: its flow over junction head and power offered, tabulated once.

Heads are metres of water above the junction. Values are taken as valid, as in `junction`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trackersim.arrays import FloatArray, between, place_on_grid, within_cell
from trackersim.errors import InputError
from trackersim.water.branch import PumpBranch, pump_needs_m, shut_off_head_m, shut_off_w
from trackersim.water.drive import Drive, drive_of
from trackersim.water.flow_limits import jump_of, largest_flow_m3_s, rising, sampled_flow_m3_s
from trackersim.water.helical import HelicalPump, helical_torque_share
from trackersim.water.pump import pump_power_w
from trackersim.water.wear import PumpModel

_DEPTHS, _PUSHES = 400, 200  # steps of the tables in head and in power


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


def unit_table(unit: PumpBranch, *, lowest_head_m: float) -> UnitTable:
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
    depth, push = np.linspace(0, 1, _DEPTHS + 1), np.linspace(0, 1, _PUSHES + 1)
    head = top_m - span_m * depth[:, None] ** 2
    flow = sampled_flow_m3_s(unit)
    needs = np.maximum(pump_needs_m(unit, flow, junction_head_m=head), 0)
    drive = drive_of(unit.model, flow, needs)
    full, power = largest_flow_m3_s(unit, flow, needs, drive.speed), rising(_power_through_jump(unit, flow, drive))
    most_w = max(float(np.interp(q, flow, row)) for q, row in zip(full, power, strict=True))
    start_w = shut_off_w(unit.model, needs[:, :1])
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


def _divided(flow: FloatArray, by: FloatArray) -> FloatArray:
    """Rows over a grid that begins at 0, where the quotient is taken as at the next point."""
    return np.concatenate([flow[:, 1:2] / by[1], flow[:, 1:] / by[1:]], axis=1)


def _input_by_speed_w(pump: PumpModel, head_m: FloatArray) -> FloatArray | float:
    """Input that a helical pump takes more with speed at this head, by which its flow at a power falls with head.

    1 for a centrifugal one, whose flow is smooth as is.
    """
    if not isinstance(pump, HelicalPump):
        return 1.0
    return pump.motor.shaft_w * helical_torque_share(pump, head_m) + pump.motor.no_load_w


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
    row, down = place_on_grid(np.minimum(depth, 1) * depths, steps=depths)
    rest_m = np.maximum(junction_head_m + table.unit.static_head_m, 0)  # no less than 0 but for rounding
    least_w = shut_off_w(pump, rest_m)
    spare_w = np.maximum(np.minimum(power_w, table.most_w) - least_w, 0)
    push = np.minimum(np.sqrt(spare_w / np.maximum(table.most_w - least_w, 1e-12)), 1)
    column, right = place_on_grid(push * pushes, steps=pushes)
    found = within_cell(table.by_power, row * (pushes + 1) + column, down, right)
    by_power = push * found / _input_by_speed_w(pump, rest_m)
    by_speed = between(table.by_speed, row, down) * (1.0 if isinstance(pump, HelicalPump) else depth)
    return np.minimum(np.minimum(by_power, by_speed), table.unit.max_flow_m3_s)
