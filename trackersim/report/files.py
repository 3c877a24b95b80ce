"""Writes a run's files: tables, series, summary and figures; all of them or none."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import pandas as pd

from trackersim.errors import InputError
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


def write_all(folder: Path, writers: Mapping[str, Callable[[Path], Any]], *, stale: Sequence[str] = ()) -> list[Path]:
    """Write the named files into `folder` (made if missing), all of them or none, and return their paths.

    They are made in a hidden folder first and moved into place when complete; then older files that match a pattern
    in `stale` are removed, so that no file of another run stays among them. Raises `InputError` if that fails.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        work = Path(tempfile.mkdtemp(prefix=".writing-", dir=folder))
    except OSError as error:
        reason = f"cannot be written to ({error.strerror})."
        raise InputError.of("out", str(folder), reason, "Give a folder that exists or can be made.") from None
    try:
        taken = [name for name in writers if (folder / name).is_dir()]
        if taken:
            raise InputError.of("out", str(folder), f"has a folder named {taken[0]}.", "Choose another folder.")
        for name, write in writers.items():
            write(work / name)
        older = {path for pattern in stale for path in folder.glob(pattern)} - {folder / name for name in writers}
        paths = [(work / name).replace(folder / name) for name in sorted(writers)]
        for path in older:
            path.unlink()
        return paths
    except OSError as error:
        reason = f"could not be filled ({error.strerror}); nothing was changed before the last step."
        raise InputError.of("out", str(folder), reason, "Free some space or choose another folder.") from None
    finally:
        shutil.rmtree(work, ignore_errors=True)


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
        writers[f"minutes_{kind}.csv"] = partial(_write_table, _series(result))
    return writers


def _write_table(table: pd.DataFrame, path: Path) -> None:
    table.to_csv(path)


def _series(result: Result) -> pd.DataFrame:
    return result.series.round(_DECIMALS).rename_axis("time")


def _shown(table: pd.DataFrame, system: System) -> pd.DataFrame:
    """The table with its water in the units asked for; the column's name says which."""
    if system == "si":
        return table
    water = shown_value(table["water_m3"], "volume", system)
    return table.assign(water_m3=water).rename(columns={"water_m3": "water_gal"})


def json_text(data: Mapping[str, Any]) -> str:
    """JSON as every command prints it."""
    return json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False)
