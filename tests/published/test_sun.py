"""The sun's place against printed values: NREL's SPA report, USNO tables, Duffie & Beckman."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from trackersim.rack.geometry import Axis, cos_incidence, sun_on_axis
from trackersim.sky.sun import SUNRISE_ELEVATION_DEG, Sun, sun_at


def spa_report_sun() -> Sun:
    return sun_at(
        pd.DatetimeIndex(["2003-10-17 12:30:30-07:00"]),
        latitude_deg=39.742476,
        longitude_deg=-105.1786,
        elevation_m=1830.14,
        pressure_pa=82_000.0,
        air_c=11.0,
        delta_t_s=67.0,
    )


def hour_angle_direction(latitude_deg: float, declination_deg: float, hour_angle_deg: float) -> np.ndarray:
    """Direction to a sun of given declination and hour angle (+ afternoon), built on the engine's polar axis."""
    polar = Axis(azimuth_deg=180.0, tilt_deg=latitude_deg)  # its centre faces the celestial equator
    pole = np.array([0.0, np.cos(np.radians(latitude_deg)), np.sin(np.radians(latitude_deg))])
    declination, hour = np.radians([declination_deg, hour_angle_deg])
    level = np.cos(hour) * polar.centre_normal + np.sin(hour) * polar.west
    return (np.cos(declination) * level + np.sin(declination) * pole)[:, None]


def test_spa_report_example() -> None:
    # Reda & Andreas, NREL/TP-560-34302 (2008), table A5.1.
    sun = spa_report_sun()
    assert 90 - sun.elevation_deg[0] == pytest.approx(50.111622, abs=5e-4)
    assert sun.azimuth_deg[0] == pytest.approx(194.340241, abs=5e-4)


def test_spa_report_incidence_on_a_tilted_plane() -> None:
    # Same report: slope 30°, surface rotated −10° from south, i.e. compass 170. (190 would give 20.29.)
    sun_rotation, reach = sun_on_axis(spa_report_sun().direction, Axis(azimuth_deg=170.0, tilt_deg=30.0))
    cosine = cos_incidence(sun_rotation_deg=sun_rotation, reach=reach, rotation_deg=0.0)
    assert np.degrees(np.arccos(cosine[0])) == pytest.approx(25.1870, abs=1e-3)


def horizon_crossings(times: pd.DatetimeIndex, sun: Sun) -> tuple[list[pd.Timestamp], list[pd.Timestamp]]:
    """Sunrises and sunsets inside `times`, interpolated between samples."""
    above = sun.true_elevation_deg - SUNRISE_ELEVATION_DEG
    before = np.flatnonzero((above[:-1] < 0) != (above[1:] < 0))
    share = above[before] / (above[before] - above[before + 1])
    moments = times[before] + (times[before + 1] - times[before]) * share
    rising = above[before] < 0
    return list(moments[rising]), list(moments[~rising])


# U.S. Naval Observatory, 39.0 N 105.0 W, Mountain Standard Time, as quoted in pvlib's tests.
USNO_39N = [
    ("2015-01-02", "07:19", "16:49"),
    ("2015-04-02", "05:43", "18:24"),
    ("2015-08-02", "05:01", "19:10"),
    ("2015-12-02", "07:01", "16:38"),
]


@pytest.mark.parametrize(("day", "rise", "set_"), USNO_39N)
def test_usno_rise_and_set_at_39_north(day: str, rise: str, set_: str) -> None:
    times = pd.date_range(f"{day} 00:00", periods=1440, freq="min", tz="Etc/GMT+7")
    rises, sets = horizon_crossings(times, sun_at(times, latitude_deg=39.0, longitude_deg=-105.0))
    assert len(rises) == len(sets) == 1
    assert abs(rises[0] - pd.Timestamp(f"{day} {rise}", tz="Etc/GMT+7")) <= pd.Timedelta(seconds=60)
    assert abs(sets[0] - pd.Timestamp(f"{day} {set_}", tz="Etc/GMT+7")) <= pd.Timedelta(seconds=60)


def test_usno_rise_and_set_at_bluffton() -> None:
    # U.S. Naval Observatory, Bluffton OH, 2018-09-12, as quoted in skyfield's tests.
    times = pd.date_range("2018-09-12 00:00", periods=1440, freq="min", tz="UTC")
    rises, sets = horizon_crossings(times, sun_at(times, latitude_deg=40.8939, longitude_deg=-83.8917))
    assert len(rises) == len(sets) == 1
    assert abs(rises[0] - pd.Timestamp("2018-09-12 11:13", tz="UTC")) <= pd.Timedelta(seconds=60)
    assert abs(sets[0] - pd.Timestamp("2018-09-12 23:50", tz="UTC")) <= pd.Timedelta(seconds=60)


# Duffie & Beckman, Solar Engineering of Thermal Processes, Ex. 1.6.2; azimuths + west of south there.
@pytest.mark.parametrize(
    ("declination", "hour_angle", "zenith", "azimuth_from_south"),
    [
        pytest.param(-14.0, -37.5, 66.5, -40.0, id="13-february-0930"),
        pytest.param(23.1, 97.5, 79.6, 112.0, id="1-july-1830-beyond-the-east-west-line"),
    ],
)
def test_duffie_beckman_zenith_and_azimuth(
    declination: float, hour_angle: float, zenith: float, azimuth_from_south: float
) -> None:
    direction = hour_angle_direction(43.0, declination, hour_angle)
    sun = Sun(direction=direction, true_elevation_deg=np.zeros(1), is_up=np.ones(1, dtype=bool))
    assert 90 - sun.elevation_deg[0] == pytest.approx(zenith, abs=0.1)
    assert sun.azimuth_deg[0] == pytest.approx(180 + azimuth_from_south, abs=0.1)


def test_duffie_beckman_incidence_on_a_plane_facing_15_west() -> None:
    # Duffie & Beckman, Ex. 1.6.1: latitude 43, declination −14, 10:30 solar, tilt 45, 15° west of south.
    sun_rotation, reach = sun_on_axis(hour_angle_direction(43.0, -14.0, -22.5), Axis(azimuth_deg=195.0, tilt_deg=45.0))
    cosine = cos_incidence(sun_rotation_deg=sun_rotation, reach=reach, rotation_deg=0.0)[0]
    assert cosine == pytest.approx(0.817, abs=5e-4)
    assert np.degrees(np.arccos(cosine)) == pytest.approx(35.0, abs=0.25)  # printed rounded to whole degrees
