"""The cloudless sky over a place, and the strongest beam that clean air lets through."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pandas as pd
from pvlib import atmosphere, clearsky, irradiance

from trackersim.arrays import FloatArray
from trackersim.sky.sun import Sun, unix_seconds

# Linke turbidity of the cleanest air met in practice (polar or high-mountain winter); 1 would be air without vapour.
_CLEANEST_LINKE = 1.5
# Direct light falls by exp(−this · air mass · turbidity added) in the model of Ineichen & Perez (2002).
BEAM_LOSS = 0.09
# The model's coefficients rise with height in straight lines, without end: at 4,000 m and a turbidity of 2.5 global
# light is 0.99 of that above the air, which Rayleigh scattering alone forbids. Above this height they stand still,
# and only the air mass falls on, with pressure. Of whole hundreds of metres it is the greatest from which the sky of
# the cleanest Linke turbidity stays below Bird's model without haze and vapour up to 5,900 m, and equals it at 6,000
# m.
_COEFFICIENTS_STAND_M = 1200.0
# Linke turbidity that haze adds to the month's usual (assumption; see `analysis/observed_sky.py`).
HAZE_LINKE = 2.5


@dataclass(frozen=True, kw_only=True)
class ClearSky:
    """Cloudless light in W/m², shape (n,), zero while the sun is down.

    `cleanest_dni_w_m2` is the beam through the cleanest air: no measured or modelled beam should exceed it.
    `extra_dni_w_m2` is the beam above the atmosphere, also by night.
    """

    ghi_w_m2: FloatArray
    dni_w_m2: FloatArray
    dhi_w_m2: FloatArray
    cleanest_dni_w_m2: FloatArray
    extra_dni_w_m2: FloatArray


def clear_sky(
    times: pd.DatetimeIndex, sun: Sun, *, latitude_deg: float, longitude_deg: float, elevation_m: float
) -> ClearSky:
    """Ineichen–Perez clear sky with pvlib's monthly Linke turbidity, computed for sun-up instants only.

    `times` (n) rising and tz-aware, `sun` at the same instants. Turbidity and the sun's distance are taken once a
    day. Source: Ineichen & Perez, Solar Energy 73 (2002); turbidity of Remund et al. (2003), whose table is for the
    height of the ground in each of its cells: a lone peak has cleaner air than it says, a deep valley hazier. The beam
    of the cleanest air uses Kasten's pure-air optical depth, Solar Energy 56 (1996), at a Linke turbidity of 1.5.

    Range: −450 to 6,000 m; above 1,200 m by `coefficient_height_m`. What is left (tests/published/test_clear_sky.py):
    at 1,500 to 5,000 m and turbidities of 1.9 to 2.5, as mountains have, the day's GHI lies 1 % below to 5 % above
    that of simplified Solis (Ineichen 2008, made for 0 to 7,000 m) and 0 to 6 % above that of Bird & Hulstrom (1981);
    at 3.5, rare up there, up to 9 % above. With the table's turbidity a year's GHI at 2,168 m in Colorado is 2 %
    below the cloudless sky of the National Solar Radiation Database, and a very clean day over snow, measured at
    2,317 m, was 11 % brighter than the sky here.
    """
    linke, extra = _turbidity_and_beam(times, latitude_deg=latitude_deg, longitude_deg=longitude_deg)
    up = np.flatnonzero(sun.is_up)
    sine = sun.direction[2][up]
    zenith = np.degrees(np.arccos(np.clip(sine, 0, 1)))
    mass = air_mass(sine, elevation_m=elevation_m)
    light = clearsky.ineichen(zenith, mass, linke[up], altitude=coefficient_height_m(elevation_m), dni_extra=extra[up])
    cleanest = extra[up] * np.exp(-_CLEANEST_LINKE * _pure_air_depth(mass) * mass)

    def spread(values: FloatArray) -> FloatArray:
        full = np.zeros(len(times))
        full[up] = values
        return full

    return ClearSky(
        ghi_w_m2=spread(light["ghi"]),
        dni_w_m2=spread(light["dni"]),
        dhi_w_m2=spread(light["dhi"]),
        cleanest_dni_w_m2=spread(np.maximum(cleanest, light["dni"])),
        extra_dni_w_m2=extra,
    )


def coefficient_height_m(elevation_m: float) -> float:
    """The height at which the coefficients of Ineichen & Perez are taken: the site's, at most 1,200 m."""
    return min(elevation_m, _COEFFICIENTS_STAND_M)


def air_mass(sine: FloatArray, *, elevation_m: float) -> FloatArray:
    """Air mass by pressure under suns whose elevation has this sine, any shape; below the horizon as on it."""
    zenith = np.degrees(np.arccos(np.clip(sine, 0, 1)))
    relative = np.asarray(atmosphere.get_relative_airmass(zenith, model="kastenyoung1989"))
    return np.asarray(relative * (float(atmosphere.alt2pres(elevation_m)) / 101325))


def _turbidity_and_beam(
    times: pd.DatetimeIndex, *, latitude_deg: float, longitude_deg: float
) -> tuple[FloatArray, FloatArray]:
    """Linke turbidity and extraterrestrial beam (W/m²) at each instant, constant through a local day."""
    midnight = times[0].normalize()
    day = ((unix_seconds(times) - midnight.timestamp()) / 86400).astype(int)
    noons = pd.date_range(midnight + pd.Timedelta(hours=12), periods=int(day[-1]) + 1, freq="D")
    date = noons.tz_convert("UTC")
    linke = np.empty(len(date))
    for leap in np.unique(date.is_leap_year).tolist():
        at = date.is_leap_year == leap
        linke[at] = _linke_of_year(leap, latitude_deg, longitude_deg)[date.day_of_year[at] - 1]
    extra = np.asarray(irradiance.get_extra_radiation(noons.day_of_year.to_numpy()), dtype=float)
    return linke[day], extra[day]


@lru_cache(maxsize=64)  # a simulation asks four times, each of which would open pvlib's table anew
def _linke_of_year(leap: bool, latitude_deg: float, longitude_deg: float) -> FloatArray:
    """Usual Linke turbidity of each day of a year (365 or 366,), days of UTC."""
    days = pd.date_range("2016-01-01" if leap else "2015-01-01", periods=365 + leap, tz="UTC")
    # The poles and the date line lie on the edge of the table; a point a little inside has the same cell.
    latitude, longitude = min(max(latitude_deg, -89.9), 89.9), min(max(longitude_deg, -179.9), 179.9)
    return np.asarray(clearsky.lookup_linke_turbidity(days, latitude, longitude))


def _pure_air_depth(mass: FloatArray) -> FloatArray:
    """Rayleigh optical depth of clean dry air per unit air mass (Kasten 1996, eq. 7–8)."""
    near = np.minimum(mass, 20.0)
    low = 6.6296 + near * (1.7513 + near * (-0.1202 + near * (0.0065 - 0.00013 * near)))
    return np.asarray(1 / np.where(mass <= 20, low, 10.4 + 0.718 * mass))
