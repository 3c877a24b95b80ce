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
    """Head [m] that `flow_m3_s` asks for: static lift, drawdown, friction (Hazen–Williams) and fittings.

    Shapes of flow and static head broadcast. `source.lift_m` is not read: the caller decides what is static.
    """
    level = drawdown_m(flow_m3_s, specific_capacity_m3_s_per_m=source.yield_m3_s_per_m)
    return np.asarray(np.asarray(static_head_m, dtype=np.float64) + level + pipe_head_m(flow_m3_s, pipes))
