"""A logged rack: between samples, at stops, days without samples, and files as instruments and people write them."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackersim.errors import InputError
from trackersim.rack.logged import RotationLog, logged_rotation, read_rotation_log

EASTERN = dt.timezone(dt.timedelta(hours=-5))
START_S = dt.datetime(2025, 4, 15, tzinfo=EASTERN).timestamp()
DAY = START_S + 86_400 * np.arange(3)[:, None] + 60.0 * np.arange(1440) + 30


def log_at(hours: list[float], angles: list[float]) -> RotationLog:
    return RotationLog(unix_s=START_S + 3600 * np.array(hours), rotation_deg=np.array(angles, dtype=float))


def turned(log: RotationLog, days: int = 1, max_deg: float = 50.0) -> np.ndarray:
    return logged_rotation(log, unix_s=DAY[:days], zone=EASTERN, max_rotation_deg=max_deg)


def written(folder: Path, text: str) -> Path:
    (folder / "angles.csv").write_text(text, encoding="utf-8")
    return folder / "angles.csv"


def test_linear_between_samples_and_held_outside_them() -> None:
    rotation = turned(log_at([8, 10], [50, -50]))[0]
    assert (rotation[: 8 * 60] == 50).all()
    assert (rotation[10 * 60 :] == -50).all()
    assert rotation[9 * 60 - 1] == pytest.approx(50 - 100 * 59.5 / 120)
    np.testing.assert_allclose(np.diff(rotation[8 * 60 : 10 * 60]), -100 / 120)


@given(angles=st.lists(st.floats(-50, 50), min_size=2, max_size=6))
def test_the_mirror_east_to_west(angles: list[float]) -> None:
    hours = np.linspace(6, 18, len(angles)).tolist()
    log, mirrored = log_at(hours, angles), log_at(hours, [-angle for angle in angles])
    np.testing.assert_array_equal(turned(log), -turned(mirrored))


def test_a_log_of_every_minute_is_given_back() -> None:
    angles = np.random.default_rng(5).uniform(-50, 50, 1440)
    log = RotationLog(unix_s=DAY[0], rotation_deg=angles)
    np.testing.assert_allclose(turned(log)[0], angles, rtol=0, atol=1e-9)


def test_days_without_a_sample_are_named_by_the_clock_of_the_site() -> None:
    with pytest.raises(InputError) as caught:
        turned(log_at([12, 13], [0, 5]), days=3)
    (fault,) = caught.value.faults
    assert (fault.field, fault.value) == ("rack.log", "2025-04-16 to 2025-04-17")
    with pytest.raises(InputError, match="2025-04-16"):
        turned(log_at([12, 60], [0, 5]), days=3)  # none on the second of three
    for hour in (-0.1, 24.1):
        with pytest.raises(InputError, match="2025-04-15"):
            turned(log_at([hour], [0]))
    for second in (DAY[0, 0], DAY[0, -1]):  # the first and the last minute belong to the day
        assert (turned(RotationLog(unix_s=np.array([second]), rotation_deg=np.array([7.0]))) == 7).all()


def test_a_little_beyond_the_stop_is_the_stop_and_more_is_another_stop() -> None:
    assert turned(log_at([12], [51.5])).max() == 50
    assert turned(log_at([12], [-51.5])).min() == -50
    with pytest.raises(InputError, match="max_rotation"):
        turned(log_at([12], [-53.0]))


def test_times_of_the_site_and_times_with_a_zone_are_the_same_instants(tmp_path: Path) -> None:
    plain = "# an inclinometer\nTime, Rotation\n2025-04-15 09:20, -31.5\n\n2025-04-15 09:21:30,30\n"
    zoned = "rotation,note,time\n-31.5,,2025-04-15T14:20:00Z\n30,swung,2025-04-15T10:21:30-04:00\n"
    for text in (plain, zoned):
        log = read_rotation_log(written(tmp_path, text), zone=EASTERN)
        np.testing.assert_allclose(log.unix_s - START_S, [9 * 3600 + 20 * 60, 9 * 3600 + 21 * 60 + 30])
        assert log.rotation_deg.tolist() == [-31.5, 30]


def test_every_useless_line_is_named(tmp_path: Path) -> None:
    text = (
        "time,rotation\n2025-04-15 09:20,5\n2025-04-15 09:19,5\nyesterday,5\n2025-04-15 09:30,\n"
        "2025-04-15 09:31,nan\n2025-04-15 09:32,95\n2025-04-15 09:33\n"
    )
    with pytest.raises(InputError) as caught:
        read_rotation_log(written(tmp_path, text), zone=EASTERN)
    assert [fault.reason.split(")")[0][-1] for fault in caught.value.faults] == list("345678")


@pytest.mark.parametrize("text", ["", "time,rotation\n", "when,rotation\n2025-04-15 09:20,5\n", "# nothing\n"])
def test_a_file_without_samples_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(InputError, match=r"rack\.log"):
        read_rotation_log(written(tmp_path, text), zone=dt.UTC)
    with pytest.raises(InputError, match=r"rack\.log"):
        read_rotation_log(tmp_path / "none.csv", zone=dt.UTC)
