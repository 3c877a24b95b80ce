"""Frozen figures stay as they are: four racks on the demo, a tank, a pond, a sump, three pumps and more."""

from __future__ import annotations

import json
from typing import Any

import pytest
from figures_of import FROZEN, JOBS, RACKS, SAVED, figures_of, smooth

from trackersim import Result, compare, load_job, simulate

GOLDEN: dict[str, dict[str, Any]] = json.loads(FROZEN.read_text(encoding="utf-8"))


def check(name: str, result: Result) -> None:
    now = figures_of(result)
    assert now.keys() == GOLDEN[name].keys()
    for figure, value in GOLDEN[name].items():
        expected = value if value is None else pytest.approx(value, rel=1e-9, abs=1e-9)
        assert now[figure] == expected, f"{name}: {figure}"


def test_the_demo_on_each_rack() -> None:
    for kind, result in compare(smooth("demo"), kinds=RACKS).items():
        check(f"demo, {kind}", result)


@pytest.mark.parametrize("name", JOBS)
def test_a_saved_job_on_its_own_rack(name: str) -> None:
    check(name, simulate(smooth(SAVED / f"{name}.toml")))


def test_every_saved_job_opens() -> None:
    """Files of every version stay readable: none of these may ever be changed, or taken away."""
    names = sorted(path.stem for path in SAVED.glob("*.toml"))
    assert set(names) >= {*JOBS, "demo", "starter"}
    for name in names:
        assert load_job(SAVED / f"{name}.toml").units, name


def test_a_finer_curve_of_the_pump_moves_no_month_of_the_tank(monkeypatch: pytest.MonkeyPatch) -> None:
    """One start more or less shifts the floats of a tank for weeks, so it shows best whether a table is fine enough.

    When one solver took the place of two, a month of this job moved by 4.2e-4 and another should have by 2.2e-3.
    Refined to 25,600 speeds and 12,800 flows, old and new agree in every month to 1e-8: the tables of both, 400 and
    800, were what was wrong. Here 1,600 flows against 6,400.
    """
    from trackersim.water import operating

    monkeypatch.setattr(operating, "_FLOWS", 4 * operating._FLOWS)
    finer = figures_of(simulate(smooth(SAVED / "tank.toml")))["water_m3_by_month"]
    assert finer == pytest.approx(GOLDEN["tank"]["water_m3_by_month"], rel=1e-6)
