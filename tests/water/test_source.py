"""The well's level and yield."""

from __future__ import annotations

import math

import numpy as np

from trackersim.job.water import Source
from trackersim.water.source import drawdown_m, yield_limit_m3_s


def test_a_steady_level_never_falls() -> None:
    assert drawdown_m(np.array([0.0, 0.01]), Source(lift_m=5)).tolist() == [0, 0]


def test_drawdown_is_proportional_to_flow() -> None:
    well = Source(lift_m=5, specific_capacity_m3_s_per_m=1e-4)
    np.testing.assert_allclose(drawdown_m([0.0, 1e-3, 2e-3], well), [0, 10, 20])


def test_the_yield_needs_both_numbers() -> None:
    assert yield_limit_m3_s(Source(lift_m=5, specific_capacity_m3_s_per_m=1e-4)) == math.inf
    assert yield_limit_m3_s(Source(lift_m=5, max_drawdown_m=4)) == math.inf
    limit = yield_limit_m3_s(Source(lift_m=5, specific_capacity_m3_s_per_m=1e-4, max_drawdown_m=4))
    assert math.isclose(limit, 4e-4)
