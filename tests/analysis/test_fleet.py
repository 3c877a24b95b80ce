"""Many sites: rows as the single answers have them, faults in their rows, kills survived, the same bytes everywhere.

The fifty sites differ in lift and name alone and lie under one cloudless day, so that they share all but the water.
"""

from __future__ import annotations

import datetime as dt
import os
import signal
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest
from deadly_work import Squared
from distributed import LocalCluster

from trackersim import load_job
from trackersim.analysis.comparison import compare_racks
from trackersim.analysis.finished_sites import FinishedSites
from trackersim.analysis.fleet import Fleet, FleetProgress, fleet_of
from trackersim.analysis.fleet_rows import SiteRows, site_rows
from trackersim.analysis.losses import losses_of
from trackersim.analysis.options import options_of
from trackersim.errors import InputError
from trackersim.job.files import demo_text
from trackersim.job.fleet_sites import FleetSite, fleet_sites
from trackersim.report.fleet import fleet_answer, progress_words, write_fleet
from trackersim.simulation.reuse import StageCache
from trackersim.simulation.workers import LostError, as_done

DAY = (dt.date(2025, 6, 1), dt.date(2025, 6, 1))
CLEAR = ['weather.file=""', "weather.clear_sky=true"]
BROKEN = 17  # the row of the site whose weather is no weather


def base(folder: Path) -> Path:
    path = folder / "base.toml"
    path.write_text(demo_text().replace('file = "sample:typical-year"', "clear_sky = true"))
    return path


HEAD = "site.name,source.lift,weather.file,weather.clear_sky"


def table(folder: Path, rows: Sequence[str], head: str = HEAD) -> Path:
    path = folder / "sites.csv"
    path.write_text("\n".join([head, *rows]) + "\n")
    return path


@pytest.fixture(scope="module")
def fifty(tmp_path_factory: pytest.TempPathFactory) -> tuple[FleetSite, ...]:
    """Fifty sites, one of them with a weather file that holds none."""
    folder = tmp_path_factory.mktemp("fifty")
    (folder / "broken.csv").write_text("this is no weather\n")
    rows = [f"farm {n},{60 + n} ft,," for n in range(2, 52)]
    rows[BROKEN - 2] = "farm 17,77 ft,broken.csv,false"
    return fleet_sites(table(folder, rows), job=str(base(folder)))


@pytest.fixture(scope="module")
def found(fifty: tuple[FleetSite, ...]) -> Fleet:
    return fleet_of(fifty, days=DAY)


def test_one_broken_site_among_fifty_is_a_row_with_its_fault(found: Fleet) -> None:
    assert [row["source"] for row in found.sites] == [f"row {n}" for n in range(2, 52)]
    (broken,) = found.failed
    assert (broken["source"], broken["site"]) == (f"row {BROKEN}", "farm 17")
    assert "weather" in broken["fault"]
    assert len(found.found) == 49
    assert {row["source"] for row in found.months} == {row["source"] for row in found.found}
    waters = [row["water_m3_per_day"] for row in found.found]
    assert waters == sorted(waters, reverse=True)  # the deeper the water, the less of it
    assert waters[-1] < 0.9 * waters[0]


def test_a_row_quotes_what_the_single_answers_say(fifty: tuple[FleetSite, ...], found: Fleet) -> None:
    job = fifty[0].job
    assert job is not None
    alone = compare_racks(job, first_day=DAY[0], last_day=DAY[1])
    row = found.sites[0]
    for kind, result in alone.racks.items():
        assert row[f"{kind}_m3_per_day"] == result.water_m3_per_day
    assert row["late_m3_per_day"] == alone.site.late_m3_per_day
    assert row["trees_m3_per_day"] == alone.site.trees_m3_per_day
    assert row["job_sha256"] == job.sha256()
    (month,) = (each for each in found.months if each["source"] == row["source"])
    assert (month["month"], month["days"]) == (6, 1)
    assert month["water_m3"] == pytest.approx(row["water_m3_per_day"] * row["days"], rel=1e-12)


