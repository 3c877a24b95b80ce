"""How much water a day, month by month."""

from __future__ import annotations

from collections.abc import Mapping

from trackersim.report import words
from trackersim.report.alt import months_alt
from trackersim.report.blocks import Answer, Picture, sentences
from trackersim.report.chart_series import months_chart
from trackersim.report.figures import months_figure
from trackersim.report.pump_states import pump_state_tables
from trackersim.report.remarks import closing_of, dangers_of
from trackersim.simulation.result import Result
from trackersim.units import System


def run_answer(result: Result, system: System, *, stands: Result | None = None, most_m3_per_day: float = 0.0) -> Answer:
    """The job on its own rack; `stands` and `most_m3_per_day` as for `months_picture`."""
    return Answer(
        headline=words.headline(result, system),
        blocks=(
            *sentences(words.flip_words(result), words.energy_words(result)),
            months_picture({result.rack: result}, system, result.rack, stands, most_m3_per_day),
            words.month_table(result, system),
            *pump_state_tables(result, system),
            *closing_of(system, result),
        ),
        dangers=dangers_of(system, result),
        summary=result.summary(),
    )


def months_picture(
    racks: Mapping[str, Result], system: System, own: str, stands: Result | None, most_m3_per_day: float
) -> Picture:
    """Water a day by month on each rack.

    `stands` is the job as it stands, shown behind the rack `own` where what is looked at is another job;
    `most_m3_per_day` as for `months_chart`.
    """
    before = None if stands is None else {own: stands}
    return Picture(
        draw=lambda: months_figure(racks, system),
        alt=months_alt(racks, system),
        name="months",
        charts=lambda: (months_chart(racks, system, before=before, most_m3_per_day=most_m3_per_day),),
    )
