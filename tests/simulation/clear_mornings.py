"""Clear mornings over a year with scattered air, wind and haze, and when thermal racks flip on them.

`python tests/simulation/clear_mornings.py` holds the dose against the full physics on all 365 and prints the figures.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.optimize import least_squares

from trackersim import Job, load_job
from trackersim.arrays import FloatArray, IndexArray
from trackersim.job.files import with_overrides
from trackersim.simulation.scene import Place, Scene, scene_at
from trackersim.simulation.tracking import track
from trackersim.sky.sun import sun_at
from trackersim.weather.clearsky import BEAM_LOSS, air_mass, clear_sky
from trackersim.weather.weather import Weather

BASE = load_job("demo", ["weather.file=", "weather.clear_sky=true", "trees=[]", "rack.kind=thermal"])
# Four racks of the physics: as built, and three that take up less light or turn by other weights.
RACKS: dict[str, dict[str, float]] = {
    "default": {},
    "plates 0.75": {"rack.thermal.shade_plates": 0.75},
    "liquid 4.5, lever 1.5, diameter 0.08": {
        "rack.thermal.liquid": 4.5, "rack.thermal.lever": 1.5, "rack.thermal.canister_diameter": 0.08
    },
    "absorptance 0.6": {"rack.thermal.absorptance": 0.6},
}  # fmt: skip
# By the months of the demo's year, air at sunrise [°C], about which mornings scatter by 5 K (one standard deviation).
_MONTHLY_C = (0, 1, 5, 9, 14, 19, 21, 21, 17, 10, 5, 1)
_SWING_C = 11.0


@dataclass(frozen=True, kw_only=True)
class Mornings:
    """The mornings' scene, and of each (days,): air at sunrise [°C], wind at 10 m [m/s], turbidity added."""

    scene: Scene
    air_c: FloatArray
    wind_m_s: FloatArray
    haze: FloatArray

    @property
    def four(self) -> IndexArray:
        """A calm and warm morning, a cold, a windy and a hazy one."""
        calm = np.argsort(self.wind_m_s)[: len(self.wind_m_s) // 4]
        warm = calm[np.argmax(self.air_c[calm])]
        return np.array([warm, np.argmin(self.air_c), np.argmax(self.wind_m_s), np.argmax(self.haze)])


def clear_mornings(count: int, *, seed: int = 1) -> Mornings:
    """`count` days spread over a year, the sky cloudless."""
    chance = np.random.default_rng(seed)
    site = BASE.site
    where = {"latitude_deg": site.latitude_deg, "longitude_deg": site.longitude_deg, "elevation_m": site.elevation_m}
    day = np.arange(count) * 365 // count
    start = pd.DatetimeIndex([dt.datetime(2025, 1, 1) + dt.timedelta(days=int(each)) for each in day])
    minutes = np.concatenate([pd.date_range(one, periods=1440, freq="min").to_numpy() for one in start])
    times = (pd.DatetimeIndex(minutes) + pd.Timedelta(seconds=30)).tz_localize(dt.timezone(dt.timedelta(hours=-5)))
    sun = sun_at(times, **where)
    haze, wind = np.clip(chance.normal(0.3, 0.9, count), -0.7, 3.0), chance.gamma(2.0, 1.6, count)
    air = np.interp(day, np.arange(12) * 365 / 12 + 15, _MONTHLY_C, period=365) + chance.normal(0, 5, count)
    clear, mass = clear_sky(times, sun, **where), air_mass(sun.direction[2], elevation_m=site.elevation_m)
    beam = np.minimum(clear.dni_w_m2 * np.exp(-BEAM_LOSS * mass * np.repeat(haze, 1440)), clear.cleanest_dni_w_m2)
    sine = np.clip(sun.direction[2], 0, 1)
    total = np.maximum(clear.ghi_w_m2 * np.exp(-0.03 * mass * np.repeat(haze, 1440)), beam * sine)
    through_day = _SWING_C / 2 * (1 - np.cos(2 * np.pi * (np.arange(1440) / 1440 - 0.25)))
    weather = Weather(
        times=times,
        step_min=1,
        ghi_w_m2=total,
        dni_w_m2=beam,
        dhi_w_m2=total - beam * sine,
        air_c=(air[:, None] + through_day).ravel(),
        wind_m_s=np.repeat(wind, 1440),
        **where,
        label="minute centre",
        name="clear mornings",
    )
    scene = scene_at(BASE, Place(weather=weather, sun=sun, coldest_c=float(air.min())))
    return Mornings(scene=scene, air_c=air, wind_m_s=wind, haze=haze)


def flips(job: Job, mornings: Mornings) -> FloatArray:
    """Minute of each morning at which the job's rack passes its centre, with its fraction; NaN where it does not."""
    tracking = track(job, mornings.scene)
    flip, day = tracking.morning.flip, np.arange(mornings.scene.days)
    before, after = tracking.rotation_deg[day, flip - 1], tracking.rotation_deg[day, flip]
    # A thermal rack is told at the centres of minutes, a watched one at their ends.
    end = 0.0 if job.rack.kind == "delayed" else -0.5
    return np.where(flip >= 0, flip + end + before / (before - after), np.nan)


def dose_job(threshold_w_m2: float, dose_kj_m2: float) -> Job:
    """A watched rack with these two numbers."""
    numbers = {"rack.flip_threshold": threshold_w_m2, "rack.flip_dose": dose_kj_m2}
    return with_overrides(BASE, {"rack.kind": "delayed", **numbers})


def fitted_dose(seen: FloatArray, mornings: Mornings, days: IndexArray | slice = slice(None)) -> Job:
    """The watched rack whose flips on `days` lie nearest to those seen."""

    def gaps(logs: FloatArray) -> FloatArray:
        gap = (flips(dose_job(*np.exp(logs).tolist()), mornings) - seen)[days]
        return np.nan_to_num(gap[np.isfinite(seen[days])], nan=300.0)

    found = least_squares(gaps, np.log([110.0, 140.0]), diff_step=0.02, xtol=1e-3)
    return dose_job(*np.exp(found.x).tolist())


def rms_min(job: Job, seen: FloatArray, mornings: Mornings) -> float:
    """Root mean square of the gaps between a job's flips and those seen [min]; infinite if some are missing."""
    gap = (flips(job, mornings) - seen)[np.isfinite(seen)]
    return float(np.sqrt(np.mean(gap**2))) if np.isfinite(gap).all() else np.inf


def thermal_job(changes: Mapping[str, float]) -> Job:
    """A rack by physics."""
    return with_overrides(BASE, dict(changes))


if __name__ == "__main__":
    year = clear_mornings(365)
    for name, changes in RACKS.items():
        seen = flips(thermal_job(changes), year)
        every, few = fitted_dose(seen, year), fitted_dose(seen, year, year.four)
        sunny = seen - track(thermal_job(changes), year.scene).morning.first_beam
        print(
            f"{name}: {np.isfinite(seen).sum()} flips; threshold {every.rack.flip_threshold_w_m2:.0f} W/m2, dose "
            f"{every.rack.flip_dose_kj_m2:.0f} kJ/m2; rms fitted on all {rms_min(every, seen, year):.2f} min, on four "
            f"mornings {rms_min(few, seen, year):.2f} min; a constant {np.nanmean(sunny):.0f} min of sun "
            f"{np.nanstd(sunny):.1f} min"
        )
