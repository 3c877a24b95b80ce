"""The job's pumps, pipes and lifts as hydraulics, tabulated once: flow for the power that every unit is offered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from trackersim.constants import GRAVITY_M_S2
from trackersim.job.model import Job
from trackersim.job.pipes import Pipe
from trackersim.job.pump import Pump
from trackersim.water.helical import HelicalPump, helical_operating_table
from trackersim.water.pump import WATER_DENSITY_KG_M3, PumpCurve, pump_curve
from trackersim.water.system import OperatingTable, flow_at_power, operating_table
from trackersim.water.wear import worn, worn_helical

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.integer]
PumpMachine = PumpCurve | HelicalPump

# A helical pump's turns a minute matter only with its displacement, of which sheets give the product.
_NOMINAL_RPM = 3000.0
_BEST_EFFICIENCY = 0.95
# A helical pump's drive gives up this far above the last head of its sheet (assumption).
_HEAD_BEYOND_SHEET = 1.25


class UnitFlows(NamedTuple):
    """What the pumps give and against what head; both (units, n)."""

    flow_m3_s: FloatArray
    head_m: FloatArray


@dataclass(frozen=True, kw_only=True)
class Works:
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


def works_of(job: Job) -> Works:
    """Hydraulics of `job`. Raises `InputError` for a lift that is no lift."""
    unit = job.units[0]
    machine = pump_machine(unit.pump)
    lifts, table_of_month = np.unique([lift + main_lift_m(job) for lift in unit.source.lifts_m], return_inverse=True)
    return Works(
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
    table_at = works.table_of_month[month - 1]
    flow, head = np.zeros((1, len(month))), np.zeros((1, len(month)))
    for number, table in enumerate(works.tables):
        at = slice(None) if len(works.tables) == 1 else np.flatnonzero(table_at == number)
        point = flow_at_power(table, motor_w[0][at])
        flow[0, at], head[0, at] = point.flow_m3_s, point.head_m
    return UnitFlows(flow, head)
