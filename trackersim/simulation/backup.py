"""The grid or a generator beside the sun: which minutes it drives the pumps in, and what is drawn from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from trackersim.arrays import BoolArray, FloatArray, IndexArray
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.backup import BackupPower
from trackersim.job.model import Job
from trackersim.simulation.electrics import controller_input_w, motor_w
from trackersim.simulation.pump_station import PumpStation, unit_flows
from trackersim.simulation.pumping import WaterSide, pump
from trackersim.simulation.scene import Scene


@dataclass(frozen=True, kw_only=True, eq=False)
class PoweredMinutes:
    """Minutes in which there is power, the sun's or another: what `pump` reads of a scene, with more than its sun-up.

    `up` counts the minutes from the first of all days, `up_day` their days, both (n,).
    """

    up: IndexArray
    month_of_day: IndexArray

    @property
    def days(self) -> int:
        """Whole days."""
        return len(self.month_of_day)

    @property
    def up_day(self) -> IndexArray:
        """Day of each minute (n,)."""
        return self.up // MINUTES_A_DAY

    def spread(self, values: FloatArray, fill: float = 0.0) -> FloatArray:
        """Values (n,) over all minutes, `fill` in those without power."""
        whole = np.full(self.days * MINUTES_A_DAY, fill)
        whole[self.up] = values
        return whole

    def by_day(self, values: FloatArray) -> FloatArray:
        """An array over all minutes as (days, 1440)."""
        return values.reshape(self.days, MINUTES_A_DAY)


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
    until the rest is lifted at its flow, or the window ends. Floats, source and cut-out hold the pumps as by day.
    """
    backup = job.backup
    assert backup is not None  # the runner asks
    power_w = np.array([backup_w(unit, backup) for unit in job.units])
    on = _window(backup, scene.days)
    if backup.when == "dull":
        alone = pump(job, scene, input_w, station=station)
        lifted_m3 = scene.by_day(alone.flow_m3_s.sum(axis=0)).sum(axis=1) * 60
        wanted_m3 = np.array(job.store.demands_m3_per_day)[scene.month_of_day - 1]
        on = _until_made_good(job, backup, scene, station, power_w, np.maximum(wanted_m3 - lifted_m3, 0.0))
    minutes = PoweredMinutes(up=np.union1d(scene.up, np.flatnonzero(on)), month_of_day=scene.month_of_day)
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
    return control.rated_w / control.efficiency + control.own_use_w if backup.power_w is None else backup.power_w


def _window(backup: BackupPower, days: int) -> BoolArray:
    """The minutes of its window on every day (days · 1440,)."""
    after = (np.arange(MINUTES_A_DAY) + 0.5 - 60 * backup.begins_h) % MINUTES_A_DAY
    return np.tile(after < backup.window_min, days)


def _until_made_good(
    job: Job, backup: BackupPower, scene: Scene, station: PumpStation, power_w: FloatArray, missing_m3: FloatArray
) -> BoolArray:
    """Minutes (days · 1440,) from the beginning of each day's window until at its flow the day's rest is lifted."""
    motors_w = [motor_w(unit, np.full(12, watts)) for unit, watts in zip(job.units, power_w, strict=True)]
    by_month_m3_s = unit_flows(station, motors_w, np.arange(1, 13)).flow_m3_s.sum(axis=0)
    flow_m3_min = 60 * by_month_m3_s[scene.month_of_day - 1]
    needed = np.divide(missing_m3, flow_m3_min, out=np.zeros_like(missing_m3), where=flow_m3_min > 0)
    delay = max(unit.controller.start_delay_min for unit in job.units)
    runs_min = np.minimum(np.ceil(needed) + np.where(needed > 0, delay, 0.0), backup.window_min).astype(int)
    on = np.zeros(scene.days * MINUTES_A_DAY, dtype=bool)
    for day, minutes in enumerate(runs_min.tolist()):
        first = day * MINUTES_A_DAY + round(60 * backup.begins_h)
        on[first : first + minutes] = True
    return on
