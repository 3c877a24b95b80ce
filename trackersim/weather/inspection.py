"""Weather is looked at before it is used: every check of a file that was read and cleaned, and what they found."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from trackersim.arrays import BoolArray
from trackersim.weather import inspect_air, inspect_light
from trackersim.weather.file_rows import FileRows
from trackersim.weather.findings import Check, Finding, Outcome

CHECKS: Mapping[Check, Callable[[FileRows], Outcome]] = {
    "closure": inspect_light.check_closure,
    "dark_days": inspect_light.check_dark_days,
    "zeros": inspect_light.check_zeros,
    "stuck_light": inspect_light.check_stuck_light,
    "envelope": inspect_light.check_envelope,
    "drift": inspect_light.check_drift,
    "air_season": inspect_air.check_air_season,
    "air_day": inspect_air.check_air_day,
    "stuck_air": inspect_air.check_stuck_air,
    "stuck_wind": inspect_air.check_stuck_wind,
    "calm": inspect_air.check_calm,
    "gale": inspect_air.check_gale,
    "clock": inspect_air.check_clock,
}


@dataclass(frozen=True, kw_only=True)
class Inspection:
    """What the checks of one file found.

    `unable` are the checks that this file gives no ground for. `doubtful` and `filled` (n,) are the rows of the weather
    that a finding holds in doubt, and those whose light the file lacks.
    """

    findings: tuple[Finding, ...]
    unable: tuple[Check, ...]
    doubtful: BoolArray
    filled: BoolArray


def inspect(rows: FileRows, *, filled: BoolArray) -> Inspection:
    """All checks of one file; `filled` (n,) are the rows whose light it lacks."""
    outcomes = {name: check(rows) for name, check in CHECKS.items()}
    findings = tuple(each for each in outcomes.values() if isinstance(each, Finding))
    masks = [finding.rows for finding in findings if finding.rows is not None]
    return Inspection(
        findings=findings,
        unable=tuple(name for name, each in outcomes.items() if each == "unable"),
        doubtful=np.logical_or.reduce([np.zeros(rows.slots.count, dtype=bool), *masks]),
        filled=filled,
    )
