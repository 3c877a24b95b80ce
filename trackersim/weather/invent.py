"""Makes the two invented sample days. Nothing in them was measured.

`python -m trackersim.weather.invent FOLDER` writes both files; the result is always the same.
"""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path

import numpy as np
import pandas as pd

from trackersim.arrays import FloatArray
from trackersim.job.whole_files import write_whole
from trackersim.sky.sun import sun_at
from trackersim.weather.clearsky import clear_sky

# The place and clock of the typical-year sample, so that all three serve one job.
_PLACE = {"latitude_deg": 36.10, "longitude_deg": -79.95, "elevation_m": 273.0}
_OFFSET_H = -5
_MINUTES = 1440


def clear_spring_day() -> str:
    """A cloudless 15 April with a cool morning and a light wind."""
    random = np.random.default_rng(415)
    day = dt.date(2025, 4, 15)
    ghi, dni, dhi = _clear(day)
    return _text(day, "clear spring day", ghi, dni, dhi, _air(3.0, 19.0), _wind(random, 2.0))


def broken_cloud_day() -> str:
    """A 20 May of fair-weather clouds: clear at dawn and dusk, many passages between, with brighter cloud edges."""
    random = np.random.default_rng(520)
    day = dt.date(2025, 5, 20)
    ghi, dni, dhi = _clear(day)
    cover, edge = _clouds(random)
    beam_share = 1 - 0.97 * cover
    horizontal = ghi - dhi
    # A cloud near the sun adds its bright side to the sky's light; under the cloud the sky is greyer and brighter.
    diffuse = dhi * (1 + 0.8 * cover) + 0.22 * ghi * edge
    return _text(
        day,
        "broken cloud day",
        horizontal * beam_share + diffuse,
        dni * beam_share,
        diffuse,
        _air(11.0, 24.0),
        _wind(random, 3.0),
    )


def _clear(day: dt.date) -> tuple[FloatArray, FloatArray, FloatArray]:
    zone = dt.timezone(dt.timedelta(hours=_OFFSET_H))
    times = pd.date_range(pd.Timestamp(day, tz=zone) + pd.Timedelta(seconds=30), periods=_MINUTES, freq="min")
    sky = clear_sky(times, sun_at(times, **_PLACE), **_PLACE)
    return sky.ghi_w_m2, sky.dni_w_m2, sky.dhi_w_m2


def _clouds(random: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """Cover of the sun (0…1) and nearness of a cloud's edge (0…1), at every minute.

    Clouds of 2–12 min with gaps of 2–14 min between 9:00 and 17:00, each of its own thickness, with edges of a
    minute; the brightening reaches about two minutes out of a cloud.
    """
    minute = np.arange(_MINUTES) + 0.5
    cover, near = np.zeros(_MINUTES), np.zeros(_MINUTES)
    start = 9 * 60 + 12 * random.random()
    while start < 17 * 60:
        length = 2 + 10 * random.random() ** 1.5
        thickness = 0.75 + 0.25 * random.random()
        outside = np.maximum(start - minute, minute - start - length)
        cover = np.maximum(cover, thickness * np.clip(0.5 - outside, 0, 1))
        near = np.maximum(near, np.where(outside > 0, np.exp(-outside / 2), 0))
        start += length + 2 + 12 * random.random()
    return cover, near * (1 - cover)


def _air(low_c: float, high_c: float) -> FloatArray:
    """Coldest about 5:00, warmest about 15:00."""
    hour = (np.arange(_MINUTES) + 0.5) / 60
    rise = (1 - np.cos(np.pi * np.clip((hour - 5) / 10, 0, 1))) / 2
    fall = (1 + np.cos(np.pi * ((hour - 15) % 24) / 14)) / 2
    return np.asarray(low_c + (high_c - low_c) * np.where((hour >= 5) & (hour < 15), rise, fall))


def _wind(random: np.random.Generator, mean_m_s: float) -> FloatArray:
    """Wind that wanders about its mean with a memory of ten minutes and rises in the afternoon."""
    hour = (np.arange(_MINUTES) + 0.5) / 60
    noise = random.random(_MINUTES) - 0.5
    memory = np.exp(-np.arange(60) / 10)
    wander = np.convolve(noise, memory)[:_MINUTES] / np.sqrt((memory**2).sum()) * np.sqrt(12)
    base = mean_m_s * (0.7 + 0.6 * np.exp(-(((hour - 14) / 4) ** 2)))
    return np.asarray(np.clip(base * (1 + 0.25 * wander), 0.1, None))


def _text(
    day: dt.date, name: str, ghi: FloatArray, dni: FloatArray, dhi: FloatArray, air: FloatArray, wind: FloatArray
) -> str:
    head = [
        f"# {name}: invented, not measured (made by trackersim/weather/invent.py)",
        "# label = interval ending",
        f"# utc_offset = {_OFFSET_H}",
        f"# latitude = {_PLACE['latitude_deg']:.2f}",
        f"# longitude = {_PLACE['longitude_deg']:.2f}",
        f"# elevation = {_PLACE['elevation_m']:.0f}",
        "time,ghi,dni,dhi,air_c,wind_m_s",
    ]
    ends = [dt.datetime.combine(day, dt.time()) + dt.timedelta(minutes=k + 1) for k in range(_MINUTES)]
    rows = zip(ends, ghi, dni, dhi, air, wind, strict=True)
    body = [f"{end:%Y-%m-%d %H:%M},{g:.1f},{b:.1f},{d:.1f},{t:.2f},{v:.2f}" for end, g, b, d, t, v in rows]
    return "\n".join([*head, *body]) + "\n"


def main(folder: Path) -> None:
    """Write both days into `folder`."""
    write_whole(folder / "clear-spring-day.csv", clear_spring_day().encode())
    write_whole(folder / "broken-cloud-day.csv", broken_cloud_day().encode())


if __name__ == "__main__":
    main(Path(sys.argv[1]))
