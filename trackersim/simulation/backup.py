"""The grid or a generator beside the sun: which minutes it drives the pumps in, and what is drawn from it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from trackersim.arrays import BoolArray, FloatArray
from trackersim.constants import MINUTES_A_DAY, SECONDS_A_MINUTE
from trackersim.job.backup import BackupPower
from trackersim.job.model import Job
from trackersim.simulation.electrics import controller_input_w, motor_w
from trackersim.simulation.pump_station import PumpStation, unit_flows
from trackersim.simulation.pumping import WaterSide, pump
from trackersim.simulation.scene import ChosenMinutes, Scene
from trackersim.water.balance import StoreDays
from trackersim.water.demand import demand_each_day_m3, demand_m3_s, evaporation_m3_s, short_days

_DAY_S, _NOON_H = 86_400, 12.0
# How often the store is asked again, and the share of a day's want kept in hand for what floats still shift then.
_ROUNDS, _IN_HAND = 6, 0.05
# What rounding alone leaves missing asks for no further minute.
_NEARLY_ALL = 1 - 1e-9


def pump_with_backup(job: Job, scene: Scene, input_w: Sequence[FloatArray], *, station: PumpStation) -> WaterSide:
    """Pump water with the power at the controllers and, in its window, with the job's backup.

    Parameters
    ----------
    job : Job
        With a section `backup`.
    scene : Scene
        The site's sunny minutes.
    input_w : Sequence[FloatArray]
        Of each unit what its array gives to its controller in those minutes (n,) [W].
    station : PumpStation
        The pumps and what they work against.

    Returns
    -------
    WaterSide
        With `bought_w`, what the controllers draw from the backup in each minute [W] (units, days · 1440).

    Notes
    -----
    In its window a minute runs on the backup if that gives more than the sun then does, else on the sun. A dull day is
    one on which the sun alone lifts less than the demand; the backup then runs from the beginning of the next window
    (that of the next day if it begins before noon) until the rest is lifted, or the window ends. Beside a
    store that is followed, what is to be lifted is what that lacks of the day to come. Floats, source and cut-out hold
    the pumps as by day.
    """
    backup = job.backup
    assert backup is not None  # the runner asks
    if backup.when == "every":
        return _powered(job, scene, input_w, station, _window(backup, scene.days))
    water = pump(job, scene, input_w, station=station)
    sun_m3 = SECONDS_A_MINUTE * water.flow_m3_s.sum(axis=0)
    if water.store is None:
        wanted_m3 = demand_each_day_m3(job.store, scene.month_of_day)
        lacks_m3 = _lacking_m3(scene, water, wanted_m3)
        planned_m3 = lacks_m3
        if backup.begins_h < _NOON_H:  # nobody knows yet what that day's sun will lift
            planned_m3 = np.append(0.0, lacks_m3[:-1])
        for _ in range(_ROUNDS):
            on = _until_made_good(job, backup, scene, station, sun_m3, planned_m3)
            water = _powered(job, scene, input_w, station, on)
            lacks_m3 = _lacking_m3(scene, water, wanted_m3)
            if backup.begins_h < _NOON_H or not lacks_m3.any():
                break
            # A pump that the backup has kept running may stand where it would have run on the sun, and the reverse.
            planned_m3 = planned_m3 + lacks_m3
        return water
    planned_m3 = np.zeros(scene.days)
    for _ in range(_ROUNDS):
        assert water.store is not None
        lacks_m3 = _store_lacks_m3(job, backup, scene, water, water.store, planned_m3)
        same_m3 = 0.5 * _IN_HAND * max(job.store.demands_m3_per_day)
        if water.bought_w is not None and np.abs(lacks_m3 - planned_m3).max() <= same_m3:
            break
        planned_m3 = lacks_m3
        on = _until_made_good(job, backup, scene, station, sun_m3, planned_m3)
        water = _powered(job, scene, input_w, station, on)
    return water


def _lacking_m3(scene: Scene, water: WaterSide, wanted_m3: FloatArray) -> FloatArray:
    """What each day lifts less than is wanted of it (days,) [m³]."""
    lifted_m3 = SECONDS_A_MINUTE * scene.by_day(water.flow_m3_s.sum(axis=0)).sum(axis=1)
    return np.where(short_days(delivered_m3=lifted_m3, demand_m3=wanted_m3), wanted_m3 - lifted_m3, 0.0)


def _powered(job: Job, scene: Scene, input_w: Sequence[FloatArray], station: PumpStation, on: BoolArray) -> WaterSide:
    """What comes of the sun, and of the backup in the minutes `on` (days · 1440,)."""
    assert job.backup is not None
    power_w = np.array([backup_w(unit, job.backup) for unit in job.units])
    minutes = ChosenMinutes(up=np.union1d(scene.up, np.flatnonzero(on)), month_of_day=scene.month_of_day)
    sun_w = np.stack([scene.spread(power)[minutes.up] for power in input_w])
    bought = on[minutes.up] & (sun_w < power_w[:, None])
    water = pump(job, minutes, list(np.where(bought, power_w[:, None], sun_w)), station=station)
    drawn_w = [
        minutes.spread(np.where(mine, controller_input_w(unit, motors_w[minutes.up]), 0.0))
        for unit, mine, motors_w in zip(job.units, bought, water.motor_w, strict=True)
    ]
    return replace(water, bought_w=np.stack(drawn_w))


def backup_w(unit: Job, backup: BackupPower) -> float:
    """What the backup gives at the controller of one unit: as told, else what the controller's rating takes.

    Parameters
    ----------
    unit : Job
        Its controller is read.
    backup : BackupPower
        The grid or the generator.

    Returns
    -------
    float
        Power at the controller's input [W].
    """
    control = unit.controller
    if backup.power_w is not None:
        return backup.power_w
    at_full_load = control.efficiency_curve[-1] if control.efficiency_curve else control.efficiency
    return control.rated_w / at_full_load + control.own_use_w


def _window(backup: BackupPower, days: int) -> BoolArray:
    """The minutes of its window on every day (days · 1440,)."""
    after = (np.arange(MINUTES_A_DAY) + 0.5 - 60 * backup.begins_h) % MINUTES_A_DAY
    return np.tile(after < backup.window_min, days)


def _store_lacks_m3(
    job: Job, backup: BackupPower, scene: Scene, water: WaterSide, store: StoreDays, planned_m3: FloatArray
) -> FloatArray:
    """What the store lacks, when each day's window begins, of a day's demand and evaporation above its reserve (days,)
    [m³]; a tank above its low float lacks nothing.

    It is read off the days as pumped with `planned_m3` (days,), and corrected for what changes on the days before:
    more water goes first to whoever ran short. Floats make that inexact, so it is asked again of what comes of it.
    """
    tank, month, begins = job.store, scene.month_of_day, round(60 * backup.begins_h)
    capacity_m3 = tank.capacity_m3 or 0.0
    full, calls = (tank.high_float, tank.low_float) if tank.kind == "tank" else (1.0, 1.0)
    held_m3 = np.concatenate([[tank.start * capacity_m3], store.volume_m3.ravel()[:-1]])
    there_m3 = held_m3 + 60 * water.flow_m3_s.sum(axis=0)
    short_m3 = np.maximum(60 * demand_m3_s(tank, month).ravel() - there_m3, 0.0)
    first = begins + MINUTES_A_DAY * np.arange(scene.days)
    short_since_m3 = np.add.reduceat(short_m3, first)
    next_month = np.append(month[1:], month[-1])
    a_day_m3 = demand_each_day_m3(tank, next_month) + _DAY_S * evaporation_m3_s(tank, next_month)
    enough_m3 = np.minimum(tank.reserve_m3 + (1 + _IN_HAND) * a_day_m3, calls * capacity_m3)
    lacks_m3, more_m3 = np.zeros(scene.days), 0.0
    for day, before_m3 in enumerate(held_m3[first].tolist()):
        more_m3 = min(max(more_m3, -before_m3), max(full * capacity_m3 - before_m3, 0.0))
        lacks_m3[day] = max(enough_m3[day] - before_m3 - more_m3, 0.0)
        more_m3 += lacks_m3[day] - planned_m3[day]
        more_m3 -= min(short_since_m3[day], max(more_m3, 0.0))
    return lacks_m3


def _until_made_good(
    job: Job, backup: BackupPower, scene: Scene, station: PumpStation, sun_m3: FloatArray, missing_m3: FloatArray
) -> BoolArray:
    """Minutes (days · 1440,) from the beginning of each day's window until what is missing (days,) is lifted beyond
    what the sun lifts in them anyway, `sun_m3` (days · 1440,): the backup takes its place.
    """
    motors_w = [motor_w(unit, np.full(12, backup_w(unit, backup))) for unit in job.units]
    by_month_m3_s = unit_flows(station, motors_w, np.arange(1, 13)).flow_m3_s.sum(axis=0)
    flow_m3 = SECONDS_A_MINUTE * by_month_m3_s[scene.month_of_day - 1]
    delay = max(unit.controller.start_delay_min for unit in job.units)
    on = np.zeros(scene.days * MINUTES_A_DAY, dtype=bool)
    for day in np.flatnonzero(missing_m3 > 0).tolist():
        first = day * MINUTES_A_DAY + round(60 * backup.begins_h)
        window = slice(first, first + round(backup.window_min))
        gained_m3 = np.cumsum(np.maximum(flow_m3[day] - sun_m3[window], 0.0))
        needed = int(np.searchsorted(gained_m3, missing_m3[day] * _NEARLY_ALL)) + 1
        on[first : min(first + needed + math.ceil(delay), window.stop)] = flow_m3[day] > 0
    return on
