"""A run's files: tables, series, summary and figures."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import Any

import pandas as pd
from matplotlib.figure import Figure

from trackersim.job.whole_files import write_all
from trackersim.report.figures import day_figure, months_figure
from trackersim.simulation.result import Result
from trackersim.units import System, shown_value

# Decimals in the minute series: finer than any instrument in the field, small enough to open.
_DECIMALS = {
    "rotation_deg": 3, "sun_rotation_deg": 3, "beam_share": 4, "plane_w_m2": 2, "cell_c": 2, "array_w": 2,
    "input_w": 2, "used_w": 2, "input_v": 2,
    "flow_m3_s": 9, "head_m": 3,
}  # fmt: skip

# Files of an earlier run into the same folder, on other racks.
_STALE = ("daily_*.csv", "monthly_*.csv", "minutes_*.csv")


def write_run(folder: Path, results: Mapping[str, Result], summary: Mapping[str, Any], system: System) -> list[Path]:
    """Write everything about `results` into `folder` (made if missing) and return the paths.

    For each rack: daily, monthly and minute tables (CSV); beside them one summary (JSON) and two figures (PNG).
    """
    return write_all(folder, _writers(results, summary, system), stale=_STALE)


def _writers(
    results: Mapping[str, Result], summary: Mapping[str, Any], system: System
) -> dict[str, Callable[[Path], Any]]:
    writers: dict[str, Callable[[Path], Any]] = {
        "summary.json": lambda path: path.write_text(json_text(summary) + "\n", encoding="utf-8"),
        "months.png": lambda path: months_figure(results, system).savefig(path, dpi=150),
        "day.png": lambda path: day_figure(results, system).savefig(path, dpi=150),
    }
    for kind, result in results.items():
        writers[f"daily_{kind}.csv"] = partial(_write_table, _shown(result.daily, system))
        writers[f"monthly_{kind}.csv"] = partial(_write_table, _shown(result.monthly, system))
        series = result.series.round(_DECIMALS).rename_axis("time")
        writers[f"minutes_{kind}.csv"] = partial(_write_table, series)
    return writers


def _write_table(table: pd.DataFrame, path: Path) -> None:
    table.to_csv(path)


def _shown(table: pd.DataFrame, system: System) -> pd.DataFrame:
    """The table with its water in the units asked for; the column's name says which."""
    if system == "si":
        return table
    water = shown_value(table["water_m3"], "volume", system)
    return table.assign(water_m3=water).rename(columns={"water_m3": "water_gal"})


def write_answer(
    folder: Path | None,
    name: str,
    summary: Mapping[str, Any],
    *,
    draw: Callable[[], Figure] | None = None,
    text: str = "",
) -> list[Path]:
    """Write an answer's summary into `folder`, and its figure and text where it has them, each under `name`.

    Returns the paths; none without a folder.
    """
    if folder is None:
        return []
    writers: dict[str, Callable[[Path], Any]] = {
        f"{name}.json": lambda path: path.write_text(json_text(summary) + "\n", encoding="utf-8")
    }
    if draw is not None:
        writers[f"{name}.png"] = lambda path: draw().savefig(path, dpi=150)
    if text:
        writers[f"{name}.txt"] = lambda path: path.write_text(f"{text.rstrip()}\n", encoding="utf-8")
    return write_all(folder, writers)


def json_text(data: Mapping[str, Any]) -> str:
    """JSON as every command prints it."""
    return json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False)
