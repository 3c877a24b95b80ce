"""The splined sun against SPA at each instant (computed with pvlib), and what a sun must obey anywhere."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from pvlib import solarposition
from rays import Ray

from trackersim.sky.sun import SUNRISE_ELEVATION_DEG, sun_at


@pytest.mark.parametrize(
    ("latitude", "longitude", "start"),
    [
        pytest.param(36.1, -79.95, "2025-06-20", id="temperate"),
        pytest.param(0.5, 35.0, "2025-03-20", id="equator-near-the-zenith"),
        pytest.param(-33.0, 151.0, "2024-12-30", id="south-across-new-year"),
        pytest.param(69.5, 20.0, "2025-06-20", id="midnight-sun"),
    ],
)
def test_splined_sun_equals_spa_at_each_minute(ray: Ray, latitude: float, longitude: float, start: str) -> None:
    times = pd.date_range(start, periods=3 * 1440, freq="min", tz="UTC") + pd.Timedelta(seconds=30)
    sun = sun_at(times, latitude_deg=latitude, longitude_deg=longitude, delta_t_s=69.0)
    spa = solarposition.spa_python(times, latitude, longitude, altitude=0, temperature=12, delta_t=69.0)
    # Once wrong: the splined vector was not brought back to unit length, so within a degree of the
    # zenith the arcsine turns 1e-8 of length into 2e-4° of arc.
    # Compared as arcs on the sky: near the zenith an elevation or azimuth alone is ill-conditioned.
    refracted = ray(spa["apparent_elevation"].to_numpy(), spa["azimuth"].to_numpy())
    assert np.degrees(np.linalg.norm(sun.direction - refracted, axis=0)).max() < 1e-6
    assert np.abs(sun.true_elevation_deg - spa["elevation"].to_numpy()).max() < 1e-6


def test_directions_are_unit_vectors_and_finite() -> None:
    times = pd.date_range("2025-03-20", periods=1440, freq="min", tz="UTC")
    for latitude in (-90.0, -45.0, 0.0, 45.0, 90.0):
        sun = sun_at(times, latitude_deg=latitude, longitude_deg=0.0)
        assert np.abs(np.linalg.norm(sun.direction, axis=0) - 1).max() < 1e-9
        assert np.isfinite(sun.true_elevation_deg).all()


def test_light_ends_when_the_refracted_centre_sets() -> None:
    times = pd.date_range("2025-03-20", periods=1440, freq="min", tz="UTC")
    sun = sun_at(times, latitude_deg=45.0, longitude_deg=0.0)
    assert np.array_equal(sun.is_up, sun.elevation_deg > 0)
    changes = np.flatnonzero(np.diff(sun.is_up.astype(int)))
    assert len(changes) == 2
    # Refraction lifts the sun by about half a degree: it is up before its true centre rises.
    assert np.all(sun.true_elevation_deg[changes] < 0)
    assert np.all(sun.true_elevation_deg[changes] > -1)


def test_few_instants_need_no_spline() -> None:
    times = pd.date_range("2025-06-20 10:00", periods=5, freq="min", tz="UTC")
    dense = pd.date_range("2025-06-20", periods=1440, freq="min", tz="UTC")
    few = sun_at(times, latitude_deg=40.0, longitude_deg=0.0)
    many = sun_at(dense, latitude_deg=40.0, longitude_deg=0.0)
    assert np.abs(few.direction - many.direction[:, 600:605]).max() < 2e-7


def test_polar_day_is_all_up_and_polar_night_all_down() -> None:
    for day in ("2025-06-21", "2025-12-21"):
        times = pd.date_range(day, periods=1440, freq="min", tz="UTC")
        sun = sun_at(times, latitude_deg=75.0, longitude_deg=0.0)
        assert (sun.is_up == (day == "2025-06-21")).all()
        assert ((sun.true_elevation_deg > SUNRISE_ELEVATION_DEG) == (day == "2025-06-21")).all()
