"""Typical years and far horizons from PVGIS, the European Commission's open service, kept in a cache folder.

Nothing here is needed to run the program: every failure is an `InputError` that names the way without a network.
"""

from __future__ import annotations

import hashlib
import http.client
import json
import os
import tempfile
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

from trackersim.errors import InputError
from trackersim.job.place import Site

PVGIS_URL = "https://re.jrc.ec.europa.eu/api/v5_3/"
_LARGEST_BYTES = 20_000_000
_HOURS = 8760
_TMY_COLUMNS = ("time(UTC)", "T2m", "G(h)", "Gb(n)", "Gd(h)", "WS10m")
_NO_WEATHER = 'Try again later, or use file = "sample:typical-year" or clear_sky = true.'
_NO_HORIZON = "Try again later, or measure the horizon with compass and clinometer and write it into the job."


def default_cache_dir() -> Path:
    """`$XDG_CACHE_HOME/trackersim`, or `~/.cache/trackersim`."""
    base = os.environ.get("XDG_CACHE_HOME", "")
    return (Path(base) if Path(base).is_absolute() else Path.home() / ".cache") / "trackersim"


def fetch_typical_year(
    site: Site, *, url: str = PVGIS_URL, cache_dir: Path | None = None, timeout_s: float = 30.0
) -> Path:
    """The path of PVGIS's typical year for the site, as JSON that `read_weather` reads.

    Asks `url` + "tmy" once and keeps the answer, byte for byte, in `cache_dir`; a second call for the same place
    and address needs no network. `timeout_s` bounds the whole request. The answer counts only if it is complete
    (8760 hours with every column), and it is moved into place in one step, so the cache never holds part of a
    file. PVGIS covers Europe, Africa, most of Asia and the Americas. Raises `InputError` (field "weather.file").
    """
    place = {"lat": f"{site.latitude_deg:.4f}", "lon": f"{site.longitude_deg:.4f}", "outputformat": "json"}
    path = _cache_path("tmy", site, url, cache_dir)
    _kept(path, _complete_year, url + "tmy", place, timeout_s, field="weather.file", remedy=_NO_WEATHER)
    return path


def fetch_horizon(
    site: Site, *, url: str = PVGIS_URL, cache_dir: Path | None = None, timeout_s: float = 30.0
) -> tuple[tuple[float, float], ...]:
    """The far horizon at the site: pairs of true compass bearing (0 ≤ bearing < 360) and elevation in degrees.

    PVGIS counts azimuth from south, west positive; bearing = azimuth + 180 (as pvlib's `get_pvgis_horizon` does).
    It knows hills from a terrain model of about 90 m, no trees and no buildings. Cached like `fetch_typical_year`.
    Raises `InputError` (field "horizon.points").
    """
    place = {"lat": f"{site.latitude_deg:.4f}", "lon": f"{site.longitude_deg:.4f}", "outputformat": "json"}
    path = _cache_path("horizon", site, url, cache_dir)
    answer = _kept(
        path, _complete_horizon, url + "printhorizon", place, timeout_s, field="horizon.points", remedy=_NO_HORIZON
    )
    points = {(float(p["A"]) + 180) % 360: float(p["H_hor"]) for p in answer["outputs"]["horizon_profile"]}
    return tuple(sorted(points.items()))


def _cache_path(kind: str, site: Site, url: str, cache_dir: Path | None) -> Path:
    # The address belongs to the name: an answer of another server must not stand in for this one.
    server = hashlib.sha256(url.encode()).hexdigest()[:8]
    folder = default_cache_dir() if cache_dir is None else cache_dir
    return folder / f"pvgis-{kind}_{site.latitude_deg:.4f}_{site.longitude_deg:.4f}_{server}.json"


