"""The well: how far its level falls while it is pumped, and the most it yields."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from trackersim.arrays import FloatArray
from trackersim.job.water import Source


def drawdown_m(flow_m3_s: ArrayLike, *, specific_capacity_m3_s_per_m: float | None) -> FloatArray:
    """Fall of the water level [m] while `flow_m3_s` (any shape) is pumped; 0 where the level stays (None).

    Flow over specific capacity: the settled level. The minutes in which it falls and recovers are not followed, and
    specific capacity is taken as the same at every flow (well loss makes it shrink at high flow).
    Source: definition of specific capacity, e.g. Driscoll, Groundwater and Wells, 2nd ed. (1986), from memory.
    """
    flow = np.asarray(flow_m3_s, dtype=np.float64)
    if specific_capacity_m3_s_per_m is None:
        return np.zeros_like(flow)
    return flow / specific_capacity_m3_s_per_m


def yield_limit_m3_s(source: Source) -> float:
    """The most the well gives [m³/s]: specific capacity times the largest drawdown; inf if either is not given.

    A pump that could lift more would draw air. It is taken to be held at this flow, as a level control or a
    throttled valve would; what an unprotected pump does there is not simulated.
    """
    if source.yield_m3_s_per_m is None or source.max_drawdown_m is None:
        return math.inf
    return source.yield_m3_s_per_m * source.max_drawdown_m
