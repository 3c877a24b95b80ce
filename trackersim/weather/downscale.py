"""From hourly or shorter samples to minutes, with every interval's light kept.

Inside an interval the light follows the cloudless sky over the site, so that the minutes after sunrise are dim and
the sun's path is not flattened into steps; the interval's own mean decides how much.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from trackersim.arrays import BoolArray, FloatArray
from trackersim.errors import Level, Notice, counted
from trackersim.sky.sun import Sun
from trackersim.weather.broken_cloud import SHORTEST_STEP_MIN, PassingClouds, broken
from trackersim.weather.clearsky import ClearSky, clear_sky
from trackersim.weather.weather import Weather

# Below this share of the year's light a loss at the horizon is not worth a remark.
_NEGLIGIBLE_KWH_M2 = 0.001
# Above this share of the direct light it is no matter of the horizon (assumption; the demo's year loses none).
_MUCH_CUT = 0.005
# How far above the duller of two intervals' clearness their common edge may lie: a dark interval has dark edges. Of
# minutes with known light (tests), 2 to 3 do about equally well; less blurs clouds, more bends clear mornings.
_ABOVE_DULLER = 2.5
_NEWTON_ROUNDS = 12


def minute_times(weather: Weather) -> pd.DatetimeIndex:
    """Centres of the minutes of the weather's days: local midnight + 30 s, 1440 a day, at the weather's offset.

    Shape (days · 1440,).
    """
    start = weather.times[0].normalize() + pd.Timedelta(seconds=30)
    return pd.date_range(start, periods=weather.days * 1440, freq="min")


@dataclass(frozen=True, kw_only=True)
class JoinedLight:
    """Light of n intervals joined to minutes without passing cloud (n, k) [W/m²], under this cloudless sky."""

    sky: ClearSky
    ghi_w_m2: FloatArray
    dni_w_m2: FloatArray
    dhi_w_m2: FloatArray


def joined_light(
    weather: Weather, *, sun: Sun, latitude_deg: float, longitude_deg: float, elevation_m: float
) -> JoinedLight:
    """The light of `to_minutes` before any cloud passes; the weather's step is longer than a minute."""
    times, step = minute_times(weather), weather.step_min
    sky = clear_sky(times, sun, latitude_deg=latitude_deg, longitude_deg=longitude_deg, elevation_m=elevation_m)
    cleanest = sky.cleanest_dni_w_m2.reshape(-1, step)
    return JoinedLight(
        sky=sky,
        ghi_w_m2=_spread(weather.ghi_w_m2, sky.ghi_w_m2.reshape(-1, step)),
        dni_w_m2=_spread(weather.dni_w_m2, sky.dni_w_m2.reshape(-1, step), cleanest),
        dhi_w_m2=_spread(weather.dhi_w_m2, sky.dhi_w_m2.reshape(-1, step)),
    )


def to_minutes(
    weather: Weather,
    *,
    sun: Sun,
    latitude_deg: float,
    longitude_deg: float,
    elevation_m: float,
    clouds: PassingClouds | None = None,
    joined: JoinedLight | None = None,
) -> Weather:
    """The same weather with `step_min` 1.

    `sun` is the sun over the site at `minute_times(weather)`, shape (days · 1440,). GHI, DNI and DHI are spread
    separately over the sun-up minutes of each interval along the cloudless sky (Ineichen–Perez), without a step from
    interval to interval. Each interval with the sun up in any of its minutes keeps its mean; its minutes depend on it
    and on its two neighbours alone. DNI stays below the beam of the cleanest air at that sun height. What exceeds that,
    as in an hour with three minutes of sun, is left out, and a notice says how much. Minutes with the sun down have no
    light. Air and wind are linear between centres and constant beyond the outer ones; wind direction is that of its
    interval. One-minute weather passes through, less light with the sun down. With `clouds`, those of this weather's
    intervals, the minutes of cloudy intervals are broken by passing cloud (`broken_cloud.broken`): DNI and DHI keep
    each interval's mean, GHI changes by what they change in the same minute. `joined` is `joined_light` of the same
    weather, if it is at hand. Deterministic. Raises `ValueError` if `sun` does not fit the weather (a caller's bug).
    """
    count = weather.days * 1440
    if len(sun.is_up) != count:
        raise ValueError(f"sun has {len(sun.is_up)} instants, the weather's days have {count} minutes")
    if weather.step_min == 1:
        return _masked(weather, sun)
    times, step = minute_times(weather), weather.step_min
    if joined is None:
        where = {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg, "elevation_m": elevation_m}
        joined = joined_light(weather, sun=sun, **where)
    ghi, dni, dhi = joined.ghi_w_m2, joined.dni_w_m2, joined.dhi_w_m2
    notices = weather.notices + _loss_notices(weather, ghi, dni)
    if clouds is not None:
        level = np.maximum(sun.direction[2], 0.0)
        beam, diffuse, changed = broken(
            dni, dhi, sky=joined.sky, cos_zenith=level, clouds=clouds, times=times, typical=weather.typical
        )
        ghi = np.maximum(ghi + ((beam - dni) * level.reshape(-1, step) + (diffuse - dhi)), 0.0)
        dni, dhi = beam, diffuse
        notices += _made_notices(weather, changed, clouds.seed)
    else:
        notices += _made_notices(weather, None, 0)
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
        notices=notices,
    )


