"""Notices as blocks of an answer: dangers before it, the rest and the figures' origin at its end."""

from __future__ import annotations

from dataclasses import replace

from trackersim.errors import Notice
from trackersim.report.blocks import Answer, Block, Caution, Note
from trackersim.report.words import all_notices, provenance_words
from trackersim.simulation.day_figures import DayFigures
from trackersim.units import System, own_first


def dangers_of(system: System, *results: DayFigures) -> tuple[Caution, ...]:
    """What has to be said before the answer."""
    return tuple(
        Caution(text=own_first(str(notice), system), level="danger")
        for notice in all_notices(results)
        if notice.level == "danger"
    )


def closing_of(system: System, own: DayFigures, *others: DayFigures) -> tuple[Block, ...]:
    """The other notices of all results, cautions first, and the line to trace the figures of `own` by."""
    said = (remark(notice, system) for notice in all_notices((*others, own)) if notice.level != "danger")
    return (*said, Note(text=provenance_words(own)))


def part_of(answer: Answer, result: DayFigures, system: System) -> Answer:
    """An answer below another one about the same result: what both would say of it is said once."""
    said = closing_of(system, result)
    return replace(answer, dangers=(), blocks=tuple(block for block in answer.blocks if block not in said))


def remark(notice: Notice, system: System) -> Block:
    """One notice at its place in an answer."""
    text = own_first(str(notice), system)
    return Note(text=text) if notice.level == "note" else Caution(text=text, level=notice.level)
