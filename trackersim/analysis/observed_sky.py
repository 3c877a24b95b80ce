"""Days of weather from what a person sees at the site: sky, wind and perhaps a thermometer.

Light starts from the cloudless sky of the place and day (`weather.clearsky`). Haze adds to its Linke turbidity: in
the model of Ineichen & Perez, Solar Energy 73 (2002), direct light falls with exp(−0.09 · m · ΔT) and global light with
exp(−c₂ · f₂ · m · ΔT), m the air mass by pressure. Cloud follows Kasten & Czeplak, Solar Energy 24 (1980): under a
cover n of 0…1 global light is 1 − 0.75 n^3.4 of the cloudless, and its direct part falls with 1 − n². That mean is made
of passing clouds: full beam, then none, in turns (how long a turn takes is an assumption).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Literal

import numpy as np
import pandas as pd

from trackersim.arrays import BoolArray, FloatArray
from trackersim.clock import standard_zone
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.model import Job
from trackersim.simulation.scene import Place, Scene, scene_at
from trackersim.sky.sun import Sun, sun_at
from trackersim.weather.clearsky import BEAM_LOSS, HAZE_LINKE, ClearSky, air_mass, clear_sky, coefficient_height_m
from trackersim.weather.load import height_m, native_weather, where_is
from trackersim.weather.weather import Weather

SkyWord = Literal["clear", "haze", "cloud", "overcast", "unknown"]
WindWord = Literal["calm", "breeze", "windy", "unknown"]
Stands = Literal["west", "level", "east"]
Range = tuple[float, float, float]  # least, likely, most

# Linke turbidity added to the month's usual: about 2 is clean cold air, 3 clean warm, 4 to 6 moist or stagnant, above 6
# polluted (Remund et al. 2003). Which of them somebody calls haze is an assumption.
HAZE: dict[SkyWord, Range] = {
    "clear": (-0.7, 0.0, 1.0), "haze": (1.0, HAZE_LINKE, 5.0), "cloud": (-0.7, 0.5, 2.0), "overcast": (0.0, 1.0, 2.0),
    "unknown": (-0.7, 0.5, 5.0),
}  # fmt: skip
# Share of the sky under cloud (assumption: clear or haze has none before the sun; "cloud" is light or broken).
COVER: dict[SkyWord, Range] = {
    "clear": (0.0, 0.0, 0.0), "haze": (0.0, 0.0, 0.0), "cloud": (0.35, 0.6, 0.85), "overcast": (0.95, 1.0, 1.0),
    "unknown": (0.0, 0.1, 0.8),
}  # fmt: skip
# Wind at 10 m [m/s], as weather files and the Beaufort scale have it: light air, gentle breeze, fresh to strong breeze;
# unknown: the month's. What is felt on the ground is some two thirds of it.
WIND_M_S: dict[WindWord, Range] = {"calm": (0.0, 0.7, 1.5), "breeze": (1.5, 3.0, 5.5), "windy": (5.5, 8.0, 13.0)}
PASSING_MIN = 15.0  # one cloud and the gap after it (assumption)
_NEAR_DAYS = 15  # the month's usual is that of the days this near in the year
_UNKNOWN_AIR_K = 4.0  # half-range of a day's mean about the month's where the weather tells none (assumption)
_THERMOMETER_K = 1.5  # in shade, read by hand (assumption)
_CALMEST, _USUAL_MOST = 0.5, 8.0


@dataclass(frozen=True, kw_only=True)
class Seen:
    """What a person sees; `air_c` None and the word "unknown" mean that nobody looked."""

    sky: SkyWord = "unknown"
    wind: WindWord = "unknown"
    air_c: float | None = None


@dataclass(frozen=True, kw_only=True)
class Air:
    """One way the day may be: turbidity added, cloud cover 0…1, where in its turn the first cloud is (0…1), air warmer
    than usual by so many kelvin, wind [m/s]."""

    haze: float = 0.0
    cover: float = 0.0
    phase: float = 0.5
    warmer_k: float = 0.0
    wind_m_s: float = 2.0


AIR_NUMBERS = len(fields(Air))


@dataclass(frozen=True, kw_only=True)
class SeasonAir:
    """The job's usual air on days near a date: °C at each minute of the day (1440,), spread of a day's mean [K], the
    mean wind [m/s], and the coldest air of the whole weather."""

    air_c: FloatArray
    spread_k: float
    wind_m_s: float
    coldest_c: float


@dataclass(frozen=True, kw_only=True)
class Days:
    """Sun and cloudless light over the site on the day asked for (the last) and the days before it.

    Arrays run over all minutes (days · 1440,); `mass` is the air mass by pressure.
    """

    job: Job
    times: pd.DatetimeIndex
    sun: Sun
    clear: ClearSky
    mass: FloatArray
    usual: SeasonAir

    @property
    def count(self) -> int:
        """Days in all."""
        return len(self.times) // MINUTES_A_DAY


def days_up_to(job: Job, date: dt.date, *, before: int = 2) -> Days:
    """The day `date` and `before` days before it, so that the rack begins as the evenings left it."""
    start = pd.Timestamp(date - dt.timedelta(days=before), tz=standard_zone(job.site)) + pd.Timedelta(seconds=30)
    return days_at(job, date, pd.date_range(start, periods=(before + 1) * MINUTES_A_DAY, freq="min"))


def days_at(job: Job, date: dt.date, times: pd.DatetimeIndex) -> Days:
    """Whole days of minutes, in whatever order, with the usual air of days near `date`."""
    place = where_is(job)
    sun = sun_at(times, **place)
    return Days(
        job=job,
        times=times,
        sun=sun,
        clear=clear_sky(times, sun, **place),
        mass=air_mass(sun.direction[2], elevation_m=place["elevation_m"]),
        usual=season_air(job, date),
    )


def season_air(job: Job, date: dt.date) -> SeasonAir:
    """The usual air of the days near `date` in the year, from the job's own weather (all its days if none is near)."""
    weather = native_weather(job)
    slots = MINUTES_A_DAY // weather.step_min
    of_year = np.asarray(weather.times[::slots].day_of_year)
    apart = np.abs(of_year - date.timetuple().tm_yday)
    near = np.minimum(apart, 365 - apart) <= _NEAR_DAYS
    near = near if near.any() else np.ones_like(near)
    air = weather.air_c.reshape(-1, slots)[near]
    minute = (np.arange(slots) + 0.5) * weather.step_min
    shifted = minute + 60 * (job.site.standard_offset_h - weather.utc_offset_h)
    profile = np.interp(np.arange(MINUTES_A_DAY) + 0.5, shifted % MINUTES_A_DAY, air.mean(axis=0), period=MINUTES_A_DAY)
    means = air.mean(axis=1)
    known = len(means) > 1 and not job.weather.clear_sky
    return SeasonAir(
        air_c=profile,
        spread_k=max(1.3 * float(means.std()), _THERMOMETER_K) if known else _UNKNOWN_AIR_K,
        wind_m_s=float(np.clip(weather.wind_m_s.reshape(-1, slots)[near].mean(), _CALMEST, _USUAL_MOST)),
        coldest_c=float(weather.air_c.min()),
    )


