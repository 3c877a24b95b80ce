"""How people write a quantity: a number, whole, decimal, with thousands or as a fraction, then the words of its unit.
Two quantities may make one: 5 ft 6 in.

No unit is known here. Text is measured first, then split once from left to right; only the parts are matched, and no
pattern repeats a repetition. So an answer takes a time in proportion to the text, and long text is refused unread.
"""

from __future__ import annotations

import re
from typing import NamedTuple

MOST_LETTERS = 80  # of one quantity
MOST_UNIT_LETTERS = 40
MOST_LIST_LETTERS = 4000
MOST_NUMBERS = 400  # of one list: more than any sheet prints

_NUMBER = re.compile(r"[-+−]?[0-9.,]+(?:[eE][-+−]?[0-9]+)?")
_LISTED = re.compile(r"[-+−]?[0-9]+(?:\.[0-9]+)?(?:[eE][-+]?[0-9]+)?")
_OVER = re.compile(r"/([0-9]{1,4})(?![0-9.,/])")
_AND_OVER = re.compile(r"[ -]([0-9]{1,4})/([0-9]{1,4})(?![0-9.,/])")
_WHOLE = re.compile(r"[-+]?[0-9]{1,9}")
_SIGNS = str.maketrans({
    "¼": " 1/4", "½": " 1/2", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8",
    # Marks behind a number, as keyboards and phones give them, are words of their own: 5'6" is 5 ' 6 ".
    "'": " ' ", "’": " ' ", "′": " ' ", '"': ' " ', "”": ' " ', "″": ' " ',
})  # fmt: skip
_WORD_AND_MORE = re.compile(r"([^ ]{1,10}) (?=[0-9])")
# The parts of a unit: a name with perhaps a small power, a power, an operator, a space.
_UNIT_PART = re.compile(
    r"(?P<name>[A-Za-zµμΩ°%_]+[0-9²³]?)|(?P<power>(?:\*\*|\^)-?[0-9])|(?P<operator>[*/])|(?P<space> )"
)
_MOST_PARTS = 16


class UnitError(ValueError):
    """Text that is no quantity, or a quantity of another kind than the field's."""


class Written(NamedTuple):
    """A quantity as it is written: its number, and the words of its unit, "" for a bare number."""

    number: float
    word: str


def split_quantity(text: str) -> Written:
    """The number and the unit's words of one quantity. Raises `UnitError` for text that is none.

    >>> split_quantity("1 1/4 in"), split_quantity("3,000 gal a day"), split_quantity("5/10")
    (Written(number=1.25, word='in'), Written(number=3000.0, word='gal a day'), Written(number=0.5, word=''))
    """
    if len(text) > MOST_LETTERS:
        raise UnitError("is too long for one number with a unit.")
    text = " ".join(text.translate(_SIGNS).split())
    found = _NUMBER.match(text)
    if found is None or not any(letter.isdigit() for letter in found[0]):
        raise UnitError("is not a number with a unit.")
    written, rest = found[0].replace("−", "-"), text[found.end() :]
    number, rest = _with_fraction(written, rest)
    if rest.startswith("/"):
        raise UnitError("is not a number with a unit.")
    return Written(number, rest.strip())


def split_pair(text: str) -> tuple[Written, Written] | None:
    """Both quantities of a text like "5 ft 6 in" or "1 hr 15 min"; None for any other. Raises as `split_quantity`.

    >>> split_pair("1 hr 15 min"), split_pair("15 min")
    ((Written(number=1.0, word='hr'), Written(number=15.0, word='min')), None)
    """
    number, words = split_quantity(text)
    found = _WORD_AND_MORE.match(words)
    return (Written(number, found[1]), split_quantity(words[found.end() :])) if found else None


def _with_fraction(written: str, rest: str) -> tuple[float, str]:
    """The number, and what is left behind it and its fraction: "1" before " 1/4 in" is 1.25 before " in"."""
    if not _WHOLE.fullmatch(written):
        return _decimal(written), rest
    whole = float(written)
    if over := _OVER.match(rest):
        return _part(whole, over[1]), rest[over.end() :]
    if more := _AND_OVER.match(rest):
        part = _part(float(more[1]), more[2])
        return whole + (-part if written.startswith("-") else part), rest[more.end() :]
    return whole, rest


def _part(top: float, bottom: str) -> float:
    if not int(bottom):
        raise UnitError("is a fraction of nothing.")
    return top / int(bottom)


def _decimal(written: str) -> float:
    if written.count(".") > 1 and "," not in written:
        raise UnitError("has more than one decimal point; thousands take a comma or none.")
    if written.count(".") > 1 or ("," in written and not _parts_thousands(written)):
        raise UnitError("has a comma where a decimal point belongs.")
    try:
        return float(written.replace(",", ""))
    except ValueError:
        raise UnitError("is not a number with a unit.") from None


def _parts_thousands(written: str) -> bool:
    """Whether every comma of a number parts thousands: "12,500.5" and not "1,5", "0,125" or "12,,500"."""
    first, *groups = written.lstrip("-+").partition(".")[0].split(",")
    return (
        "," not in written.partition(".")[2]
        and first.isdigit()
        and len(first) <= 3
        and first[0] != "0"
        and all(len(group) == 3 and group.isdigit() for group in groups)
    )


def split_list(text: str) -> tuple[list[float], str]:
    """The numbers at the start of `text`, parted by spaces, commas or semicolons, and the unit behind the last.

    >>> split_list("0, 5, 10 gpm")
    ([0.0, 5.0, 10.0], 'gpm')
    """
    if len(text) > MOST_LIST_LETTERS:
        raise UnitError("is too long for a list of numbers with a unit.")
    numbers: list[float] = []
    place = _next(text, 0)
    while found := _LISTED.match(text, place):
        numbers.append(float(found[0].replace("−", "-")))
        place = _next(text, found.end())
        if len(numbers) > MOST_NUMBERS:
            raise UnitError(f"holds more than {MOST_NUMBERS} numbers.")
    return numbers, " ".join(text[place:].translate(_SIGNS).split())


def _next(text: str, place: int) -> int:
    """Where the next number, or the unit, starts."""
    while place < len(text) and text[place] in " ,;\t\n":
        place += 1
    return place


def is_unit(word: str) -> bool:
    """Whether `word` has the shape of a unit: names, °, %, small powers, products and quotients; no brackets, no sums.

    >>> is_unit("gal/day"), is_unit("m**3/s/m"), is_unit("sq mm"), is_unit("m*9**9"), is_unit("m/")
    (True, True, True, False, False)
    """
    if not 0 < len(word) <= MOST_UNIT_LETTERS:
        return False
    kinds: list[str] = []
    place = 0
    while place < len(word):
        found = _UNIT_PART.match(word, place)
        kind = found.lastgroup if found else None
        if found is None or kind is None or len(kinds) == _MOST_PARTS:
            return False
        place = found.end()
        if kind == "space":
            continue
        before = kinds[-1] if kinds else "operator"
        fits = before == "name" if kind == "power" else kind == "name" or before != "operator"
        if not fits or (kind == before == "operator"):
            return False
        kinds.append(kind)
    return kinds[-1] != "operator"
