"""Faults of a log that cannot be true: each is told, and sound files are not accused."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import makers
import numpy as np
import pytest

from trackersim.errors import InputError
from trackersim.weather.formats import read_weather
from trackersim.weather.samples import SAMPLES, sample_path
from trackersim.weather.weather import Weather

# Columns of the bundled year.
GHI, DNI, DHI, AIR = 4, 5, 6, 7
Rows = np.ndarray


def damaged(folder: Path, damage: Callable[[Rows], None]) -> Weather:
    """The bundled year with its rows damaged, read."""
    lines = sample_path("typical-year").read_text().splitlines()
    cells = np.array([line.split(",") for line in lines[2:]], dtype=object)
    damage(cells)
    text = "\n".join([*lines[:2], *(",".join(row) for row in cells)]) + "\n"
    return makers.read(folder, text)


def times(column: int, factor: float) -> Callable[[Rows], None]:
    def damage(cells: Rows) -> None:
        cells[:, column] = [f"{float(value) * factor:.1f}" for value in cells[:, column]]

    return damage


def dark(first: int, days: int) -> Callable[[Rows], None]:
    def damage(cells: Rows) -> None:
        cells[first * 24 : (first + days) * 24, GHI : DHI + 1] = "0"

    return damage


@pytest.mark.parametrize(
    ("damage", "check", "level", "words"),
    [
        (times(DNI, 0.0), "closure", "danger", "Direct light reads nothing"),
        (times(DNI, 0.5), "closure", "danger", "direct light looks 0.50 times"),
        (times(DNI, 0.95), "closure", "caution", "direct light looks 0.95 times"),
        (times(DHI, 0.0), "closure", "danger", "Diffuse light reads nothing"),
        (times(AIR, -1.0), "air_season", "danger", "colder in the sunny quarter"),
        (times(AIR, 0.0), "stuck_air", "caution", "stays exactly the same"),
        (dark(160, 7), "dark_days", "caution", "7 days without light (2025-06-10 to 2025-06-16)"),
        (dark(151, 30), "dark_days", "danger", "30 days without light"),
    ],
)
def test_a_fault_is_told(
    tmp_path: Path, damage: Callable[[Rows], None], check: str, level: str, words: str
) -> None:
    weather = damaged(tmp_path, damage)
    assert weather.inspection
    assert check in {finding.check for finding in weather.inspection.findings}
    assert makers.said(weather, words).level == level


@pytest.mark.parametrize(
    ("path", "latitude", "longitude"),
    [
        *[(sample_path(name), makers.LATITUDE, makers.LONGITUDE) for name in SAMPLES],
        (makers.PVLIB_DATA / "703165TY.csv", 55.317, -160.517),
        (makers.PVLIB_DATA / "723170TYA.CSV", 36.1, -79.95),
        (makers.PVLIB_DATA / "12839.tm2", 25.8, -80.27),
    ],
)
def test_sound_files_are_not_accused(path: Path, latitude: float, longitude: float) -> None:
    weather = read_weather(path, year=2025, latitude_deg=latitude, longitude_deg=longitude)
    assert weather.inspection
    assert weather.inspection.findings == ()


@pytest.mark.parametrize("line", ["elevation = nan", "elevation = 12000", "utc_offset = 1e9", "longitude = nan"])
def test_a_head_that_no_place_has_is_refused(tmp_path: Path, line: str) -> None:
    with pytest.raises(InputError) as caught:
        makers.read(tmp_path, makers.log(keys=f"# {line}\n"))
    makers.refused(caught.value)


def test_decimal_commas_are_refused_by_the_line_of_the_file(tmp_path: Path) -> None:
    lines = makers.log().splitlines()
    lines[50] = lines[50].replace(".", ",")
    with pytest.raises(InputError, match="line 51 of the file"):
        makers.read(tmp_path, "\n".join(lines))