def test_losses_and_options_are_the_single_answers_too() -> None:
    job, stages = load_job("demo", [*CLEAR, "store.demand=20000 gal/day"]), StageCache()
    lost = site_rows(job, "losses", days=DAY, stages=stages).site
    account = losses_of(job, first_day=DAY[0], last_day=DAY[1])
    taken = sum(value for name, value in lost.items() if name.endswith("_takes_m3_per_day"))
    assert lost["ideal_in_every_way_m3_per_day"] - taken == pytest.approx(lost["water_m3_per_day"], rel=1e-9)
    assert lost["late_flip_takes_m3_per_day"] == account.terms[-1].lost.water_m3
    decided = site_rows(job, "options", days=DAY, stages=stages).site
    choices = options_of(job, first_day=DAY[0], last_day=DAY[1]).choices
    repair = next(choice for choice in choices if choice.ready == "repair-rack")
    assert decided["repair_rack_gains_m3_per_day"] == repair.gain_m3_per_day
    assert decided["first_choice"] in {choice.name for choice in choices}


def written(folder: Path, found: Fleet) -> dict[str, bytes]:
    folder.mkdir()
    return {path.name: path.read_bytes() for kind in ("csv", "parquet")
            for path in write_fleet(folder / f"fleet.{kind}", found)}  # fmt: skip


FEW = slice(BROKEN - 8, BROKEN + 4)  # a dozen sites, the broken one among them


@pytest.fixture
def alone(found: Fleet, tmp_path: Path) -> dict[str, bytes]:
    """What one process writes of the dozen."""
    sites = found.sites[FEW]
    named = {row["source"] for row in sites}
    months = tuple(row for row in found.months if row["source"] in named)
    return written(tmp_path / "one", Fleet(question="compare", sites=sites, months=months))


def test_two_processes_give_the_same_bytes(
    fifty: tuple[FleetSite, ...], alone: dict[str, bytes], tmp_path: Path
) -> None:
    assert set(alone) == {"fleet.csv", "fleet-months.csv", "fleet.parquet", "fleet-months.parquet"}
    assert alone == written(tmp_path / "two", fleet_of(fifty[FEW], days=DAY, processes=2))


@pytest.fixture(scope="module")
def cluster() -> Iterator[LocalCluster]:
    """Two workers, processes of their own as on two machines, that nobody starts again."""
    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as local:
        yield local


def test_a_dask_cluster_that_loses_a_worker_gives_the_same_bytes(
    fifty: tuple[FleetSite, ...], alone: dict[str, bytes], cluster: LocalCluster, tmp_path: Path
) -> None:
    killed: list[int] = []

    def kill_one(told: FleetProgress) -> None:
        if told.done and not killed:
            killed.append(next(iter(cluster.workers.values())).pid)
            os.kill(killed[0], signal.SIGKILL)

    address = cluster.scheduler_address
    found = fleet_of(fifty[FEW], days=DAY, processes=2, scheduler=address, progress=kill_one)
    assert killed
    assert alone == written(tmp_path / "dask", found)


def test_no_dask_scheduler_is_one_clear_fault(fifty: tuple[FleetSite, ...]) -> None:
    with pytest.raises(InputError) as caught:
        fleet_of(fifty[:1], days=DAY, scheduler="no such place")
    (fault,) = caught.value.faults
    assert fault.field == "dask"


BATCHES = [[0, 1], [2, 3], [4, 5], [6, 7], [8, 9]]


def test_a_killed_process_costs_nothing_but_time(tmp_path: Path) -> None:
    answers = dict(as_done(Squared(5, tmp_path / "killed"), BATCHES, processes=2))
    assert (tmp_path / "killed").exists()
    assert answers == {n: n * n for n in range(10)}


