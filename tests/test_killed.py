"""A run that is killed while it writes leaves whole files or none, and the next one succeeds and tidies up."""

from __future__ import annotations

import multiprocessing
import os
import random
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent / "weather"))

from makers import pvgis_json
from server import Answer, horizon_answer, serving

from trackersim.job.files import demo_text, load_job
from trackersim.job.whole_files import MARK

ROOT = Path(__file__).parents[1]
MOMENTS = 4


def started(folder: Path, words: list[str]) -> subprocess.Popen[str]:
    env = {**os.environ, "PYTHONPATH": str(ROOT), "XDG_CACHE_HOME": str(folder.parent / f"{folder.name}-cache")}
    command = [sys.executable, "-m", "trackersim", *words]
    return subprocess.Popen(command, cwd=folder, env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def hidden(folder: Path) -> list[Path]:
    """One that goes while one looks is passed over: one is made for a moment to try whether anything can be."""
    cache = folder.parent / f"{folder.name}-cache" / "trackersim"
    found = (Path(at, name) for each in (folder, cache) for at, names, _ in os.walk(each) for name in names)
    return [path for path in found if path.name.startswith(MARK)]


def visible(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and MARK not in str(path)
    }


def files_in(work: Path) -> int:
    """None of a hidden folder that is gone again."""
    try:
        return len(list(work.iterdir()))
    except FileNotFoundError:
        return 0


def killed(folder: Path, words: list[str], *, files: int) -> None:
    """Start the command and kill it as soon as its hidden folder holds so many files."""
    running = started(folder, words)
    until = time.monotonic() + 60
    while time.monotonic() < until and running.poll() is None:
        if any(files_in(work) >= files for work in hidden(folder)):
            break
        time.sleep(0.001)
    running.kill()
    running.communicate()
    assert running.returncode != 0, "it was over before it could be killed"


def test_a_comparison_that_is_killed_while_it_writes(tmp_path: Path) -> None:
    words = ["compare", "demo", "--from", "2025-06-01", "--to", "2025-06-01", "--out", "out"]
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "summary.json").write_text("older")
    killed(tmp_path, words, files=9)
    assert visible(tmp_path) == {"out/summary.json": b"older"}
    assert hidden(tmp_path)
    running = started(tmp_path, words)
    _, complaints = running.communicate(timeout=120)
    assert running.returncode == 0, complaints
    assert len(visible(tmp_path)) == 15
    assert not hidden(tmp_path)


def test_a_download_that_is_killed_leaves_the_job_as_it_was(tmp_path: Path) -> None:
    site = load_job("demo").site
    year = pvgis_json(latitude=site.latitude_deg, longitude=site.longitude_deg).encode()
    (tmp_path / "job.toml").write_text(demo_text())
    with serving(Answer(body=year, horizon_body=horizon_answer())) as url:
        killed(tmp_path, ["weather", "job.toml", "--url", url], files=1)
        assert visible(tmp_path)["job.toml"] == demo_text().encode()
        running = started(tmp_path, ["weather", "job.toml", "--url", url])
        _, complaints = running.communicate(timeout=120)
    assert running.returncode == 0, complaints
    assert load_job(tmp_path / "job.toml").weather.file.endswith(".json")
    assert not hidden(tmp_path)


# What a sheet is made with, loaded once: a run that is killed while it loads has touched no file.
LOADED = ("trackersim.cli", "trackersim.analysis.losses", "trackersim.report.customer_sheet", "trackersim.report.paper",
          "numba", "typst")  # fmt: skip


def made_sheet(folder: Path, words: list[str]) -> None:
    """The command in a process that has everything loaded."""
    from trackersim.cli import main

    os.chdir(folder)
    os.environ["XDG_CACHE_HOME"] = str(folder.parent / f"{folder.name}-cache")
    sys.argv = ["trackersim", *words]
    main()


def test_a_sheet_that_is_killed_at_any_moment_leaves_the_older_one(tmp_path: Path) -> None:
    """Killed the later the longer it runs; whatever was reached, the older sheet is whole or the new one is."""
    words = ["report", "demo", "--quick", "--set", "weather.file=sample:clear-spring-day", "-o", "sheet.pdf"]
    sheet = tmp_path / "sheet.pdf"
    forked = multiprocessing.get_context("forkserver")
    forked.set_forkserver_preload(list(LOADED))

    def begun() -> Any:
        running = forked.Process(target=made_sheet, args=(tmp_path, words))
        running.start()
        return running

    waits = forked.Process(target=int)  # until everything is loaded
    waits.start()
    waits.join()
    began, whole = time.monotonic(), begun()
    whole.join(timeout=240)
    assert whole.exitcode == 0
    took_s, new = time.monotonic() - began, sheet.read_bytes()
    chance, ended = random.Random(11), 0
    for _ in range(MOMENTS):
        sheet.write_text("older")
        running = begun()
        time.sleep(chance.uniform(0.2, 1.0) * took_s)
        running.kill()
        running.join()
        ended += running.exitcode == 0
        assert visible(tmp_path) in ({"sheet.pdf": b"older"}, {"sheet.pdf": new})
    assert ended < MOMENTS, "none was killed"
    last = begun()
    last.join(timeout=240)
    assert last.exitcode == 0
    assert visible(tmp_path) == {"sheet.pdf": new}
    assert not hidden(tmp_path)
