"""Racks that differ march side by side as each does alone."""

from __future__ import annotations

import numpy as np
import pytest

from trackersim import load_job
from trackersim.rack.rows import as_rows, rows_of
from trackersim.rack.thermal import gravity_across_m_s2

RACK = load_job("demo").rack


def test_rows_are_taken_by_their_numbers() -> None:
    thermals = [RACK.thermal.model_copy(update={"charge": charge}) for charge in (1.0, 0.5, 0.7)]
    racks = [RACK.model_copy(update={"thermal": thermal}) for thermal in thermals]
    together = as_rows(racks)
    np.testing.assert_allclose(together.thermal.liquid_now_kg, [6.0, 3.0, 4.2])
    np.testing.assert_allclose(rows_of(together, np.array([2, 0])).thermal.charge, [0.7, 1.0])
    assert rows_of(RACK, np.array([2, 0])) is RACK


def test_each_row_keeps_the_tilt_of_its_own_axis() -> None:
    together = as_rows([RACK.model_copy(update={"axis_tilt_deg": tilt}) for tilt in (0.0, 25.0, 60.0)])
    np.testing.assert_allclose(gravity_across_m_s2(together), 9.80665 * np.cos(np.radians([0.0, 25.0, 60.0])))
    np.testing.assert_allclose(gravity_across_m_s2(rows_of(together, np.array([2]))), [9.80665 / 2])


def test_stops_that_differ_are_refused() -> None:
    with pytest.raises(ValueError, match="same stops"):
        as_rows([RACK, RACK.model_copy(update={"max_rotation_deg": 45.0})])
