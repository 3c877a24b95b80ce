"""What would explain a flow other than expected: each cause alone, by the engine, weighed by `fault_odds`."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
from scipy.optimize import brentq

from trackersim.analysis.fault_odds import (
    LOW,
    OTHER,
    OTHER_ODDS,
    Read,
    Shown,
    broad_evidence,
    evidence,
    finer,
    probabilities,
    size_weights,
)
from trackersim.analysis.fault_trials import Trial, shut_in, trials_of
from trackersim.arrays import FloatArray
from trackersim.simulation.steady import Instant, Point, point_of

_SIZES = 7
_NEAR = 2e-3  # of the span that is searched
_FAR_SD = 6.0
_NEVER_M3_S = 1e-7
_SHOWN = 0.01
_RIVAL = 0.2  # units less likely than this, beside the likeliest, are not named
_SWITCHED_OFF = ("not running", "several not running", "none running")


@dataclass(frozen=True, kw_only=True)
class Explanation:
    """One cause alone, with the probability that it is the cause, all others taken together with it.

    `units` are the units at which it may be, likeliest first; empty for what is common to all. `size` in the unit
    of its kind: "none" (it is there or not), "share" (0…1), "angle" (rotation, °), "strings" and "modules" (count,
    of each string), "c_value", "length" (m), "factor" (loss factor K), "flow" (m³/s). `point` is what all units do
    with it. `fits` and `against` name the readings that agree with it or do not.
    """

    name: str
    kind: str
    units: tuple[int, ...]
    size: float | None
    probability: float
    point: Point
    fits: tuple[str, ...] = ()
    against: tuple[str, ...] = ()

    @property
    def flow_m3_s(self) -> float:
        """The flow that it leaves."""
        lost = (self.size or 0.0) if self.kind == "flow" else 0.0
        return max(self.point.flow_m3_s - lost, 0.0)

    def summary(self) -> dict[str, Any]:
        """Plain data in SI units."""
        return {
            "name": self.name,
            "kind": self.kind,
            "units": list(self.units),
            "size": self.size,
            "probability": self.probability,
            "flow_m3_s": self.flow_m3_s,
            "states": [str(unit.state) for unit in self.point.units],
            "fits": list(self.fits),
            "against": list(self.against),
        }


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """What was read, with its standard deviations, at the meters of unit `unit`, and the `spans` from 0 in which a
    reading of which nothing is known may lie.

    The gauge's head counts from the standing water that the job tells, with several pumps from where their pipes meet;
    so do its own height `gauge_above_m` and that of the outlet, `outlet_m`.
    """

    unit: int
    gauge_above_m: float
    outlet_m: float
    flow: Read
    voltage: Read
    current: Read
    head: Read
    spans: dict[str, float]

    @property
    def readings(self) -> dict[str, Read]:
        """By the names of `fault_odds.Shown`."""
        return {"flow_m3_s": self.flow, "input_v": self.voltage, "input_a": self.current, "head_m": self.head}

    def gauge_m(self, point: Point) -> tuple[float, float]:
        """The least and the most that the gauge may show at a running point: what lies beyond it, never the water
        level before it. With nothing flowing the pipe may be full up to the outlet, or have run empty."""
        most = self.outlet_m + point.common_loss_m
        return (most if point.common_loss_m > 0 else min(self.gauge_above_m, most)), most


def explanations_of(
    instant: Instant, expected: Point, found: Evidence, *, known_light: bool = False, known_angle: bool = False
) -> tuple[Explanation, ...]:
    """Causes that may have brought the expected flow to the measured one, likeliest first, possible ones alone.

    Light is left out where it was measured, the rack's angle where it was seen.
    """
    assert found.flow.value is not None
    low = found.flow.value < expected.flow_m3_s
    known = {"light"} if known_light else set()
    trials = trials_of(instant, expected, low=low, known=known | ({"rack"} if known_angle else set()))
    weighed: list[tuple[float, Explanation]] = [_weighed(trial, found, low=low) for trial in trials]
    if low and expected.flow_m3_s > 0:
        weighed += [_leak(expected, found), _shut(instant, found)]
    nothing = OTHER_ODDS * broad_evidence(found.readings, found.spans)
    chances = probabilities([weight for weight, _ in weighed] + [nothing])
    merged = _merged(
        replace(cause, probability=chance) for chance, (_, cause) in zip(chances[:-1], weighed, strict=True)
    )
    possible = [cause for cause in merged if cause.size is not None and cause.probability >= _SHOWN]
    other = Explanation(name=OTHER, kind="none", units=(), size=0.0, probability=chances[-1], point=expected)
    return (*sorted(possible, key=lambda cause: -cause.probability), other)


def _merged(causes: Iterable[Explanation]) -> list[Explanation]:
    """One line for each cause: the units at which it may be together, with what the likeliest of them shows."""
    by_name: dict[str, list[Explanation]] = {}
    for cause in causes:
        by_name.setdefault(cause.name, []).append(cause)
    lines = []
    for same in by_name.values():
        same.sort(key=lambda cause: (cause.size is None, -cause.probability))
        at = [cause for cause in same if cause.size is not None and cause.probability >= _RIVAL * same[0].probability]
        units = tuple(dict.fromkeys(unit for cause in at for unit in cause.units))
        lines.append(replace(same[0], units=units, probability=sum(cause.probability for cause in same)))
    return lines


def _weighed(trial: Trial, found: Evidence, *, low: bool) -> tuple[float, Explanation]:
    """Odds times evidence of a cause, and the cause at the size that explains the flow best."""
    point_at = cache(lambda size: point_of(trial.at(size)))
    farthest = point_at(trial.most)
    blank = Explanation(name=trial.name, kind=trial.kind, units=trial.units, size=None, probability=0.0, point=farthest)
    if not trial.steps and _gap(farthest, found.flow, low=low) > _FAR_SD * found.flow.sd:
        return 0.0, blank
    sizes = np.array(trial.steps or np.linspace(trial.none, trial.most, _SIZES))
    points = [point_at(float(size)) for size in sizes]
    shown = _shown(points, found)
    if not trial.steps:
        shown = finer(shown)
    weights = size_weights(len(shown.flow_m3_s), small_first=trial.small_first)
    likely = evidence(shown, weights, found.readings)
    if trial.name in _SWITCHED_OFF and found.unit in trial.units:
        # Where the disconnect is open the controller shows nothing; where it is closed, open circuit.
        likely = 0.5 * (likely + evidence(shown._replace(input_v=np.zeros(1)), weights, found.readings))
    size = _size(trial, sizes, [_gap(point, found.flow, low=low) for point in points], point_at, found.flow, low=low)
    if size is None:
        return trial.odds * likely, blank
    return trial.odds * likely, replace(blank, size=trial.told(size), point=point_at(size))


def _gap(point: Point, flow: Read, *, low: bool) -> float:
    """How far a cause still is from the measured flow [m³/s]: above 0 while it is too small."""
    assert flow.value is not None
    return (point.flow_m3_s - flow.value) * (1.0 if low else -1.0)


def _shown(points: Sequence[Point], found: Evidence) -> Shown:
    """What points show at the meters of a unit, at the gauge, and in the bucket."""
    at = [point.units[found.unit] for point in points]
    gauge = np.array([found.gauge_m(point) for point in points])
    return Shown(
        flow_m3_s=np.array([point.flow_m3_s for point in points]),
        input_v=np.array([one.input_v for one in at]),
        input_a=np.array([one.input_a for one in at]),
        head_m=gauge[:, 1],
        least_head_m=gauge[:, 0],
        runs=[tuple(one.flow_m3_s > 0 for one in point.units) for point in points],
    )


def _size(
    trial: Trial,
    sizes: FloatArray,
    gaps: Sequence[float],
    point_at: Callable[[float], Point],
    flow: Read,
    *,
    low: bool,
) -> float | None:
    """The size at which the flow is as measured, or near enough; None if no size that can be believed gives it."""
    nearest = int(np.argmin(np.abs(gaps)))
    close = float(sizes[nearest]) if abs(gaps[nearest]) <= 2 * flow.sd else None
    beyond = np.flatnonzero(np.array(gaps) <= 0)
    if trial.steps or not beyond.size or beyond[0] == 0:
        return close

    def gap(size: float) -> float:
        """Where the pump stops the flow jumps, and no water is below any."""
        left = _gap(point_at(size), flow, low=low)
        return left if left > 0 else min(left, -_NEVER_M3_S)

    start, end = float(sizes[beyond[0] - 1]), float(sizes[beyond[0]])
    return float(brentq(gap, start, end, xtol=_NEAR * abs(trial.most - trial.none), disp=False))


def _leak(expected: Point, found: Evidence) -> tuple[float, Explanation]:
    """Water lost between pump and bucket: the pumps run as expected."""
    assert found.flow.value is not None
    most = LOW["leak"].most or 1.0
    shown = _shown([expected], found)
    share = np.linspace(0.0, most, 200)
    lost = shown._replace(flow_m3_s=expected.flow_m3_s * (1 - share))
    likely = evidence(lost, size_weights(len(share), small_first=LOW["leak"].small_first), found.readings)
    size = expected.flow_m3_s - found.flow.value
    believed = size <= most * expected.flow_m3_s + 2 * found.flow.sd
    cause = Explanation(
        name="leak", kind="flow", units=(), size=size if believed else None, probability=0.0, point=expected
    )
    return LOW["leak"].odds * likely, cause


def _shut(instant: Instant, found: Evidence) -> tuple[float, Explanation]:
    """A valve left shut, or a pipe blocked: the pumps press against it, or their cut-outs hold them just then."""
    states = shut_in(instant)
    each = [evidence(_shown([point], found), np.ones(1), found.readings) for point in states]
    likelier = states[int(np.argmax(each))]
    believed = abs(_gap(likelier, found.flow, low=True)) <= 2 * found.flow.sd
    cause = Explanation(
        name="shut", kind="none", units=(), size=1.0 if believed else None, probability=0.0, point=likelier
    )
    return LOW["shut"].odds * float(np.mean(each)), cause
