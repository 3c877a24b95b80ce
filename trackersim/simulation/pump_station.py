"""The job's pumps, pipes and lifts as hydraulics, tabulated once: flow for the power that every unit is offered."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from trackersim.arrays import FloatArray
from trackersim.constants import GRAVITY_M_S2
from trackersim.job.model import Job
from trackersim.job.pipework import Pipe
from trackersim.job.pump import Pump
from trackersim.water.helical import HelicalPump, helical_operating_table
from trackersim.water.junction import junction_flows
from trackersim.water.pump import WATER_DENSITY_KG_M3, PumpCurve, pump_curve
from trackersim.water.source import yield_limit_m3_s
from trackersim.water.system import OperatingTable, flow_at_power, operating_table
from trackersim.water.unit_table import Main as JunctionMain
from trackersim.water.unit_table import Segment, UnitTable, unit_table
from trackersim.water.unit_table import Unit as JunctionUnit
from trackersim.water.wear import worn, worn_helical

IntArray = npt.NDArray[np.integer]
PumpMachine = PumpCurve | HelicalPump

# A helical pump's turns a minute matter only with its displacement, of which sheets give the product.
_NOMINAL_RPM = 3000.0
_BEST_EFFICIENCY = 0.95
_AT_LIMIT = 0.999
# A helical pump's drive gives up this far above the last head of its sheet (assumption).
_HEAD_BEYOND_SHEET = 1.25


class UnitFlows(NamedTuple):
    """What the pumps give and against what head; both (units, n)."""

    flow_m3_s: FloatArray
    head_m: FloatArray


@dataclass(frozen=True, kw_only=True)
class OneWorks:
    """Running points of one pump on one pipe.

    `tables` holds one operating table for each different lift of the year, `table_of_month` (12,) which of them holds
    in each month. `shut_off_m` (units) are the pumps' heads against a closed valve at full speed. `assumed`
    is true if a pump's curve was made from its best point alone.
    """

    tables: tuple[OperatingTable, ...]
    table_of_month: IntArray
    shut_off_m: tuple[float, ...]
    assumed: bool

    @property
    def hardest(self) -> OperatingTable:
        """The table of the largest lift."""
        return min(self.tables, key=lambda table: float(table.flow_m3_s[-1]))

    @property
    def can_lift(self) -> bool:
        """Whether any water comes at full speed in any month."""
        return any(table.can_lift for table in self.tables)

    @property
    def yield_limited(self) -> bool:
        """Whether a well's yield sets the largest flow in some month."""
        return any(table.yield_limited for table in self.tables)

    @property
    def full_power_w(self) -> tuple[float, ...]:
        """Power that takes each unit to full speed, against its largest lift."""
        return (float(self.hardest.power_w[-1]),)

    @property
    def full_flow_m3_s(self) -> tuple[float, ...]:
        """Flow of each unit at full speed, in the month in which it gives most."""
        return (max(float(table.flow_m3_s[-1]) for table in self.tables),)


@dataclass(frozen=True, kw_only=True)
class Joint:
    """Several units at one junction, for one set of lifts: a table for each, and the main."""

    tables: tuple[UnitTable, ...]
    main: JunctionMain


@dataclass(frozen=True, kw_only=True)
class JoinedWorks:
    """Running points of several pumps on one main, told as `OneWorks` tells those of one."""

    joints: tuple[Joint, ...]
    joint_of_month: IntArray
    shut_off_m: tuple[float, ...]
    assumed: bool
    yield_limited: bool
    full_power_w: tuple[float, ...]
    full_flow_m3_s: tuple[float, ...]

    @property
    def can_lift(self) -> bool:
        """Whether any water comes with all units at full power."""
        return sum(self.full_flow_m3_s) > 0


Works = OneWorks | JoinedWorks


def works_of(job: Job) -> Works:
    """Hydraulics of `job`. Raises `InputError` for a lift that is no lift."""
    return _joined(job) if len(job.units) > 1 else _one(job)


def _joined(job: Job) -> JoinedWorks:
    machines = [pump_machine(unit.pump) for unit in job.units]
    lifts, joint_of_month = np.unique([unit.source.lifts_m for unit in job.units], axis=1, return_inverse=True)
    joints = tuple(_joint(job, machines, column) for column in lifts.T)
    full_w = tuple(max(joint.tables[n].most_w for joint in joints) for n in range(len(machines)))
    at_full = [junction_flows(joint.tables, joint.main, np.array(full_w)[:, None]).flow_m3_s[:, 0] for joint in joints]
    full_flow = np.max(at_full, axis=0)
    limits = [yield_limit_m3_s(unit.source) for unit in job.units]
    return JoinedWorks(
        joints=joints,
        joint_of_month=joint_of_month.reshape(-1),
        shut_off_m=tuple(
            shut_off_m(machine, max_speed=unit.pump.max_speed)
            for machine, unit in zip(machines, job.units, strict=True)
        ),
        assumed=any(isinstance(machine, PumpCurve) and machine.assumed for machine in machines),
        yield_limited=any(flow >= _AT_LIMIT * limit for flow, limit in zip(full_flow.tolist(), limits, strict=True)),
        full_power_w=full_w,
        full_flow_m3_s=tuple(full_flow.tolist()),
    )


def _joint(job: Job, machines: Sequence[PumpMachine], lifts_m: FloatArray) -> Joint:
    lift_m = main_lift_m(job)
    tables = tuple(
        unit_table(
            JunctionUnit(
                pump=machine,
                static_head_m=float(unit_lift_m),
                branch=_segments(unit.pipes),
                specific_capacity_m3_s_per_m=unit.source.yield_m3_s_per_m,
                max_flow_m3_s=yield_limit_m3_s(unit.source),
                min_speed=unit.pump.min_speed,
                max_speed=unit.pump.max_speed,
            ),
            lowest_head_m=lift_m,
        )
        for unit, machine, unit_lift_m in zip(job.units, machines, lifts_m, strict=True)
    )
    main = job.main.pipes if job.main else ()
    return Joint(tables=tables, main=JunctionMain(static_head_m=lift_m, segments=_segments(main)))


