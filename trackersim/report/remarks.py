"""A result's notices as blocks of an answer: dangers before it, the rest and the figures' origin at its end."""

from __future__ import annotations

from trackersim.errors import Notice
from trackersim.report.blocks import Block, Caution, Note
from trackersim.report.words import all_notices, provenance_words
from trackersim.simulation.result import Result


def dangers_of(result: Result) -> tuple[Caution, ...]:
    """What has to be said before the answer."""
    notices = all_notices({result.rack: result})
    return tuple(Caution(text=str(notice), level="danger") for notice in notices if notice.level == "danger")


def closing_of(result: Result) -> tuple[Block, ...]:
    """The other notices, cautions first, and the line to trace the figures by."""
    notices = all_notices({result.rack: result})
    said = (remark(notice) for notice in notices if notice.level != "danger")
    return (*said, Note(text=provenance_words(result)))


def remark(notice: Notice) -> Block:
    """One notice at its place in an answer."""
    if notice.level == "note":
        return Note(text=str(notice))
    return Caution(text=str(notice), level=notice.level)
