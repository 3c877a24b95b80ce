"""What somebody at a site types or picks, as numbers in SI; every fault at once."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any, Literal, TypeVar, get_args

from trackersim.errors import Fault, InputError
from trackersim.study.today import Seen, SkyWord, WindWord
from trackersim.units import UnitError, read_quantity

Stands = Literal["west", "level", "east"]
T = TypeVar("T")

_SMALLEST_AIR_C, _LARGEST_AIR_C = -60.0, 60.0


class Reading:
    """Reads one thing after another and keeps the faults, to tell them all at once."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []

    def take(self, read: Callable[[], T], instead: T) -> T:
        """What `read` gives, or `instead` after an `InputError`, whose faults are kept."""
        try:
            return read()
        except InputError as error:
            self.faults += error.faults
            return instead

    def done(self) -> None:
        """Raise `InputError` if anything was wrong."""
        if self.faults:
            raise InputError(self.faults)


def quantity(
    field: str, text: str, unit: str, *, least: float, most: float, example: str, above: bool = False
) -> float:
    """Text with a unit as a number in `unit`, from `least` (or above it) to `most`. A bare number is refused."""
    if unit and re.fullmatch(r"\s*[-+−]?[\d.,]+\s*", text):
        raise InputError.of(field, text, "has no unit.", f'Write it with its unit, "{example}".')
    try:
        value = read_quantity(text, unit)
    except UnitError as error:
        raise InputError.of(field, text, str(error), f'Write one number and its unit, "{example}".') from None
    return bounded(field, text, value, least=least, most=most, above=above, example=example)


def bounded(
    field: str, given: object, value: float, *, least: float, most: float, example: str, above: bool = False
) -> float:
    """`value` if it lies between the limits."""
    if value < least or value > most or (above and value <= least) or value != value:
        start = "above" if above else "at least"
        limits = f"must be {start} {least:g} and at most {most:g} (SI)" if most < 1e9 else f"must be {start} {least:g}"
        raise InputError.of(field, given, f"{limits}.", f'Give it like "{example}".')
    return value


def seen_of(*, sky: str = "unknown", wind: str = "unknown", air: str | None = None) -> Seen:
    """Sky, wind and air as a person tells them: words, and "41F" or nothing."""
    reading = Reading()
    checked = [
        reading.take(lambda: _word("--sky", sky, get_args(SkyWord)), "unknown"),
        reading.take(lambda: _word("--wind", wind, get_args(WindWord)), "unknown"),
    ]
    air_c = None
    if air is not None:
        air_c = reading.take(
            lambda: quantity("--air", air, "degC", least=_SMALLEST_AIR_C, most=_LARGEST_AIR_C, example="41F"), 0.0
        )
    reading.done()
    words: Any = checked
    return Seen(sky=words[0], wind=words[1], air_c=air_c)


def stands_of(stands: str | None) -> Stands | None:
    """How the rack stands: west, level, east, or nothing said."""
    if stands is None:
        return None
    word: Any = _word("--stands", stands, get_args(Stands))
    checked: Stands = word
    return checked


def _word(field: str, given: str, known: Iterable[str]) -> str:
    words = tuple(known)
    if given.strip().lower() not in words:
        raise InputError.of(field, given, "is not one of the words.", f"Choose {', '.join(words)}.")
    return given.strip().lower()
