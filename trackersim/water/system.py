"""The head that lift, well and pipes ask of a pump."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from trackersim.arrays import FloatArray
from trackersim.job.pipework import Pipe
from trackersim.job.water import Source
from trackersim.water.pipes import pipe_head_m
from trackersim.water.source import drawdown_m


def system_head_m(
    flow_m3_s: ArrayLike, *, static_head_m: ArrayLike, pipes: Sequence[Pipe], source: Source
) -> FloatArray:
    """Head that a flow asks for: static lift, drawdown, friction (Hazen–Williams) and fittings.

    Parameters
    ----------
    flow_m3_s : ArrayLike
        Any shape. Flow [m³/s], ≥ 0.
    static_head_m : ArrayLike
        Broadcasts with the flow. Height from standing water to the far end [m]: the source's own lift is not read.
    pipes : Sequence[Pipe]
        What the flow passes, one after the other.
    source : Source
        The well that is drawn down.

    Returns
    -------
    FloatArray
        Head [m], of the common shape.
    """
    level = drawdown_m(flow_m3_s, source)
    return np.asarray(np.asarray(static_head_m, dtype=np.float64) + level + pipe_head_m(flow_m3_s, pipes))
