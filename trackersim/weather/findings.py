"""`Finding`: what one check of the weather found, as figures and as the sentence that a result carries."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from trackersim.arrays import BoolArray
from trackersim.errors import Level, counted
from trackersim.weather.file_rows import FileRows
from trackersim.weather.limits import Limit
from trackersim.weather.raw import FIELD, Remark, Row
from trackersim.weather.spans import Span, outer_words, spans_of

Check = Literal[
    "closure", "dark_days", "zeros", "stuck_light", "envelope", "drift",
    "air_season", "air_day", "stuck_air", "stuck_wind", "calm", "gale", "clock",
]  # fmt: skip
# What each check looks at, as a table names it.
WHAT: dict[Check, str] = {
    "closure": "global light against direct and diffuse", "dark_days": "dark days",
    "zeros": "no light under a high sun",
    "stuck_light": "light that does not change", "envelope": "cloudless days against the clear sky",
    "drift": "the year's end against its start", "air_season": "air, summer against winter",
    "air_day": "air, afternoon against dawn", "stuck_air": "air that does not change",
    "stuck_wind": "wind that does not change", "calm": "wind that never blows", "gale": "wind that never rests",
    "clock": "clock against the longitude",
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One fault of a weather file that is used all the same; nothing in the data was changed for it.

    `days` days are concerned, in `spans` of dates (first, last); `share` of the file's light (0…1), None where light
    is not what is wrong. `text` says it in full. `rows` (n,) are the rows in doubt, None where no row stands out.
    """

    check: Check
    level: Level
    days: int
    spans: tuple[Span, ...]
    text: str
    share: float | None = None
    rows: BoolArray | None = field(default=None, compare=False, repr=False)

    def remark(self) -> Remark:
        """The same as a remark of a result."""
        return Remark(
            text=self.text,
            field=FIELD,
            level=self.level,
            row=Row(what=WHAT[self.check], many=counted(self.days, "day"), when=outer_words(self.spans)),
        )


# What a check gives: a fault, none, or that the file gives no ground for this check.
Outcome = Finding | Literal["unable"] | None


def throughout(
    rows: FileRows, check: Check, text: str, *, level: Level = "caution", share: float | None = None
) -> Finding:
    """A fault of every day of the file."""
    every = np.ones(rows.slots.count // rows.slots.per_day, dtype=bool)
    spans = spans_of(every, rows.first_day)
    return Finding(check=check, level=level, days=len(every), spans=spans, share=share, text=text)


def graded(share: float, limits: Mapping[str, Limit], *, least: Level = "note") -> Level:
    """The level of a fault by the share of the light that is wrong, and not below `least`."""
    if share >= limits["danger"].value:
        return "danger"
    return "caution" if share >= limits["caution"].value else least
