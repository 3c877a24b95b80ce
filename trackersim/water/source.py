"""The well: how far its level falls while it is pumped, and the most it yields."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from trackersim.arrays import FloatArray
from trackersim.job.water import Source


def drawdown_m(flow_m3_s: ArrayLike, source: Source) -> FloatArray:
    """Fall of the water level while it is pumped: flow over specific capacity, the settled level.

    The minutes in which it falls and recovers are not followed, and specific capacity is taken as the same at every
    flow (well loss makes it shrink at high flow).
    Source: definition of specific capacity, e.g. Driscoll, Groundwater and Wells, 2nd ed. (1986), from memory.

    Parameters
    ----------
    flow_m3_s : ArrayLike
        Any shape. What is pumped [m³/s].
    source : Source
        Its specific capacity is read.

    Returns
    -------
    FloatArray
        Shape of the flow [m]; 0 where the level stays: in a sump, and where no specific capacity is given.
    """
    flow = np.asarray(flow_m3_s, dtype=np.float64)
    if source.yield_m3_s_per_m is None:
        return np.zeros_like(flow)
    return flow / source.yield_m3_s_per_m


def yield_limit_m3_s(source: Source) -> float:
    """The most that a well gives: specific capacity times the largest drawdown.

    A pump that could lift more would draw air. It is taken to be held at this flow, as a level control or a
    throttled valve would; what an unprotected pump does there is not simulated.

    Parameters
    ----------
    source : Source
        Its specific capacity and largest drawdown are read.

    Returns
    -------
    float
        Flow [m³/s]; inf if either is not given.
    """
    if source.yield_m3_s_per_m is None or source.max_drawdown_m is None:
        return math.inf
    return source.yield_m3_s_per_m * source.max_drawdown_m
