"""Rows on an even grid of whole days, and where the sun stands over each slot."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from pvlib import atmosphere

from trackersim.arrays import BoolArray, FloatArray
from trackersim.clock import FIRST_YEAR, LAST_YEAR
from trackersim.errors import Notice, counted
from trackersim.sky.sun import sun_at
from trackersim.weather.clearsky import clear_sky
from trackersim.weather.raw import RawTable, Row, fault, note
from trackersim.weather.spans import outer_words, spans_of

_LONGEST_DAYS = 1100
# Days since 1970 of the years for which the sun's place is known, and one more at either end: a stamp at midnight may
# belong to a row of the day before, and another clock's year begins some hours earlier or later.
_FIRST_DAY = int(np.datetime64(f"{FIRST_YEAR}-01-01", "D").astype(int)) - 1
_LAST_DAY = int(np.datetime64(f"{LAST_YEAR}-12-31", "D").astype(int)) + 1
# The sun is sampled every ten minutes inside a slot; it climbs less than this between a sample and the slot's edge.
_SAMPLE_MIN = 10
_SLACK_DEG = 1.3
# Refraction and twilight: light above this true elevation is no fault of the file.
_DARK_BELOW_DEG = -0.9
# No beam at the ground is a larger share of that above the air: Bird's model without haze and vapour (2.5 mm of ozone)
# has 0.865 at 6,000 m under the zenith, and less elsewhere. Kasten's clean air up there lets through more.
_MOST_OF_EXTRA = 0.87
# A shift of the clock that is not worth resampling for.
NEGLIGIBLE_S = 31.0


@dataclass(frozen=True, kw_only=True)
class Slots:
    """Whole days of slots of `step_min`; NaN where the file has nothing.

    Slot k is meant for the interval that starts `start_s + k·step` (seconds of the local clock), but the file's
    light belongs to the centre of that interval plus `phase_s`, and its air to `air_delay_s` after that.
    """

    start_s: float
    step_min: int
    phase_s: float
    air_delay_s: float
    instant: bool
    offset_h: float
    columns: Mapping[str, FloatArray]

    @property
    def count(self) -> int:
        return len(self.columns["ghi"])

    @property
    def per_day(self) -> int:
        return 1440 // self.step_min

    @property
    def centres_s(self) -> FloatArray:
        """Centres of the slots, seconds of the local clock."""
        return np.asarray(self.start_s + (np.arange(self.count) + 0.5) * self.step_min * 60)

    @property
    def first_day(self) -> dt.date:
        """The local date of the first slot."""
        noon = self.times(np.array([self.start_s + 43200.0]))[0]
        return dt.date(noon.year, noon.month, noon.day)

    def when(self, slots: BoolArray) -> str:
        """The first and the last day of some slots (n,) in words."""
        days = np.asarray(slots.reshape(-1, self.per_day).any(axis=1))
        return outer_words(spans_of(days, self.first_day))

    def times(self, seconds: FloatArray) -> pd.DatetimeIndex:
        """Seconds of the local clock as stamps at the file's offset."""
        zone = dt.timezone(dt.timedelta(hours=self.offset_h))
        return pd.to_datetime(np.round(seconds).astype(np.int64), unit="s").tz_localize(zone)

    def days(self, first: int, last: int) -> Slots:
        """Only the days first…last (without `last`), counted from 0."""
        cut = slice(first * self.per_day, last * self.per_day)
        columns = {name: values[cut] for name, values in self.columns.items()}
        return replace(self, start_s=self.start_s + first * 86400, columns=columns)


@dataclass(frozen=True, kw_only=True)
class SkyOver:
    """The sun and the cloudless sky over n slots.

    `dark` (n): the sun is surely below the horizon all through. `up_share`: share of the slot with the sun up.
    `sun` (3, n): mean unit vector to it while up (east, north, up); `cos_zenith` is the last of the three. Clear-sky
    values are means over the slot; the limits are the most light that is physically possible (GHI, DHI: Long &
    Dutton, BSRN recommended quality checks V2.0, 2002) or that the cleanest air lets through (DNI: the beam of
    `ClearSky.cleanest_dni_w_m2`, at most 0.87 of that above the air).
    """

    dark: BoolArray
    up_share: FloatArray
    sun: FloatArray
    clear: Mapping[str, FloatArray]
    limit: Mapping[str, FloatArray]
    day_of_year: FloatArray
    pressure_pa: float

    @property
    def cos_zenith(self) -> FloatArray:
        """Mean cosine of the sun's zenith while it is up (n,)."""
        return np.asarray(self.sun[2])

    def cut(self, part: slice) -> SkyOver:
        return SkyOver(
            dark=self.dark[part],
            up_share=self.up_share[part],
            sun=self.sun[:, part],
            clear={name: values[part] for name, values in self.clear.items()},
            limit={name: values[part] for name, values in self.limit.items()},
            day_of_year=self.day_of_year[part],
            pressure_pa=self.pressure_pa,
        )


