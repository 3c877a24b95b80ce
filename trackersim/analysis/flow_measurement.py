"""A flow as measured with bucket and watch, or told, with its uncertainty as the GUM has it.

GUM: JCGM 100:2008, Evaluation of measurement data. The bucket's volume is right within ±2 % and every timing within
±0.2 s, both taken as 95 % limits (k = 2) that no number of fills averages away, since the bucket's mark and the hand's
habit stay the same; the scatter of the fills comes on top with its few degrees of freedom (Welch–Satterthwaite). With
equal fills that gives the published 7 % at 3 s and 2.8 % at 10 s.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student

from trackersim.analysis.observed_sky import Stands
from trackersim.errors import Notice

VOLUME_ERROR = 0.02
TIMING_ERROR_S = 0.2
FLOW_ERROR = 0.05  # of a flow told without its error (assumption)
# Australian government guidance on measuring flow: at least 3 s a fill, more than 3 readings.
LEAST_S, FEW_FILLS = 3.0, 3
_LIMIT_K = 2.0
_COVERAGE = 0.9545  # what k = 2 covers of a normal distribution


@dataclass(frozen=True, kw_only=True)
class Measured:
    """A flow [m³/s] with the half-width of its 95 % interval; `fills` timed, 0 for a flow told as such."""

    flow_m3_s: float
    error_m3_s: float
    fills: int = 0
    notices: tuple[Notice, ...] = ()

    @property
    def error_share(self) -> float:
        """The half-width as a share of the flow; 0 for no flow."""
        return self.error_m3_s / self.flow_m3_s if self.flow_m3_s > 0 else 0.0


@dataclass(frozen=True, kw_only=True)
class Readings:
    """What was measured beside the flow: light on the module plane, gauge pressure at the pump's head and how high the
    gauge sits above the standing water as the job tells it (with several pumps: on the main, and above where their
    pipes meet), voltage and current at the controller's input, the rack's angle or how it stands. `unit` is the unit at
    whose controller they were read."""

    light_w_m2: float | None = None
    pressure_kpa: float | None = None
    gauge_above_m: float = 0.0
    voltage_v: float | None = None
    current_a: float | None = None
    unit: int = 0
    stands: Stands | None = None
    rotation_deg: float | None = None


def timed_flow(volume_m3: float, seconds: Sequence[float]) -> Measured:
    """Flow of fills of `volume_m3` that took `seconds` each, all above 0."""
    times = np.asarray(seconds, dtype=float)
    mean, count = float(times.mean()), len(times)
    scatter = float(times.std(ddof=1)) if count > 1 else None
    fixed = math.hypot(VOLUME_ERROR, TIMING_ERROR_S / mean) / _LIMIT_K
    random = 0.0 if scatter is None else scatter / math.sqrt(count) / mean
    share = math.hypot(fixed, random) * _factor(fixed, random, count)
    return Measured(
        flow_m3_s=volume_m3 / mean,
        error_m3_s=share * volume_m3 / mean,
        fills=count,
        notices=tuple(_warnings(mean, count)),
    )


def _factor(fixed: float, random: float, count: int) -> float:
    """Coverage factor for 95 %: Student's at the effective degrees of freedom; 2 where scatter plays no part."""
    if random == 0 or count < 2:
        return _LIMIT_K
    freedom = (count - 1) * ((fixed**2 + random**2) / random**2) ** 2
    return float(student.ppf((1 + _COVERAGE) / 2, freedom))


def _warnings(mean_s: float, count: int) -> list[Notice]:
    notices = []
    if count < FEW_FILLS:
        text = (
            f"{'One fill tells' if count == 1 else 'Two fills tell'} little of how much fills differ: time three at "
            "least, better four."
        )
        notices.append(Notice(text=text, field="seconds", level="caution"))
    if mean_s < LEAST_S:
        text = f"A fill of {mean_s:.1f} s is too quick for a watch: take a larger bucket, 3 s a fill or more."
        notices.append(Notice(text=text, field="seconds", level="caution"))
    return notices


def told_flow(flow_m3_s: float, error_share: float = FLOW_ERROR) -> Measured:
    """A flow read from a meter, with the share it may be off by (95 %)."""
    return Measured(flow_m3_s=flow_m3_s, error_m3_s=error_share * flow_m3_s)