def _spread(mean: FloatArray, shape: FloatArray, ceiling: FloatArray | None = None) -> FloatArray:
    """`shape` (n, k) bent to the interval means (n), nowhere above `ceiling` (n, k); unlit intervals stay dark.

    Clearness, light over `shape`, has one value at each edge between two lit intervals, so there is no step at the
    full hour. Inside it runs straight from edge to edge, plus a bulge that vanishes at the edges and is as high as
    the mean asks. The interval of sunrise or sunset is held at its inner edge only, and its bulge goes with the square
    root of `shape`: air n times as turbid as the shape's turns a low sun's beam, as a share of the beam above the
    air, into its n-th power (Beer–Lambert), and real air is mostly cleaner than the shape's. An interval with no lit
    neighbour keeps the plain shape.
    """
    own = shape.mean(axis=1)
    clearness = np.divide(mean, own, out=np.zeros_like(mean), where=own > 0)
    joined = (shape[:-1, -1] > 0) & (shape[1:, 0] > 0)
    edge = np.where(joined, _edge_clearness(clearness, shape, ceiling), 0.0)
    held_before, held_after = np.r_[False, joined], np.r_[joined, False]
    values, bulge = shape * clearness[:, None], np.zeros_like(shape)

    rows = np.flatnonzero(held_before ^ held_after)
    inner = np.where(held_after[rows], rows, rows - 1)
    at_edge = (shape[inner, -1] + shape[inner + 1, 0]) / 2
    low = shape[rows] / at_edge[:, None]
    # Where noon lies in such an interval, as in the short days near the polar night, it is no sunrise.
    falls = (low < 1).all(axis=1)
    rows, inner, at_edge, low = rows[falls], inner[falls], at_edge[falls, None], low[falls]
    bulge[rows] = at_edge * (np.sqrt(low) - low)
    values[rows] = _bent(mean[rows], shape[rows] * edge[inner, None], bulge[rows], 1 - low)

    held_before[rows], held_after[rows] = False, False
    # With one edge held the line is level.
    before = np.asarray(np.where(held_before, np.r_[0.0, edge], np.r_[edge, 0.0]))
    after = np.asarray(np.where(held_after, np.r_[edge, 0.0], np.r_[0.0, edge]))
    rows = np.flatnonzero(held_before | held_after)
    along = (np.arange(shape.shape[1]) + 0.5) / shape.shape[1]
    form = 1 - np.abs(2 * along - 1) ** 3
    line = before[rows, None] * (1 - along) + after[rows, None] * along
    bulge[rows] = shape[rows] * form
    values[rows] = _bent(mean[rows], shape[rows] * line, bulge[rows], np.broadcast_to(form, line.shape))
    return values if ceiling is None else _under(mean, values, ceiling, bulge)


def _edge_clearness(clearness: FloatArray, shape: FloatArray, ceiling: FloatArray | None) -> FloatArray:
    """Clearness (n − 1) where two intervals meet: half-way, as far as the duller can come down from it."""
    one, other = clearness[:-1], clearness[1:]
    edge = np.minimum((one + other) / 2, _ABOVE_DULLER * np.minimum(one, other))
    if ceiling is None:
        return np.asarray(edge)
    free = np.divide(ceiling, shape, out=np.full_like(shape, np.inf), where=shape > 0)
    return np.asarray(np.minimum(edge, np.minimum(free[:-1, -1], free[1:, 0])))


