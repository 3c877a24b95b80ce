"""What a result must say beside its figures: what was assumed, capped or unusual."""

from __future__ import annotations

from trackersim.errors import Notice
from trackersim.job.model import Job
from trackersim.rack.thermal_march import ThermalHistory
from trackersim.study.canisters import thermal_notices
from trackersim.study.obstacles import obstacle_notices
from trackersim.study.scene import Machine, Scene


def result_notices(job: Job, scene: Scene, machine: Machine, history: ThermalHistory | None) -> tuple[Notice, ...]:
    """All notices of one run, the gravest first, then those about trees and weather."""
    notices = [*_machine_notices(machine)]
    if job.rack.kind == "delayed":
        text = "The rack's delay, turning time and lag are as watched or assumed; no measurement is published."
        notices.append(Notice(text=text, field="rack.flip_delay"))
    if job.rack.kind == "thermal":
        has_direction = scene.weather.wind_from_deg is not None
        notices += thermal_notices(job, history, has_wind_direction=has_direction)
    return (*notices, *obstacle_notices(job), *scene.weather.notices)


def _machine_notices(machine: Machine) -> list[Notice]:
    notices = []
    if not machine.pump.can_lift:
        text = "The pump never lifts water here: its shut-off head at full speed does not exceed the lift."
        notices.append(Notice(text=text, field="source.lift", level="danger"))
    elif machine.pump.yield_limited:
        text = "The well's yield, not the pump, sets the largest flow; the pump would draw air beyond max_drawdown."
        notices.append(Notice(text=text, field="source.max_drawdown", level="caution"))
    if machine.module.eased:
        text = "No cell has all the figures on this label; the nearest curve of the same power was used. Read it again."
        notices.append(Notice(text=text, field="array.vmp", level="caution"))
    return notices
