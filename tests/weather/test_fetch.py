"""Fetching from a local server that answers, refuses, sleeps, drips, lies and breaks off. No test goes farther."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import makers
import numpy as np
import pvlib
import pytest
from server import Answer, horizon_answer, query_of, serving

from trackersim import load_job, simulate
from trackersim.errors import InputError
from trackersim.job.place import Site
from trackersim.weather.formats import read_weather
from trackersim.weather.pvgis import default_cache_dir, fetch_horizon, fetch_typical_year

SITE = Site(latitude_deg=45.0, longitude_deg=8.0)


def files(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


def year_with(change: str) -> bytes:
    """A typical year with one thing wrong."""
    answer = json.loads(makers.pvgis_json())
    rows = answer["outputs"]["tmy_hourly"]
    if change == "half the rows":
        answer["outputs"]["tmy_hourly"] = rows[:4380]
    elif change == "no beam":
        for row in rows:
            del row["Gb(n)"]
    elif change == "no place":
        del answer["inputs"]["location"]
    elif change == "rows are text":
        answer["outputs"]["tmy_hourly"] = ["row"] * 8760
    elif change == "no outputs":
        del answer["outputs"]
    elif change == "a list":
        answer = [1, 2, 3]
    return json.dumps(answer).encode()


def test_year_is_fetched_once_and_readable(tmp_path: Path) -> None:
    answer = Answer(body=makers.pvgis_json().encode())
    with serving(answer) as url:
        path = fetch_typical_year(SITE, url=url, cache_dir=tmp_path / "deep" / "cache")
        again = fetch_typical_year(SITE, url=url, cache_dir=tmp_path / "deep" / "cache")
    assert path == again
    assert len(answer.asked) == 1
    assert answer.asked[0].startswith("/api/tmy?")
    asked = query_of(answer.asked[0])
    assert (float(asked["lat"][0]), float(asked["lon"][0]), asked["outputformat"]) == (45.0, 8.0, ["json"])
    assert asked["usehorizon"] == ["0"]
    assert path.read_bytes() == answer.body
    weather = read_weather(path, year=2025, latitude_deg=45.0, longitude_deg=8.0)
    assert (weather.days, weather.utc_offset_h) == (365, 1)


@pytest.mark.parametrize(
    ("use_horizon", "points", "twice"), [(True, True, True), (True, False, False), (False, True, False)]
)
def test_hills_that_the_weather_and_the_job_both_take_away_are_told(
    tmp_path: Path, use_horizon: bool, points: bool, twice: bool
) -> None:
    answer = json.loads(makers.pvgis_json())
    answer["inputs"]["meteo_data"]["use_horizon"] = use_horizon  # as in pvlib's test data of a typical year
    path = tmp_path / "year.json"
    path.write_text(json.dumps(answer))
    hills = ["horizon.points=[[60, 8], [90, 9], [120, 8], [270, 5]]"] if points else []
    place = ["site.latitude=45", "site.longitude=8", "site.utc_offset=1", 'site.timezone=""']
    job = load_job("demo", [f"weather.file={path}", *place, *hills])
    day = dt.date(job.weather.year, 6, 21)
    notices = simulate(job, first_day=day, last_day=day).notices
    assert any(notice.level == "caution" and "takes it away again" in notice.text for notice in notices) is twice


def test_cached_year_needs_no_server(tmp_path: Path) -> None:
    with serving(Answer(body=makers.pvgis_json().encode())) as url:
        path = fetch_typical_year(SITE, url=url, cache_dir=tmp_path)
    assert fetch_typical_year(SITE, url=url, cache_dir=tmp_path) == path
    elsewhere = Site(latitude_deg=45.1, longitude_deg=8.0)
    with pytest.raises(InputError, match="could not be reached"):
        fetch_typical_year(elsewhere, url=url, cache_dir=tmp_path)


def test_damaged_cache_is_fetched_again(tmp_path: Path) -> None:
    answer = Answer(body=makers.pvgis_json().encode())
    with serving(answer) as url:
        path = fetch_typical_year(SITE, url=url, cache_dir=tmp_path)
        path.write_bytes(answer.body[:1000])
        fetch_typical_year(SITE, url=url, cache_dir=tmp_path)
    assert len(answer.asked) == 2
    assert path.read_bytes() == answer.body


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (Answer(status=500, body=b"oops"), "HTTP 500"),
        (Answer(status=429, body=b"slow down"), "HTTP 429"),
        # PVGIS's words for a place at sea.
        (
            Answer(
                status=400, body=b'{"message": "Location over the sea. Please, select another location", "status": 400}'
            ),
            "HTTP 400: Location over the sea",
        ),
        (Answer(status=400, body=b'["no message"]'), "HTTP 400"),
        (Answer(body=b"<html><body>Maintenance</body></html>"), "not PVGIS's format"),
        (Answer(body=b"\xff\xfe\x00nonsense"), "not PVGIS's format"),
        (Answer(body=b""), "not PVGIS's format"),
        (Answer(body=makers.pvgis_json().encode(), cut=200_000), "broke off|could not be reached"),
        (Answer(body=makers.pvgis_json().encode()[:200_000]), "not PVGIS's format"),
        (Answer(body=makers.pvgis_json().encode(), wait_s=1.5), "did not answer within 0.5 s"),
        (Answer(body=makers.pvgis_json().encode(), drip_s=0.1), "did not answer within 0.5 s"),
        (Answer(body=year_with("half the rows")), "4380 hours instead of 8760"),
        (Answer(body=year_with("no beam")), r"Gb\(n\) are not in every row"),
        (Answer(body=year_with("no place")), "typical year is not in it"),
        (Answer(body=year_with("rows are text")), "typical year is not in it"),
        (Answer(body=year_with("no outputs")), "typical year is not in it"),
        (Answer(body=year_with("a list")), "typical year is not in it"),
        (Answer(body=horizon_answer()), "typical year is not in it"),
    ],
)
def test_bad_answers_leave_nothing(tmp_path: Path, answer: Answer, words: str) -> None:
    with serving(answer) as url, pytest.raises(InputError, match=words) as caught:
        fetch_typical_year(SITE, url=url, cache_dir=tmp_path, timeout_s=0.5)
    told = makers.refused(caught.value)
    assert "sample:" not in told
    assert "clear_sky = true" in told
    assert files(tmp_path) == []


@pytest.mark.parametrize("url", ["http://127.0.0.1:9/", "http://no-such-host.invalid/", "file:///etc/", "nonsense"])
def test_no_network(tmp_path: Path, url: str) -> None:
    for fetch in (fetch_typical_year, fetch_horizon):
        with pytest.raises(InputError) as caught:
            fetch(SITE, url=url, cache_dir=tmp_path, timeout_s=2.0)
        assert caught.value.faults[0].remedy
    assert files(tmp_path) == []


def test_cache_that_cannot_be_written(tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    with (
        serving(Answer(body=makers.pvgis_json().encode())) as url,
        pytest.raises(InputError, match="cannot be written"),
    ):
        fetch_typical_year(SITE, url=url, cache_dir=blocked / "cache")


def test_horizon_is_turned_to_compass_bearings(tmp_path: Path) -> None:
    answer = Answer(body=horizon_answer())
    with serving(answer) as url:
        points = fetch_horizon(SITE, url=url, cache_dir=tmp_path)
        assert fetch_horizon(SITE, url=url, cache_dir=tmp_path) == points
        asked = len(answer.asked)
        pvlib_points, _ = pvlib.iotools.get_pvgis_horizon(45.0, 8.0, url=url)
    assert asked == 1
    assert answer.asked[0].startswith("/api/printhorizon?")
    # PVGIS's −90 is east: compass 90.
    assert dict(points)[90.0] == 12.5
    assert sum(elevation == 12.5 for _, elevation in points) == 1
    assert len(points) == 48
    assert all(0 <= bearing < 360 for bearing, _ in points)
    np.testing.assert_allclose(np.array(points)[:, 0], pvlib_points.index.to_numpy())
    np.testing.assert_allclose(np.array(points)[:, 1], pvlib_points.to_numpy())


@pytest.mark.parametrize(
    "body",
    [
        b"{}",
        b"<html>",
        b'{"outputs": {"horizon_profile": []}}',
        horizon_answer().replace(b"12.5", b"-999"),
        horizon_answer().replace(b'"A": ', b'"B": '),
    ],
)
def test_nonsense_horizon(tmp_path: Path, body: bytes) -> None:
    with serving(Answer(body=body)) as url, pytest.raises(InputError) as caught:
        fetch_horizon(SITE, url=url, cache_dir=tmp_path)
    assert caught.value.faults[0].field == "horizon.points"
    assert "compass" in caught.value.faults[0].remedy
    assert files(tmp_path) == []


def test_cache_folder_follows_the_environment(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert default_cache_dir() == tmp_path / "trackersim"
    monkeypatch.setenv("XDG_CACHE_HOME", "relative/is/ignored")
    assert default_cache_dir() == Path.home() / ".cache" / "trackersim"
