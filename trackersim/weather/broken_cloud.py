"""Minutes of passing cloud inside intervals of 15 to 60 min, drawn from a seed; each interval keeps its light.

Half an hour of sun and half an hour of cloud is not an hour of half a sun: a pump starts late, tries again and again,
and gives less from a strong beam than in proportion. So the beam of an interval is shared out among its minutes as
clouds would, diffuse light follows, and global light closes. How clouds come and go is fitted to minutes measured at
one place in one fortnight; `tests/published/test_minutes_against_measured.py` holds both against each other.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy.ndimage import minimum_filter1d
from scipy.special import expit, logit

from trackersim.arrays import BoolArray, FloatArray
from trackersim.compiled import kept
from trackersim.constants import MINUTES_A_DAY
from trackersim.sky.sun import sun_at
from trackersim.weather.clearsky import ClearSky, clear_sky
from trackersim.weather.weather import Weather

# Shorter intervals tell the clouds themselves.
SHORTEST_STEP_MIN = 15

# The next eight lines, twelve numbers, were fitted to 1 to 15 June 2016 of the Baseline Surface Radiation Network's
# station at 46.815 N, 6.944 E, 491 m: one-minute means of direct, diffuse and global light, as they come with pvlib
# 0.11.0. What was fitted were statistics of that light by classes of hours, and the demo's water on two racks in it.
_SHARPNESS = 0.30  # of a cloud's edge, in standard deviations of cover from a tenth to half of the beam and beyond
_CLOUD_MIN, _EDGE_MIN = 10.0, 1.4  # memory of the cover, and of its smoothing
_PUFF_MIN, _PUFF_EDGE_MIN = 2.0, 0.5  # the same of small clouds
_PUFFS = 0.28  # share of small clouds in the cover of a sky that is nearly clear; none where all is covered
_SKY_MIN, _SKY_EDGE_MIN = 18.0, 9.0  # memory of diffuse light, and of its smoothing
_SKY, _MIXED = 0.53, 2.3  # standard deviation of its logarithm in a dark overcast, and how it rises with a little beam
_WITH_BEAM, _AGAINST_BEAM = 0.63, 2.2  # its correlation with the cover in a dull hour, how that falls with the beam
_MOST_TIED = 0.95

# Clear air: what counts as a cloudless interval, and how thick the air may be against the model's (assumptions, which
# tell the clear from the other hours of that fortnight).
_HAZIEST, _ALIKE, _SAME_DAY = 1.6, 1.15, 1.3
_MOST_DIFFUSE, _DIFFUSE_ROOM = 1.15, 0.1
_THINNEST, _THICKEST = 0.4, 1.6
_NEAR_DAYS = 10
_LOW_COS, _HIGH_COS = 0.02, 0.15  # lower, air tells little; as high, enough for the day
_CLOUDLESS, _MOST_SUN = 0.97, 0.95
_NEWTON_ROUNDS, _EXACT, _FARTHEST = 40, 1e-9, 100.0
# Processes start so long before midnight that the start is forgotten.
_LEAD_MIN = 180
_UNKNOWN = 99.0


@dataclass(frozen=True, kw_only=True)
class PassingClouds:
    """What is known of the sky in each interval (n,) of a weather, and the seed of its clouds.

    `clear` marks cloudless intervals, which stay as they are. `depth` is the optical depth of the beam between clouds
    over that of the clear-sky model.
    """

    seed: int
    first: pd.Timestamp
    clear: BoolArray
    depth: FloatArray

    def over(self, weather: Weather) -> PassingClouds:
        """The same for some days out of that weather."""
        start = round((weather.times[0] - self.first) / pd.Timedelta(minutes=weather.step_min))
        part = slice(start, start + len(weather.times))
        return replace(self, first=weather.times[0], clear=self.clear[part], depth=self.depth[part])


def passing_clouds(
    weather: Weather, *, seed: int, latitude_deg: float, longitude_deg: float, elevation_m: float
) -> PassingClouds:
    """Which intervals of a whole weather are cloudless, and how clear the air is between clouds.

    Parameters
    ----------
    weather
        n intervals of 15 to 60 min. It is asked as a whole, so that some of its days are told as within it.
    seed
        0 or more.
    latitude_deg, longitude_deg, elevation_m
        Of the site [°], [°], [m].

    Returns
    -------
    PassingClouds
        An interval is cloudless if its beam is about as deep in air as that of both neighbours and of the day's
        clearest, and its diffuse light no more than such air gives. The air of a day is that of its clearest cloudless
        interval; of a day without, the clearest within ten days either way; without any, the model's.
    """
    place = {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg, "elevation_m": elevation_m}
    sun = sun_at(weather.times, **place)
    sky, height = clear_sky(weather.times, sun, **place), sun.direction[2]
    lowest = height - np.abs(np.gradient(height)) / 2  # in the interval, whose ends are half-way to its neighbours
    lit = (lowest > _LOW_COS / 2) & (weather.dni_w_m2 > 1)
    depth = np.full(len(height), _UNKNOWN)
    above = sky.extra_dni_w_m2[lit]
    depth[lit] = np.log(above / weather.dni_w_m2[lit]) / np.log(above / sky.dni_w_m2[lit])
    depth = np.where(depth > 0, depth, _UNKNOWN)

    before, after = np.r_[_UNKNOWN, depth[:-1]], np.r_[depth[1:], _UNKNOWN]
    a_day = MINUTES_A_DAY // weather.step_min
    clearest = np.repeat(depth.reshape(-1, a_day).min(axis=1), a_day)
    diffuse = weather.dhi_w_m2 / np.maximum(sky.dhi_w_m2, 1.0)
    clear = (
        (depth < _HAZIEST)
        & (depth <= _ALIKE * np.minimum(before, after))
        & (np.minimum(before, after) <= _ALIKE * depth)
        & (depth <= _SAME_DAY * clearest)
        & (diffuse <= _MOST_DIFFUSE * depth + _DIFFUSE_ROOM)
    )
    own = np.where(clear & (height > _HIGH_COS), depth, _UNKNOWN).reshape(-1, a_day).min(axis=1)
    near = minimum_filter1d(own, 2 * _NEAR_DAYS + 1, mode="nearest")
    air = np.where(own < _UNKNOWN, own, np.where(near < _UNKNOWN, near, 1.0))
    return PassingClouds(
        seed=seed, first=weather.times[0], clear=clear, depth=np.repeat(np.clip(air, _THINNEST, _THICKEST), a_day)
    )


def broken(
    dni_w_m2: FloatArray,
    dhi_w_m2: FloatArray,
    *,
    sky: ClearSky,
    cos_zenith: FloatArray,
    clouds: PassingClouds,
    times: pd.DatetimeIndex,
    typical: bool,
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Direct and diffuse light of minutes under passing clouds.

    Parameters
    ----------
    dni_w_m2, dhi_w_m2
        (n, k) [W/m²]: n intervals of k minutes, joined smoothly.
    sky, cos_zenith, times
        Cloudless sky, cosine of the sun's zenith and centres of those minutes (n · k,), whole days.
    clouds
        For the same n intervals.
    typical
        Whether the calendar year is only a convention; then the clouds of a date are those of any year.

    Returns
    -------
    dni_w_m2, dhi_w_m2
        (n, k) [W/m²]. Every interval keeps its means, the beam to 1e-9 of it. Direct light stays below that of the
        cleanest air, diffuse and global light below the extremely rare (Long & Shi, Open Atmos. Sci. J. 2, 2008: 0.75
        and 1.2 · the beam above the air · cos^1.2 + 30 and 50 W/m²) unless they lay above before.
    changed
        (n,): intervals that were broken. Cloudless ones, and those in which the sun is ever lower than 1°, are not.

    Notes
    -----
    The beam of a minute is that between clouds times a logistic of the cover, a Gaussian process (two cascades of
    first order, of large and of small clouds) whose mean is set so that the interval keeps its beam. The logarithm of
    diffuse light is another such process. Where little beam is left, the sun comes through where the whole sky is thin:
    the cover follows the sky. Where much is left, clouds beside the sun brighten the sky: the sky follows the cover,
    against it. Diffuse light varies most where a few per cent of the beam tell of thick and thin cloud side by side,
    and the less, the more of the light above the air it is already. Processes are drawn anew for every calendar day
    from the seed and the date alone.
    """
    shape = dni_w_m2.shape
    height, extra = cos_zenith.reshape(shape), sky.extra_dni_w_m2.reshape(shape)
    ceiling = sky.cleanest_dni_w_m2.reshape(shape)
    lit = (height.min(axis=1) > _LOW_COS) & (dhi_w_m2.mean(axis=1) > 0)
    rows = np.flatnonzero(lit & ~clouds.clear)
    beam = dni_w_m2[rows].mean(axis=1)
    model = sky.dni_w_m2.reshape(shape)[rows]
    gap = np.minimum(extra[rows] * (model / extra[rows]) ** clouds.depth[rows, None], ceiling[rows])
    # An interval brighter than the day's clearest air allows has cleaner air.
    gap = np.minimum(gap * np.maximum(beam / (_MOST_SUN * gap.mean(axis=1)), 1)[:, None], ceiling[rows])
    share = beam / gap.mean(axis=1)
    cloudy = share < _CLOUDLESS
    rows, beam, gap, share = rows[cloudy], beam[cloudy], gap[cloudy], share[cloudy]

    large, small, diffuse = (each.reshape(shape)[rows] for each in _processes(times, clouds.seed, typical))
    puffs = _PUFFS * share[:, None]
    cover = np.sqrt(1 - puffs) * large + np.sqrt(puffs) * small
    tied = (_WITH_BEAM - _AGAINST_BEAM * share)[:, None]
    follows, leads = np.clip(tied, 0.0, _MOST_TIED), np.clip(-tied, 0.0, _MOST_TIED)
    cover = follows * diffuse + np.sqrt(1 - follows**2) * cover
    diffuse = np.sqrt(1 - leads**2) * diffuse - leads * cover
    direct = _shared_out(beam, gap, cover)

    before = dhi_w_m2[rows]
    room = np.maximum(1 - before / (extra[rows] * height[rows]), 0.0)
    spread = (_SKY * (1 - share) * (1 + _MIXED * np.sqrt(share)))[:, None] * room
    after = before * np.exp(spread * diffuse)
    after *= (before.mean(axis=1) / after.mean(axis=1))[:, None]
    high = extra[rows] * height[rows] ** 1.2
    most = np.minimum(0.75 * high + 30, 1.2 * high + 50 - direct * height[rows])

    dni, dhi, changed = dni_w_m2.copy(), dhi_w_m2.copy(), np.zeros(len(dni_w_m2), dtype=bool)
    dni[rows], dhi[rows], changed[rows] = direct, _drawn_in(before, after, most), True
    return dni, dhi, changed


