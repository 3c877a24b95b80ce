"""One door for every weather file: find the format by content, read, check the place, clean."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from trackersim.job.plain_files import TooLargeError, read_bytes
from trackersim.weather import clean, pvgis_table, tm2, typical
from trackersim.weather import csv_table as plain
from trackersim.weather.raw import RawTable, fault, with_leap_day
from trackersim.weather.shape import check_length
from trackersim.weather.weather import Weather

Reader = Callable[[str, Path, int], RawTable]

_LARGEST_BYTES = 200_000_000
_KNOWN = "TMY3, TM2, EPW, PVGIS TMY (CSV or JSON) and plain CSV with named columns"
_OTHER = 'Choose another file, or use file = "sample:typical-year" or clear_sky = true for a first answer.'


def read_weather(
    path: Path, *, year: int, latitude_deg: float, longitude_deg: float, elevation_m: float | None = None
) -> Weather:
    """The weather in `path` at its own step, cleaned, at interval centres of one fixed UTC offset.

    The format is found by content: TMY3, TM2, EPW, PVGIS TMY as CSV or JSON (`typical` tells what their stamps
    mean), or the plain CSV described in `plain`. `year` (1950–2100) is the calendar year put on typical years; a
    measured log keeps its dates. `latitude_deg`, `longitude_deg` and `elevation_m` (None: not known) are the
    site's: they stand in for a place the file does not give, and are held against the one it gives. What was
    filled, clipped or left out is told in `Weather.notices`. Raises `InputError` for a file that cannot be used, in
    the words of a technician.
    """
    where = {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg}
    return raw_of(path, year=year).cleaned(**where, elevation_m=elevation_m)


@dataclass(frozen=True, kw_only=True)
class RawFile:
    """What a weather file holds, whatever the site: its rows as they stand, its name and its SHA-256."""

    table: RawTable
    name: str
    sha256: str

    def cleaned(self, *, latitude_deg: float, longitude_deg: float, elevation_m: float | None) -> Weather:
        """The weather in it for a site. Raises `InputError` for what cannot be used there."""
        return clean.cleaned(
            self.table,
            site_latitude_deg=latitude_deg,
            site_longitude_deg=longitude_deg,
            site_elevation_m=elevation_m,
            name=self.name,
            sha256=self.sha256,
        )


def raw_of(path: Path, *, year: int) -> RawFile:
    """The rows in `path` before they are held against a site. Raises `InputError` for a file that cannot be read."""
    content = _content(path)
    text = _text(content, path)
    table = with_leap_day(_reader_of(text, path)(text, path, year), year=year)
    return RawFile(table=table, name=path.name, sha256=hashlib.sha256(content).hexdigest())


def _content(path: Path) -> bytes:
    try:
        content = read_bytes(path, _LARGEST_BYTES)
    except TooLargeError:
        reason = f"has over {_LARGEST_BYTES // 1_000_000} MB, more than any weather file of minutes for a year."
        raise fault(str(path), reason, "Cut it to the days you need.") from None
    except IsADirectoryError:
        raise fault(str(path), "is a folder.", "Name a weather file inside it.") from None
    except OSError as error:
        reason = "cannot be opened" + (f" ({error.strerror})." if error.strerror else ".")
        raise fault(str(path), reason, f"Check the path. {_OTHER}") from None
    except ValueError:
        raise fault(str(path), "is no file name.", "Check the path.") from None
    if not content.strip():
        raise fault(str(path), "is empty.", _OTHER)
    return content


def _text(content: bytes, path: Path) -> str:
    """The file as text with plain line ends; `InputError` for anything that is not text."""
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        text = content.decode("utf-16", errors="replace")
    elif b"\x00" in content[:100_000]:
        raise fault(str(path), "is not a text file.", f"Known formats: {_KNOWN}. {_OTHER}")
    else:
        try:
            text = content.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = content.decode("latin-1")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _reader_of(text: str, path: Path) -> Reader:
    """The reader whose format's marks the text bears."""
    first, _, rest = text.lstrip("\n").partition("\n")
    second = rest.partition("\n")[0]
    if not first.lstrip().startswith("{"):  # PVGIS gives JSON in one line
        check_length(text)
    if first.upper().startswith("LOCATION,"):
        return typical.read_epw
    if "Date (MM/DD/YYYY)" in second:
        return typical.read_tmy3
    if first.startswith("Latitude (decimal degrees)"):
        if "T2m" in text[:3000] and "month,year" in text[:3000]:
            return pvgis_table.read_pvgis_csv
        raise fault(str(path), "is a PVGIS file, but not a typical year.", "Download PVGIS's TMY instead.")
    if first.lstrip().startswith("{"):
        if pvgis_table.is_pvgis_tmy_json(text):
            return pvgis_table.read_pvgis_json
        raise fault(str(path), "is a JSON file, but not a whole PVGIS typical year.", f"Download it again. {_OTHER}")
    if tm2.HEAD.match(first) and len(second) >= tm2.LEAST_LETTERS:
        return tm2.read_tm2
    if plain.head_of(text) is not None:
        return plain.read_plain
    shown = "".join(letter if letter.isprintable() else "�" for letter in " ".join(first.split())[:60])
    reason = f'is in no format this program knows (it begins with "{shown}").'
    raise fault(str(path), reason, f"Known formats: {_KNOWN}. {_OTHER}")
