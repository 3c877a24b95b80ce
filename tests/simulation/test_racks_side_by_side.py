"""Many racks on a few mornings do what each does by itself."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from clear_mornings import BASE, clear_mornings, thermal_job

from trackersim import load_job
from trackersim.job.files import with_overrides
from trackersim.simulation.racks_side_by_side import MorningAir, moves_of, turned_side_by_side
from trackersim.simulation.scene import make_scene
from trackersim.simulation.tracking import track

CHANGES = (
    {"rack.thermal.shade_plates": 0.7},
    {"rack.thermal.charge": 0.5},
    {"rack.thermal.pivot_friction_nm": 25.0, "rack.thermal.absorptance": 0.7},
    {"rack.thermal.plates_pass": 0.2},
    {"rack.thermal.balance": 0.1, "rack.thermal.tube_bore": 0.004},
    {"rack.thermal.canister_diameter": 0.2, "rack.thermal.canister_length": 1.2, "rack.thermal.diffuse_share": 0.6},
)


def test_each_flips_and_arrives_when_it_does_alone() -> None:
    days = clear_mornings(3)
    weather = days.scene.weather
    jobs = [thermal_job(change) for change in CHANGES]

    def same(values: np.ndarray) -> np.ndarray:
        return np.broadcast_to(values.reshape(3, 1440), (len(jobs), 3, 1440)).copy()

    air = MorningAir(
        dni_w_m2=same(weather.dni_w_m2), dhi_w_m2=same(weather.dhi_w_m2), air_c=same(weather.air_c),
        wind_m_s=same(weather.wind_m_s),
    )  # fmt: skip
    moves = moves_of(BASE, [job.rack for job in jobs], [days.scene], air, tree_power=np.ones(len(jobs)))
    for n, job in enumerate(jobs):
        alone = track(job, days.scene).morning
        for name in ("flip", "arrival"):
            minutes = getattr(alone, name).astype(float)
            known = (minutes >= 0) & (minutes < 960)
            assert getattr(moves, name)[n][known] == pytest.approx(minutes[known], abs=1), (n, name)


def test_days_in_a_row_are_those_of_each_rack_alone() -> None:
    """Four days of four racks, one below the other, one of them on a steep axis: none begins where the one above it
    ends.
    """
    changes = (*CHANGES[:3], {"rack.axis_tilt": 50.0})
    jobs = [with_overrides(load_job("demo", ["rack.kind=thermal"]), change) for change in changes]
    days = {"first_day": dt.date(2025, 2, 3), "last_day": dt.date(2025, 2, 6)}
    scenes = [make_scene(job, **days) for job in jobs]
    together = turned_side_by_side(jobs, scenes)
    for rotation, job, scene in zip(together, jobs, scenes, strict=True):
        np.testing.assert_allclose(rotation, track(job, scene).rotation_deg, atol=1e-6)
