"""The rack priced by a diagnosis is the one that was watched: its threshold found again from flips past trees."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from trackersim import load_job
from trackersim.analysis.diagnosis import diagnose
from trackersim.analysis.losses import site_losses
from trackersim.analysis.rack_as_watched import job_as_watched, rack_as_watched
from trackersim.analysis.watched_mornings import SeenMorning, read_mornings
from trackersim.cli import app
from trackersim.clock import hhmm, wall_time
from trackersim.job.model import Job
from trackersim.report.diagnosis import repair_words
from trackersim.report.words import CLOUDLESS
from trackersim.simulation.runner import Runner
from trackersim.simulation.watched import flip_dose

SAVED = Path(__file__).parents[1] / "saved_jobs"
RANCH = [
    "site.latitude=35.4", "site.longitude=-98.1", "site.utc_offset=-6", "site.timezone=America/Chicago",
    "weather.clear_sky=true", "weather.file=", "rack.kind=delayed", "rack.flip_delay=75",
]  # fmt: skip


def mornings(folder: Path, job: Job, *flips: str) -> tuple[SeenMorning, ...]:
    path = folder / "mornings.csv"
    rows = [f"2026-03-{20 + n},clear,,{flip}" for n, flip in enumerate(flips)]
    path.write_text("\n".join(["date,sky,wind,flip", *rows]) + "\n")
    return read_mornings(path, job)


def flips_of(job: Job) -> list[str]:
    """When the rack flips in the job's own clear weather, 20 to 22 March, by the site's clock."""
    found = Runner(job, first_day=dt.date(2025, 3, 17), last_day=dt.date(2025, 3, 22)).run(job).events
    assert found is not None
    dates = [dt.date(2025, 3, 20 + n) for n in range(3)]
    return [hhmm(wall_time(job.site, date, int(minute))) for date, minute in zip(dates, found.flip[3:], strict=True)]


@pytest.mark.parametrize("delay", [20, 75, 150])
def test_the_delay_with_which_a_rack_flipped_is_found_again(delay: int, tmp_path: Path) -> None:
    """Watched past the demo's trees on three clear mornings, whatever the job's own delay says."""
    real = load_job("demo", [*RANCH, f"rack.flip_delay={delay}"])
    job = load_job("demo", RANCH)
    found = rack_as_watched(job, mornings(tmp_path, job, *flips_of(real)))
    assert found is not None
    assert found.delay_min == pytest.approx(delay, abs=5)
    assert found.job_delay_min == 75
    assert found.flips.threshold_w_m2 == pytest.approx(flip_dose(real).threshold_w_m2, rel=0.05)


def test_only_the_rack_that_was_watched_is_changed(tmp_path: Path) -> None:
    three = load_job(SAVED / "three_pumps.toml")
    alone = three.alone(1)
    found = rack_as_watched(alone, mornings(tmp_path, alone, "11:05", "11:00"))
    assert found is not None
    as_seen = job_as_watched(three, 1, found)
    assert as_seen.units[1].rack.flip_threshold_w_m2 == found.flips.threshold_w_m2
    assert [as_seen.units[n] == three.units[n] for n in range(3)] == [True, False, True]


def test_the_water_quoted_is_that_of_the_rack_watched_and_the_words_say_so(tmp_path: Path) -> None:
    """200 min after sunrise, where the job's rack flips after 105: turning late costs more than `compare` says."""
    job = load_job("demo", [*RANCH, "trees=[]"])
    seen = mornings(tmp_path, job, "11:00", "10:59")
    changed = [word for change in (*RANCH, "trees=[]") for word in ("--set", change)]
    asked = ["diagnose", "demo", str(tmp_path / "mornings.csv"), "--json", *changed]
    answer = json.loads(CliRunner().invoke(app, asked).stdout)
    alone = site_losses(Runner(job)).summary()
    assert answer["site"]["late_m3_per_day"] > 1.5 * alone["late_m3_per_day"]
    assert answer["delay_as_watched_min"] > 150
    found = diagnose(job, seen)
    words = repair_words(found, site_losses(Runner(job_as_watched(job, 0, found.watched))), "us")
    assert f"a delay of {answer['delay_as_watched_min']:.0f} min, where the job has 75 min" in words
    assert CLOUDLESS in words


def test_what_was_only_missed_tells_no_delay(tmp_path: Path) -> None:
    job = load_job("demo", RANCH)
    assert rack_as_watched(job, mornings(tmp_path, job, "not by 11:00")) is None
    assert job_as_watched(job, 0, None) is job
    site = site_losses(Runner(job, first_day=dt.date(2025, 3, 17), last_day=dt.date(2025, 3, 22)))
    words = repair_words(diagnose(job, mornings(tmp_path, job, "not by 11:00")), site, "us")
    assert "of the job's rack, a delay of 75 min, and not of the rack as watched: no flip was timed." in words
    thermal = load_job("demo", [*RANCH, "rack.kind=thermal"])
    assert rack_as_watched(thermal, mornings(tmp_path, thermal, "11:00")) is None
