"""The water side in figures: heads, running points, stops and lost minutes, the balance, months that fall short."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from trackersim.analysis.alternatives import used_each_day_m3
from trackersim.arrays import FloatArray
from trackersim.job.model import Job
from trackersim.simulation.electrics import controller_input_w, most_motor_w
from trackersim.simulation.pump_station import PumpStation, pump_station, unit_flows
from trackersim.simulation.result import Result
from trackersim.simulation.water_notices import friction_opinions_m
from trackersim.water.backup import Backup, SumpDays, backup
from trackersim.water.demand import days_below, longest_dry_spell, short_days
from trackersim.water.pipes import pipe_head_m
from trackersim.water.pump import hydraulic_power_w
from trackersim.water.source import drawdown_m

SHARES = (0.25, 0.50, 0.75, 1.0)


@dataclass(frozen=True, kw_only=True)
class RunningPoint:
    """One unit at a share of the power that takes it to full speed (or to the controller's rating, if that is less).

    `power_w` is what its motor then takes: on a main some is left over, where the others raise the head.
    """

    unit: str
    share: float
    power_w: float
    flow_m3_s: float
    head_m: float
    efficiency: float


@dataclass(frozen=True, kw_only=True)
class HeadParts:
    """What the head of one unit is made of at full power in the month of its largest lift [m].

    `friction_m` by Hazen–Williams and `friction_darcy_m` by Darcy–Weisbach are without fittings; in a shared main they
    are those of all units' water together.
    """

    unit: str
    flow_m3_s: float
    lift_m: float
    drawdown_m: float
    friction_m: float
    friction_darcy_m: float
    fittings_m: float

    @property
    def head_m(self) -> float:
        """All of it."""
        return self.lift_m + self.drawdown_m + self.friction_m + self.fittings_m


@dataclass(frozen=True, kw_only=True)
class WaterReport:
    """Everything `trackersim water` tells; sums over the days of the result, volumes in m³.

    `balance` closes: start + pumped = delivered + overflow + evaporated + end; None where the store is not followed.
    `short_days` and `backup` (12,) are by month; both None without a demand. A backup's energy is that at the
    controllers' inputs.
    """

    result: Result
    points: tuple[RunningPoint, ...]
    heads: tuple[HeadParts, ...]
    lost_min: dict[str, int]
    stops: dict[str, int]
    balance: dict[str, float] | None
    short_days: npt.NDArray[np.int64] | None
    backup: Backup | None
    dry_spell_days: int | None
    days_below_reserve: int | None

    def summary(self) -> dict[str, Any]:
        """Plain data, as `water --json` prints it."""
        return {
            "job": self.result.job.site.name,
            "days": self.result.days,
            "water_m3_per_day": self.result.water_m3_per_day,
            "heads": [{**vars(part), "head_m": part.head_m} for part in self.heads],
            "running_points": [dict(vars(point)) for point in self.points],
            "starts_per_day": float(self.result.water.starts.mean()),
            "stops": self.stops,
            "minutes_lost": self.lost_min,
            "units": self.result.unit_summaries(),
            "balance_m3": self.balance,
            "short_days_by_month": None if self.short_days is None else self.short_days.tolist(),
            "backup_hours_by_month": None if self.backup is None else self.backup.hours.tolist(),
            "backup_kwh_by_month": None if self.backup is None else self.backup.energy_kwh.tolist(),
            "backup_missing_m3_by_month": None if self.backup is None else self.backup.missing_m3.tolist(),
            "longest_dry_spell_days": self.dry_spell_days,
            "days_below_reserve": self.days_below_reserve,
            "provenance": dict(vars(self.result.provenance)),
        }


def water_report(result: Result) -> WaterReport:
    """The report on a result."""
    job, water = result.job, result.water
    station = pump_station(job)
    points = _points(job, station)
    full = [point for point in points if point.share == SHARES[-1]]
    wanted, month = bool(result.demand_m3.any()), result.stages.scene.month_of_day
    given_m3 = used_each_day_m3(water, job, month)
    served = {"delivered_m3": given_m3, "demand_m3": result.demand_m3}
    return WaterReport(
        result=result,
        points=points,
        heads=_heads(job, full),
        lost_min={str(cause): int(count.sum()) for cause, count in water.lost_min.items()},
        stops={str(cause): int(count.sum()) for cause, count in water.stops.items()},
        balance=_balance(result),
        short_days=np.bincount(month[short_days(**served)], minlength=13)[1:] if wanted else None,
        backup=_backup(result, station, given_m3) if wanted else None,
        dry_spell_days=longest_dry_spell(**served) if wanted else None,
        days_below_reserve=None
        if water.store is None
        else days_below(water.store.volume_m3, reserve_m3=job.store.reserve_m3),
    )


def _hardest_month(job: Job) -> int:
    """The month of the largest lift, 1…12."""
    lifts = np.sum([unit.source.lifts_m for unit in job.units], axis=0)
    return int(np.argmax(lifts)) + 1


def _points(job: Job, station: PumpStation) -> tuple[RunningPoint, ...]:
    month = np.full(len(SHARES), _hardest_month(job))
    full_w = [min(top, most_motor_w(unit)) for top, unit in zip(station.full_power_w, job.units, strict=True)]
    offered = [np.array(SHARES) * power for power in full_w]
    flows = unit_flows(station, offered, month)
    points = []
    for number in range(len(job.units)):
        for place, share in enumerate(SHARES):
            flow, head = float(flows.flow_m3_s[number, place]), float(flows.head_m[number, place])
            power = float(flows.power_used_w[number, place])
            gained = float(hydraulic_power_w(flow, head))
            points.append(
                RunningPoint(
                    unit=job.unit_names[number],
                    share=share,
                    power_w=power,
                    flow_m3_s=flow,
                    head_m=head,
                    efficiency=gained / power if power > 0 else 0.0,
                )
            )
    return tuple(points)


def _heads(job: Job, full: list[RunningPoint]) -> tuple[HeadParts, ...]:
    total = sum(point.flow_m3_s for point in full)
    main = job.main_pipes
    heads = []
    for unit, point in zip(job.units, full, strict=True):
        flow, water_c = point.flow_m3_s, unit.source.temperature_c
        own, other = friction_opinions_m(unit.pipes, flow_m3_s=flow, water_c=water_c)
        shared, shared_other = friction_opinions_m(main, flow_m3_s=total, water_c=water_c)
        all_losses = float(pipe_head_m(flow, unit.pipes)) + float(pipe_head_m(total, main))
        heads.append(
            HeadParts(
                unit=point.unit,
                flow_m3_s=flow,
                lift_m=unit.source.highest_lift_m + job.main_lift_m,
                drawdown_m=float(drawdown_m(flow, unit.source)),
                friction_m=own + shared,
                friction_darcy_m=other + shared_other,
                fittings_m=all_losses - own - shared,
            )
        )
    return tuple(heads)


def _balance(result: Result) -> dict[str, float] | None:
    store = result.water.store
    if store is None or result.job.store.capacity_m3 is None:
        return None
    return {
        "start": result.job.store.start * result.job.store.capacity_m3,
        "pumped": result.water_m3,
        "delivered": float(store.delivered_m3.sum()),
        "overflow": float(store.overflow_m3.sum()),
        "evaporated": float(store.evaporated_m3.sum()),
        "end": float(store.volume_m3[-1, -1]),
        "shortfall": float(store.shortfall_m3.sum()),
    }


def _backup(result: Result, station: PumpStation, given_m3: FloatArray) -> Backup | None:
    water, units = result.water, result.job.units
    months = np.arange(1, 13)
    # Of which a pump takes what full speed takes.
    offered = [np.full(len(months), most_motor_w(unit)) for unit in units]
    flows = unit_flows(station, offered, months)
    if flows.flow_m3_s.max() <= 0:
        return None
    inputs_w = [controller_input_w(unit, motor) for unit, motor in zip(units, flows.power_used_w, strict=True)]
    sumps = [
        None if held is None else SumpDays.of(unit.source, held_m3=held, over_m3=over)
        for unit, held, over in zip(units, water.sump_m3, water.sump_overflow_m3, strict=True)
    ]
    return backup(
        shortfall_m3=np.maximum(result.demand_m3 - given_m3, 0.0),
        month_of_day=result.stages.scene.month_of_day,
        flow_m3_s=flows.flow_m3_s,
        power_w=np.stack(inputs_w),
        sumps=sumps,
    )