def slots_of(table: RawTable) -> tuple[Slots, tuple[Notice, ...]]:
    """The table's rows in their slots; of rows with one stamp the first counts."""
    step_s = 60.0 * (table.step_min or 60)
    phase_s = _phase(table.centre_s, step_s)
    index = np.round((table.centre_s - phase_s) / step_s - 0.5).astype(np.int64)
    found, first = np.unique(index, return_index=True)
    per_day = round(86400 / step_s)
    start = int(found[0] // per_day) * per_day
    days = int((found[-1] - start) // per_day) + 1
    if days > _LONGEST_DAYS:
        reason = f"spans {days} days from its earliest to its latest stamp."
        raise fault(f"{days} days", reason, "Correct the wrong stamp, or cut the file to the year you need.")
    for day in (start // per_day, start // per_day + days - 1):
        if not _FIRST_DAY <= day <= _LAST_DAY:
            remedy = f"Give days from {FIRST_YEAR} to {LAST_YEAR}."
            raise fault(str(np.datetime64(day, "D")), "lies in no year for which the sun's place is known.", remedy)
    columns = {}
    for name, values in table.columns.items():
        columns[name] = np.full(days * per_day, np.nan)
        # Nothing infinite is a reading.
        columns[name][found - start] = np.where(np.isfinite(values), values, np.nan)[first]
    slots = Slots(
        start_s=start * step_s,
        step_min=round(step_s / 60),
        phase_s=phase_s,
        air_delay_s=table.air_delay_s,
        instant=table.instant,
        offset_h=table.offset_h,
        columns=columns,
    )
    doubled = len(index) - len(found)
    if not doubled:
        return slots, ()
    again = np.zeros(slots.count, dtype=bool)
    again[np.flatnonzero(np.bincount(index - start, minlength=slots.count) > 1)] = True
    text = f"{doubled} rows repeat a time that the file already has; the first row of each time was kept."
    row = Row(
        what="rows of the same time", many=counted(doubled, "row"), when=slots.when(again), done="the first was kept"
    )
    return slots, (note(text, caution=True, row=row),)


def _phase(centre_s: FloatArray, step_s: float) -> float:
    """How far the rows' centres lie after the centres of an even grid from midnight: −step/2 … step/2."""
    angle = 2 * np.pi * (centre_s / step_s - 0.5)
    # The usual residual, taken around the circle so that rows on both sides of its seam do not cancel.
    centre = np.angle(np.exp(1j * angle[:200_000]).mean())
    around = np.angle(np.exp(1j * (angle - centre)))
    phase = float((centre + np.median(around)) / (2 * np.pi) * step_s)
    phase = (phase + step_s / 2) % step_s - step_s / 2
    # Stamps on the seam itself start their slot.
    return -step_s / 2 if abs(phase - step_s / 2) < 0.5 else float(round(phase))


def sky_over(slots: Slots, *, latitude_deg: float, longitude_deg: float, elevation_m: float) -> SkyOver:
    """Sun and clear sky over every slot, at the moments the file's light belongs to."""
    samples = 1 if slots.instant else max(1, slots.step_min // _SAMPLE_MIN)
    seconds = sample_seconds(slots, samples) + slots.phase_s
    times = slots.times(seconds)
    place = {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg, "elevation_m": elevation_m}
    sun = sun_at(times, **place)
    sky = clear_sky(times, sun, **place)
    slack = 0.0 if slots.instant else min(_SLACK_DEG, slots.step_min * 0.15)
    highest = sun.true_elevation_deg.reshape(-1, samples).max(axis=1) + slack
    up = sun.is_up.reshape(-1, samples)
    toward = np.where(up, sun.direction.reshape(3, -1, samples), 0.0)
    extra = sky.extra_dni_w_m2.reshape(-1, samples)[:, 0]
    height = np.sin(np.radians(np.clip(highest, 0, 90)))
    clear = {"ghi": sky.ghi_w_m2, "dni": sky.dni_w_m2, "dhi": sky.dhi_w_m2}
    return SkyOver(
        dark=highest < _DARK_BELOW_DEG,
        up_share=up.mean(axis=1),
        sun=toward.sum(axis=2) / np.maximum(up.sum(axis=1), 1),
        clear={name: values.reshape(-1, samples).mean(axis=1) for name, values in clear.items()},
        limit={
            "ghi": 1.5 * extra * height**1.2 + 100,
            "dhi": 0.95 * extra * height**1.2 + 50,
            "dni": np.minimum(_beam_limit(sky.cleanest_dni_w_m2, samples), _MOST_OF_EXTRA * extra),
        },
        day_of_year=np.asarray(times.day_of_year.to_numpy()[::samples], dtype=float),
        pressure_pa=float(atmosphere.alt2pres(elevation_m)),
    )


def _beam_limit(cleanest: FloatArray, samples: int) -> FloatArray:
    """The strongest clean-air beam in a slot, with room for the minutes between samples near the horizon."""
    return np.asarray(np.maximum(cleanest.reshape(-1, samples).max(axis=1), 400.0))


def sample_seconds(slots: Slots, samples: int) -> FloatArray:
    """`samples` evenly spread moments in every slot, flat, seconds of the local clock."""
    share = (np.arange(samples) + 0.5) / samples - 0.5
    return (slots.centres_s[:, None] + share * slots.step_min * 60).ravel()
