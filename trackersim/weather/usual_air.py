"""Usual air temperature of a place that gives none, from its latitude, its height and the sea about it.

Few numbers, fitted by least squares to the January and July means of 62 weather stations, half of them in the United
States (1991–2020, from memory). 84 % of their warmest months and 71 % of their coldest lie within 3 K, half within 1.0
and 1.7 K. The worst: Manchuria 9 K too warm in winter, the lee of the Rockies 5 to 8 K too cold, deserts 5 K too cool
in summer. Above 2,000 m, to which the fit does not reach, the air cools as the free atmosphere does: at 22 places there
(means from memory) 84 % of the coldest and warmest months lie within 4 K, and the worst is 8 K too warm. Held against
printed normals of other stations in tests/published/test_usual_air.py.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from pvlib.location import lookup_altitude

# Mean of the coldest and of the warmest month far inland at sea level [°C], by latitude. Beyond 65° it is a guess.
_COLDEST_AT_DEG, _COLDEST_C = (0.0, 25.0, 40.0, 50.0, 65.0, 90.0), (23.0, 17.0, -1.0, -13.0, -21.0, -40.0)
_WARMEST_AT_DEG, _WARMEST_C = (0.0, 25.0, 35.0, 50.0, 65.0, 90.0), (25.0, 30.0, 31.0, 21.0, 17.0, 2.0)
# Inland heights are plateaus that the sun warms: up to them the air cools by less than that of the free atmosphere, and
# above by as much (standard atmosphere, ICAO). Where that begins is an assumption; 1,750 m does about as well.
_COLDEST_LAPSE_K_KM, _WARMEST_LAPSE_K_KM, _FREE_LAPSE_K_KM = 2.4, 2.8, 6.5
PLATEAU_M = 2000.0
# Sea to windward (west) of middle latitudes warms the winter, sea all about cools the summer and evens the day.
_WINDWARD_KM, _WINDWARD_RADIUS_KM, _WINTER_SEA_K = 600.0, 500.0, 17.0
_ABOUT_RADIUS_KM, _SUMMER_SEA_K, _SWING_SEA = 300.0, 8.0, 0.5
# The warm current off Europe: most at 10° E and north of 50°.
_EUROPE_K, _EUROPE_AT_DEG, _EUROPE_HALF_WIDTH_DEG = 12.0, 10.0, 45.0
_SWING_PER_KM = 0.23
_KM_PER_DEG = 111.2


class UsualAir(NamedTuple):
    """Daily mean in the coldest and the warmest month [°C], and a day's swing as a share of that of lowlands inland."""

    coldest_mean_c: float
    warmest_mean_c: float
    swing_share: float


@lru_cache(maxsize=64)  # the height above the sea of a place is read from a file, point by point
def usual_air(*, latitude_deg: float, longitude_deg: float, elevation_m: float) -> UsualAir:
    """Usual air of a place, roughly: within 3 K as a rule (above 2,000 m 4 K), 6 K at times, and 9 K once.

    Parameters
    ----------
    latitude_deg : float
        Latitude, + north [degrees].
    longitude_deg : float
        Longitude, + east [degrees].
    elevation_m : float
        Height above the sea [m].

    Returns
    -------
    UsualAir
        Means of the coldest and the warmest month [°C], the latter never the lower, and the daily swing.
    """
    latitude, height_km = abs(latitude_deg), max(elevation_m, 0.0) / 1000
    plateau_km = min(height_km, PLATEAU_M / 1000)
    free_k = _FREE_LAPSE_K_KM * (height_km - plateau_km)
    windward = _sea_share(latitude_deg, longitude_deg, _WINDWARD_KM, _WINDWARD_RADIUS_KM)
    about = _sea_share(latitude_deg, longitude_deg, 0.0, _ABOUT_RADIUS_KM)
    sine = float(np.sin(np.radians(latitude)))
    europe = max(0.0, 1 - abs(longitude_deg - _EUROPE_AT_DEG) / _EUROPE_HALF_WIDTH_DEG)
    coldest = (
        float(np.interp(latitude, _COLDEST_AT_DEG, _COLDEST_C))
        - _COLDEST_LAPSE_K_KM * plateau_km
        - free_k
        + _WINTER_SEA_K * sine * windward
        + _EUROPE_K * europe * float(np.clip((latitude_deg - 35) / 15, 0, 1))
    )
    warmest = (
        float(np.interp(latitude, _WARMEST_AT_DEG, _WARMEST_C))
        - _WARMEST_LAPSE_K_KM * plateau_km
        - free_k
        - _SUMMER_SEA_K * sine * about
    )
    return UsualAir(coldest, max(warmest, coldest), 1 + _SWING_PER_KM * height_km - _SWING_SEA * about)


def _sea_share(latitude_deg: float, longitude_deg: float, west_km: float, radius_km: float) -> float:
    """Share of sea among sixteen points about one `west_km` west of the place; pvlib's table has 0 m for sea alone."""
    around = np.radians(np.arange(0, 360, 45))
    east = np.concatenate([np.cos(around) * radius for radius in (radius_km / 2, radius_km)]) - west_km
    north = np.concatenate([np.sin(around) * radius for radius in (radius_km / 2, radius_km)])
    latitudes = np.clip(latitude_deg + north / _KM_PER_DEG, -89.9, 89.9)
    narrowing = max(float(np.cos(np.radians(latitude_deg))), 0.05)
    longitudes = (longitude_deg + east / _KM_PER_DEG / narrowing + 180) % 360 - 180
    heights = [lookup_altitude(*place) for place in zip(latitudes, np.clip(longitudes, -179.9, 179.9), strict=True)]
    return float(np.mean([height == 0 for height in heights]))
