"""The weather a job asks for, at its native step."""

from __future__ import annotations

from pathlib import Path

from trackersim.errors import InputError
from trackersim.job.folders import path_in
from trackersim.job.model import Job
from trackersim.weather.clear import clear_weather
from trackersim.weather.readers import read_weather
from trackersim.weather.samples import PREFIX, sample_path
from trackersim.weather.series import Weather


def native_weather(job: Job) -> Weather:
    """The weather of `job.weather`: the clear sky, a bundled sample ("sample:NAME") or a file.

    A relative path starts at `job.folder`; "~" is the home folder. Raises `InputError` as `read_weather` does.
    """
    choice, site = job.weather, job.site
    if choice.clear_sky:
        return clear_weather(site, choice)
    return read_weather(
        _path(choice.file, job.folder),
        year=choice.year,
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
    )


def _path(file: str, folder: Path) -> Path:
    if file.startswith(PREFIX):
        return sample_path(file)
    path = path_in(folder, file)
    if path is None:
        remedy = "Bring the file itself; a job can name no other here."
        raise InputError.of("weather.file", file, "is no file that was brought here.", remedy)
    return path