def air_range_k(usual: SeasonAir, seen: Seen, minute: int) -> Range:
    """How much warmer than usual the day may be, from the air seen at `minute` of it, or from nothing."""
    if seen.air_c is None:
        return -usual.spread_k, 0.0, usual.spread_k
    likely = seen.air_c - float(usual.air_c[minute])
    return likely - _THERMOMETER_K, likely, likely + _THERMOMETER_K


def wind_range_m_s(usual: SeasonAir, wind: WindWord) -> Range:
    """Wind at 10 m; an unknown one lies from calm to a good breeze about the month's mean."""
    if wind == "unknown":
        return _CALMEST, usual.wind_m_s, max(_USUAL_MOST, usual.wind_m_s)
    return WIND_M_S[wind]


def clear_ranges(usual: SeasonAir) -> tuple[Range, Range, Range]:
    """Haze, kelvin warmer than usual, and wind of a clear morning of which nobody told the air."""
    return HAZE["clear"], air_range_k(usual, Seen(), 0), wind_range_m_s(usual, "unknown")


def day_weather(days: Days, air: Air) -> Weather:
    """The day as `air` has it, in minutes, after days as clear as the place has them, with the same air and wind."""
    last = np.arange(len(days.times)) >= len(days.times) - MINUTES_A_DAY
    ghi, dni, dhi = days.clear.ghi_w_m2.copy(), days.clear.dni_w_m2.copy(), days.clear.dhi_w_m2.copy()
    ghi[last], dni[last], dhi[last] = _under(days, air, last)
    site = days.job.site
    return Weather(
        times=days.times,
        step_min=1,
        ghi_w_m2=ghi,
        dni_w_m2=dni,
        dhi_w_m2=dhi,
        air_c=np.tile(days.usual.air_c, days.count) + air.warmer_k,
        wind_m_s=np.full(len(days.times), max(air.wind_m_s, 0.0)),
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
        elevation_m=height_m(days.job),
        label="minute centre",
        name="as seen",
    )


