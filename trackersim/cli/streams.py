"""What the command line writes to: terminals that know few letters, full disks, a working folder that is gone."""

from __future__ import annotations

import codecs
import io
import os
import sys
import unicodedata
from typing import NoReturn

_HANDLER = "trackersim.plain"
# What a letter that the terminal lacks is written as; accents are dropped, anything else is a question mark.
_PLAIN = {
    "−": "-", "–": "-", "—": "-", "‑": "-", "±": "+/-", "×": "x", "·": "*", "•": "*", "…": "...", "≥": ">=", "≤": "<=",
    "≈": "about ", "°": " deg ", "²": "2", "³": "3", "½": "1/2", "¼": "1/4", "¾": "3/4", "“": '"', "”": '"', "‘": "'",
    "’": "'", "→": "->", "←": "<-", "µ": "u", "μ": "u", "Ω": "ohm", "\u00a0": " ", "\u202f": " ", "€": "EUR",
}  # fmt: skip


def plain(letter: str) -> str:
    """A letter in ASCII.

    >>> plain("−"), plain("é"), plain("─"), plain("水")
    ('-', 'e', '-', '?')
    """
    if letter in _PLAIN:
        return _PLAIN[letter]
    if "BOX DRAWINGS" in unicodedata.name(letter, ""):
        return "-"
    bare = unicodedata.normalize("NFKD", letter).encode("ascii", "ignore").decode()
    return bare or "?"


def _replaced(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(plain(letter) for letter in error.object[error.start : error.end]), error.end


def prepare() -> None:
    """Make the streams write what they can, and see that there is a folder to work in.

    A width of the terminal that is none (COLUMNS=0) is forgotten.
    """
    codecs.register_error(_HANDLER, _replaced)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=_HANDLER)
    columns = os.environ.get("COLUMNS")
    if columns is not None and not (columns.isdecimal() and int(columns[:6]) > 0):
        del os.environ["COLUMNS"]
    try:
        os.getcwd()  # noqa: PTH109  # asked of the machine, no path is wanted
    except OSError:
        leave("The folder you are in is no longer there: change to another one and try again.")


def leave(sentence: str) -> NoReturn:
    """Say on stderr why nothing more can be done, and leave with exit code 1; what stdout still holds is dropped."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        sys.stderr.write(sentence + "\n")
        sys.stderr.flush()
    except OSError:
        os.dup2(nowhere, 2)
    os.dup2(nowhere, 1)
    raise SystemExit(1)