def _bent(mean: FloatArray, base: FloatArray, bulge: FloatArray, form: FloatArray) -> FloatArray:
    """`base` (n, k) plus so much of `bulge` that the rows' means are `mean` (n).

    Where taking bulge away would leave less than no light, `base` is damped by a power of e that grows with `form`
    instead. Both vanish at a held edge.
    """
    room = bulge.mean(axis=1)
    height = np.divide(mean - base.mean(axis=1), room, out=np.zeros_like(mean), where=room > 0)
    values = base + height[:, None] * bulge
    deep = np.flatnonzero((values < 0).any(axis=1))
    if deep.size:
        # The logarithm of the mean rises with the exponent and bends upward, so Newton's rule cannot miss.
        power = np.zeros(deep.size)
        for _ in range(_NEWTON_ROUNDS):
            damped = base[deep] * np.exp(power[:, None] * form[deep])
            kept = damped.mean(axis=1)
            power -= np.log(kept / mean[deep]) * kept / (damped * form[deep]).mean(axis=1)
        damped = base[deep] * np.exp(power[:, None] * form[deep])
        values[deep] = damped * (mean[deep] / damped.mean(axis=1))[:, None]
    return np.asarray(values)


def _under(mean: FloatArray, values: FloatArray, ceiling: FloatArray, bulge: FloatArray) -> FloatArray:
    """`values` (n, k) cut at `ceiling`; more of `bulge` in the same interval makes up for it, as far as it goes."""
    over = np.flatnonzero((values > ceiling).any(axis=1))
    if over.size == 0:
        return values
    top, more, wanted = ceiling[over], bulge[over], mean[over]
    cut = np.minimum(values[over], top)
    for _ in range(_NEWTON_ROUNDS):
        gain = np.where(cut < top, more, 0.0).mean(axis=1)
        height = np.divide(wanted - cut.mean(axis=1), gain, out=np.zeros_like(gain), where=gain > 0)
        cut = np.minimum(cut + np.maximum(height, 0.0)[:, None] * more, top)
    # What the bulge cannot take, as in an interval full to the ceiling, goes to all room alike.
    room = (top - cut).mean(axis=1)
    share = np.divide(wanted - cut.mean(axis=1), room, out=np.zeros_like(room), where=room > 0)
    values = values.copy()
    values[over] = cut + (top - cut) * np.clip(share, 0, 1)[:, None]
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
            f"In {counted(int(cut.sum()), 'interval')} of {weather.step_min} min the file has more direct light than "
            f"clean air lets through under such a sun; {energy:.2f} kWh/m² of it ({100 * energy / total:.2g} % of the "
            "direct light) was left out. A little with the sun at the horizon is usual; much means a wrong height of "
            "the site, time label or place."
        )
        level: Level = "caution" if energy > _MUCH_CUT * total else "note"
        notices.append(Notice(text=text, field="weather.file", level=level))
    return tuple(notices)


def _made_notices(weather: Weather, changed: BoolArray | None, seed: int) -> tuple[Notice, ...]:
    """What was made of intervals longer than a cloud; `changed` is None where they were joined smoothly."""
    if weather.step_min < SHORTEST_STEP_MIN or (changed is not None and not changed.any()):
        return ()
    what = "hour" if weather.step_min == 60 else f"interval of {weather.step_min} min"
    if changed is None:
        text = (
            f"Minutes are {what}s joined smoothly, without passing cloud: pumps start too seldom and give too much. "
            f'Where minutes were measured it was 5 to 9 % too much. weather.minutes = "broken" makes likelier minutes.'
        )
    else:
        cloudy = "cloudy hours" if weather.step_min == 60 else f"cloudy intervals of {weather.step_min} min"
        text = (
            f"{int(changed.sum()):,} {cloudy} were broken into minutes of passing cloud (seed {seed}), each with its "
            "own light. The minutes are likely, not measured; another weather.seed draws others."
        )
    return (Notice(text=text, field="weather.minutes"),)


def _dark_notice(count: int, step_min: int, energy_kwh_m2: float) -> Notice:
    text = (
        f"{counted(count, 'interval')} of {step_min} min with light while the sun is below the level horizon at the "
        f"site; {energy_kwh_m2:.2f} kWh/m² was left out. A little is twilight; much means a wrong time label or place."
    )
    return Notice(text=text, field="weather.file")
