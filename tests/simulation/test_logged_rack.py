"""A job whose rack stands as a log says: the same as the rack that the log was taken from, and what is refused."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from trackersim.analysis.flip_check import check_flip
from trackersim.clock import moment_at
from trackersim.errors import InputError
from trackersim.job.files import demo_text, load_job, parse_job, with_overrides
from trackersim.job.folders import ClosedFolder
from trackersim.report.flip_check import flip_sentence, last_words
from trackersim.simulation.runner import RACKS, compare, kinds_of, simulate

DAYS = {"first_day": dt.date(2025, 4, 1), "last_day": dt.date(2025, 4, 3)}
LOGGED = ["rack.kind=logged", "rack.log=angles.csv"]
CLEAR = ["weather.clear_sky=true", "weather.file="]


def text_of(rotation_deg: np.ndarray, times: list[str]) -> str:
    return "time,rotation\n" + "".join(f"{t},{a:.9f}\n" for t, a in zip(times, rotation_deg, strict=True))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A log of the demo's own late-turning rack over three clear days, by the site's standard time."""
    folder = tmp_path_factory.mktemp("site")
    result = simulate(load_job("demo", overrides=CLEAR), **DAYS)
    stamps = [stamp.replace(tzinfo=None).isoformat() for stamp in result.times.to_pydatetime()]
    (folder / "angles.csv").write_text(text_of(result.minutes["rotation_deg"], stamps))
    return folder


def test_a_log_of_a_rack_gives_that_rack_s_water(folder: Path) -> None:
    watched = simulate(load_job("demo", overrides=CLEAR), **DAYS)
    logged = simulate(parse_job(demo_text(), folder=folder, overrides=[*CLEAR, *LOGGED]), **DAYS)
    for name in ("rotation_deg", "plane_w_m2", "input_w", "flow_m3_s"):
        np.testing.assert_allclose(logged.minutes[name], watched.minutes[name], rtol=1e-6, atol=1e-6, err_msg=name)
    assert logged.minutes["flow_m3_s"].sum() > 0
    np.testing.assert_array_equal(logged.morning.flip, watched.morning.flip)


def test_days_that_the_log_does_not_cover_are_named(folder: Path) -> None:
    job = parse_job(demo_text(), folder=folder, overrides=[*CLEAR, *LOGGED])
    with pytest.raises(InputError) as caught:
        simulate(job, first_day=dt.date(2025, 4, 2), last_day=dt.date(2025, 4, 5))
    assert [(fault.field, fault.value) for fault in caught.value.faults] == [("rack.log", "2025-04-04 to 2025-04-05")]


def test_an_answer_for_one_day_says_which_days_the_log_covers(folder: Path) -> None:
    """Once "simulate the days it covers" was all that tomorrow's card of a logged rack said."""
    job = parse_job(demo_text(), folder=folder, overrides=[*CLEAR, *LOGGED])
    with pytest.raises(InputError, match="2025-04-01 to 2025-04-03; an answer for one day reads the two before it"):
        check_flip(job, moment_at(job.site, "2025-04-02 09:00"))


def test_a_flip_that_stands_in_the_log_is_told_from_it(folder: Path) -> None:
    """Once of every logged rack: "the evening before leaves this rack facing east, so it has no turn to make"."""
    job = parse_job(demo_text(), folder=folder, overrides=[*CLEAR, *LOGGED])
    check = check_flip(job, moment_at(job.site, "2025-04-03 09:00"))
    flip = int(simulate(job, **DAYS).morning.flip[-1])
    turned = check.clock(flip)
    assert turned is not None
    assert check.verdict == "no flip"
    assert flip_sentence(check).endswith(f"by its log this rack turned east at {turned:%H:%M}.")
    assert "log" in last_words(check)
    (folder / "level.csv").write_text(
        text_of(np.zeros(72), [f"2025-04-0{1 + n // 24}T{n % 24:02d}:00" for n in range(72)])
    )
    level = with_overrides(job, {"rack.log": "level.csv"})
    told = flip_sentence(check_flip(level, moment_at(job.site, "2025-04-03 09:00")))
    assert told.endswith("by its log this rack did not turn east that morning.")


def test_a_logged_rack_without_its_log_is_refused(folder: Path, tmp_path: Path) -> None:
    for overrides, where in (
        (LOGGED[1:], tmp_path),
        (["rack.kind=logged"], folder),
        (LOGGED, tmp_path),
        (LOGGED, ClosedFolder(tmp_path)),
    ):
        with pytest.raises(InputError) as caught:
            parse_job(demo_text(), folder=where, overrides=[*CLEAR, *overrides])
        assert [fault.field for fault in caught.value.faults] == ["rack.log"]


def test_a_job_of_a_closed_folder_names_no_log_outside_it(folder: Path) -> None:
    inside = ClosedFolder(folder / "room")
    inside.mkdir(exist_ok=True)
    for name in (str(folder / "angles.csv"), "../angles.csv", "~/angles.csv"):
        with pytest.raises(InputError, match=r"rack\.log"):
            parse_job(demo_text(), folder=inside, overrides=[*CLEAR, "rack.kind=logged", f"rack.log={name}"])


def test_other_racks_need_no_log_and_a_log_is_part_of_the_job(folder: Path) -> None:
    demo = parse_job(demo_text(), folder=folder)
    assert with_overrides(demo, {"rack.log": ""}).sha256() == demo.sha256()
    assert with_overrides(demo, {"rack.log": "angles.csv"}).sha256() != demo.sha256()


def test_a_logged_rack_stands_in_its_own_comparison(folder: Path) -> None:
    job = parse_job(demo_text(), folder=folder, overrides=[*CLEAR, *LOGGED])
    assert kinds_of(job) == ("logged", *RACKS)
    day = {"first_day": DAYS["first_day"], "last_day": DAYS["first_day"]}
    assert list(compare(job, kinds="logged", **day)) == ["logged"]  # one kind is no row of letters
    assert list(compare(job, **day)) == ["logged", *RACKS]


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (np.zeros(3 * 1440), "is not its shape"),
        (np.zeros((2, 1440)), "is not its shape"),
        (np.full((3, 1440), np.nan), "is no angle"),
        (np.full((3, 1440), 60.0), "beyond the stops"),
    ],
)
def test_a_rotation_that_no_rack_has_is_refused(given: np.ndarray, told: str) -> None:
    """pvlib's own tracker angles are NaN at night: they passed as light of 0, and as water of 0."""
    with pytest.raises(InputError, match=told) as caught:
        simulate(load_job("demo", overrides=CLEAR), rotation_deg=given, **DAYS)
    assert [fault.field for fault in caught.value.faults] == ["rotation_deg"]


def test_a_fixed_rack_is_not_turned() -> None:
    """Its sky was worked out for the one angle at which it stands."""
    job = load_job("demo", overrides=[*CLEAR, "rack.kind=fixed"])
    own = np.full((3, 1440), job.rack.fixed_rotation_deg)
    assert simulate(job, rotation_deg=own, **DAYS).water_m3 == simulate(job, **DAYS).water_m3
    with pytest.raises(InputError, match="does not turn"):
        simulate(job, rotation_deg=own + 10, **DAYS)


def test_a_rotation_may_be_given_as_lists_or_a_table() -> None:
    job, still = load_job("demo", overrides=CLEAR), np.full((3, 1440), 20.0)
    waters = {
        simulate(job, rotation_deg=each, **DAYS).water_m3 for each in (still, still.tolist(), pd.DataFrame(still))
    }
    assert len(waters) == 1
