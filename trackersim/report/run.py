"""How much water a day, month by month."""

from __future__ import annotations

from trackersim.report import words
from trackersim.report.blocks import Answer, Quantity, Table, sentences
from trackersim.report.pump_states import pump_state_tables
from trackersim.report.remarks import closing_of, dangers_of
from trackersim.simulation.result import Result
from trackersim.units import System


def run_answer(result: Result, system: System) -> Answer:
    """The job on its own rack."""
    return Answer(
        headline=words.headline(result, system),
        blocks=(
            *sentences(words.flip_words(result), words.energy_words(result)),
            month_table(result, system),
            *pump_state_tables(result, system),
            *closing_of(result),
        ),
        figures={"water": Quantity(value=result.water_m3_per_day, kind="volume_per_day", meaning="water lifted")},
        dangers=dangers_of(result),
        summary=result.summary(),
    )


def month_table(result: Result, system: System) -> Table:
    """Water, energy and light of each month."""
    return Table(header=words.month_header(system), rows=tuple(words.month_rows(result, system)), title="Means a day")
