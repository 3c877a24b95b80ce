"""`Finding`: what one check of the weather found, as figures and as the sentence that a result carries."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from trackersim.arrays import BoolArray
from trackersim.errors import Level, Notice
from trackersim.weather.gaps import runs
from trackersim.weather.limits import Limit
from trackersim.weather.raw import FIELD

Check = Literal[
    "closure", "dark_days", "zeros", "stuck_light", "envelope", "drift",
    "air_season", "air_day", "stuck_air", "stuck_wind", "calm", "clock",
]  # fmt: skip
Span = tuple[dt.date, dt.date]
# Spans of dates that a sentence names.
_TOLD = 3


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One fault of a weather file that is used all the same; nothing in the data was changed for it.

    `days` days are concerned, in `spans` of dates (first, last); `share` of the file's light (0…1), None where light
    is not what is wrong. `text` says it in full.
    """

    check: Check
    level: Level
    days: int
    spans: tuple[Span, ...]
    text: str
    share: float | None = None

    def notice(self) -> Notice:
        """The same as a remark of a result."""
        return Notice(text=self.text, field=FIELD, level=self.level)


# What a check gives: a fault, none, or that the file gives no ground for this check.
Outcome = Finding | Literal["unable"] | None


def spans_of(days: BoolArray, first: dt.date) -> tuple[Span, ...]:
    """Runs of true days (days,), counted from the date `first`, as dates."""
    day = dt.timedelta(days=1)
    return tuple((first + start * day, first + (end - 1) * day) for start, end in runs(days))


def span_words(spans: tuple[Span, ...]) -> str:
    """ "2025-06-10 to 2025-06-16; 2025-07-01; …"."""
    told = [f"{first}" if first == last else f"{first} to {last}" for first, last in spans[:_TOLD]]
    return "; ".join([*told, "…"] if len(spans) > _TOLD else told)


def graded(share: float, limits: Mapping[str, Limit], *, least: Level = "note") -> Level:
    """The level of a fault by the share of the light that is wrong, and not below `least`."""
    if share >= limits["danger"].value:
        return "danger"
    return "caution" if share >= limits["caution"].value else least
