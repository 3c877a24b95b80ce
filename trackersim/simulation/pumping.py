"""From power at the controllers to water: what the pumps could give, when they run, what the store does with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from trackersim.arrays import BoolArray, FloatArray
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.model import Job
from trackersim.simulation.electrics import motor_w
from trackersim.simulation.pump_station import PumpStation, UnitFlows, pump_station, unit_flows
from trackersim.simulation.scene import Scene
from trackersim.water.balance import Balance, balance
from trackersim.water.balance_parts import Standstill, StoreBounds, Sump, UnitControl
from trackersim.water.demand import demand_m3_s, evaporation_m3_s
from trackersim.water.unit_state import unit_states

_DAY_S = 86_400.0
_ROUNDS = 12


@dataclass(frozen=True, kw_only=True)
class StoreDays:
    """The store through the days: volume at the end of each minute (days, 1440), the rest sums of each day (days,)."""

    volume_m3: FloatArray
    delivered_m3: FloatArray
    overflow_m3: FloatArray
    shortfall_m3: FloatArray
    evaporated_m3: FloatArray


@dataclass(frozen=True, kw_only=True)
class WaterSide:
    """Water of all units. Minutes run over all minutes (days · 1440,), one row per unit.

    `motor_w` is what the motors take, which may be less than they are offered. `running` (units, days, 1440); `state`
    likewise, places in `unit_state.STATES`;
    `starts` and `cutouts` (days,), all units together. `stops` and `lost_min` count by cause (days,): stops for
    want of power too, minutes in which a unit had the power to run and was held. `settled` is false if pumps that
    hold each other up did not come to a decision. `could_m3` (days,) is what all would lift into a tank that is never
    full; None where no float stops them.
    """

    flow_m3_s: FloatArray
    head_m: FloatArray
    motor_w: FloatArray
    running: BoolArray
    state: npt.NDArray[np.uint8]
    starts: npt.NDArray[np.int64]
    cutouts: npt.NDArray[np.int64]
    stops: Mapping[Standstill, npt.NDArray[np.int64]]
    lost_min: Mapping[Standstill, npt.NDArray[np.int64]]
    store: StoreDays | None
    could_m3: FloatArray | None
    sump_m3: tuple[FloatArray | None, ...]
    sump_overflow_m3: FloatArray
    sump_inflow_m3: FloatArray
    settled: bool = True


def pump(job: Job, scene: Scene, input_w: Sequence[FloatArray], *, station: PumpStation | None = None) -> WaterSide:
    """Pump water with the power at the controllers: hydraulics, control, sources and store.

    Parameters
    ----------
    job
        Read are `main` and `store`, and of every unit `pump`, `pipes`, `source`, `controller` and the wire on the
        motor's side.
    scene
        Gives the days and which of their minutes have the sun up.
    input_w
        Power at the input of each unit's controller [W], ≥ 0 and finite: one array (n,) for each unit, over the `n`
        minutes in which the sun is up.
    station
        What `pump_station(job)` gives, if it is at hand already.

    Returns
    -------
    WaterSide
        Flow, head and running of every unit in every minute, starts and stops, and what became of the water.

    Raises
    ------
    InputError
        If a unit's lift is negative, so that water would run through without a pump.

    Notes
    -----
    Every minute is steady: inertia of water and rotor, filling of an empty pipe and recovery of the well's level are
    not followed. A check valve at every pump is assumed. Affinity laws hold for about half to one and a half times
    rated speed and flatter a centrifugal pump below that.
    """
    if station is None:
        station = pump_station(job)
    month = month_of_day(scene)
    at_motor = [motor_w(unit, power) for unit, power in zip(job.units, input_w, strict=True)]
    # Power below the controller's own use is none: without it the pump cannot be said to run.
    available = np.stack(
        [scene.by_day(scene.spread(np.where(m > 0, w, 0.0))) for m, w in zip(at_motor, input_w, strict=True)]
    )
    flows = unit_flows(station, at_motor, month[scene.up_day])
    store, offered = _store(job, month), _spread(scene, flows.flow_m3_s)
    result = _balanced(job, available, offered, month, store)
    could_m3 = None
    if store is not None and store.high_float_m3 is not None:
        could_m3 = _balanced(job, available, offered, month, None).pumped_m3.sum(axis=0)
    settled = True
    if len(job.units) > 1:
        result, flows, settled = _agreed(job, scene, station, at_motor, available, flows, result, month)
    return _accounted(job, scene, result, flows, month, available_w=available, could_m3=could_m3, settled=settled)


def _spread(scene: Scene, values: FloatArray) -> FloatArray:
    """Sun-up values (units, n) over all minutes (units, days, 1440)."""
    return np.stack([scene.by_day(scene.spread(one)) for one in values])


def _balanced(
    job: Job, available: FloatArray, offered: FloatArray, month: npt.NDArray[np.int64], store: StoreBounds | None
) -> Balance:
    return balance(
        available_w=available,
        flow_if_running_m3_s=offered,
        controls=[_control(unit) for unit in job.units],
        sumps=[_sump(unit, month) for unit in job.units],
        store=store,
    )


def _agreed(
    job: Job,
    scene: Scene,
    station: PumpStation,
    at_motor: Sequence[FloatArray],
    available: FloatArray,
    flows: UnitFlows,
    result: Balance,
    month: npt.NDArray[np.int64],
) -> tuple[Balance, UnitFlows, bool]:
    """Pumps on one main feel which of the others run, and who runs depends on the flows: repeat until both agree.

    A unit that stands keeps the flow that it would have with all others that have power; once it runs, its flow is that
    of those that run. When two rounds give the same minutes, the answer is that of deciding minute by minute.
    """
    now_flows = UnitFlows(*(values.copy() for values in flows))
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
        result = _balanced(job, available, _spread(scene, now_flows.flow_m3_s), month, _store(job, month))
    return result, now_flows, False


def month_of_day(scene: Scene) -> npt.NDArray[np.int64]:
    """Month 1…12 of each day of the scene (days,)."""
    return np.asarray(scene.weather.times[::MINUTES_A_DAY].month, dtype=np.int64)


def _accounted(
    job: Job,
    scene: Scene,
    result: Balance,
    flows: UnitFlows,
    month: npt.NDArray[np.int64],
    *,
    available_w: FloatArray,
    could_m3: FloatArray | None,
    settled: bool,
) -> WaterSide:
    units = len(job.units)
    running = result.running
    store = None
    if result.store_volume_m3 is not None:
        store = StoreDays(
            volume_m3=result.store_volume_m3,
            delivered_m3=result.delivered_m3,
            overflow_m3=result.overflow_m3,
            shortfall_m3=result.shortfall_m3,
            evaporated_m3=result.evaporated_m3,
        )
    return WaterSide(
        flow_m3_s=result.flow_m3_s.reshape(units, -1),
        head_m=np.where(running, _spread(scene, flows.head_m), 0.0).reshape(units, -1),
        motor_w=np.where(running, _spread(scene, flows.motor_w), 0.0).reshape(units, -1),
        running=running,
        state=unit_states(result.state, available_w),
        starts=result.starts.sum(axis=0),
        cutouts=result.stops[Standstill.CUT_OUT].sum(axis=0),
        stops={cause: count.sum(axis=0) for cause, count in result.stops.items()},
        lost_min={cause: count.sum(axis=0) for cause, count in result.lost_min.items()},
        store=store,
        could_m3=could_m3,
        sump_m3=result.sump_volume_m3,
        sump_overflow_m3=result.sump_overflow_m3,
        sump_inflow_m3=np.stack([_inflow_m3(unit, month) for unit in job.units]),
        settled=settled,
    )


def _control(unit: Job) -> UnitControl:
    control = unit.controller
    return UnitControl(
        start_w=control.start_w,
        stop_w=control.stops_at_w,
        start_delay_min=control.start_delay_min,
        cutout_flow_m3_s=unit.pump.cutout_flow_m3_s,
        cutout_delay_min=unit.pump.cutout_delay_min,
        cutout_retry_min=unit.pump.cutout_retry_min,
        cutout_tries=unit.pump.cutout_tries,
    )


def _inflow_m3(unit: Job, month: npt.NDArray[np.int64]) -> FloatArray:
    """Water that runs into the unit's sump on each day (days,); 0 for a well."""
    if unit.source.kind != "sump":
        return np.zeros(len(month))
    return np.array(unit.source.inflows_m3_per_day)[month - 1]


