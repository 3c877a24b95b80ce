"""Blocks on paper: a tagged PDF (PDF/UA-1) with one front page and an appendix, set by typst.

The template `sheet.typ` gets everything as data, so that a name is text whatever it holds. It knows no question. The
same blocks give the same bytes: nothing of clock, machine or installed fonts goes in.
"""

from __future__ import annotations

import datetime as dt
import io
import json
import re
import threading
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

import matplotlib
import typst

from trackersim.report.blocks import Block, Caution, Heading, Listing, Note, Picture, Sentence, Table
from trackersim.report.lettering import FACE_FOLDER, FAMILY, FOR_THE_REST, printable
from trackersim.units import System

PaperSize = Literal["letter", "a4"]
# Words longer than this may be broken anywhere: nothing else would keep them on the page.
_LONGEST_WORD = 26
_BREAK = "\u200b"
_HASH = re.compile(r"[0-9a-f]{64}")
# All threads share matplotlib's settings: one figure at a time.
_LOCK = threading.Lock()


@dataclass(frozen=True, kw_only=True)
class Lead:
    """The one sentence that answers the question, in large letters."""

    text: str


@dataclass(frozen=True, kw_only=True)
class KeyFigures:
    """A few figures in large letters, each with its meaning; the first is the largest."""

    figures: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class Shortened:
    """A list or table of which the front page shows `most` lines, and fewer where they would make two pages of it.

    `more` then says where the others stand; {} in it is their number.
    """

    block: Listing | Table
    most: int
    more: str


FrontBlock = Block | Lead | KeyFigures | Shortened


@dataclass(frozen=True, kw_only=True)
class Document:
    """What is printed: `name` and `subtitle` head the front page, `foot` stands on every page.

    `title` is the title in the file's properties, `program` its keyword. `date` stands in the properties in place of
    the clock, which would make two prints of one result differ.
    """

    title: str
    name: str
    subtitle: str
    program: str
    foot: str
    date: dt.date
    front: Sequence[FrontBlock]
    appendix_name: str
    appendix: Sequence[Block]


def pdf(document: Document, *, paper: PaperSize) -> bytes:
    """The document as PDF/UA-1: the front exactly one page, the appendix as many as it takes."""
    data = {
        "paper": paper,
        "letters": [FAMILY, FOR_THE_REST],
        "title": printable(document.title),
        "name": _text(document.name),
        "subtitle": _text(document.subtitle),
        "program": printable(document.program),
        "foot": _text(document.foot),
        "front": _as_data(document.front),
        "rest-title": _text(document.appendix_name),
        "rest": _as_data(document.appendix),
    }
    noon = dt.datetime.combine(document.date, dt.time(12), tzinfo=dt.UTC)
    return typst.compile(
        _template(),
        format="pdf",
        font_paths=_fonts(),
        sys_inputs={"data": json.dumps(data)},
        pdf_standards=["ua-1"],
        timestamp=int(noon.timestamp()),
    )


def usual_paper(system: System) -> PaperSize:
    """US letter where gallons are read, else A4."""
    return "letter" if system == "us" else "a4"


@cache
def _template() -> bytes:
    return files("trackersim.report").joinpath("sheet.typ").read_bytes()


@cache
def _fonts() -> typst.Fonts:
    """The shipped letters and matplotlib's own, which the figures are drawn in too, and none of the machine's."""
    folders = [FACE_FOLDER, Path(matplotlib.get_data_path()) / "fonts" / "ttf"]
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=folders)


def _as_data(blocks: Iterable[FrontBlock]) -> list[dict[str, Any]]:
    """Blocks as plain data; pictures that follow each other stand side by side, cautions become one list."""
    data: list[dict[str, Any]] = []
    for block in blocks:
        made = _one(block)
        last = data[-1] if data else {"kind": ""}
        if isinstance(block, Picture) and last["kind"] == "pictures":
            last["pictures"] += made["pictures"]
        elif isinstance(block, Caution) and made["kind"] == last["kind"] == "listing":
            last["lines"] += made["lines"]
        else:
            data.append(made)
    return data


def _one(block: FrontBlock) -> dict[str, Any]:
    match block:
        case Shortened():
            return {**_one(block.block), "most": block.most, "more": _text(block.more)}
        case KeyFigures():
            return {"kind": "figures", "lines": [[_text(part) for part in figure] for figure in block.figures]}
        case Listing():
            return {"kind": "listing", "lines": [_text(line) for line in block.lines], "numbered": block.numbered}
        case Table():
            return _table(block)
        case Picture():
            return {"kind": "pictures", "pictures": [{"svg": svg(block), "alt": printable(block.alt)}]}
        case Caution(level="safety"):
            return {"kind": "listing", "lines": [_text(block.text)], "numbered": False}
        case Caution():
            return {"kind": block.level, "text": _text(block.text)}
        case Heading() | Sentence() | Note() | Lead():
            return {"kind": type(block).__name__.lower(), "text": _text(block.text)}


def _table(table: Table) -> dict[str, Any]:
    """Columns of numbers end at the right, all others run from the left."""
    lines = [[_text(cell) for cell in row] for row in table.rows]
    header = [_text(cell) for cell in table.header]
    right = list(table.of_numbers)
    return {"kind": "table", "title": _text(table.title), "header": header, "lines": lines, "right": right}


def _text(text: str) -> str:
    """Printable text in which every word can be broken before it leaves the page; a hash stays whole to be copied."""
    return " ".join(map(_breakable, printable(text).split()))


def _breakable(word: str) -> str:
    if len(word) <= _LONGEST_WORD or _HASH.fullmatch(word):
        return word
    return _BREAK.join(word)


def svg(picture: Picture, *, letters: Literal["letters", "outlines"] = "letters") -> str:
    """The same figure gives the same vectors; letters stay letters, or are outlines that need no font."""
    buffer = io.StringIO()
    kind = {"letters": "none", "outlines": "path"}[letters]
    settings: dict[Any, Any] = {"svg.fonttype": kind, "svg.hashsalt": picture.name}
    with _LOCK, matplotlib.rc_context(settings):
        picture.draw().savefig(buffer, format="svg", metadata={"Date": None, "Creator": None})
    return buffer.getvalue()
