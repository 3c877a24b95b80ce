"""The job's pumps, pipes and lifts as hydraulics, tabulated once: flow for the power that every unit is offered."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from trackersim.arrays import FloatArray
from trackersim.job.model import Job
from trackersim.job.pipework import Pipe
from trackersim.job.pump import Pump
from trackersim.job.water import Main, Source
from trackersim.simulation.electrics import most_motor_w
from trackersim.water.branch import PumpBranch
from trackersim.water.junction import junction_flows
from trackersim.water.operating import OperatingPoint, OperatingTable, flow_at_power, operating_table
from trackersim.water.pipes import pipe_head_m
from trackersim.water.pump import PumpCurve
from trackersim.water.source import yield_limit_m3_s
from trackersim.water.unit_table import UnitTable, unit_table
from trackersim.water.wear import PumpModel, pump_model

# So many pumps, and one alone is all but one.
PAIR = 2

IntArray = npt.NDArray[np.integer]

_AT_LIMIT = 0.999
_POWERS = 401


class AtFullPower(NamedTuple):
    """Flow, head and speed (share of rated) of one pump, while no other runs, at all the power that it can use and its
    controller can give."""

    flow_m3_s: float
    head_m: float
    speed: float


@dataclass(frozen=True, kw_only=True)
class Network:
    """Pumps, pipes and wells for one set of lifts.

    `common_pipes` are those that all water goes through: from a pump with no other to the outlet, of several the main.
    `alone` holds the running points of a pump with no other on its pipe; several pumps have `tables`, one for each, and
    the main on which they meet. `full_power_w` (units,): power that takes each unit to full speed or to the yield of
    its well. `full_flow_m3_s` (units,): the flows when all units have that, or what the ratings of their controllers
    leave of it. `by_itself` (units,): each with that power while the others stand.
    """

    alone: OperatingTable | None
    tables: tuple[UnitTable, ...]
    main: Main
    common_pipes: tuple[Pipe, ...]
    full_power_w: tuple[float, ...]
    full_flow_m3_s: tuple[float, ...]
    by_itself: tuple[AtFullPower, ...]

    def flows(self, power_w: FloatArray) -> OperatingPoint:
        """What every unit does with `power_w` (units, n) offered to the motors."""
        if self.alone is not None:
            return OperatingPoint(*(values[None] for values in flow_at_power(self.alone, power_w[0])))
        found = junction_flows(self.tables, self.main, power_w)
        return OperatingPoint(found.flow_m3_s, found.head_m, found.power_used_w)


@dataclass(frozen=True, kw_only=True)
class PumpStation:
    """The pumps of a job and what they work against, tabulated once.

    `networks` holds one network for each different set of lifts of the year, `network_of_month` (12,) which of them
    holds in each month. `shut_off_m` (units,) are the pumps' heads against a closed valve at full speed. `assumed`
    is true if a pump's curve was made from its best point alone, `yield_limited` if a well's yield sets the largest
    flow of some pump in some month.
    """

    networks: tuple[Network, ...]
    network_of_month: IntArray
    shut_off_m: tuple[float, ...]
    assumed: bool
    yield_limited: bool

    @property
    def hardest(self) -> Network:
        """The network of the lifts against which the pumps give least at full power."""
        return min(self.networks, key=lambda network: sum(network.full_flow_m3_s))

    def common_loss_m(self, flow_m3_s: float) -> float:
        """Head [m] that a flow [m³/s] of all pumps together loses on the pipe that they share, up to the outlet."""
        return float(pipe_head_m(flow_m3_s, self.networks[0].common_pipes))

    def lifting_power_w(self, unit: int, above_m3_s: float) -> float | None:
        """Least motor power with which a unit by itself gives more than a flow against the hardest lifts; None if none
        does."""
        network = self.hardest
        if network.alone is not None:
            power, flow = network.alone.power_w, network.alone.flow_m3_s
        else:
            power = np.linspace(0, network.full_power_w[unit], _POWERS)
            offered = np.zeros((len(network.tables), _POWERS))
            offered[unit] = power
            flow = junction_flows(network.tables, network.main, offered).flow_m3_s[unit]
        enough = flow > above_m3_s
        return float(power[int(np.argmax(enough))]) if enough.any() else None

    def months_dry(self, unit: int) -> tuple[int, ...]:
        """Months 1…12 in which a unit lifts nothing at full power, even while no other runs."""
        return self._months(lambda network: network.by_itself[unit].flow_m3_s <= 0)

    def months_held_shut(self, unit: int) -> tuple[int, ...]:
        """Months 1…12 in which a unit lifts water by itself, and none once all have full power."""
        return self._months(
            lambda network: network.full_flow_m3_s[unit] <= 0 < network.by_itself[unit].flow_m3_s,
        )

    def _months(self, such: Callable[[Network], bool]) -> tuple[int, ...]:
        kinds = [such(network) for network in self.networks]
        return tuple(month for month, kind in enumerate(self.network_of_month.tolist(), 1) if kinds[kind])

    def farthest_along(self, unit: int) -> AtFullPower:
        """A unit by itself at full power, in the month in which it runs farthest along its curve."""
        return max((network.by_itself[unit] for network in self.networks), key=lambda at: at.flow_m3_s)

    @property
    def full_power_w(self) -> tuple[float, ...]:
        """Power that takes each unit to full speed, against the hardest lifts."""
        return self.hardest.full_power_w

    @property
    def full_flow_m3_s(self) -> tuple[float, ...]:
        """Flow of each unit at full power, in the month in which it gives most."""
        return tuple(max(flows) for flows in zip(*(n.full_flow_m3_s for n in self.networks), strict=True))


def pump_station(job: Job) -> PumpStation:
    """Hydraulics of a job, tabulated.

    Parameters
    ----------
    job : Job
        Its main, and of every unit the pump, pipes and source, are read.

    Returns
    -------
    PumpStation
        One network for each set of lifts of the year.

    Raises
    ------
    InputError
        For a lift that is no lift.
    """
    models = [pump_model(unit.pump) for unit in job.units]
    lifts, network_of_month = np.unique([unit.source.lifts_m for unit in job.units], axis=1, return_inverse=True)
    networks = tuple(_network(job, models, column.tolist()) for column in lifts.T)
    limits = [yield_limit_m3_s(unit.source) for unit in job.units]
    return PumpStation(
        networks=networks,
        network_of_month=network_of_month.reshape(-1),
        shut_off_m=tuple(
            _shut_off_m(model, max_speed=unit.pump.max_speed) for model, unit in zip(models, job.units, strict=True)
        ),
        assumed=any(isinstance(model, PumpCurve) and model.assumed for model in models),
        yield_limited=any(
            flow >= _AT_LIMIT * limit
            for network in networks
            for flow, limit in zip(network.full_flow_m3_s, limits, strict=True)
        ),
    )


def _network(job: Job, models: Sequence[PumpModel], lifts_m: Sequence[float]) -> Network:
    """Several pumps meet on the main; to one alone the main is the end of its pipe."""
    main = job.main or Main()
    if len(models) == 1:
        unit, pipes = job.units[0], (*job.units[0].pipes, *job.main_pipes)
        table = operating_table(
            PumpBranch(
                model=models[0],
                pump=unit.pump,
                source=unit.source,
                pipes=pipes,
                static_head_m=lifts_m[0] + main.lift_m,
            )
        )
        full_w = float(table.power_w[-1])
        at = _alone_at(table, min(full_w, most_motor_w(unit)))
        return Network(
            alone=table,
            tables=(),
            main=main,
            common_pipes=pipes,
            full_power_w=(full_w,),
            full_flow_m3_s=(at.flow_m3_s,),
            by_itself=(at,),
        )
    tables = tuple(
        _unit_table(unit.pump, unit.source, unit.pipes, lift_m, main.lift_m)
        for unit, lift_m in zip(job.units, lifts_m, strict=True)
    )
    full_power_w = tuple(table.most_w for table in tables)
    offered_w = [min(full_w, most_motor_w(unit)) for full_w, unit in zip(full_power_w, job.units, strict=True)]
    # First all of them at once, then each while the others stand.
    found = junction_flows(tables, main, np.column_stack([offered_w, np.diag(offered_w)]))
    own = (np.diag(values[:, 1:]).tolist() for values in (found.flow_m3_s, found.head_m, found.speed))
    return Network(
        alone=None,
        tables=tables,
        main=main,
        common_pipes=main.pipes,
        full_power_w=full_power_w,
        full_flow_m3_s=tuple(found.flow_m3_s[:, 0].tolist()),
        by_itself=tuple(AtFullPower(*each) for each in zip(*own, strict=True)),
    )


def _alone_at(table: OperatingTable, power_w: float) -> AtFullPower:
    """The point of a pump with no other at a power; its speed is that of the point of the table below."""
    point = flow_at_power(table, power_w)
    below = max(int(np.searchsorted(table.power_w, power_w, side="right")) - 1, 0)
    return AtFullPower(float(point.flow_m3_s), float(point.head_m), float(table.speed[below]))


def _shut_off_m(model: PumpModel, *, max_speed: float) -> float:
    """Largest head at full speed: that of a valve shut, or of one that closes on a humped curve."""
    if isinstance(model, PumpCurve):
        return float(model.head_m.max()) * max_speed**2
    return model.max_head_m


@lru_cache(maxsize=64)  # what one question on site asks for; a table holds about 0.7 MB
def _unit_table(pump: Pump, source: Source, pipes: tuple[Pipe, ...], lift_m: float, lowest_head_m: float) -> UnitTable:
    """The table of one unit; a fault tried at one unit, or in the main, leaves those of the others as they are."""
    branch = PumpBranch(model=pump_model(pump), pump=pump, source=source, pipes=pipes, static_head_m=lift_m)
    return unit_table(branch, lowest_head_m=lowest_head_m)


def unit_flows(station: PumpStation, motor_w: Sequence[FloatArray], month: IntArray) -> OperatingPoint:
    """What every pump does with the power that it is offered.

    Parameters
    ----------
    station : PumpStation
        The pumps and what they work against.
    motor_w : Sequence[FloatArray]
        One array (n,) a unit: power offered to its motor [W], ≥ 0.
    month : IntArray
        Shape (n,). Month 1…12.

    Returns
    -------
    OperatingPoint
        Flow, head and power taken, all (units, n).
    """
    if len(station.networks) == 1:
        return station.networks[0].flows(np.stack(motor_w))
    found = OperatingPoint(*np.zeros((3, len(motor_w), len(month))))
    kinds = station.network_of_month[month - 1]
    for number, network in enumerate(station.networks):
        at = np.flatnonzero(kinds == number)
        for whole, part in zip(found, network.flows(np.stack([power[at] for power in motor_w])), strict=True):
            whole[:, at] = part
    return found
