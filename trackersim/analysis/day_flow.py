"""The water of one simulated day by the hours of the site's clock, and by which units run."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from trackersim.arrays import FloatArray
from trackersim.clock import zone_of
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.model import Job
from trackersim.simulation.result import Result
from trackersim.water.unit_state import UnitState, minutes_in


class FlowPart(NamedTuple):
    """A part of an hour with the same units running: which, for how many minutes, and their flow [m³/s] (median)."""

    units: tuple[int, ...]
    minutes: int
    flow_m3_s: float


class Running(NamedTuple):
    """An hour's minutes with water, and their mean flow [m³/s]: what a bucket held under the pipe then gets."""

    minutes: int
    of_minutes: int
    flow_m3_s: float

    @property
    def whole(self) -> bool:
        """Whether water comes all through the hour."""
        return self.minutes == self.of_minutes


@dataclass(frozen=True, kw_only=True)
class DayFlow:
    """One day's water. `hours` are hours of the site's clock with their mean flow [m³/s], `parts` the same hours by
    which units run, longest first; `minute_flow_m3_s` (1440,) of the standard day, in which first and last water are
    minutes, None without any. `states` are the minutes that each unit spends in each state."""

    hours: tuple[tuple[int, float], ...]
    parts: tuple[tuple[int, tuple[FlowPart, ...]], ...]
    minute_flow_m3_s: FloatArray
    total_m3: float
    first_water: int | None
    last_water: int | None
    first_of_units: tuple[int | None, ...]
    states: tuple[Mapping[UnitState, int], ...]

    @property
    def running(self) -> dict[int, Running]:
        """Of each of `hours` the part with water: the mean of the hour counts the minutes at rest as well."""
        return {hour: _running(flow, parts) for (hour, flow), (_, parts) in zip(self.hours, self.parts, strict=True)}


def day_flow(job: Job, result: Result) -> DayFlow:
    """The last day of `result` by hours of the site's clock, those with light."""
    flow, light = result.by_day("flow_m3_s")[-1], result.by_day("plane_w_m2")[-1]
    hour = np.asarray(result.times[-MINUTES_A_DAY:].tz_convert(zone_of(job.site)).hour)
    lit = dict.fromkeys(hour[light > 0].tolist())
    of_units = np.stack([minutes["flow_m3_s"][-MINUTES_A_DAY:] for minutes in result.unit_minutes])
    first, last = _ends(flow)
    return DayFlow(
        hours=tuple((int(one), float(flow[hour == one].mean())) for one in lit),
        parts=tuple((int(one), _parts(of_units[:, hour == one])) for one in lit),
        minute_flow_m3_s=flow,
        total_m3=float(flow.sum() * 60),
        first_water=first,
        last_water=last,
        first_of_units=tuple(_ends(one)[0] for one in of_units),
        states=tuple(MappingProxyType(minutes_in(states[-1])) for states in result.water.state),
    )


def _ends(flow_m3_s: FloatArray) -> tuple[int | None, int | None]:
    """First and last minute with water."""
    wet = np.flatnonzero(flow_m3_s > 0)
    return (int(wet[0]), int(wet[-1])) if wet.size else (None, None)


def _parts(flow_m3_s: FloatArray) -> tuple[FlowPart, ...]:
    """The minutes (units, n) by which units give water, longest first."""
    kinds, which = np.unique(flow_m3_s > 0, axis=1, return_inverse=True)
    total = flow_m3_s.sum(axis=0)
    parts = [
        FlowPart(
            units=tuple(np.flatnonzero(kinds[:, kind]).tolist()),
            minutes=int((which == kind).sum()),
            flow_m3_s=float(np.median(total[which.ravel() == kind])),
        )
        for kind in range(kinds.shape[1])
    ]
    return tuple(sorted(parts, key=lambda part: -part.minutes))


def _running(mean_m3_s: float, parts: Sequence[FlowPart]) -> Running:
    """The part with water of an hour with that mean flow."""
    of_minutes = sum(part.minutes for part in parts)
    minutes = sum(part.minutes for part in parts if part.units)
    return Running(minutes, of_minutes, mean_m3_s * of_minutes / minutes if minutes else 0.0)
