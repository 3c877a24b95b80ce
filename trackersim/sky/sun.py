"""Where the sun is: pvlib's SPA once a day, and the turning Earth for the instants between."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd
from pvlib import atmosphere, spa
from scipy.interpolate import CubicSpline

from trackersim.arrays import BoolArray, FloatArray, check_array
from trackersim.compiled import kept
from trackersim.errors import InputError

_DAY_S = 86_400.0
# Days beyond a year's first and last: there a spline does not feel its ends.
_MARGIN_DAYS = 5
# The sun's upper limb touches the horizon at this elevation of its centre without refraction (USNO's convention).
SUNRISE_ELEVATION_DEG = -0.833
_AIR_C = 12.0
_REFRACTION_AT_HORIZON_DEG = 0.5667
# Below this the air lifts nothing (SPA: the sun's half-width and the refraction at the horizon), with a reserve.
_NO_REFRACTION_BELOW_DEG = -1.0
# The Earth as SPA has it: polar over equatorial radius, the latter [m], and the sun's parallax at mean distance [°].
_EARTH_FLATTENING, _EARTH_RADIUS_M, _PARALLAX_DEG = 0.99664719, 6_378_140.0, 8.794 / 3600


@dataclass(frozen=True, kw_only=True)
class Sun:
    """The sun at n instants.

    `direction` (3, n) is the unit vector to the refracted sun: east, north, up. `true_elevation_deg` (n) is without
    refraction. `is_up` (n) is true while the refracted centre stands above the level horizon: only then is there light.
    """

    direction: FloatArray
    true_elevation_deg: FloatArray
    is_up: BoolArray

    @property
    def elevation_deg(self) -> FloatArray:
        """Refracted elevation of the centre, −90…90°."""
        return np.asarray(np.degrees(np.arcsin(np.clip(self.direction[2], -1, 1))))

    @property
    def azimuth_deg(self) -> FloatArray:
        """Compass azimuth, 0…360°, from north through east."""
        return np.asarray(np.degrees(np.arctan2(self.direction[0], self.direction[1])) % 360)


def sun_at(
    times: pd.DatetimeIndex,
    *,
    latitude_deg: float,
    longitude_deg: float,
    elevation_m: float = 0.0,
    pressure_pa: float | None = None,
    air_c: float = _AIR_C,
    delta_t_s: float | None = 69.0,
) -> Sun:
    """The sun at `times` (tz-aware, rising), by pvlib's SPA (Reda & Andreas, NREL/TP-560-34302).

    Declination, equation of time and distance are SPA's at each midnight and splined; hour angle and parallax are those
    of the instant. Within 1e-6° of SPA at each instant (tested). Years 1950–2100.

    Parameters
    ----------
    times : pd.DatetimeIndex
        n instants with a time zone, rising.
    latitude_deg : float
        Latitude [degrees], north positive.
    longitude_deg : float
        Longitude [degrees], east positive.
    elevation_m : float
        Height above sea level [m].
    pressure_pa : float | None
        Air pressure [Pa], for refraction; None for that of the height.
    air_c : float
        Temperature of the air [°C], for refraction.
    delta_t_s : float | None
        Terrestrial less universal time [s]; None lets pvlib compute it.

    Returns
    -------
    Sun
        The sun at n instants.

    Raises
    ------
    InputError
        For times that are no instants, or none at all, and for a place that is not on the Earth.
    """
    seconds = unix_seconds(times)
    if not len(seconds):
        raise InputError.of("times", "[]", "holds no instant.", "Give one instant or more.")
    check_array("latitude_deg", latitude_deg, (), least=-90, most=90)
    check_array("longitude_deg", longitude_deg, (), least=-360, most=360)
    check_array("elevation_m", elevation_m, ())
    if pressure_pa is None:
        pressure_pa = float(atmosphere.alt2pres(elevation_m))
    vector = _true_direction(seconds, latitude_deg, longitude_deg, elevation_m, delta_t_s)
    true_elevation = np.degrees(np.arcsin(np.clip(vector[2], -1, 1)))
    lifted = np.flatnonzero(true_elevation > _NO_REFRACTION_BELOW_DEG)
    elevation = true_elevation[lifted]
    lift = spa.atmospheric_refraction_correction(pressure_pa / 100, air_c, elevation, _REFRACTION_AT_HORIZON_DEG)
    raised = np.radians(elevation + lift)
    # Turned upward at the same azimuth.
    east, north = vector[0][lifted], vector[1][lifted]
    level = np.hypot(east, north)
    stretch = np.divide(np.cos(raised), level, out=np.ones_like(level), where=level > 1e-12)
    for part, values in zip(vector, (east * stretch, north * stretch, np.sin(raised)), strict=True):
        part[lifted] = values
    return Sun(direction=vector, true_elevation_deg=true_elevation, is_up=vector[2] > 0)


def unix_seconds(times: pd.Index[Any], *, field: str = "times") -> FloatArray:
    """Seconds since 1970 in UTC (n,) of tz-aware times (n,).

    Parameters
    ----------
    times : pd.Index[Any]
        n instants with a time zone.
    field : str
        What a fault names.

    Returns
    -------
    FloatArray
        Shape (n,) [s].

    Raises
    ------
    InputError
        For what is no index of times with a zone, or holds a NaT.
    """
    if not isinstance(times, pd.DatetimeIndex) or times.tz is None:
        remedy = 'Give a pandas.DatetimeIndex with a time zone: tz_localize("Etc/GMT+5").'
        raise InputError.of(field, type(times).__name__, "is no index of times with a zone.", remedy)
    if times.hasnans:
        number = int(np.argmax(times.isna()))
        remedy = "Leave such times out: times[times.notna()]."
        raise InputError.of(field, "NaT", f"stands in place of a time (place {number}, counted from 0).", remedy)
    return np.asarray(times.asi8 / (pd.Timedelta(seconds=1) // pd.Timedelta(1, unit=times.unit)))


def _true_direction(
    seconds: FloatArray, latitude_deg: float, longitude_deg: float, elevation_m: float, delta_t_s: float | None
) -> FloatArray:
    """Unit vector to the sun without refraction (3, n), east, north, up, seen from a place on the turning Earth."""
    latitude = np.radians(latitude_deg)
    flattened = np.arctan(_EARTH_FLATTENING * np.tan(latitude))
    height = elevation_m / _EARTH_RADIUS_M
    # In radii of the equator.
    from_axis = np.cos(flattened) + height * np.cos(latitude)
    from_equator = _EARTH_FLATTENING * np.sin(flattened) + height * np.sin(latitude)
    place = (latitude, longitude_deg, from_axis, from_equator)
    found = np.empty((3, len(seconds)))
    first, last = (pd.Timestamp(float(end), unit="s").year for end in (seconds.min(), seconds.max()))
    starts = [pd.Timestamp(year, 1, 1).timestamp() for year in range(first + 1, last + 1)]
    years = first + np.searchsorted(starts, seconds, side="right")
    for year in range(first, last + 1):
        days = _year_of_days(year, delta_t_s)
        _turn(seconds, years == year, days.c, days.x[0], *place, found)
    return found


@kept
def _turn(
    seconds: FloatArray,
    chosen: BoolArray,
    by_day: FloatArray,
    first_midnight_s: float,
    latitude: float,
    longitude_deg: float,
    from_axis: float,
    from_equator: float,
    found: FloatArray,
) -> None:
    """Write the direction (3, n) of chosen instants: the Earth has turned since midnight by the hour angle."""
    cosine, sine = math.cos(latitude), math.sin(latitude)
    for n in range(len(seconds)):
        if not chosen[n]:
            continue
        day = int((seconds[n] - first_midnight_s) / _DAY_S)
        since_s = seconds[n] - first_midnight_s - day * _DAY_S
        cubic, square, slope, begins = by_day[0, day], by_day[1, day], by_day[2, day], by_day[3, day]
        northward = ((cubic[0] * since_s + square[0]) * since_s + slope[0]) * since_s + begins[0]
        from_noon_deg = ((cubic[1] * since_s + square[1]) * since_s + slope[1]) * since_s + begins[1]
        parallax = ((cubic[2] * since_s + square[2]) * since_s + slope[2]) * since_s + begins[2]
        hour = math.radians(from_noon_deg + since_s * (360 / _DAY_S) + longitude_deg)
        # In the plane of the equator to the south's meridian, to the west, and along the axis; less where one stands.
        level = math.sqrt(1 - northward * northward)
        outward = level * math.cos(hour) - parallax * from_axis
        west = level * math.sin(hour)
        axial = northward - parallax * from_equator
        length = math.sqrt(outward * outward + west * west + axial * axial)
        found[0, n] = -west / length
        found[1, n] = (cosine * axial - sine * outward) / length
        found[2, n] = (cosine * outward + sine * axial) / length


@lru_cache(maxsize=64)
def _year_of_days(year: int, delta_t_s: float | None) -> CubicSpline:
    """Sine of the declination, hour angle at Greenwich less that of the mean day [°], and sine of the parallax of the
    horizon, over one year of UTC: an instant has the same sun whatever else is asked for with it."""
    days = pd.date_range(f"{year - 1}-12-{31 - _MARGIN_DAYS}", f"{year + 1}-01-{1 + _MARGIN_DAYS}", tz="UTC")
    midnights = unix_seconds(days)
    if delta_t_s is None:
        delta_t_s = spa.calculate_deltat(days.year, days.month)
    # What SPA gives before it looks from a place: the place and the air that it also asks for play no part.
    asked = (midnights, 0.0, 0.0, 0.0, 1000.0, _AIR_C, delta_t_s, _REFRACTION_AT_HORIZON_DEG)
    sidereal_deg, right_ascension_deg, declination_deg = spa.solar_position(*asked, sst=True)
    (distance_au,) = spa.solar_position(*asked, esd=True)
    from_noon = np.unwrap(np.radians(sidereal_deg - right_ascension_deg))
    parallax = np.sin(np.radians(_PARALLAX_DEG / distance_au))
    return CubicSpline(midnights, [np.sin(np.radians(declination_deg)), np.degrees(from_noon), parallax], axis=1)
