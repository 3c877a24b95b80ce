"""Typical years and far horizons from PVGIS, the European Commission's open service, kept in a cache folder.

Nothing here is needed to run the program: every failure is an `InputError` that names the way without a network.
"""

from __future__ import annotations

import hashlib
import json
import os
import urllib.parse
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any

from trackersim.errors import InputError
from trackersim.job.place import Site
from trackersim.job.plain_files import read_bytes
from trackersim.job.whole_files import growing_file
from trackersim.weather.fetch import RefusedError, answer_of
from trackersim.weather.formats import read_weather
from trackersim.weather.pvgis_table import HOURS
from trackersim.weather.quality import WITHOUT_FILE

PVGIS_URL = "https://re.jrc.ec.europa.eu/api/v5_3/"
_LARGEST_BYTES = 20_000_000
_NEAR_DEG = 0.1  # PVGIS names the place as it was asked for, rounded
_ANY_YEAR = 2025  # a typical year is put on the job's own when it is used
_TMY_COLUMNS = ("time(UTC)", "T2m", "G(h)", "Gb(n)", "Gd(h)", "WS10m")
_NO_WEATHER = f"Try again later, or {WITHOUT_FILE}."
_NO_HORIZON = "Try again later, or measure the horizon with compass and clinometer and write it into the job."


def default_cache_dir() -> Path:
    """`$XDG_CACHE_HOME/trackersim`, or `~/.cache/trackersim`."""
    base = os.environ.get("XDG_CACHE_HOME", "")
    return (Path(base) if Path(base).is_absolute() else Path.home() / ".cache") / "trackersim"


def fetch_typical_year(
    site: Site, *, url: str = PVGIS_URL, cache_dir: Path | None = None, timeout_s: float = 30.0
) -> Path:
    """The path of PVGIS's typical year for the site, as JSON that `read_weather` reads, over a level horizon.

    Asks `url` + "tmy" once and keeps the answer, byte for byte, in `cache_dir`; a second call for the same place
    and address needs no network. `timeout_s` bounds the whole request. The answer counts only if it is complete
    (8760 hours with every column) and `read_weather` can use it, and it is moved into place in one step, so the cache
    never holds part of a file. PVGIS covers Europe, Africa, most of Asia and the Americas. Raises `InputError`
    (field "weather.file").
    """
    # Unless told otherwise PVGIS takes away the sun behind the terrain (pvlib's `get_pvgis_tmy`), as the job's horizon
    # does once more.
    query = {**_place(site), "usehorizon": "0"}
    path = _cache_path("tmy-open", site, url, cache_dir)
    check = partial(_wrong_with_year, site)
    _kept(path, check, url + "tmy", query, timeout_s, field="weather.file", remedy=_NO_WEATHER)
    return path


def fetch_horizon(
    site: Site, *, url: str = PVGIS_URL, cache_dir: Path | None = None, timeout_s: float = 30.0
) -> tuple[tuple[float, float], ...]:
    """The far horizon at the site: pairs of true compass bearing (0 ≤ bearing < 360) and elevation in degrees.

    PVGIS counts azimuth from south, west positive; bearing = azimuth + 180 (as pvlib's `get_pvgis_horizon` does).
    It knows hills from a terrain model of about 90 m, no trees and no buildings. Cached like `fetch_typical_year`.
    Raises `InputError` (field "horizon.points").
    """
    path, asked = _cache_path("horizon", site, url, cache_dir), _place(site)
    answer = _kept(
        path, _wrong_with_horizon, url + "printhorizon", asked, timeout_s, field="horizon.points", remedy=_NO_HORIZON
    )
    points = {(float(p["A"]) + 180) % 360: float(p["H_hor"]) for p in answer["outputs"]["horizon_profile"]}
    return tuple(sorted(points.items()))


def _place(site: Site) -> dict[str, str]:
    return {"lat": f"{site.latitude_deg:.4f}", "lon": f"{site.longitude_deg:.4f}", "outputformat": "json"}


