"""500 files damaged at random and some crafted ones: read or refused in a sentence, nothing that is no number, no fault
that changes the light and is not told."""

from __future__ import annotations

import os
import re
import time
from collections.abc import Callable
from contextlib import AbstractContextManager
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from damage import COUNTS, Values, crafted, damaged, sound

from trackersim.errors import InputError
from trackersim.weather.formats import read_weather
from trackersim.weather.shape import LONGEST_LINE
from trackersim.weather.weather import Weather

LONGEST_S = 2.0  # of one file, on a busy machine; a line of 300,000 cells once took 47 s
# What a file may differ from the sound one without a word: less than 5 % of water (common practice, no source).
SILENT = 0.02
OF_A_PROGRAM = re.compile(
    r"Error|Exception|None\b|pandas|pvlib|dtype|codec|\[Errno|literal|tuple|<class|\bindex\b|\bstring\b|\bfloat\b|"
    r"\bint\b|NaT|%[YmdHM]|tokeniz|unpack|\bpars"
)


def read(path: Path, kind: str, content: str | bytes) -> Weather:
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_weather(path, year=2025, **sound()[kind][1])


@cache
def known(folder: Path, kind: str) -> tuple[Weather, frozenset[str]]:
    """The sound file of a format, read, and what is said of it."""
    weather = read(folder / "sound", kind, sound()[kind][0])
    return weather, frozenset(notice.text for notice in weather.notices)


def check_numbers(weather: Weather) -> None:
    rows = [weather.ghi_w_m2, weather.dni_w_m2, weather.dhi_w_m2, weather.air_c, weather.wind_m_s]
    rows += [each for each in (weather.wind_from_deg, weather.rain_mm_by_day) if each is not None]
    assert all(np.isfinite(each).all() for each in rows)
    assert min(float(each.min()) for each in rows[:3]) >= 0
    assert len(weather.times) == weather.days * 1440 // weather.step_min


def check_words(error: InputError, path: Path) -> None:
    for fault in error.faults:
        assert fault.field == "weather.file"
        assert fault.reason
        assert fault.remedy
        assert not OF_A_PROGRAM.search(f"{fault.reason} {fault.remedy}"), fault
        assert str(path) not in fault.reason


def changed(weather: Weather, other: Weather) -> float:
    """By which share light, and by how much of 15 K air, differ in the mean."""
    pairs = [(weather.ghi_w_m2, other.ghi_w_m2), (weather.dni_w_m2, other.dni_w_m2)]
    light = max(abs(float(mine.mean() / theirs.mean()) - 1) for mine, theirs in pairs)
    return max(light, abs(float(weather.air_c.mean() - other.air_c.mean())) / 15)


@pytest.mark.parametrize("kind", COUNTS)
def test_damaged_files_are_read_or_refused_in_words(tmp_path: Path, kind: str) -> None:
    before, said = known(tmp_path, kind)
    path, count, refusals = tmp_path / "damaged", 0, 0
    for file in damaged():
        if file.kind != kind:
            continue
        count += 1
        began = time.thread_time()
        try:
            weather = read(path, kind, file.content)
        except InputError as error:
            check_words(error, path)
            refusals += 1
        else:
            check_numbers(weather)
            if {notice.text for notice in weather.notices} <= said:
                assert weather.days == before.days, file.done
                assert changed(weather, before) < SILENT, file.done
        assert time.thread_time() - began < LONGEST_S, file.done
    assert count == COUNTS[kind]
    assert 0 < refusals < count  # else the damages are all of one sort and prove nothing


def test_there_are_500() -> None:
    assert sum(COUNTS.values()) == 500


def times(name: str, factor: float, rows: slice = slice(None)) -> Callable[[Values], None]:
    def change(values: Values) -> None:
        values[name][rows] = [value * factor for value in values[name][rows]]

    return change


def of_light(change: Callable[[list[float]], list[float]]) -> Callable[[Values], None]:
    def changed(values: Values) -> None:
        for name in ("ghi", "dni", "dhi"):
            values[name] = change(values[name])

    return changed


def dark(days: int) -> Callable[[Values], None]:
    start, end = 5 * 24, (5 + days) * 24
    return of_light(lambda rows: [*rows[:start], *[0.0] * (end - start), *rows[end:]])


def beam_on_level(values: Values) -> None:
    values["dni"] = [max(ghi - dhi, 0.0) for ghi, dhi in zip(values["ghi"], values["dhi"], strict=True)]


def exchanged(one: str, other: str) -> Callable[[Values], None]:
    def change(values: Values) -> None:
        values[one], values[other] = values[other], values[one]

    return change


