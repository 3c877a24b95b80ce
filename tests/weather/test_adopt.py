"""`trackersim weather JOB` against a local server: the job names what was fetched and keeps its comments, or stays."""

from __future__ import annotations

from pathlib import Path

import pytest
from makers import pvgis_json
from server import Answer, horizon_answer, serving

from trackersim import InputError
from trackersim.job.files import demo_text, load_job
from trackersim.weather.adopt import adopt_weather

SITE = load_job("demo").site
YEAR = pvgis_json(latitude=SITE.latitude_deg, longitude=SITE.longitude_deg).encode()


def job_file(folder: Path, text: str = "") -> Path:
    path = folder / "site.toml"
    path.write_text(text or demo_text())
    return path


def test_the_job_names_what_was_fetched_and_keeps_its_comments(tmp_path: Path) -> None:
    path = job_file(tmp_path)
    with serving(Answer(body=YEAR, horizon_body=horizon_answer())) as url:
        told = adopt_weather(path, url=url.rstrip("/"), cache_dir=tmp_path / "cache")
    job = load_job(path)
    assert Path(job.weather.file).is_file()
    assert Path(job.weather.file).parent == tmp_path / "cache"
    assert (90.0, 12.5) in job.horizon.points
    assert "a row of oaks along the lane" in path.read_text()
    assert any("12.5°" in line for line in told)


def test_a_job_whose_weather_is_missing_can_fetch_it(tmp_path: Path) -> None:
    path = job_file(tmp_path, demo_text().replace("sample:typical-year", "not-there.csv"))
    with serving(Answer(body=YEAR, horizon_body=horizon_answer())) as url:
        adopt_weather(path, url=url, cache_dir=tmp_path / "cache")
    assert load_job(path).weather.file.endswith(".json")


def test_a_horizon_measured_on_site_is_kept(tmp_path: Path) -> None:
    path = job_file(tmp_path, demo_text() + "\n[horizon]\npoints = [[80, 6], [100, 7]]\n")
    with serving(Answer(body=YEAR, horizon_body=horizon_answer())) as url:
        told = adopt_weather(path, url=url, cache_dir=tmp_path / "cache")
    assert load_job(path).horizon.points == ((80.0, 6.0), (100.0, 7.0))
    assert any("kept" in line for line in told)


@pytest.mark.parametrize(
    "answer",
    [
        Answer(body=b"busy", status=500),
        Answer(body=b"<html>no</html>"),
        Answer(body=b'{"outputs": 3}'),
        Answer(body=b"{}" * 999, cut=20),
        Answer(body=b"{}", wait_s=3),
    ],
)
def test_a_bad_answer_changes_nothing_and_offers_a_way_out(tmp_path: Path, answer: Answer) -> None:
    path = job_file(tmp_path)
    before = path.read_bytes()
    with serving(answer) as url, pytest.raises(InputError, match="clear_sky = true") as told:
        adopt_weather(path, url=url, cache_dir=tmp_path / "cache", timeout_s=1)
    assert "sample:" not in str(told.value)  # it holds for one place, and may be what was just refused
    assert path.read_bytes() == before


def test_a_good_year_with_a_bad_horizon_changes_nothing(tmp_path: Path) -> None:
    path = job_file(tmp_path)
    before = path.read_bytes()
    with serving(Answer(body=YEAR, horizon_body=b"nonsense")) as url, pytest.raises(InputError):
        adopt_weather(path, url=url, cache_dir=tmp_path / "cache")
    assert path.read_bytes() == before


def test_the_demo_is_no_file_to_edit() -> None:
    with pytest.raises(InputError, match="cannot be read"):
        adopt_weather(Path("demo"))


def test_permissions_of_the_job_are_kept(tmp_path: Path) -> None:
    path = job_file(tmp_path)
    path.chmod(0o640)
    with serving(Answer(body=YEAR, horizon_body=horizon_answer())) as url:
        adopt_weather(path, url=url, cache_dir=tmp_path / "cache")
    assert path.stat().st_mode & 0o777 == 0o640