def _kept(
    path: Path,
    check: Callable[[Any], str],
    url: str,
    query: dict[str, str],
    timeout_s: float,
    *,
    field: str,
    remedy: str,
) -> Any:
    """The cached answer if it is whole, else a new one, checked and stored. `check` returns what is wrong, or ""."""
    answer = _cached(path)
    if answer is not None and not check(answer):
        return answer
    try:
        content = _answer(f"{url}?{urllib.parse.urlencode(query)}", timeout_s)
        answer = json.loads(content)
        wrong = check(answer)
    except _RefusedError as error:
        raise InputError.of(field, url, str(error), remedy) from None
    except ValueError:
        raise InputError.of(field, url, "answered something that is not PVGIS's format.", remedy) from None
    if wrong:
        raise InputError.of(field, url, f"answered in PVGIS's format, but {wrong}.", remedy)
    try:
        _store(path, content)
    except OSError as error:
        where = "Make the folder writable or set XDG_CACHE_HOME to one that is."
        raise InputError.of(field, str(path), f"cannot be written ({error.strerror}).", where) from None
    return answer


class _RefusedError(Exception):
    """The server did not give a whole answer; the text says why."""


def _answer(url: str, timeout_s: float) -> bytes:
    """The body of the answer, whole and within `timeout_s`."""
    if urllib.parse.urlsplit(url).scheme not in ("http", "https"):
        raise _RefusedError("is no http address.")
    deadline = time.monotonic() + timeout_s
    parts: list[bytes] = []
    size = 0
    try:
        with urllib.request.urlopen(url, timeout=timeout_s) as response:
            # In pieces, because a socket's timeout starts again with every byte of a server that drips.
            while part := response.read1(65536):
                parts.append(part)
                size += len(part)
                if size > _LARGEST_BYTES:
                    raise _RefusedError("answered far more than a year of hours.")
                if time.monotonic() > deadline:
                    raise TimeoutError
            expected = response.headers.get("Content-Length")
    except urllib.error.HTTPError as error:
        raise _RefusedError(f"refused (HTTP {error.code}{_message(error)}).") from None
    except TimeoutError:
        raise _RefusedError(f"did not answer within {timeout_s:g} s.") from None
    except (OSError, http.client.HTTPException) as error:
        if isinstance(getattr(error, "reason", None), TimeoutError):
            raise _RefusedError(f"did not answer within {timeout_s:g} s.") from None
        raise _RefusedError(f"could not be reached ({getattr(error, 'reason', None) or error!r}).") from None
    if expected is not None and expected.isdigit() and size < int(expected):
        raise _RefusedError("broke off in the middle of its answer.")
    return b"".join(parts)


def _message(error: urllib.error.HTTPError) -> str:
    """PVGIS's own words in a refusal, such as a place at sea."""
    try:
        answer = json.loads(error.read(10_000))
    except (ValueError, OSError, http.client.HTTPException):
        return ""
    text = answer.get("message") if isinstance(answer, dict) else None
    return f": {text[:200]}" if isinstance(text, str) else ""


def _cached(path: Path) -> Any:
    try:
        return json.loads(path.read_bytes())
    except (OSError, ValueError):
        return None


def _store(path: Path, content: bytes) -> None:
    """Write beside the target, then move: a reader sees the old file or the whole new one."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=path.name, suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _complete_year(answer: Any) -> str:
    """What a typical year lacks, "" for nothing."""
    try:
        place = answer["inputs"]["location"]
        float(place["latitude"]), float(place["longitude"])
        rows = answer["outputs"]["tmy_hourly"]
        months = {str(row["time(UTC)"])[4:6] for row in rows}
        lacking = [name for name in _TMY_COLUMNS if not all(name in row for row in rows)]
        if "months_selected" not in answer["outputs"] or "inputs" not in answer["meta"]:
            return "its description is missing"
    except (KeyError, TypeError, ValueError):
        return "the typical year is not in it"
    if len(rows) != _HOURS or len(months) != 12:
        return f"with {len(rows)} hours instead of {_HOURS}"
    return f"the columns {', '.join(lacking)} are not in every row" if lacking else ""


def _complete_horizon(answer: Any) -> str:
    """What a horizon lacks, "" for nothing."""
    try:
        points = [(float(point["A"]), float(point["H_hor"])) for point in answer["outputs"]["horizon_profile"]]
    except (KeyError, TypeError, ValueError):
        return "the horizon is not in it"
    if len(points) < 8 or max(a for a, _ in points) - min(a for a, _ in points) < 300:
        return "the horizon does not go all the way round"
    if not all(-200 <= azimuth <= 200 and 0 <= height < 90 for azimuth, height in points):
        return "the horizon has impossible angles"
    return ""