def _shared_out(mean: FloatArray, gap: FloatArray, cover: FloatArray) -> FloatArray:
    """Beam (m, k): `gap` (m, k) times a logistic of `cover` (m, k), moved so that the rows' means are `mean` (m)."""
    beam = np.zeros_like(gap)
    rows = np.flatnonzero(mean > 0)
    gap, cover, mean = gap[rows], cover[rows] / _SHARPNESS, mean[rows]
    whole = gap.mean(axis=1)
    wanted = logit(mean / whole)
    # What moves the mean there if the cover were the normal distribution itself (the logistic taken for a probit).
    moved = wanted * np.sqrt(1 + np.pi / 8 / _SHARPNESS**2)
    least, most = np.full(len(rows), -_FARTHEST), np.full(len(rows), _FARTHEST)
    left = np.arange(len(rows))
    # Newton's rule on the logit of the mean, which is nearly straight; outside the bracket, the bracket's middle.
    for _ in range(_NEWTON_ROUNDS):
        passed = expit(cover[left] + moved[left, None])
        light = gap[left] * passed
        share = light.mean(axis=1) / whole[left]
        miss = logit(share) - wanted[left]
        beam[rows[left]] = light * (mean[left] / light.mean(axis=1))[:, None]
        slope = (light * (1 - passed)).mean(axis=1) / whole[left] / (share * (1 - share))
        least[left], most[left] = (
            np.where(miss < 0, moved[left], least[left]),
            np.where(miss > 0, moved[left], most[left]),
        )
        better = moved[left] - miss / slope
        inside = (better > least[left]) & (better < most[left])
        moved[left] = np.where(inside, better, (least[left] + most[left]) / 2)
        left = left[np.abs(miss) > _EXACT]
        if left.size == 0:
            break
    return beam


