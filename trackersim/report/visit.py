"""What somebody found on site, as the sheet prints it: who looked, readings, findings, what was not checked."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

# To be filled in by hand.
BLANK = 24 * "_"
# What no figure of this program says anything of.
NEVER_CHECKED = (
    "strength of rack, pole and footing; insulation and grounding; the well itself; whether the water is fit to drink"
)
NO_READING = "none: every figure here is worked out from the job and its weather"


@dataclass(frozen=True, kw_only=True)
class Visit:
    """A visit to the site in its visitor's own words; what nobody told is left open for the pen."""

    date: dt.date | None = None
    by: str = ""
    readings: tuple[str, ...] = ()
    findings: tuple[str, ...] = ()
    not_checked: tuple[str, ...] = ()


def visit_lines(visit: Visit) -> tuple[str, ...]:
    """The visit in four lines, the first of them to sign on."""
    date = BLANK if visit.date is None else f"{visit.date:%d %B %Y}"
    return (
        f"Date {date}, looked at by {visit.by or BLANK}, signature {BLANK}",
        f"Readings taken: {'; '.join(visit.readings) or NO_READING}",
        f"Findings: {'; '.join(visit.findings) or BLANK}",
        f"Not checked: {'; '.join((*visit.not_checked, NEVER_CHECKED))}",
    )
