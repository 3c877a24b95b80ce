"""`trackersim weather JOB`: fetch a typical year and the terrain horizon, and name them in the job file."""

from __future__ import annotations

import time
from collections.abc import MutableMapping
from pathlib import Path

import tomlkit

from trackersim.errors import InputError
from trackersim.job.files import editable, parse_job
from trackersim.job.place import Site
from trackersim.job.whole_files import write_whole
from trackersim.weather.pvgis import PVGIS_URL, fetch_horizon, fetch_typical_year

# Points lower than this are left out: a level horizon needs no list.
_LEVEL_DEG = 0.05


def adopt_weather(path: Path, *, url: str = "", cache_dir: Path | None = None, timeout_s: float = 60.0) -> list[str]:
    """Fetch for the place of the job at `path`, keep both in the cache, and write them into the job file.

    A horizon that the job has already, as measured on site, is kept. The file is replaced whole, with its comments,
    and only if the new text is a valid job and the year can be used. `timeout_s` is for both answers together.
    Returns what was done, in sentences; raises `InputError` and changes nothing if the server refuses, is slow, or
    answers nonsense.
    """
    began = time.monotonic()
    site = _site_of(path)
    url = url and url.rstrip("/") + "/"
    year = fetch_typical_year(site, url=url or PVGIS_URL, cache_dir=cache_dir, timeout_s=timeout_s)
    told = [f"Typical year for {site.latitude_deg:g}, {site.longitude_deg:g}: {year}"]
    points: tuple[tuple[float, float], ...] = ()
    document = editable(path)
    if document.get("horizon", {}).get("points"):
        told.append("The job's own horizon was kept.")
    else:
        left_s = max(timeout_s - (time.monotonic() - began), 1.0)
        points = tuple(fetch_horizon(site, url=url or PVGIS_URL, cache_dir=cache_dir, timeout_s=left_s))
        told.append(f"Terrain horizon: {len(points)} points, highest {max(e for _, e in points):.1f}°.")
    write_whole(path, _edited(document, path, year, points).encode())
    return [*told, f"{path} now names them. Trees and near buildings are not in a terrain horizon: add them yourself."]


def _site_of(path: Path) -> Site:
    """The site of the job at `path`. Its weather file need not be there yet: that is what is being fetched."""
    document = editable(path)
    _name_weather(document, "sample:typical-year")
    return parse_job(tomlkit.dumps(document), folder=path.resolve().parent).site


def _edited(document: tomlkit.TOMLDocument, path: Path, year: Path, points: tuple[tuple[float, float], ...]) -> str:
    """The job file's text with the weather file, and the horizon if any, put in."""
    _name_weather(document, str(year))
    if any(elevation > _LEVEL_DEG for _, elevation in points):
        horizon = document.setdefault("horizon", tomlkit.table())
        horizon["points"] = [[round(bearing, 1), round(elevation, 1)] for bearing, elevation in points]
        horizon["bearing_from"] = "true"
    text = tomlkit.dumps(document)
    parse_job(text, folder=path.resolve().parent)
    return text


def _name_weather(document: tomlkit.TOMLDocument, name: str) -> None:
    weather = document.setdefault("weather", tomlkit.table())
    if not isinstance(weather, MutableMapping):
        raise InputError.of("weather", str(weather), "is no section.", "Write [weather] on a line of its own.")
    weather["file"] = name
    weather.pop("clear_sky", None)