def _segments(pipes: Sequence[Pipe]) -> tuple[Segment, ...]:
    return tuple(
        Segment(length_m=pipe.length_m, bore_m=pipe.inside_m, c_value=pipe.c_now, fittings=pipe.fittings)
        for pipe in pipes
    )


def _one(job: Job) -> OneWorks:
    unit = job.units[0]
    machine = pump_machine(unit.pump)
    lifts, table_of_month = np.unique([lift + main_lift_m(job) for lift in unit.source.lifts_m], return_inverse=True)
    return OneWorks(
        tables=tuple(_table(job, unit, machine, float(lift)) for lift in lifts),
        table_of_month=table_of_month,
        shut_off_m=(shut_off_m(machine, max_speed=unit.pump.max_speed),),
        assumed=isinstance(machine, PumpCurve) and machine.assumed,
    )


def _table(job: Job, unit: Job, machine: PumpMachine, lift_m: float) -> OperatingTable:
    pipes, source, pump = all_pipes(job, unit), unit.source, unit.pump
    low, high = pump.min_speed, pump.max_speed
    if isinstance(machine, PumpCurve):
        return operating_table(machine, static_head_m=lift_m, pipes=pipes, source=source, max_speed=high, min_speed=low)
    return helical_operating_table(
        machine, static_head_m=lift_m, pipes=pipes, source=source, max_speed=high, min_speed=low
    )


def pump_machine(pump: Pump) -> PumpMachine:
    """The pump as it is today: its sheet, worn as the job says."""
    if pump.kind == "helical":
        new = helical_of(pump)
        head = pump.curve_head_m[-1] if pump.curve_head_m else 0.0
        return worn_helical(new, flow_lost=pump.flow_lost, head_m=head) if pump.flow_lost else new
    curve = pump_curve(pump)
    if pump.head_lost or pump.flow_lost:
        return worn(curve, head_lost=pump.head_lost, flow_lost=pump.flow_lost)
    return curve


def helical_of(pump: Pump) -> HelicalPump:
    """A helical pump from flow and input at two heads or more, by straight lines in head.

    Flow: what it turns less slip · H. Input at rated speed: friction and ρ g H · displacement over motor efficiency.
    """
    head, flow, power = (np.array(v) for v in (pump.curve_head_m, pump.curve_flow_m3_s, pump.curve_power_w))
    slope, still = np.polyfit(head, flow, 1)
    rise, idle = np.polyfit(head, power, 1)
    weight = WATER_DENSITY_KG_M3 * GRAVITY_M_S2
    efficiency = min(weight * still / max(rise, 1e-9), _BEST_EFFICIENCY)
    displacement = still * 60 / _NOMINAL_RPM
    friction = max(idle, 0.0) * efficiency / (2 * np.pi * _NOMINAL_RPM / 60)
    return HelicalPump(
        displacement_m3_rev=float(displacement),
        rated_rpm=_NOMINAL_RPM,
        slip_m3_s_per_m=float(max(-slope, 0.0)),
        friction_nm=float(friction),
        start_torque_nm=0.0,
        motor_efficiency=float(efficiency),
        max_head_m=float(_HEAD_BEYOND_SHEET * head[-1]),
    )


def shut_off_m(machine: PumpMachine, *, max_speed: float) -> float:
    """Head against a closed valve at full speed."""
    if isinstance(machine, PumpCurve):
        return float(machine.head_m.max()) * max_speed**2
    return machine.max_head_m


def main_lift_m(job: Job) -> float:
    """Lift of the main that units share; 0 without one."""
    return job.main.lift_m if job.main else 0.0


def all_pipes(job: Job, unit: Job) -> tuple[Pipe, ...]:
    """The unit's own pipe and the main, one after the other."""
    return (*unit.pipes, *(job.main.pipes if job.main else ()))


def unit_flows(works: Works, motor_w: Sequence[FloatArray], month: IntArray) -> UnitFlows:
    """Flow and head of every pump offered `motor_w`, arrays (n,) one per unit, in the months 1…12 `month` (n,)."""
    flow, head = np.zeros((len(motor_w), len(month))), np.zeros((len(motor_w), len(month)))
    for at, find in _by_lift(works, month):
        flow[:, at], head[:, at] = find(np.stack([power[at] for power in motor_w]))
    return UnitFlows(flow, head)


def _by_lift(works: Works, month: IntArray) -> list[tuple[IntArray, Callable[[FloatArray], UnitFlows]]]:
    """The instants (k,) of each different lift, and what finds the flows for power (units, k) there."""
    if isinstance(works, OneWorks):
        kinds, finders = works.table_of_month[month - 1], [partial(_flow_of_one, table) for table in works.tables]
    else:
        kinds, finders = works.joint_of_month[month - 1], [partial(_flow_of_joint, joint) for joint in works.joints]
    return [(np.flatnonzero(kinds == number), find) for number, find in enumerate(finders)]


def _flow_of_one(table: OperatingTable, power_w: FloatArray) -> UnitFlows:
    point = flow_at_power(table, power_w[0])
    return UnitFlows(point.flow_m3_s[None], point.head_m[None])


def _flow_of_joint(joint: Joint, power_w: FloatArray) -> UnitFlows:
    found = junction_flows(joint.tables, joint.main, power_w)
    return UnitFlows(found.flow_m3_s, found.head_m)
