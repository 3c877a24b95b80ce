"""What stands at either end of an answer about results: dangers before it, remarks and the figures' origin after it."""

from __future__ import annotations

from collections.abc import Mapping

from trackersim.report.blocks import Caution, Note
from trackersim.report.words import all_notices, provenance_words
from trackersim.simulation.result import Result


def dangers_of(results: Mapping[str, Result]) -> tuple[Caution, ...]:
    """Dangers that the results found."""
    return tuple(
        Caution(text=str(notice), level="danger") for notice in all_notices(results) if notice.level == "danger"
    )


def closing(results: Mapping[str, Result], own: Result) -> tuple[Caution | Note, ...]:
    """The other remarks, cautions first, and one line to trace the figures by."""
    rest = [notice for notice in all_notices(results) if notice.level != "danger"]
    told: list[Caution | Note] = [
        Caution(text=str(notice), level="caution") if notice.level == "caution" else Note(text=str(notice))
        for notice in rest
    ]
    return (*told, Note(text=provenance_words(own)))
