"""What would explain a flow other than expected, and how much of it: each cause alone, solved with the engine.

Flow falls (or rises) steadily with the size of every cause, so its size is found by root finding. What counts as
believable is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.optimize import brentq

from trackersim.analysis.flow_measurement import Measured
from trackersim.simulation.generation import array_model
from trackersim.simulation.pump_station import pump_station
from trackersim.simulation.steady import Instant, Point, changed, point_of

_NEAR = 1e-4  # of the span that is searched
_NEVER_M3_S = 1e-7


@dataclass(frozen=True, kw_only=True)
class Explanation:
    """One cause alone. `size` in the unit of its kind, None if even `most` does not explain the flow.

    Kinds: "share" (0…1), "angle" (rotation, °), "strings" (count), "c_value", "length" (m), "factor" (loss factor K),
    "flow" (m³/s). `flow_m3_s` is what it leaves; head and voltage likewise, None where it says nothing of them.
    `fits` and `against` name the readings that agree with it or do not.
    """

    name: str
    kind: str
    size: float | None
    most: float
    believable: bool
    flow_m3_s: float
    head_m: float | None
    input_v: float | None
    fits: tuple[str, ...] = ()
    against: tuple[str, ...] = ()

    @property
    def explains(self) -> bool:
        """Whether it can account for the flow alone, at a size that can be believed."""
        return self.size is not None and self.believable


@dataclass(frozen=True, kw_only=True)
class _Trial:
    """A cause to try: from `none` (no effect) to `most`, believed up to `sure`; `at` builds the minute with it."""

    name: str
    kind: str
    none: float
    sure: float
    most: float
    at: Callable[[float], Instant]


def explanations_of(
    instant: Instant, expected: Point, measured: Measured, *, known_light: bool = False, known_angle: bool = False
) -> tuple[Explanation, ...]:
    """Causes that would bring the expected flow to the measured one, believable ones first.

    Light is left out where it was measured, the rack's angle where it was seen.
    """
    low = measured.flow_m3_s < expected.flow_m3_s
    trials = _lowering(instant) if low else _raising(instant)
    skipped = {"light"} if known_light else set()
    found = [_solved(trial, measured.flow_m3_s, low=low) for trial in trials if trial.name not in skipped]
    if not known_angle and (turned := _angle_trial(instant, away=low)) is not None:
        found.append(_solved(turned, measured.flow_m3_s, low=low))
    if low:
        found += _dead_strings(instant, measured)
        if expected.flow_m3_s > 0:
            found.append(_leak(expected, measured))
    return tuple(sorted(found, key=lambda cause: (not cause.explains, cause.size is None)))


def _solved(trial: _Trial, flow_m3_s: float, *, low: bool) -> Explanation:
    """The size at which the flow is as measured; for no water at all, the least that stops it."""
    end = point_of(trial.at(trial.most))
    if (end.flow_m3_s > flow_m3_s) if low else (end.flow_m3_s < flow_m3_s):
        return _cause(trial, None, end)
    sign = 1.0 if low else -1.0

    def beyond(size: float) -> float:
        """Above 0 while the cause is too small; where the pump stops the flow jumps, and no water is below any."""
        gap = sign * (point_of(trial.at(size)).flow_m3_s - flow_m3_s)
        return gap if gap > 0 else min(gap, -_NEVER_M3_S)

    size = float(brentq(beyond, trial.none, trial.most, xtol=_NEAR * abs(trial.most - trial.none), disp=False))
    return _cause(trial, size, point_of(trial.at(size)))


def _cause(trial: _Trial, size: float | None, point: Point) -> Explanation:
    up = trial.most >= trial.none
    believable = size is not None and (size <= trial.sure if up else size >= trial.sure)
    return Explanation(
        name=trial.name, kind=trial.kind, size=size, most=trial.most, believable=believable,
        flow_m3_s=point.flow_m3_s, head_m=point.head_m if point.running else None,
        input_v=point.input_v if point.running else None,
    )  # fmt: skip


def _lowering(instant: Instant) -> list[_Trial]:
    """Causes of too little water."""
    return [
        _Trial(name="light", kind="share", none=0.0, sure=0.4, most=0.98, at=lambda x: _lit(instant, 1 - x)),
        _Trial(name="array", kind="share", none=0.0, sure=0.35, most=0.98, at=lambda x: _powered(instant, 1 - x)),
        _pump_trial(instant),
        _Trial(name="pipe", kind="c_value", none=_c_value(instant), sure=_SCALED_C, most=40.0,
               at=lambda x: _piped(instant, x / _c_value(instant))),
        _Trial(name="valve", kind="factor", none=0.0, sure=200.0, most=20_000.0, at=lambda x: _throttled(instant, x)),
        _Trial(name="level", kind="length", none=0.0, sure=15.0, most=200.0, at=lambda x: _sunk(instant, x)),
    ]  # fmt: skip


_SCALED_C, _SMOOTHEST_C = 70.0, 155.0


def _raising(instant: Instant) -> list[_Trial]:
    """Causes of more water than expected."""
    own_c = _c_value(instant)
    trials = [
        _Trial(name="light", kind="share", none=0.0, sure=0.25, most=1.0, at=lambda x: _lit(instant, 1 + x)),
        _Trial(name="array", kind="share", none=0.0, sure=0.2, most=1.0, at=lambda x: _powered(instant, 1 + x)),
        _Trial(name="level", kind="length", none=0.0, sure=10.0, most=_lift_m(instant),
               at=lambda x: _sunk(instant, -x)),
    ]  # fmt: skip
    if own_c < _SMOOTHEST_C:
        trials.append(
            _Trial(name="pipe", kind="c_value", none=own_c, sure=_SMOOTHEST_C, most=_SMOOTHEST_C,
                   at=lambda x: _piped(instant, x / own_c))
        )  # fmt: skip
    return trials


def _lit(instant: Instant, factor: float) -> Instant:
    return replace(instant, light=instant.light * factor)


def _powered(instant: Instant, factor: float) -> Instant:
    return replace(instant, power=instant.power * factor)


def _worked(instant: Instant, section: str, change: Callable[[Any], Any]) -> Instant:
    job = changed(instant.job, section, change)
    return replace(instant, job=job, station=pump_station(job))


def _pump_trial(instant: Instant) -> _Trial:
    """Wear: a centrifugal pump's head, a helical one's flow."""
    helical = instant.job.units[0].pump.kind == "helical"
    field = "flow_lost" if helical else "head_lost"
    old = max(getattr(unit.pump, field) for unit in instant.job.units)

    def worn(pump: Any, share: float) -> Any:
        return pump.model_copy(update={field: min(1 - (1 - getattr(pump, field)) * (1 - share), 0.9)})

    return _Trial(
        name="pump flow" if helical else "pump head", kind="share", none=0.0, sure=0.35, most=1 - 0.1 / (1 - old),
        at=lambda x: _worked(instant, "pump", lambda pump: worn(pump, x)),
    )  # fmt: skip


def _c_value(instant: Instant) -> float:
    """C of the longest pipe of the first unit."""
    return float(max(instant.job.units[0].pipes, key=lambda pipe: pipe.length_m).c_now)


def _piped(instant: Instant, factor: float) -> Instant:
    def rougher(pipe: Any) -> Any:
        return pipe.model_copy(update={"c_value": float(np.clip(pipe.c_now * factor, 40.0, 160.0))})

    return _worked(instant, "pipes", lambda pipes: tuple(rougher(pipe) for pipe in pipes))


def _throttled(instant: Instant, factor_k: float) -> Instant:
    def with_valve(pipes: Any) -> Any:
        return (pipes[0].model_copy(update={"fittings": pipes[0].fittings + factor_k}), *pipes[1:])

    return _worked(instant, "pipes", with_valve)


def _lift_m(instant: Instant) -> float:
    return max(float(instant.job.units[0].source.lifts_m[instant.month - 1]) - 0.01, 0.01)


def _sunk(instant: Instant, deeper_m: float) -> Instant:
    def sunk(source: Any) -> Any:
        months = tuple(max(lift + deeper_m, 0.0) for lift in source.lifts_m)
        return source.model_copy(update={"lift_m": months[0], "lift_by_month_m": months})

    return _worked(instant, "source", sunk)


def _angle_trial(instant: Instant, *, away: bool) -> _Trial | None:
    """The rack standing elsewhere: away from the sun for too little water, toward it for more; None at its end."""
    here, stop = instant.rotation_deg[0], instant.job.units[0].rack.max_rotation_deg
    sun = float(np.clip(instant.orientations[0].sun_rotation_deg[instant.scenes[0].up][0], -stop, stop))
    end = sun if not away else (stop if sun < 0 else -stop)  # the whole arc: it waits on the sun's far side
    if instant.job.units[0].rack.kind == "fixed" or abs(end - here) < 1:
        return None
    turned = _Trial(
        name="rack", kind="angle", none=here, sure=end, most=end,
        at=lambda x: replace(instant, rotation_deg=(x, *instant.rotation_deg[1:])),
    )  # fmt: skip
    return turned


def _dead_strings(instant: Instant, measured: Measured) -> list[Explanation]:
    """Strings that give nothing: the number that comes nearest; of a single one, no water at all."""
    strings = instant.job.units[0].array.in_parallel
    points = {dead: _without(instant, dead) for dead in range(1, strings)}
    if not points:
        return []
    dead = min(points, key=lambda number: abs(points[number].flow_m3_s - measured.flow_m3_s))
    point = points[dead]
    near = abs(point.flow_m3_s - measured.flow_m3_s) <= max(measured.error_m3_s, 0.06 * point.flow_m3_s)
    return [
        Explanation(
            name="strings", kind="strings", size=float(dead) if near else None, most=float(strings - 1),
            believable=near, flow_m3_s=point.flow_m3_s, head_m=point.head_m if point.running else None,
            input_v=point.input_v if point.running else None,
        )
    ]  # fmt: skip


def _without(instant: Instant, dead: int) -> Point:
    """The running point with strings of the first unit dead."""

    def fewer(array: Any) -> Any:
        layout = array.layout.model_copy(update={"rows": None})
        return array.model_copy(update={"in_parallel": array.in_parallel - dead, "layout": layout})

    job = changed(instant.job, "array", fewer) if not instant.job.unit else _first_fewer(instant, fewer)
    machine = array_model(job.units[0], instant.scenes[0])
    return point_of(replace(instant, job=job, machines=(machine, *instant.machines[1:])))


def _first_fewer(instant: Instant, fewer: Callable[[Any], Any]) -> Any:
    first, *rest = instant.job.unit
    units = (first.model_copy(update={"array": fewer(first.array)}), *rest)
    return instant.job.model_copy(update={"unit": units}).in_folder(instant.job.folder)


def _leak(expected: Point, measured: Measured) -> Explanation:
    """Water lost between pump and bucket."""
    lost = expected.flow_m3_s - measured.flow_m3_s
    return Explanation(
        name="leak", kind="flow", size=lost, most=expected.flow_m3_s, believable=lost <= 0.5 * expected.flow_m3_s,
        flow_m3_s=measured.flow_m3_s, head_m=expected.head_m, input_v=expected.input_v,
    )  # fmt: skip