def _cache_path(kind: str, site: Site, url: str, cache_dir: Path | None) -> Path:
    # The address belongs to the name: an answer of another server must not stand in for this one.
    server = hashlib.sha256(url.encode()).hexdigest()[:8]
    folder = default_cache_dir() if cache_dir is None else cache_dir
    return folder / f"pvgis-{kind}_{site.latitude_deg:.4f}_{site.longitude_deg:.4f}_{server}.json"


def _kept(
    path: Path,
    check: Callable[[Path], str],
    url: str,
    query: dict[str, str],
    timeout_s: float,
    *,
    field: str,
    remedy: str,
) -> Any:
    """The cached answer if it is whole, else a new one, checked and stored. `check` returns what is wrong, or ""."""
    with suppress(OSError, ValueError):
        if not check(path):
            return _decoded(read_bytes(path, _LARGEST_BYTES))
    try:
        content = answer_of(f"{url}?{urllib.parse.urlencode(query)}", timeout_s=timeout_s, most_bytes=_LARGEST_BYTES)
        answer = _decoded(content)
    except RefusedError as error:
        raise InputError.of(field, url, str(error), remedy) from None
    except ValueError:
        raise InputError.of(field, url, "answered something that is not PVGIS's format.", remedy) from None
    try:
        with growing_file(path.parent, path.name) as made:
            made.write_bytes(content)
            wrong = check(made)
            if wrong:
                raise InputError.of(field, url, f"answered in PVGIS's format, but {wrong}.", remedy)
    except OSError as error:
        where = "Make the folder writable or set XDG_CACHE_HOME to one that is."
        raise InputError.of(field, str(path), f"cannot be written ({error.strerror}).", where) from None
    return answer


def _decoded(content: bytes) -> Any:
    """An answer's JSON; `ValueError` for what is none."""
    try:
        return json.loads(content)
    except RecursionError:
        raise ValueError from None


def _wrong_with_year(site: Site, path: Path) -> str:
    """What keeps a typical year in a file from being the site's weather, "" for nothing; `run`'s own reader decides."""
    answer = _decoded(read_bytes(path, _LARGEST_BYTES))
    try:
        place = answer["inputs"]["location"]
        latitude, longitude = float(place["latitude"]), float(place["longitude"])
        rows = answer["outputs"]["tmy_hourly"]
        months = {str(row["time(UTC)"])[4:6] for row in rows}
        lacking = [name for name in _TMY_COLUMNS if not all(name in row for row in rows)]
    except (KeyError, TypeError, ValueError, OverflowError, AttributeError):
        return "the typical year is not in it"
    if len(rows) != HOURS or len(months) != 12:
        return f"with {len(rows)} hours instead of {HOURS}"
    if lacking:
        return f"the columns {', '.join(lacking)} are not in every row"
    turned = abs((longitude - site.longitude_deg + 180) % 360 - 180)
    if not (abs(latitude - site.latitude_deg) <= _NEAR_DEG and turned <= _NEAR_DEG):
        return "its year is for another place than was asked for"
    try:
        where = {"latitude_deg": site.latitude_deg, "longitude_deg": site.longitude_deg}
        read_weather(path, year=_ANY_YEAR, **where, elevation_m=site.elevation_m)
    except InputError as error:
        told = error.faults[0]
        return f"its year cannot be used: {str(told.value)[:60]} {told.reason.rstrip('.')}"
    return ""


def _wrong_with_horizon(path: Path) -> str:
    """What a horizon lacks, "" for nothing."""
    answer = _decoded(read_bytes(path, _LARGEST_BYTES))
    try:
        points = [(float(point["A"]), float(point["H_hor"])) for point in answer["outputs"]["horizon_profile"]]
    except (KeyError, TypeError, ValueError, OverflowError):
        return "the horizon is not in it"
    if len(points) < 8 or max(a for a, _ in points) - min(a for a, _ in points) < 300:
        return "the horizon does not go all the way round"
    if not all(-200 <= azimuth <= 200 and 0 <= height < 90 for azimuth, height in points):
        return "the horizon has impossible angles"
    return ""