def test_what_kills_every_process_is_told_and_the_rest_goes_on() -> None:
    answers = dict(as_done(Squared(5), BATCHES, processes=2))
    assert isinstance(answers.pop(5), LostError)
    assert answers == {n: n * n for n in range(10) if n != 5}


def test_a_run_goes_on_where_it_was_stopped(
    fifty: tuple[FleetSite, ...], alone: dict[str, bytes], tmp_path: Path
) -> None:
    sites, folder = fifty[FEW], tmp_path / "out"
    folder.mkdir()
    out = folder / "fleet.csv"

    def stop(told: FleetProgress) -> None:
        if told.done == 5:
            raise KeyboardInterrupt

    with FinishedSites.beside(out) as finished, pytest.raises(KeyboardInterrupt):
        fleet_of(sites, days=DAY, finished=finished, progress=stop)
    (kept,) = folder.iterdir()
    kept.write_bytes(kept.read_bytes()[:-20])  # as a kill in the middle of a line leaves it
    with FinishedSites.beside(out) as finished:
        again = fleet_of(sites, days=DAY, finished=finished)
        with pytest.raises(InputError, match="another run"), FinishedSites.beside(out):
            pass
        finished.remove()
    assert again.kept > 0
    assert list(folder.iterdir()) == []
    assert written(tmp_path / "again", again) == alone


def test_what_was_kept_counts_only_for_the_same_question(tmp_path: Path) -> None:
    (tmp_path / "sky.csv").write_text("")
    job = load_job("demo", CLEAR)
    sites = (FleetSite(source="one", job=job),)
    with FinishedSites.beside(tmp_path / "out.csv") as finished:
        fleet_of(sites, days=DAY, finished=finished)
    for changed, days in ((load_job("demo", [*CLEAR, "array.age_years=3"]), DAY), (job, (DAY[0], dt.date(2025, 6, 2)))):
        with FinishedSites.beside(tmp_path / "out.csv") as finished:
            assert len(finished.known) >= 1
            assert fleet_of((FleetSite(source="one", job=changed),), days=days, finished=finished).kept == 0
    with FinishedSites.beside(tmp_path / "out.csv") as finished:
        assert fleet_of(sites, days=DAY, finished=finished).kept == 1


def test_every_fault_of_a_table_at_once(tmp_path: Path) -> None:
    rows = ["A,-3,late,5", "B,2,late,", "C,x,fixed,6,7"]
    path = table(tmp_path, rows, head="site.name,array.age_years,rack.kind,pump.lift")
    with pytest.raises(InputError) as caught:
        fleet_sites(path, job="demo")
    told = {fault.field: str(fault.value) for fault in caught.value.faults}
    assert told["row 2, array.age_years"] == "-3"
    assert told["row 4, array.age_years"] == "x"
    assert told["rows 2, 3, rack.kind"] == "late"
    assert told["row 1"] == "pump.lift"
    assert told["row 4"] == "7"
    assert all(fault.reason and fault.remedy for fault in caught.value.faults)


@pytest.mark.parametrize(
    ("text", "field"),
    [("", "sites.csv"), ("site.name\n", "sites.csv"), ("rack.kind,rack.kind\nfixed,ideal\n", "sites.csv, row 1")],
)
def test_a_table_without_sites_or_with_two_heads(tmp_path: Path, text: str, field: str) -> None:
    (tmp_path / "sites.csv").write_text(text)
    with pytest.raises(InputError) as caught:
        fleet_sites(tmp_path / "sites.csv", job="demo")
    assert field in {fault.field for fault in caught.value.faults}


def test_a_table_as_a_spreadsheet_writes_it(tmp_path: Path) -> None:
    (tmp_path / "sites.csv").write_bytes("\ufeffsite.name;trees\r\nA;[]\r\n\r\nB;\r\n".encode())
    first, second = fleet_sites(tmp_path / "sites.csv", job="demo")
    assert (first.source, second.source) == ("row 2", "row 4")
    assert first.job is not None
    assert second.job is not None
    assert (first.job.trees, len(second.job.trees)) == ((), len(load_job("demo").trees))


