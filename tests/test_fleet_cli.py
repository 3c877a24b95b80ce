"""`trackersim fleet` as it is typed: killed and run again, exit codes, faults under the names of options."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pandas as pd
from pypdf import PdfReader
from typer.testing import CliRunner

from trackersim.cli import app
from trackersim.job.files import demo_text

ROOT = Path(__file__).parents[1]
DAY = ["--from", "2025-06-01", "--to", "2025-06-01"]
KEPT = "fleet.csv.finished.jsonl"


def call(*words: str) -> tuple[int, str, str]:
    outcome = CliRunner().invoke(app, ["fleet", *words])
    if outcome.exception and not isinstance(outcome.exception, SystemExit):
        raise outcome.exception
    return outcome.exit_code, outcome.stdout, outcome.stderr


def make_table(folder: Path) -> list[str]:
    rows = [f"farm {n},{60 + n} ft" for n in range(12)]
    (folder / "sites.csv").write_text("site.name,source.lift\n" + "\n".join(rows) + "\n")
    return [str(folder / "sites.csv"), "--job", "demo", "--out", str(folder / "fleet.csv"), "--processes", "1", *DAY]


def test_a_killed_run_is_gone_on_with_and_gives_the_same_bytes(tmp_path: Path) -> None:
    words = make_table(tmp_path)
    command = [sys.executable, "-m", "trackersim", "fleet", *words]
    running = subprocess.Popen(command, env={**os.environ, "PYTHONPATH": str(ROOT)}, stdout=subprocess.DEVNULL)
    until = time.monotonic() + 120
    while time.monotonic() < until and running.poll() is None:
        if (tmp_path / KEPT).exists() and (tmp_path / KEPT).stat().st_size:
            break
        time.sleep(0.005)
    running.kill()
    assert running.wait() != 0, "it was over before it could be killed"
    assert (tmp_path / KEPT).exists()
    assert not (tmp_path / "fleet.csv").exists()
    code, told, _ = call(*words)
    assert code == 0
    assert "of them by a run before" in told
    assert not (tmp_path / KEPT).exists()
    resumed = {name: (tmp_path / name).read_bytes() for name in ("fleet.csv", "fleet-months.csv")}
    code, told, _ = call(*words)
    assert code == 0
    assert "by a run before" not in told
    assert resumed == {name: (tmp_path / name).read_bytes() for name in resumed}


def test_a_folder_with_a_broken_job_says_so_at_the_end(tmp_path: Path) -> None:
    (tmp_path / "jobs").mkdir()
    (tmp_path / "jobs" / "good.toml").write_text(demo_text())
    (tmp_path / "jobs" / "bad.toml").write_text(demo_text().replace("[site]", "[site]\nno_such_field = 1"))
    out, page = tmp_path / "fleet.parquet", tmp_path / "page.pdf"
    code, told, _ = call(str(tmp_path / "jobs"), "--out", str(out), "--page", str(page), "--units", "si", *DAY)
    assert code == 3
    assert "1 site of 2 worked out; 1 site failed." in told
    assert "no_such_field" in told
    sites = pd.read_parquet(out)
    assert list(sites["source"]) == ["bad.toml", "good.toml"]
    assert list(sites["fault"] == "") == [False, True]
    assert len(pd.read_parquet(tmp_path / "fleet-months.parquet")) == 1
    assert "Hill farm" in "".join(sheet.extract_text() for sheet in PdfReader(page).pages)


def test_faults_are_told_under_the_names_of_options(tmp_path: Path) -> None:
    (tmp_path / "sites.csv").write_text("site.name,array.age_years\nA,-3\nB,12\n")
    code, _, complaint = call(str(tmp_path / "sites.csv"), "--job", "demo", "--out", str(tmp_path / "out.csv"))
    assert code == 2
    assert "row 2, array.age_years = -3: must be at least 0." in complaint
    code, _, complaint = call(str(tmp_path / "sites.csv"), "--out", str(tmp_path / "out.csv"))
    assert code == 2
    assert "--job" in complaint
    code, _, complaint = call(str(tmp_path / "sites.csv"), "--job", "demo", "--out", str(tmp_path / "out.xlsx"))
    assert code == 2
    assert "--out" in complaint
    assert ".csv or .parquet" in complaint
    assert [path.name for path in tmp_path.iterdir()] == ["sites.csv"]
