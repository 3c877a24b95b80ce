"""First looks in the units and whole steps in which the page prints them: the parts add up as printed."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from trackersim.analysis.first_look import FirstLook
from trackersim.page.ahead import DialTable
from trackersim.report.site_losses import DECIMALS, added_up
from trackersim.units import System, held_value, unit_label


class Steps(NamedTuple):
    """The smallest difference printed: its decimals, what it is in m³, and its units a day and on one day."""

    decimals: int
    m3: float
    unit: str
    day_unit: str


def steps_in(system: System) -> Steps:
    """How water a day is printed.

    >>> steps_in("us").unit, round(steps_in("us").m3, 9)
    ('gal/day', 0.003785412)
    """
    decimals = DECIMALS[system]
    step = held_value(10.0**-decimals, "volume_per_day", system)
    return Steps(decimals, step, unit_label("volume_per_day", system), unit_label("volume", system))


def told(whole_steps: int, steps: Steps) -> str:
    """So much water on one day.

    >>> told(4603, steps_in("us")), told(1742, steps_in("si"))
    ('4,603 gal', '17.42 m³')
    """
    return f"{whole_steps * 10.0**-steps.decimals:,.{steps.decimals}f} {steps.day_unit}"


def printed(look: FirstLook, steps: Steps) -> dict[str, Any]:
    """The figures of a first look in whole steps: lifted, late and trees add up to the whole."""
    parts = (look.own_m3_per_day, look.late_m3_per_day, look.trees_m3_per_day)
    whole, lifted, late, trees = added_up(parts, step=steps.m3)
    return {
        "whole": whole,
        "lifted": lifted,
        "late": late,
        "trees": trees,
        "repair": _gain(look.repaired_m3_per_day, look, steps),
        "open": _gain(look.open_sky_m3_per_day, look, steps),
        "lost": np.round(look.lost_m3 / steps.m3).astype(int).tolist(),
    }


def _gain(other_m3_per_day: float | None, look: FirstLook, steps: Steps) -> int | None:
    """What another job lifts more than this one."""
    return None if other_m3_per_day is None else round((other_m3_per_day - look.own_m3_per_day) / steps.m3)


def ahead_shown(key: str, table: DialTable, system: System) -> dict[str, Any]:
    """A table as the browser reads it, whether it is whole, and the tree whose felling gains most."""
    steps = steps_in(system)
    return {"whole": table.whole, "table": _table_shown(key, table, steps), "best_tree": _best_tree(key, table, steps)}


def _best_tree(key: str, table: DialTable, steps: Steps) -> dict[str, Any] | None:
    """None while it is not known, and where felling it would be felling all."""
    if not table.ranks or len(table.job.trees) < 2:
        return None
    best = table.ranks[0]
    return {"key": key, "word": f"Fell {best.name}", "gain": round(best.gain_m3_per_day / steps.m3)}


def _table_shown(key: str, table: DialTable, steps: Steps) -> dict[str, Any] | None:
    """Rows by trees, cells by position; None while nothing is known."""
    rows: dict[str, list[dict[str, Any]]] = {}
    for (trees, value), look in table.cells.items():
        rows.setdefault(trees, []).append({"at": value, **printed(look, steps)})
    return {"key": key, "rows": rows} if rows else None