def test_a_folder_of_jobs_one_of_them_no_job(tmp_path: Path) -> None:
    (tmp_path / "b.toml").write_text(demo_text())
    (tmp_path / "a.toml").write_text("no job at all")
    one, two = fleet_sites(tmp_path)
    assert (one.source, one.job) == ("a.toml", None)
    assert one.faults
    assert two.job == load_job("demo")
    with pytest.raises(InputError):
        fleet_sites(tmp_path / "nowhere", job="demo")
    with pytest.raises(InputError):
        fleet_sites(tmp_path, job="demo")


def row(source: str, late: float, **more: object) -> dict[str, object]:
    return {"source": source, "fault": "", "site": source, "rack": "delayed", "days": 10, "water_m3_per_day": 8.0,
            "open_and_prompt_m3_per_day": 10.0, "late_m3_per_day": late, "trees_m3_per_day": 0.5,
            "repair_wins_back_m3_per_day": None, "days_flipped": 9, "cautions": "", **more}  # fmt: skip


def test_the_worst_racks_come_first() -> None:
    fleet = Fleet(
        question="compare",
        sites=(row("a", 0.5), row("b", 1.5, cautions="It is hot."), row("c", -0.1), {"source": "d", "fault": "gone"}),
        months=(),
    )
    assert [each["source"] for each in fleet.worst()] == ["b", "a"]
    told = fleet_answer(fleet, "si")
    assert told.headline == "3 sites of 4 worked out; 1 site failed."
    words = repr(told.blocks)
    assert words.index("'b'") < words.index("'a'")
    assert "d: gone" in words
    assert "1 site has cautions" in words


def test_sites_with_dangers_are_named_before_everything_else() -> None:
    weak = row("b", 1.5, cautions="Bears 50.0 psi (345 kPa).", dangers="Bears 50.0 psi (345 kPa).")
    many = [row(f"m{number}", 0.1, dangers="Bursts. " * 99) for number in range(25)]
    told = fleet_answer(Fleet(question="compare", sites=(row("a", 0.5), weak, *many), months=()), "si")
    assert told.dangers[0].text == "WARNING: b: Bears 345 kPa (50.0 psi)."
    assert told.dangers[-1].text == "WARNING: 6 sites more, in the column dangers"
    assert len(told.dangers) == 21
    assert max(len(danger.text) for danger in told.dangers) < 400
    assert not fleet_answer(Fleet(question="compare", sites=(row("a", 0.5),), months=()), "si").dangers


def test_how_far_it_is_in_words() -> None:
    assert progress_words(FleetProgress(done=0, sites=9, kept=0, left_s=None)) == "0 of 9 sites"
    assert progress_words(FleetProgress(done=4, sites=9, kept=3, left_s=200.0)) == (
        "4 of 9 sites (3 by a run before), 3 min left"
    )
    assert progress_words(FleetProgress(done=1, sites=9, kept=0, left_s=3 * 3600)).endswith("3 h 00 min left")


def test_a_defect_in_one_site_is_told_in_its_row(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> SiteRows:
        raise ZeroDivisionError("by nothing")

    monkeypatch.setattr("trackersim.analysis.fleet.site_rows", broken)
    (told,) = fleet_of([FleetSite(source="x", job=load_job("demo"))]).failed
    assert "defect of trackersim: ZeroDivisionError" in told["fault"]


def test_a_question_that_there_is_not_is_refused_before_the_night() -> None:
    with pytest.raises(InputError, match="compare or losses or options"):
        fleet_of([FleetSite(source="one", job=load_job("demo", CLEAR))], "compares", days=DAY)  # type: ignore[arg-type]
