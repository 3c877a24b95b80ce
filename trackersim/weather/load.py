"""The weather a job asks for, at its native step."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np

from trackersim.errors import InputError
from trackersim.job.folders import path_in
from trackersim.job.model import Job
from trackersim.job.place import Site, WeatherChoice
from trackersim.weather.clear import clear_weather
from trackersim.weather.formats import RawFile, raw_of
from trackersim.weather.samples import PREFIX, sample_path
from trackersim.weather.weather import Weather

# One answer asks for its weather several times (the scene, the days observed, the usual air), and reading a year takes
# longer than simulating a day of it. Two are kept, some 30 MB each when they hold every minute of a year.
_KEPT = 2
Stamp = tuple[int, int, int]


def native_weather(job: Job) -> Weather:
    """The weather of `job.weather`: the clear sky, a bundled sample ("sample:NAME") or a file.

    A relative path starts at `job.folder`; "~" is the home folder. The arrays are shared and cannot be written to. A
    file that has changed is read again. Raises `InputError` as `read_weather` does.
    """
    choice, site = job.weather, job.site
    if choice.clear_sky:
        return _clear(site.model_copy(update={"name": ""}), choice)  # neighbours share their sky
    path = _path(choice.file, job.folder)
    return _read(path, _stamp(path), choice.year, site.latitude_deg, site.longitude_deg, site.elevation_m)


def height_m(job: Job) -> float:
    """The site's height above the sea [m]: as the job gives it, else as its weather file does, else sea level."""
    given = job.site.elevation_m
    if given is not None or job.weather.clear_sky:
        return given or 0.0
    try:
        return native_weather(job).elevation_m or 0.0
    except InputError:  # the scene says what is wrong with the file, where it is the file that is simulated
        return 0.0


def where_is(job: Job) -> dict[str, float]:
    """Latitude, longitude and height of the job's site, as the sun and the clear sky take them."""
    site = job.site
    return {"latitude_deg": site.latitude_deg, "longitude_deg": site.longitude_deg, "elevation_m": height_m(job)}


@lru_cache(maxsize=_KEPT)
def _clear(site: Site, choice: WeatherChoice) -> Weather:
    return _sealed(clear_weather(site, choice))


@lru_cache(maxsize=_KEPT)
def _read(
    path: Path, stamp: Stamp | None, year: int, latitude_deg: float, longitude_deg: float, elevation_m: float | None
) -> Weather:
    where = {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg}
    return _sealed(_raw(path, stamp, year).cleaned(**where, elevation_m=elevation_m))


@lru_cache(maxsize=_KEPT)
def _raw(path: Path, stamp: Stamp | None, year: int) -> RawFile:
    """The same for every site, so that many sites with one file read it once; nobody may write into it.

    `stamp` only tells a changed file from the one read before.
    """
    raw = raw_of(path, year=year)
    for values in (raw.table.centre_s, *raw.table.columns.values()):
        values.setflags(write=False)
    return raw


def _stamp(path: Path) -> Stamp | None:
    try:
        stat = path.stat()
    except (OSError, ValueError):  # `read_weather` says what is wrong with it
        return None
    return stat.st_ino, stat.st_size, stat.st_mtime_ns


def _sealed(weather: Weather) -> Weather:
    for values in vars(weather).values():
        if isinstance(values, np.ndarray):
            values.setflags(write=False)
    return weather


def _path(file: str, folder: Path) -> Path:
    if file.startswith(PREFIX):
        return sample_path(file)
    path = path_in(folder, file)
    if path is None:
        remedy = "Bring the file itself; a job can name no other here."
        raise InputError.of("weather.file", file, "is no file that was brought here.", remedy)
    return path