def _sump(unit: Job, month: npt.NDArray[np.int64]) -> Sump | None:
    source = unit.source
    if source.kind != "sump" or source.volume_m3 is None:
        return None
    return Sump(
        volume_m3=source.volume_m3,
        start_volume_m3=source.volume_m3,
        low_stop_m3=source.low_stop * source.volume_m3,
        restart_m3=source.restart * source.volume_m3,
        restart_delay_min=source.restart_delay_min,
        inflow_m3_s=_inflow_m3(unit, month) / _DAY_S,
    )


def _store(job: Job, month: npt.NDArray[np.int64]) -> StoreBounds | None:
    """The store, if the job says what it holds."""
    store = job.store
    if store.capacity_m3 is None:
        return None
    floats = store.kind == "tank"
    evaporation: FloatArray | float = 0.0
    if store.area_m2 is not None and store.evaporation_by_month_m is not None:
        mm_per_day = 1000 * np.array(store.evaporation_by_month_m)
        evaporation = evaporation_m3_s(mm_per_day=mm_per_day, area_m2=store.area_m2, month_of_day=month)
    return StoreBounds(
        capacity_m3=store.capacity_m3,
        start_m3=store.start * store.capacity_m3,
        demand_m3_s=demand_m3_s(
            per_day_m3=store.demands_m3_per_day, month_of_day=month, hour_shares=store.demand_by_hour
        ),
        evaporation_m3_s=evaporation,
        high_float_m3=store.high_float * store.capacity_m3 if floats else None,
        low_float_m3=store.low_float * store.capacity_m3 if floats else None,
    )
