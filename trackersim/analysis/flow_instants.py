"""One minute at the site as it may have been: under each sky and rack that are drawn, with the job's own figures within
what they are known to, and light and rack as they were read.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from trackersim.analysis.fault_trials import rougher_pipes
from trackersim.analysis.flow_measurement import Readings
from trackersim.analysis.observed_sky import Seen, days_up_to, within
from trackersim.analysis.sampled_mornings import RUNS, Run, latin, runs_of
from trackersim.analysis.uncertain_inputs import range_of_input
from trackersim.clock import Moment
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.simulation.array_power import array_model
from trackersim.simulation.generation import sky_seen
from trackersim.simulation.orientation import orientation_of
from trackersim.simulation.pump_station import pump_station
from trackersim.simulation.steady import Instant, changed, one_minute, point_of

PUMP_RANGE = range_of_input("pump_flow")
# What of the job's own figures is varied in each run.
_VARIED = ("array_power", "lift", "pipe_c")
_BY_EYE_DEG, _BY_GAUGE_DEG = 10.0, 3.0


def instants_of(job: Job, moment: Moment, seen: Seen, readings: Readings) -> list[Instant]:
    """The minute in every run, the likely one first; empty while the sun is down."""
    known = readings.stands is not None or readings.rotation_deg is not None
    days, by_unit = days_up_to(job, moment.date), []
    for unit in job.units:
        # How a rack would turn by itself is not asked where somebody has seen it.
        told = with_overrides(unit, {"rack.kind": "ideal"}) if known and unit.rack.kind != "fixed" else unit
        by_unit.append(runs_of(told, days, seen, moment.minute))
    at = (by_unit[0][0].scene.days - 1) * MINUTES_A_DAY + moment.minute
    if one_minute(by_unit[0][0].scene, at) is None:
        return []
    shares = np.vstack([np.full((1, 5), 0.5), latin(RUNS, 5)[::-1]])
    base = _instant(job, moment, [runs[0] for runs in by_unit])
    made = []
    for number, row in enumerate(shares):
        runs = [unit_runs[number] for unit_runs in by_unit]
        made.append(_as_read(_varied(_under(base, runs, at), row), readings, row))
    return made


def _instant(job: Job, moment: Moment, runs: Sequence[Run]) -> Instant:
    """The minute as the job describes it, with tables that all runs share."""
    scenes = tuple(run.scene for run in runs)
    units = job.units
    sines = scenes[0].by_day(scenes[0].sun.direction[2])[-1]
    return Instant(
        job=job,
        scenes=scenes,
        orientations=tuple(orientation_of(unit, scene) for unit, scene in zip(units, scenes, strict=True)),
        views=tuple(sky_seen(unit, scene) for unit, scene in zip(units, scenes, strict=True)),
        models=tuple(array_model(unit, scene) for unit, scene in zip(units, scenes, strict=True)),
        station=pump_station(job),
        rotation_deg=(0.0,) * len(units),
        month=moment.date.month,
        rising=moment.minute < int(np.argmax(sines)),
    )


def _under(base: Instant, runs: Sequence[Run], at: int) -> Instant:
    """The minute in one run of each unit: its sky, and its rack as it would stand."""
    minutes = [one_minute(run.scene, at) for run in runs]
    rotation = tuple(float(run.rotation_deg.ravel()[at]) for run in runs)
    return replace(base, scenes=tuple(scene for scene in minutes if scene is not None), rotation_deg=rotation)


def _varied(instant: Instant, shares: np.ndarray) -> Instant:
    """The minute with the job's own figures within what they are known to."""
    power, lift, rough = (within(range_of_input(name), u) for name, u in zip(_VARIED, shares[:3], strict=True))
    if (power, lift, rough) == (1.0, 1.0, 1.0):
        return instant
    job = changed(instant.job, "source", lambda source: source.model_copy(update=lifted(source, lift)))
    return replace(instant, station=pump_station(rougher_pipes(job, rough)), power=power)


def lifted(source: Any, factor: float) -> dict[str, Any]:
    """Fields of a source whose lift is `factor` of what it is."""
    by_month = source.lift_by_month_m
    months = None if by_month is None else tuple(lift * factor for lift in by_month)
    return {"lift_m": source.lift_m * factor, "lift_by_month_m": months}


def _as_read(instant: Instant, readings: Readings, shares: np.ndarray) -> Instant:
    """The minute with the rack and the light as they were read."""
    angles = [
        was if unit.rack.kind == "fixed" else _as_seen(readings, unit.rack.max_rotation_deg, shares[3], was)
        for unit, was in zip(instant.job.units, instant.rotation_deg, strict=True)
    ]
    instant = replace(instant, rotation_deg=tuple(angles))
    if readings.light_w_m2 is None:
        return instant
    own = point_of(instant).units[readings.unit].plane_w_m2
    if own <= 0:
        return instant
    return replace(instant, light=readings.light_w_m2 * within(range_of_input("light_meter"), shares[4]) / own)


def _as_seen(readings: Readings, stop_deg: float, share: float, was_deg: float) -> float:
    """A rack's angle as it was read or told by eye; as it would stand by itself where nobody looked."""
    if readings.rotation_deg is not None:
        angle = readings.rotation_deg + within((-_BY_GAUGE_DEG, 0.0, _BY_GAUGE_DEG), share)
    elif readings.stands is not None:
        eye = {"west": stop_deg, "level": 0.0, "east": -stop_deg}[readings.stands]
        angle = eye + within((-_BY_EYE_DEG, 0.0, _BY_EYE_DEG), share)
    else:
        return was_deg
    return float(np.clip(angle, -stop_deg, stop_deg))
