"""From power at the controllers to water: what the pumps could give, when they run, what the store does with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from trackersim.arrays import BoolArray, FloatArray, IndexArray
from trackersim.errors import InputError, counted
from trackersim.job.model import Job
from trackersim.job.water import Store
from trackersim.simulation.electrics import motor_w
from trackersim.simulation.pump_station import PumpStation, pump_station, unit_flows
from trackersim.simulation.scene import ChosenMinutes
from trackersim.water.balance import Balance, StoreDays, balance
from trackersim.water.demand import demand_m3_s, evaporation_m3_s, inflow_m3_s
from trackersim.water.operating import OperatingPoint
from trackersim.water.unit_state import Standstill

_ROUNDS = 12
_MOST_UNITS_TOLD = 9  # of which a fault names the shapes


@dataclass(frozen=True, kw_only=True, eq=False)
class WaterSide:
    """Water of all units. Minutes run over all minutes (days · 1440,), one row per unit.

    `motor_w` is what the motors take, which may be less than they are offered. `running` (units, days, 1440); `state`
    likewise, places in `unit_state.STATES`; `starts` (days,), all units together. `stops` and `lost_min` count by cause
    (days,): stops for want of power too, minutes in which a unit had the power to run and was held. `settled` is false
    if pumps that hold each other up did not come to a decision. `bought_w` (units, days · 1440) is what the controllers
    draw from a backup, None without one. `could_m3` (days,) is what all would lift into a tank
    that is never full; None where no float stops them.
    """

    flow_m3_s: FloatArray
    head_m: FloatArray
    motor_w: FloatArray
    running: BoolArray
    state: npt.NDArray[np.uint8]
    starts: npt.NDArray[np.int64]
    stops: Mapping[Standstill, npt.NDArray[np.int64]]
    lost_min: Mapping[Standstill, npt.NDArray[np.int64]]
    store: StoreDays | None
    could_m3: FloatArray | None
    sump_m3: tuple[FloatArray | None, ...]
    sump_overflow_m3: FloatArray
    settled: bool = True
    bought_w: FloatArray | None = None

    @property
    def cutouts(self) -> npt.NDArray[np.int64]:
        """Stops by the low-flow cut-out (days,), all units together."""
        return self.stops[Standstill.CUT_OUT]


def pump(
    job: Job, scene: ChosenMinutes, input_w: Sequence[FloatArray], *, station: PumpStation | None = None
) -> WaterSide:
    """Pump water with the power at the controllers: hydraulics, control, sources and store.

    Parameters
    ----------
    job
        Read are `main` and `store`, and of every unit `pump`, `pipes`, `source`, `controller` and the wire on the
        motor's side.
    scene
        Gives the days and which of their minutes have power: those with the sun up.
    input_w
        Power at the input of each unit's controller [W], ≥ 0 and finite: one array (n,) for each unit, over the `n`
        minutes of the scene.
    station
        What `pump_station(job)` gives, if it is at hand already.

    Returns
    -------
    WaterSide
        Flow, head and running of every unit in every minute, starts and stops, and what became of the water.

    Raises
    ------
    InputError
        If a unit's lift is negative, so that water would run through without a pump, or `input_w` is not as above.

    Notes
    -----
    Every minute is steady: inertia of water and rotor, filling of an empty pipe and recovery of the well's level are
    not followed. A check valve at every pump is assumed. Affinity laws hold for about half to one and a half times
    rated speed and flatter a centrifugal pump below that.
    """
    _check_power(input_w, units=len(job.units), minutes=len(scene.up))
    if station is None:
        station = pump_station(job)
    month = scene.month_of_day
    at_motor = [motor_w(unit, power) for unit, power in zip(job.units, input_w, strict=True)]
    # Power below the controller's own use is none: without it the pump cannot be said to run.
    powered = np.stack([np.where(m > 0, w, 0.0) for m, w in zip(at_motor, input_w, strict=True)])
    available = scene.by_day(scene.spread(powered))
    flows = unit_flows(station, at_motor, month[scene.up_day])
    offered = scene.by_day(scene.spread(flows.flow_m3_s))
    result = _balanced(job, available, offered, month, job.store)
    could_m3 = None
    if result.store is not None and job.store.kind == "tank":
        could_m3 = _balanced(job, available, offered, month, None).pumped_m3.sum(axis=0)
    settled = True
    if len(job.units) > 1:
        result, flows, settled = _agreed(job, scene, station, at_motor, available, flows, result)
    return _accounted(job, scene, result, flows, could_m3=could_m3, settled=settled)


def _check_power(input_w: Sequence[FloatArray], *, units: int, minutes: int) -> None:
    remedy = f"Give a list of {counted(units, 'array')}, one a unit, of {minutes} minutes with the sun up."
    shapes = [np.shape(each) for each in input_w]
    if shapes != [(minutes,)] * units:
        told = shapes if len(shapes) <= _MOST_UNITS_TOLD else f"{len(shapes)} entries"
        raise InputError.of("input_w", told, "is not the shape of the power at the controllers.", remedy)
    for each in input_w:
        if not (np.isfinite(each) & (each >= 0)).all():
            worst = float(each[np.argmin(np.isfinite(each) & (each >= 0))])
            raise InputError.of("input_w", worst, "is no power.", "Watts are 0 or more; put 0 where there are none.")


def _balanced(job: Job, available: FloatArray, offered: FloatArray, month: IndexArray, store: Store | None) -> Balance:
    units = job.units
    return balance(
        available_w=available,
        flow_if_running_m3_s=offered,
        controllers=[unit.controller for unit in units],
        pumps=[unit.pump for unit in units],
        sources=[unit.source for unit in units],
        inflow_m3_s=np.stack([inflow_m3_s(unit.source, month) for unit in units]),
        store=store,
        demand_m3_s=demand_m3_s(job.store, month),
        evaporation_m3_s=evaporation_m3_s(job.store, month),
    )


def _agreed(
    job: Job,
    scene: ChosenMinutes,
    station: PumpStation,
    at_motor: Sequence[FloatArray],
    available: FloatArray,
    flows: OperatingPoint,
    result: Balance,
) -> tuple[Balance, OperatingPoint, bool]:
    """Pumps on one main feel which of the others run, and who runs depends on the flows: repeat until both agree.

    A unit that stands keeps the flow that it would have with all others that have power; once it runs, its flow is that
    of those that run. When two rounds give the same minutes, the answer is that of deciding minute by minute.
    """
    month = scene.month_of_day
    now_flows = OperatingPoint(*(values.copy() for values in flows))
    running = np.ones(flows.flow_m3_s.shape, dtype=bool)
    for _ in range(_ROUNDS):
        now = result.running.reshape(len(at_motor), -1)[:, scene.up]
        changed = np.flatnonzero((now != running).any(axis=0))
        if not changed.size:
            return result, now_flows, True
        running[:, changed] = now[:, changed]
        offered = [np.where(on, power, 0.0)[changed] for on, power in zip(running, at_motor, strict=True)]
        found = unit_flows(station, offered, month[scene.up_day[changed]])
        runs = running[:, changed]
        for values, with_those, with_all in zip(now_flows, found, flows, strict=True):
            values[:, changed] = np.where(runs, with_those, with_all[:, changed])
        result = _balanced(job, available, scene.by_day(scene.spread(now_flows.flow_m3_s)), month, job.store)
    return result, now_flows, False


def _accounted(
    job: Job,
    scene: ChosenMinutes,
    result: Balance,
    flows: OperatingPoint,
    *,
    could_m3: FloatArray | None,
    settled: bool,
) -> WaterSide:
    units, running = len(job.units), result.running
    return WaterSide(
        flow_m3_s=result.flow_m3_s.reshape(units, -1),
        head_m=np.where(running, scene.by_day(scene.spread(flows.head_m)), 0.0).reshape(units, -1),
        motor_w=np.where(running, scene.by_day(scene.spread(flows.power_used_w)), 0.0).reshape(units, -1),
        running=running,
        state=result.state,
        starts=result.starts.sum(axis=0),
        stops={cause: count.sum(axis=0) for cause, count in result.stops.items()},
        lost_min={cause: count.sum(axis=0) for cause, count in result.lost_min.items()},
        store=result.store,
        could_m3=could_m3,
        sump_m3=result.sump_volume_m3,
        sump_overflow_m3=result.sump_overflow_m3,
        settled=settled,
    )
