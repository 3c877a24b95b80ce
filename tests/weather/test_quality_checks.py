"""Faults of a log that cannot be true: each is told, and sound files are not accused."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import makers
import numpy as np
import pytest
import skies

from trackersim.errors import InputError
from trackersim.weather.formats import read_weather
from trackersim.weather.samples import SAMPLES, sample_path
from trackersim.weather.weather import Weather

# Columns of the bundled year.
GHI, DNI, DHI, AIR, WIND = 4, 5, 6, 7, 12
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


def air_and_wind_exchanged(cells: Rows) -> None:
    """Once silent: no value is impossible by itself."""
    warm = [f"{abs(float(value)) + 8:.1f}" for value in cells[:, AIR]]
    cells[:, AIR], cells[:, WIND] = cells[:, WIND].copy(), warm


def scaled(factor: float) -> Callable[[Rows], None]:
    def damage(cells: Rows) -> None:
        for column in (GHI, DNI, DHI):
            times(column, factor)(cells)

    return damage


def dark(first: int, days: int) -> Callable[[Rows], None]:
    def damage(cells: Rows) -> None:
        cells[first * 24 : (first + days) * 24, GHI : DHI + 1] = "0"

    return damage


def june_days(factor: float, *columns: int) -> Callable[[Rows], None]:
    """Three days of June, 10 to 12, with their light multiplied."""

    def damage(cells: Rows) -> None:
        for column in columns:
            times(column, factor)(cells[160 * 24 : 163 * 24])

    return damage


def a_sensor_that_fades(cells: Rows) -> None:
    """To three quarters over the year: the last 60 days have 0.771 / 0.979 of the first 60, 21 % less."""
    for column in (GHI, DNI, DHI):
        cells[:, column] = [f"{float(value) * left:.1f}" for value, left in zip(
            cells[:, column], np.linspace(1.0, 0.75, len(cells)), strict=True)]  # fmt: skip


@pytest.mark.parametrize(
    ("damage", "check", "level", "words"),
    [
        (times(DNI, 0.0), "closure", "danger", "Direct light reads nothing"),
        (times(DNI, 0.5), "closure", "danger", "direct light looks 0.50 times"),
        (scaled(0.7), "envelope", "caution", "70 % of the clear sky"),
        (scaled(0.88), "envelope", "note", "88 % of the clear sky"),
        (scaled(1.3), "envelope", "caution", "of the clear sky"),
        (times(DNI, 0.95), "closure", "caution", "direct light looks 0.95 times"),
        (times(DHI, 0.0), "closure", "danger", "Diffuse light reads nothing"),
        (times(AIR, -1.0), "air_season", "danger", "colder in the sunny quarter"),
        (air_and_wind_exchanged, "gale", "danger", "a gale that never rests"),
        (times(AIR, 0.0), "stuck_air", "caution", "stays exactly the same"),
        (dark(160, 7), "dark_days", "caution", "7 days without light (2025-06-10 to 2025-06-16)"),
        (dark(151, 30), "dark_days", "danger", "30 days without light"),
        (june_days(0.035, GHI, DNI, DHI), "dark_days", "caution", "3 days without light or far darker than any near"),
        (june_days(0.0, GHI), "closure", "caution", "Global light reads nothing"),
        (a_sensor_that_fades, "drift", "caution", "have 21 % less light than at its start"),
        (times(WIND, 0.0), "calm", "caution", "the anemometer did not turn"),
    ],
)
def test_a_fault_is_told(tmp_path: Path, damage: Callable[[Rows], None], check: str, level: str, words: str) -> None:
    weather = damaged(tmp_path, damage)
    assert weather.inspection
    assert check in {finding.check for finding in weather.inspection.findings}
    assert makers.said(weather, words).level == level


@pytest.mark.parametrize(("offset_h", "told"), [(-2.0, ["clock"]), (-5.0, [])])
def test_a_clock_far_from_the_sun_s_is_told_where_no_light_proves_it(
    tmp_path: Path, offset_h: float, told: list[str]
) -> None:
    """Under unbroken cloud the hour of the light cannot be read; the sun's own clock is at −5.3 h here."""
    where = {"latitude": makers.LATITUDE, "longitude": makers.LONGITUDE, "offset_h": offset_h}
    hours = skies.cloudy_hours("2025-06-01", 12, **where, cloudiness=1.0)
    site = {"latitude_deg": makers.LATITUDE, "longitude_deg": makers.LONGITUDE}
    weather = makers.read(tmp_path, skies.as_log(hours, **where), **site)
    assert weather.inspection
    assert [finding.check for finding in weather.inspection.findings] == told


@pytest.mark.parametrize("name", SAMPLES)
def test_the_samples_are_not_accused(name: str) -> None:
    place = {"latitude_deg": makers.LATITUDE, "longitude_deg": makers.LONGITUDE}
    weather = read_weather(sample_path(name), year=2025, **place)
    assert weather.inspection
    assert weather.inspection.findings == ()


@pytest.mark.parametrize(
    ("name", "latitude", "longitude"),
    [
        ("703165TY.csv", 55.317, -160.517),
        ("723170TYA.CSV", 36.1, -79.95),
        ("12839.tm2", 25.8, -80.27),
        # Of older wheels (pvlib 0.9.5 has all six); their licences differ, so that none of them lies here.
        ("NLD_Amsterdam062400_IWEC.epw", 52.3, 4.77),
        ("tmy_45.000_8.000_2005_2016.csv", 45.0, 8.0),
        ("tmy_45.000_8.000_2005_2016.json", 45.0, 8.0),
    ],
)
def test_real_years_are_not_accused(name: str, latitude: float, longitude: float) -> None:
    """The folder `data` of an older wheel may be named by PVLIB_OLDER_DATA."""
    folders = [makers.PVLIB_DATA, *map(Path, filter(None, [os.environ.get("PVLIB_OLDER_DATA")]))]
    path = next((folder / name for folder in folders if (folder / name).is_file()), None)
    if path is None:
        pytest.skip(f"the pvlib installed here has no {name}")
    weather = read_weather(path, year=2025, latitude_deg=latitude, longitude_deg=longitude)
    assert weather.inspection
    assert weather.inspection.findings == ()


PLACES: dict[str, dict[str, Any]] = {
    "polar": {"latitude": 78.2, "longitude": 15.6, "offset_h": 1.0, "mean_air_c": -6.0, "swing_c": 12.0},
    "monsoon": {"latitude": 15.5, "longitude": 73.8, "offset_h": 5.5, "mean_air_c": 27.0, "swing_c": 2.0},
}


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("seed", [1, 2])
def test_an_odd_year_is_not_accused(tmp_path: Path, place: str, seed: int) -> None:
    """Night for months, and four months of rain: invented skies (`skies`)."""
    given, day = PLACES[place], np.arange(365)
    rain = np.where((day > 150) & (day < 270), 0.85, 0.15) if place == "monsoon" else 0.45
    where = {key: given[key] for key in ("latitude", "longitude", "offset_h")}
    hours = skies.cloudy_hours("2025-01-01", 365, **given, cloudiness=rain, seed=seed)
    site = {"latitude_deg": given["latitude"], "longitude_deg": given["longitude"]}
    weather = makers.read(tmp_path, skies.as_log(hours, **where), **site)
    assert weather.days == 365
    assert weather.inspection
    assert weather.inspection.findings == ()
    assert [notice for notice in weather.notices if notice.level != "note"] == []


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
