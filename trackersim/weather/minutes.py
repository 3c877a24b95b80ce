"""From hourly or shorter samples to minutes, with every interval's light kept.

Inside an interval the light follows the cloudless sky over the site, so that the minutes after sunrise are dim and
the sun's path is not flattened into steps; the interval's own mean decides how much.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from trackersim.errors import Notice, counted
from trackersim.sky.sun import Sun
from trackersim.weather.clearsky import clear_sky
from trackersim.weather.series import Weather

FloatArray = npt.NDArray[np.float64]

# Below this share of the year's light a loss at the horizon is not worth a remark.
_NEGLIGIBLE_KWH_M2 = 0.001
# Intervals whose cloudless light is below this share of the year's largest do not bend the line of clearness.
_TRUSTED_SHARE = 0.1
_CORNER_ROUNDS = 4


def minute_times(weather: Weather) -> pd.DatetimeIndex:
    """Centres of the minutes of the weather's days: local midnight + 30 s, 1440 a day, at the weather's offset.

    Shape (days · 1440,).
    """
    start = weather.times[0].normalize() + pd.Timedelta(seconds=30)
    return pd.date_range(start, periods=weather.days * 1440, freq="min")


def to_minutes(weather: Weather, *, sun: Sun, latitude_deg: float, longitude_deg: float, elevation_m: float) -> Weather:
    """The same weather with `step_min` 1.

    `sun` is the sun over the site at `minute_times(weather)`, shape (days · 1440,). GHI, DNI and DHI are spread
    separately over the sun-up minutes of each interval in proportion to the cloudless sky (Ineichen–Perez), so the
    interval keeps its mean whenever the sun is up in any of its minutes. DNI stays below the beam of the cleanest
    air at that sun height; what then finds no room, as in an hour with three minutes of sun, is dropped and told
    in a notice. Minutes with the sun down have no light. Air and wind are linear between centres and constant
    beyond the outer ones; wind direction is that of its interval. One-minute weather passes through, less light
    with the sun down. Deterministic. Raises `ValueError` if `sun` does not fit the weather (a caller's bug).
    """
    count = weather.days * 1440
    if len(sun.is_up) != count:
        raise ValueError(f"sun has {len(sun.is_up)} instants, the weather's days have {count} minutes")
    if weather.step_min == 1:
        return _masked(weather, sun)
    times = minute_times(weather)
    sky = clear_sky(times, sun, latitude_deg=latitude_deg, longitude_deg=longitude_deg, elevation_m=elevation_m)
    step = weather.step_min
    ghi = _spread(weather.ghi_w_m2, sky.ghi_w_m2.reshape(-1, step))
    dhi = _spread(weather.dhi_w_m2, sky.dhi_w_m2.reshape(-1, step))
    dni = _spread(weather.dni_w_m2, sky.dni_w_m2.reshape(-1, step))
    dni = _under_cap(weather.dni_w_m2, dni, sky.cleanest_dni_w_m2.reshape(-1, step))
    direction = weather.wind_from_deg
    return replace(
        weather,
        times=times,
        step_min=1,
        ghi_w_m2=ghi.ravel(),
        dni_w_m2=dni.ravel(),
        dhi_w_m2=dhi.ravel(),
        air_c=_between(weather.air_c, step),
        wind_m_s=_between(weather.wind_m_s, step),
        wind_from_deg=None if direction is None else np.repeat(direction, step),
        notices=weather.notices + _loss_notices(weather, ghi, dni),
    )


def _spread(mean: FloatArray, shape: FloatArray) -> FloatArray:
    """`shape` (n, k) scaled to the interval means (n); intervals without any shape stay dark.

    The scale is a broken line through the intervals' centres, so a clear day does not climb a stair at every full
    hour; steps remain beside the dim first and last intervals of a day, which keep their own mean. The
    corners are shifted until each interval keeps its mean; what is left of the difference after a few rounds, or where
    a corner would fall below 0, is settled by scaling that interval alone.
    """
    own = shape.mean(axis=1)
    lit = own > 0
    if not lit.any():
        return np.zeros_like(shape)
    # In the dim first and last intervals of a day a ratio says little; there the line runs on from its neighbours.
    trusted = own > _TRUSTED_SHARE * own.max()
    place = np.arange(len(mean))
    ratio = np.divide(mean, own, out=np.zeros_like(mean), where=lit)
    corners = np.interp(place, place[trusted], ratio[trusted])
    weights = _corner_weights(shape.shape[1])
    part = shape @ weights.T / shape.shape[1]  # what each interval takes of the corners before, in and after it
    for _ in range(_CORNER_ROUNDS):
        kept = (part * _with_neighbours(corners)).sum(axis=1)
        corners[trusted] = np.maximum(corners + (mean - kept) / np.where(trusted, own, 1.0), 0.0)[trusted]
    values = (_with_neighbours(corners) @ weights) * shape
    kept = values.mean(axis=1)
    values *= np.divide(mean, kept, out=np.zeros_like(mean), where=kept > 0)[:, None]
    # A line that lies at 0 through a whole interval cannot be scaled: there the plain shape serves.
    flat = lit & (kept <= 0) & (mean > 0)
    values[flat] = shape[flat] * ratio[flat, None]
    return np.asarray(values)


def _corner_weights(step: int) -> FloatArray:
    """Weights (3, step) of the corners before, in and after an interval, at its minutes' centres."""
    off_centre = (np.arange(step) + 0.5) / step - 0.5
    before, after = np.maximum(-off_centre, 0), np.maximum(off_centre, 0)
    return np.stack([before, 1 - before - after, after])


def _with_neighbours(corners: FloatArray) -> FloatArray:
    """(n, 3): the corner before, of and after each interval; the outer ones stand for their missing neighbours."""
    return np.column_stack([np.r_[corners[0], corners[:-1]], corners, np.r_[corners[1:], corners[-1]]])


def _under_cap(mean: FloatArray, values: FloatArray, cap: FloatArray) -> FloatArray:
    """`values` (n, k) cut at `cap`; the cut moves to minutes of the same interval that have room, as far as it goes."""
    over = np.flatnonzero((values > cap).any(axis=1))
    if over.size == 0:
        return values
    cut = np.minimum(values[over], cap[over])
    room = cap[over] - cut
    step = values.shape[1]
    missing = mean[over] * step - cut.sum(axis=1)
    total = room.sum(axis=1)
    share = np.divide(missing, total, out=np.zeros_like(total), where=total > 0)
    values = values.copy()
    values[over] = cut + room * np.clip(share, 0, 1)[:, None]
    return values


def _between(values: FloatArray, step: int) -> FloatArray:
    """Linear between interval centres, at the minutes' centres; constant beyond the first and last centre."""
    centres = (np.arange(len(values)) + 0.5) * step
    return np.asarray(np.interp(np.arange(len(values) * step) + 0.5, centres, values))


def _masked(weather: Weather, sun: Sun) -> Weather:
    up = sun.is_up
    dark = ~up & ((weather.ghi_w_m2 > 0) | (weather.dni_w_m2 > 0) | (weather.dhi_w_m2 > 0))
    notices = weather.notices
    energy = float(weather.ghi_w_m2[dark].sum()) / 60_000
    if energy > _NEGLIGIBLE_KWH_M2:
        notices += (_dark_notice(int(dark.sum()), 1, energy),)
    return replace(
        weather,
        ghi_w_m2=np.where(up, weather.ghi_w_m2, 0.0),
        dni_w_m2=np.where(up, weather.dni_w_m2, 0.0),
        dhi_w_m2=np.where(up, weather.dhi_w_m2, 0.0),
        notices=notices,
    )


def _loss_notices(weather: Weather, ghi: FloatArray, dni: FloatArray) -> tuple[Notice, ...]:
    """Remarks on light for which the minutes had no room."""
    hours = weather.step_min / 60
    notices: list[Notice] = []
    dark = (weather.ghi_w_m2 > 0) & ~(ghi > 0).any(axis=1)
    energy = float(weather.ghi_w_m2[dark].sum()) * hours / 1000
    if energy > _NEGLIGIBLE_KWH_M2:
        notices.append(_dark_notice(int(dark.sum()), weather.step_min, energy))
    lost = weather.dni_w_m2 - dni.mean(axis=1)
    cut = lost > 0.005 * np.maximum(weather.dni_w_m2, 1.0)
    energy = float(lost[cut].sum()) * hours / 1000
    if energy > _NEGLIGIBLE_KWH_M2:
        total = max(float(weather.dni_w_m2.sum()) * hours / 1000, 1e-9)
        text = (
            f"In {counted(int(cut.sum()), 'interval')} of {weather.step_min} min at the horizon the file has more "
            f"direct light than clean air lets through so low; {energy:.2f} kWh/m² of it ({100 * energy / total:.2g} % "
            "of the direct light) was left out."
        )
        notices.append(Notice(text=text, field="weather.file"))
    return tuple(notices)


def _dark_notice(count: int, step_min: int, energy_kwh_m2: float) -> Notice:
    text = (
        f"{counted(count, 'interval')} of {step_min} min with light while the sun is below the level horizon at the "
        f"site; {energy_kwh_m2:.2f} kWh/m² was left out. A little is twilight; much means a wrong time label or place."
    )
    return Notice(text=text, field="weather.file")
