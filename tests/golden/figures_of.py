"""What the program says of the saved jobs, figure by figure; `python tests/golden/figures_of.py` freezes it anew.

Frozen figures are no outside check: they say that a change of structure changed no answer. Who freezes them anew says
in the commit which figures moved, by how much and why.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from trackersim import Result, compare, load_job, simulate
from trackersim.job.files import with_overrides
from trackersim.job.model import Job

FROZEN = Path(__file__).with_name("figures.json")
SAVED = Path(__file__).parents[1] / "saved_jobs"
RACKS = ("fixed", "delayed", "thermal", "ideal")
# Jobs that are followed through a whole year on their own rack; the demo is on all four.
JOBS = ("tank", "pond", "sump", "helical", "rated_point", "three_pumps", "fixed_rack", "ideal_rack", "thermal_rack")


def figures_of(result: Result) -> dict[str, Any]:
    """Sums of a result, by month where a year has months."""
    water = result.water
    figures: dict[str, Any] = {
        "water_m3": result.water_m3,
        "water_m3_by_month": result.monthly["water_m3"].tolist(),
        "array_kwh": float(result.daily["array_kwh"].sum()),
        "plane_kwh_m2": float(result.daily["plane_kwh_m2"].sum()),
        "input_kwh": float(result.minutes["input_w"].sum()) / 60_000,
        "used_kwh": float(result.minutes["used_w"].sum()) / 60_000,
        "mean_input_v": float(result.minutes["input_v"].mean()),
        "mean_cell_c": float(result.minutes["cell_c"].mean()),
        "mean_rotation_deg": float(result.minutes["rotation_deg"].mean()),
        "mean_head_m": float(result.minutes["head_m"].mean()),
        "starts": int(water.starts.sum()),
        "cutouts": int(water.cutouts.sum()),
        "running_min": int(water.running.sum()),
        "flips": None if result.events is None else int((result.events.flip >= 0).sum()),
        "flip_sum_min": None if result.events is None else int(result.events.flip.sum()),
    }
    if water.store is not None:
        for name in ("delivered_m3", "overflow_m3", "shortfall_m3", "evaporated_m3"):
            figures[name] = float(getattr(water.store, name).sum())
    figures["sump_overflow_m3"] = float(water.sump_overflow_m3.sum())
    return figures


def all_figures() -> dict[str, dict[str, Any]]:
    """Every frozen figure, by job."""
    found = {f"demo, {kind}": figures_of(each) for kind, each in compare(smooth("demo"), kinds=RACKS).items()}
    return found | {name: figures_of(simulate(smooth(SAVED / f"{name}.toml"))) for name in JOBS}


def smooth(job: str | Path) -> Job:
    """The job with its hours joined smoothly: what clouds are drawn moves no frozen figure."""
    return with_overrides(load_job(job), {"weather.minutes": "smooth"})


if __name__ == "__main__":
    FROZEN.write_text(json.dumps(all_figures(), indent=1) + "\n", encoding="utf-8")
