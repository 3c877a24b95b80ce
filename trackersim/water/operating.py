"""One pump on its own pipe: its running points over the power offered, from its curve at one head."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from trackersim.arrays import FloatArray, IndexArray, check_array
from trackersim.compiled import kept
from trackersim.errors import InputError
from trackersim.water.branch import PumpBranch, power_at_speed_w, pump_needs_m, shut_off_head_m
from trackersim.water.drive import drive_of
from trackersim.water.flow_limits import (
    jump_of,
    largest_flow_m3_s,
    largest_head_m,
    load_of,
    rising,
    sampled_flow_m3_s,
)
from trackersim.water.helical import HelicalPump
from trackersim.water.pump import pump_head_m

_SHUT_OFF_SPEEDS = 50
# Points of the curve. With half as many, a tank whose floats lie close together once had a month wrong by 0.2 %.
_FLOWS = 1600
_STEP = 1e-6
# Even parts of a table's powers for each of its points: from the nearest a place is found in a step or two.
_PARTS_A_POINT = 4


@dataclass(frozen=True, kw_only=True, eq=False)
class OperatingTable:
    """Steady running points, one per speed: four arrays of one length, none of which ever falls.

    `power_w` is what the drive must be given to hold `speed` (share of rated); the drive is off below `power_w[0]`.
    While the pump runs at shut-off, `head_m` is its shut-off head; otherwise the head of pump and system.
    """

    speed: FloatArray
    power_w: FloatArray
    flow_m3_s: FloatArray
    head_m: FloatArray


class OperatingPoint(NamedTuple):
    """What pumps do with the power they are offered: flow, against what head, and what they take of it; arrays of the
    shape of that power."""

    flow_m3_s: FloatArray
    head_m: FloatArray
    power_used_w: FloatArray


def operating_table(unit: PumpBranch) -> OperatingTable:
    """Steady running points of one pump on one pipe against one static head, from its least speed to its largest.

    Below the speed at which the shut-off head equals the static head no water moves and the pump runs at shut-off.
    Flow stops rising at the well's yield or the drive's largest head, and with it speed and power. A humped curve sets
    in with a jump of flow and power; powers inside the jump are given the straight line between. Within 2e-5 of full
    flow of the exact one.

    Parameters
    ----------
    unit : PumpBranch
        The pump where it stands, its pipes up to the outlet.

    Returns
    -------
    OperatingTable
        One point a speed.

    Raises
    ------
    InputError
        If the static head is negative or not finite.
    """
    if not 0 <= unit.static_head_m < np.inf:
        raise InputError.of("static_head", unit.static_head_m, "must be 0 m or more.", "Give the height of the lift.")
    low, high = unit.pump.min_speed, unit.pump.max_speed
    sample = sampled_flow_m3_s(unit)
    needs = pump_needs_m(unit, sample, junction_head_m=0.0)
    drive = drive_of(unit.model, sample, needs)
    full = float(largest_flow_m3_s(unit, sample, needs[None], drive.speed[None])[0])
    full = _refined(unit, full, by=partial(load_of, unit))
    most = min(full, unit.max_flow_m3_s)
    # Beyond the largest head that its drive can hold a helical pump turns no faster.
    threshold = float(drive_of(unit.model, sample[:1], np.minimum(needs[:1], largest_head_m(unit.model))).speed[0])
    speeds = rising(drive.speed[None])[0]
    least = 0.0
    if low > threshold:
        least = min(_refined(unit, float(np.interp(low, speeds, sample)), by=lambda _, speed: speed / low), most)
    if most > 0:
        jump = float(jump_of(unit, sample, drive.speed[None])[0])
        jump = min(_refined(unit, jump, by=lambda _, speed: speed / max(threshold, 1e-12)), most)
        evenly = least + (most - least) * np.linspace(0, 1, _FLOWS + 1)
        flow = np.unique(np.append(evenly[(evenly == 0) | (evenly >= jump)], max(jump, least)))
        pumping = np.maximum(_speeds(unit, flow, pump_needs_m(unit, flow, junction_head_m=0.0)), low)
        # A pump at rest against a full pipe must first reach the speed of its shut-off head.
        pumping = np.maximum.accumulate(np.maximum(pumping, min(threshold, high)))
    else:
        flow = pumping = np.empty(0)
    idle = _idle_speeds(low=low, threshold=min(threshold, high), lifts=most > 0)
    speed, flow = np.concatenate([idle, pumping]), np.concatenate([np.zeros(len(idle)), flow])
    moving = pump_needs_m(unit, flow, junction_head_m=0.0)
    head = np.where(flow > 0, moving, shut_off_head_m(unit, speed))
    return OperatingTable(
        speed=speed,
        power_w=np.maximum.accumulate(power_at_speed_w(unit, speed, flow, head)),
        flow_m3_s=flow,
        head_m=head,
    )


def _refined(unit: PumpBranch, flow_m3_s: float, *, by: Callable[[FloatArray, FloatArray], FloatArray]) -> float:
    """The largest flow at which `by`, of head and speed, is 1: found again between ever closer flows around it."""
    for width in (2e-2, 2e-4):
        near = flow_m3_s * np.linspace(1 - width, 1 + width, 401)
        needs = pump_needs_m(unit, near, junction_head_m=0.0)
        values = by(needs, _speeds(unit, near, needs))
        flow_m3_s = float(np.interp(1.0, rising(values[None])[0], near))
    return flow_m3_s


def _speeds(unit: PumpBranch, flow: FloatArray, head: FloatArray) -> FloatArray:
    """Speed for this flow at this head: as read from the table of the curve, with one Newton step on the curve."""
    speed = drive_of(unit.model, flow, head).speed
    if isinstance(unit.model, HelicalPump):
        return speed
    gives = pump_head_m(unit.model, flow, speed=speed)
    slope = (pump_head_m(unit.model, flow, speed=speed * (1 + _STEP)) - gives) / (speed * _STEP + 1e-300)
    return speed + np.where(slope > 0, (head - gives) / np.where(slope > 0, slope, 1.0), 0.0)


def _idle_speeds(*, low: float, threshold: float, lifts: bool) -> FloatArray:
    """Speeds at which it turns without giving water; none if even the lowest gives some."""
    if lifts and threshold <= low:
        return np.empty(0)
    return np.linspace(low, max(threshold, low), _SHUT_OFF_SPEEDS, endpoint=not lifts)


def flow_at_power(table: OperatingTable, power_w: ArrayLike) -> OperatingPoint:
    """The running point at each power offered; it never falls with power.

    Parameters
    ----------
    table : OperatingTable
        What `operating_table` gives.
    power_w : ArrayLike
        Any shape. Power offered to the drive [W]; below 0 counts as none.

    Returns
    -------
    OperatingPoint
        Arrays of that shape. Above the table the drive takes what its largest speed needs and no more; below its
        first power it is off and all three are 0.

    Raises
    ------
    InputError
        For a power that is no finite number.
    """
    check_array("power_w", power_w)
    power = np.array(power_w, dtype=np.float64, order="C")
    flow, head, used = (np.empty(power.shape) for _ in range(3))
    # Always of the type that the loop was compiled for.
    columns = np.stack([table.power_w, table.flow_m3_s, table.head_m])
    # Where in the table to begin, for each of many even parts of its powers.
    part_w = (columns[0, -1] - columns[0, 0]) / (_PARTS_A_POINT * columns.shape[1])
    parts = columns[0, 0] + part_w * np.arange(_PARTS_A_POINT * columns.shape[1] + 1)
    begin = np.searchsorted(columns[0], parts, side="right") - 1
    _read(columns, begin, part_w, power.reshape(-1), flow.reshape(-1), head.reshape(-1), used.reshape(-1))
    return OperatingPoint(flow, head, used)


@kept
def _read(
    columns: FloatArray,
    begin: IndexArray,
    part_w: float,
    offered_w: FloatArray,
    flow_m3_s: FloatArray,
    head_m: FloatArray,
    used_w: FloatArray,
) -> None:
    """Read power, flow and head (3, points) at each power offered, on straight lines between the points."""
    power_w, last = columns[0], columns.shape[1] - 1
    for n in range(len(offered_w)):
        watts = offered_w[n]
        if not (watts > 0 and watts >= power_w[0]):
            flow_m3_s[n] = head_m[n] = used_w[n] = 0.0
        elif watts >= power_w[last]:
            flow_m3_s[n], head_m[n], used_w[n] = columns[1, last], columns[2, last], power_w[last]
        else:
            at = begin[max(int((watts - power_w[0]) / part_w) - 1, 0)]
            while power_w[at + 1] <= watts:
                at += 1
            share = (watts - power_w[at]) / (power_w[at + 1] - power_w[at])
            flow_m3_s[n] = columns[1, at] + share * (columns[1, at + 1] - columns[1, at])
            head_m[n] = columns[2, at] + share * (columns[2, at + 1] - columns[2, at])
            used_w[n] = watts