def of_air(change: Callable[[list[float]], list[float]]) -> Callable[[Values], None]:
    def changed(values: Values) -> None:
        values["air"] = change(values["air"])

    return changed


# truth.md's table, "A log that cannot be true is believed"; each was silent in every format.
TABLE: dict[str, Callable[[Values], None]] = {
    "a dead direct sensor": times("dni", 0.0),
    "direct light halved": times("dni", 0.5),
    "direct light is the beam on the level": beam_on_level,
    "a dead diffuse sensor": times("dhi", 0.0),
    "a dead week": dark(7),
    "half a dead month": dark(15),
    "air with the wrong sign": times("air", -1.0),
}
MORE: dict[str, Callable[[Values], None]] = {
    "no global light": times("ghi", 0.0),
    "global light halved": times("ghi", 0.5),
    "global light a tenth low": times("ghi", 0.9),
    "direct light a tenth low": times("dni", 0.9),
    "diffuse light doubled": times("dhi", 2.0),
    "direct light lost in the first half": times("dni", 0.0, slice(0, 360)),
    "global and direct exchanged": exchanged("ghi", "dni"),
    "global and diffuse exchanged": exchanged("ghi", "dhi"),
    "direct and diffuse exchanged": exchanged("dni", "dhi"),
    "light in kW": of_light(lambda rows: [value / 1000 for value in rows]),
    "light in kJ": of_light(lambda rows: [value * 3.6 for value in rows]),
    "light an hour late": of_light(lambda rows: rows[-1:] + rows[:-1]),
    "light an hour early": of_light(lambda rows: rows[1:] + rows[:1]),
    "light half a day late": of_light(lambda rows: rows[12:] + rows[:12]),
    "no afternoons": of_light(lambda rows: [0.0 if at % 24 >= 12 else value for at, value in enumerate(rows)]),
    "light that hangs for five days": of_light(lambda rows: [*rows[:120], *rows[132:133] * 120, *rows[240:]]),
    "air in Fahrenheit": of_air(lambda rows: [value * 1.8 + 32 for value in rows]),
    "air half a day late": of_air(lambda rows: rows[12:] + rows[:12]),
    "air that hangs": of_air(lambda rows: rows[:1] * len(rows)),
}


def check_told(folder: Path, kind: str, change: Callable[[Values], None]) -> None:
    """Refused, or told with a caution at least."""
    _, said = known(folder, kind)
    path = folder / "crafted"
    try:
        weather = read(path, kind, crafted(kind, change))
    except InputError as error:
        check_words(error, path)
        return
    check_numbers(weather)
    assert [notice for notice in weather.notices if notice.text not in said and notice.level != "note"]


@pytest.mark.parametrize("kind", COUNTS)
@pytest.mark.parametrize("name", TABLE)
def test_what_cannot_be_true_is_told_in_every_format(tmp_path: Path, kind: str, name: str) -> None:
    check_told(tmp_path, kind, TABLE[name])


@pytest.mark.parametrize("kind", ["EPW", "plain CSV"])
@pytest.mark.parametrize("name", MORE)
def test_other_faults_are_told_too(tmp_path: Path, kind: str, name: str) -> None:
    check_told(tmp_path, kind, MORE[name])


@pytest.mark.parametrize("start", ["time", "9", "a,b\ntime,ghi"])
@pytest.mark.parametrize("more", [",", "9"])
def test_ten_million_columns_are_refused_by_the_length_of_the_line(tmp_path: Path, start: str, more: str) -> None:
    """They once took 7 s."""
    path = tmp_path / "wide.csv"
    path.write_text(f"{start}{more * 9_999_900}\n1,2\n")
    began = time.thread_time()
    with pytest.raises(InputError, match="letters: no weather file has any such"):
        read_weather(path, year=2025, latitude_deg=45.0, longitude_deg=8.0)
    assert time.thread_time() - began < 0.5
    assert LONGEST_LINE < 20_000


@pytest.mark.parametrize("name", ["/dev/zero", "/dev/stdin", "pipe"])
def test_only_files_are_read(
    tmp_path: Path, name: str, within_seconds: Callable[[int], AbstractContextManager[None]]
) -> None:
    os.mkfifo(tmp_path / "pipe")
    path = tmp_path / name
    if path.is_file():
        pytest.skip("here it is a file")
    with within_seconds(5), pytest.raises(InputError, match=r"device or a pipe|cannot be opened"):
        read_weather(path, year=2025, latitude_deg=45.0, longitude_deg=8.0)