def _under(days: Days, air: Air, last: BoolArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Global, direct and diffuse light of the chosen minutes under haze and passing cloud [W/m²]."""
    up, mass = days.sun.is_up[last], days.mass[last]
    sine = np.clip(days.sun.direction[2][last], 0.0, 1.0)
    ghi = days.clear.ghi_w_m2[last] * np.exp(-_global_loss(height_m(days.job)) * mass * air.haze)
    dni = days.clear.dni_w_m2[last] * np.exp(-BEAM_LOSS * mass * air.haze)
    dni = np.minimum(dni, days.clear.cleanest_dni_w_m2[last])
    ghi = np.maximum(ghi, dni * sine)
    cloudy = 1 - 0.75 * air.cover**3.4
    shown = cloudy * (1 - air.cover**2)  # share of the beam that is left, and of the time in which all of it shines
    dhi = ghi * cloudy - dni * sine * shown
    turns = np.arange(len(up) + 1) / PASSING_MIN + air.phase
    sunned = np.diff(np.floor(turns) * shown + np.minimum(turns % 1.0, shown)) * PASSING_MIN
    beam = np.clip(sunned, 0.0, 1.0) * dni
    return np.where(up, dhi + beam * sine, 0.0), np.where(up, beam, 0.0), np.where(up, dhi, 0.0)


def _global_loss(elevation_m: float) -> float:
    """Fall of global light per air mass and unit of turbidity: c₂ · f₂ of Ineichen & Perez (2002)."""
    height_m = coefficient_height_m(elevation_m)
    return float((3.92e-5 * height_m + 0.0387) * np.exp(-height_m / 1250))


def scene_under(job: Job, days: Days, weather: Weather) -> Scene:
    """The scene of `job` (same place as `days`, perhaps other trees) under that weather."""
    return scene_at(job, Place(weather=weather, sun=days.sun, coldest_c=days.usual.coldest_c))


def by_the_sun_alone(job: Job) -> Job:
    """The job without its backup, and with a store that is never full: how full it is today, nobody has said."""
    store = job.store.model_copy(update={"capacity_m3": None, "area_m2": None, "evaporation_by_month_m": None})
    return job.model_copy(update={"store": store, "backup": None})


def within(limits: Range, share: float) -> float:
    """The value at `share` 0…1 of a range whose middle share is its likely value."""
    return float(np.interp(share, (0.0, 0.5, 1.0), limits))


def air_drawn(usual: SeasonAir, seen: Seen, minute: int, shares: Sequence[float] | FloatArray) -> Air:
    """The day at so many `shares` (`AIR_NUMBERS`,), 0…1, of what is left open by what was seen at `minute` of it: haze,
    cover, where the first cloud is, air and wind.
    """
    air, wind = air_range_k(usual, seen, minute), wind_range_m_s(usual, seen.wind)
    ranges = (HAZE[seen.sky], COVER[seen.sky], (0.0, 0.5, 1.0), air, wind)
    haze, cover, phase, warmer_k, wind_m_s = (within(one, share) for one, share in zip(ranges, shares, strict=True))
    return Air(haze=haze, cover=cover, phase=phase, warmer_k=warmer_k, wind_m_s=wind_m_s)


def likely_air(days: Days, seen: Seen, minute: int) -> Air:
    """The likely one of the ways the day may be."""
    return air_drawn(days.usual, seen, minute, (0.5,) * AIR_NUMBERS)
