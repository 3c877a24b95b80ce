"""What each of several pumps does through a day: it gives water, waits for something, or is off."""

from __future__ import annotations

from trackersim.report.blocks import Table
from trackersim.simulation.day_figures import DayFigures
from trackersim.units import System, shown_number, unit_label

_HEADS = {"running": "runs", "waiting: low-flow cut-out": "cut-out", "waiting: start power": "start"}


def pump_state_tables(result: DayFigures, system: System) -> tuple[Table, ...]:
    """One table for several pumps, none for one."""
    job, days = result.job, result.days
    if not job.unit:
        return ()
    states = result.unit_state_minutes
    heads = tuple(_HEADS.get(str(state), str(state).removeprefix("waiting: ")) for state in states[0])
    rows = tuple(
        (
            name,
            shown_number(water_m3, "volume_per_day", system),
            *(f"{count / days / 60:.1f}" for count in minutes.values()),
        )
        for name, water_m3, minutes in zip(job.unit_names, result.unit_water_m3_per_day, states, strict=True)
    )
    title = "Hours of an average day: running, waiting for source, store, cut-out or start power, and off"
    return (Table(header=("pump", unit_label("volume_per_day", system), *heads), rows=rows, title=title, tight=True),)