def _drawn_in(before: FloatArray, after: FloatArray, most: FloatArray) -> FloatArray:
    """`after` (m, k), drawn towards `before` row by row until none lies above `most`; the rows' means are equal."""
    over = after > most
    room = np.divide(most - before, after - before, out=np.ones_like(after), where=over & (after > before))
    kept = np.clip(room, 0, 1).min(axis=1)[:, None]
    return np.asarray(before + kept * (after - before))


def _processes(times: pd.DatetimeIndex, seed: int, typical: bool) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Gaussian processes of mean 0 and variance 1, each (days, 1440): large clouds, small clouds, diffuse light."""
    dates = times[::MINUTES_A_DAY]
    drawn = np.empty((len(dates), 3, _LEAD_MIN + MINUTES_A_DAY))
    for number, date in enumerate(dates):
        stream = [seed, 0 if typical else date.year, 100 * date.month + date.day]
        np.random.Generator(np.random.PCG64(stream)).standard_normal(out=drawn[number])
    memories = ((_CLOUD_MIN, _EDGE_MIN), (_PUFF_MIN, _PUFF_EDGE_MIN), (_SKY_MIN, _SKY_EDGE_MIN))
    large, small, diffuse = (_cascade(drawn[:, number], *memory) for number, memory in enumerate(memories))
    return large, small, diffuse


def _cascade(white: FloatArray, long_min: float, short_min: float) -> FloatArray:
    """White noise (days, lead + 1440) through two filters of first order, at variance 1, without the lead."""
    slow, quick = np.exp(-1 / long_min), np.exp(-1 / short_min)
    # Variance of 1 / ((1 − slow z)(1 − quick z)) of white noise, a process of second order.
    variance = (1 + slow * quick) / ((1 - slow * quick) * (1 - slow**2) * (1 - quick**2))
    # Written out: scipy.signal takes half a second to come, and every answer would wait for it.
    through = white / np.sqrt(variance)
    _filter(through, slow + quick, slow * quick)
    return np.ascontiguousarray(through[:, _LEAD_MIN:])


@kept
def _filter(values: FloatArray, last_counts: float, one_before_takes: float) -> None:
    """Add to each minute of a day what the two before it leave."""
    for day in range(len(values)):
        values[day, 1] += last_counts * values[day, 0]
        for minute in range(2, values.shape[1]):
            values[day, minute] += last_counts * values[day, minute - 1] - one_before_takes * values[day, minute - 2]
