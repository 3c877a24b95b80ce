"""Where the sun is: pvlib's SPA, sampled every twelve minutes and splined to the minutes between."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from pvlib import atmosphere, solarposition, spa
from scipy.interpolate import CubicSpline

from trackersim.arrays import BoolArray, FloatArray

_KNOT_SECONDS = 720.0
# The sun's upper limb touches the horizon at this elevation of its centre without refraction (USNO's convention).
SUNRISE_ELEVATION_DEG = -0.833
_AIR_C = 12.0
_REFRACTION_AT_HORIZON_DEG = 0.5667


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

    def at(self, chosen: npt.NDArray[np.integer] | BoolArray) -> Sun:
        """The same for chosen instants only."""
        return Sun(
            direction=np.ascontiguousarray(self.direction[:, chosen]),
            true_elevation_deg=self.true_elevation_deg[chosen],
            is_up=self.is_up[chosen],
        )


def sun_at(
    times: pd.DatetimeIndex,
    *,
    latitude_deg: float,
    longitude_deg: float,
    elevation_m: float = 0.0,
    pressure_pa: float | None = None,
    air_c: float = _AIR_C,
    delta_t_s: float | None = 69.0,
    knot_s: float = _KNOT_SECONDS,
) -> Sun:
    """The sun at `times` (tz-aware, rising), by pvlib's SPA (Reda & Andreas, NREL/TP-560-34302).

    Long dense series are computed every twelve minutes and splined; the error is below 1e-5° in
    position (tested against SPA at each instant). With knots every hour, `knot_s`, it is below 0.01°. Years 1950–2100.

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
    knot_s : float
        Time between the instants that are computed, the others being splined [s].

    Returns
    -------
    Sun
        The sun at n instants.
    """
    if pressure_pa is None:
        pressure_pa = float(atmosphere.alt2pres(elevation_m))
    seconds = unix_seconds(times)
    knots = _knots(seconds, knot_s)
    position = solarposition.spa_python(
        pd.to_datetime(knots, unit="s", utc=True),
        latitude_deg,
        longitude_deg,
        altitude=elevation_m,
        pressure=pressure_pa,
        temperature=air_c,
        delta_t=delta_t_s,
    )
    vector = _unit_vector(position["elevation"].to_numpy(), position["azimuth"].to_numpy())
    if knots is not seconds:
        vector = CubicSpline(knots, vector, axis=1)(seconds)
        vector /= np.linalg.norm(vector, axis=0)
    true_elevation = np.degrees(np.arcsin(np.clip(vector[2], -1, 1)))
    lift = spa.atmospheric_refraction_correction(pressure_pa / 100, air_c, true_elevation, _REFRACTION_AT_HORIZON_DEG)
    direction = _raised(vector, true_elevation, lift)
    return Sun(direction=direction, true_elevation_deg=true_elevation, is_up=direction[2] > 0)


def unix_seconds(times: pd.DatetimeIndex) -> FloatArray:
    """Seconds since 1970 in UTC (n,) of tz-aware times (n,).

    Parameters
    ----------
    times : pd.DatetimeIndex
        n instants with a time zone.

    Returns
    -------
    FloatArray
        Shape (n,) [s].
    """
    epoch = pd.Timestamp("1970-01-01", tz="UTC")
    return np.asarray((times - epoch) / pd.Timedelta(seconds=1), dtype=float)


def _knots(seconds: FloatArray, knot_s: float) -> FloatArray:
    """Knots every `knot_s` that span `seconds` when that saves work, else `seconds` itself."""
    count = int((seconds[-1] - seconds[0]) // knot_s) + 2
    if count * 2 >= len(seconds) or count < 8:
        return seconds
    return np.asarray(seconds[0] + knot_s * np.arange(count))


def _unit_vector(elevation_deg: FloatArray, azimuth_deg: FloatArray) -> FloatArray:
    elevation, azimuth = np.radians(elevation_deg), np.radians(azimuth_deg)
    level = np.cos(elevation)
    return np.stack([level * np.sin(azimuth), level * np.cos(azimuth), np.sin(elevation)])


def _raised(vector: FloatArray, elevation_deg: FloatArray, lift_deg: FloatArray) -> FloatArray:
    """`vector` turned upward by `lift_deg` at the same azimuth."""
    raised = np.radians(elevation_deg + lift_deg)
    level = np.hypot(vector[0], vector[1])
    stretch = np.divide(np.cos(raised), level, out=np.ones_like(level), where=level > 1e-12)
    return np.stack([vector[0] * stretch, vector[1] * stretch, np.sin(raised)])
