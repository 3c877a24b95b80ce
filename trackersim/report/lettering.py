"""The typeface of page, paper and figures: which characters it knows, and names cut to the room there is.

It is shipped (`data/face/`, with its licence): TrueType for paper and figures, the same as WOFF2 for browsers. What it
lacks comes from matplotlib's own letters.
"""

from __future__ import annotations

import unicodedata
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.ft2font import FT2Font

FAMILY = "Atkinson Hyperlegible Next"
FOR_THE_REST = "DejaVu Sans"
FACE_FOLDER = Path(__file__).parents[1] / "data" / "face"
REGULAR, BOLD = "AtkinsonHyperlegibleNext-Regular", "AtkinsonHyperlegibleNext-Bold"
# Stands for a character that the letters lack; it has one itself.
MISSING = "□"
_MEASURED_AT_PT = 100.0
_POINTS_PER_INCH = 72.0


def one_line(text: str) -> str:
    """The text on one line, with □ for marks of writing direction, which could turn the words around them.

    >>> one_line("Farm 农场\\n$x\\u202e")
    'Farm 农场 $x□'
    """
    return "".join(map(_visible, text))


def printable(text: str) -> str:
    """The text on one line, with □ for every character that the letters lack.

    >>> printable("Farm 农场\\n$x")
    'Farm □□ $x'
    """
    return "".join(map(_shown, one_line(text)))


@cache
def _visible(character: str) -> str:
    category = unicodedata.category(character)
    if character.isspace() or category in ("Cc", "Zl", "Zp"):
        return " "
    return MISSING if category in ("Cf", "Cs", "Co", "Cn") else character


@cache
def _shown(character: str) -> str:
    # Both typefaces have all of ASCII: their files need not be read for it.
    return character if character.isascii() or ord(character) in _known() else MISSING


@cache
def _known() -> frozenset[int]:
    return _known_to(FAMILY) | _known_to(FOR_THE_REST)


@cache
def _known_to(family: str) -> frozenset[int]:
    return frozenset(_font(family, bold=False).get_charmap()) & frozenset(_font(family, bold=True).get_charmap())


@cache
def families() -> list[str]:
    """The families of letters, the shipped one first, known to matplotlib from now on."""
    from matplotlib.font_manager import fontManager

    for name in (REGULAR, BOLD):
        fontManager.addfont(FACE_FOLDER / f"{name}.ttf")
    return [FAMILY, FOR_THE_REST]


def _font(family: str, *, bold: bool) -> FT2Font:
    from matplotlib.font_manager import FontProperties, findfont, get_font

    assert family in families()
    return get_font(findfont(FontProperties(family=family, weight="bold" if bold else "normal")))


@cache
def _advance_pt(character: str, bold: bool) -> float:
    from matplotlib.ft2font import LoadFlags

    font = _font(FAMILY if ord(character) in _known_to(FAMILY) else FOR_THE_REST, bold=bold)
    font.set_size(_MEASURED_AT_PT, _POINTS_PER_INCH)
    glyph = font.load_char(ord(character), flags=LoadFlags.NO_HINTING)
    return float(glyph.linearHoriAdvance) / 65536


def width_in(text: str, *, size_pt: float, bold: bool = False) -> float:
    """Width [inch] of a printable text on one line."""
    return sum(_advance_pt(character, bold) for character in text) / _MEASURED_AT_PT * size_pt / _POINTS_PER_INCH


def shortened(text: str, *, size_pt: float, room_in: float, bold: bool = False) -> str:
    """The text made printable, cut with an ellipsis if it is wider than `room_in`."""
    whole = printable(text).strip()
    if width_in(whole, size_pt=size_pt, bold=bold) <= room_in:
        return whole
    room = room_in - width_in("…", size_pt=size_pt, bold=bold)
    used, kept = 0.0, 0
    for character in whole:
        used += width_in(character, size_pt=size_pt, bold=bold)
        if used > room:
            break
        kept += 1
    return whole[:kept].rstrip() + "…"
