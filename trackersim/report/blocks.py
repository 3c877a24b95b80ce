"""`Answer`: what one question is answered with, before anybody decides whether a terminal, a page or a sheet shows it.

A question is worded once, here in `report/`, in its reader's units; `report/terminal.py`, `page/blocks.py`,
`report/paper.py` and `report/web_page.py` render it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from trackersim.report.chart_series import Chart

_NUMBER = re.compile(r"[−–+\-]?[^\w\s]?\d[\d.,:]*( ?\S{1,3})?( \([\d.,]+ %\))?|–|")


@dataclass(frozen=True, kw_only=True)
class Heading:
    """The name of a part of a longer answer."""

    text: str


@dataclass(frozen=True, kw_only=True)
class Sentence:
    """Plain text: one sentence or a few."""

    text: str


@dataclass(frozen=True, kw_only=True)
class Listing:
    """Things to do or to look at, one line each; numbered where their order matters."""

    lines: tuple[str, ...]
    numbered: bool = False


@dataclass(frozen=True, kw_only=True)
class Table:
    """Rows of text under heads, no two alike; `title` says the units, `tight` asks for little room between columns."""

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    title: str = ""
    tight: bool = False

    def __post_init__(self) -> None:
        if len(set(self.header)) < len(self.header):
            raise ValueError(f"two columns have one head: {self.header}")
        if any(len(row) != len(self.header) for row in self.rows):
            raise ValueError(f"a row does not fit the heads {self.header}")

    @property
    def of_numbers(self) -> tuple[bool, ...]:
        """Which columns hold numbers alone, which are read best when they end at the right."""
        columns = range(len(self.header))
        return tuple(bool(self.rows) and all(_NUMBER.fullmatch(row[at]) for row in self.rows) for at in columns)


@dataclass(frozen=True, kw_only=True)
class Picture:
    """A figure, drawn only where it is shown, and the words that stand for it. A terminal shows none.

    `charts` are the same series as data, for a page that draws them itself.
    """

    draw: Callable[[], Figure]
    alt: str
    name: str = "figure"
    charts: Callable[[], tuple[Chart, ...]] | None = None


@dataclass(frozen=True, kw_only=True)
class Caution:
    """What may hurt somebody or spoil the answer. Levels as those of `errors.Notice`; "safety" is the usual care."""

    text: str
    level: Literal["safety", "caution", "danger"] = "safety"


@dataclass(frozen=True, kw_only=True)
class Note:
    """A remark that is no warning: what was assumed, where a figure comes from."""

    text: str


Block = Heading | Sentence | Listing | Table | Picture | Caution | Note


@dataclass(frozen=True, kw_only=True)
class Answer:
    """One question answered: the headline, and the blocks in reading order.

    `summary` is the same as plain data in SI, for the command line's JSON; a figure that several answers quote has one
    name and one value in each. Dangers stand before the headline: they are in `dangers` and not among the blocks.
    """

    headline: str
    blocks: tuple[Block, ...] = ()
    dangers: tuple[Caution, ...] = ()
    summary: Mapping[str, Any] = field(default_factory=dict)


def sentences(*texts: str) -> tuple[Sentence, ...]:
    """Texts as blocks, those that are empty left out."""
    return tuple(Sentence(text=text) for text in texts if text)
