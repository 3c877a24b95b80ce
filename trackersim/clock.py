"""Times as a site's clock shows them: read from text, found for a minute of the standard day, and written.

Inside the program a time is a minute of the standard day (0…1439) or a time stamp at the site's standard offset. How
a time, a zone or an offset is written is decided here and nowhere else.
"""

from __future__ import annotations

import datetime as dt
import zoneinfo
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from trackersim.errors import InputError
from trackersim.job.place import Site

if TYPE_CHECKING:
    import pandas as pd

    Stamps = TypeVar("Stamps", pd.Timestamp, pd.DatetimeIndex)

FIRST_YEAR, LAST_YEAR = 1950, 2100  # as for weather.year: the sun's place is known well for these
# A date with slashes is American: the month first. Answers name the month in words, so that it can be seen.
_DATES = ("%Y-%m-%d", "%m/%d/%Y")
_CLOCKS = (" %H:%M", "T%H:%M", " %H:%M:%S", "T%H:%M:%S", " %I:%M %p", " %I:%M%p")
_FORMATS = tuple(date + clock for date in _DATES for clock in _CLOCKS)
_MOST_LETTERS = 60  # of a time
_NOON_H = 12


@dataclass(frozen=True, kw_only=True)
class Moment:
    """An instant at the site: the day and the minute (0…1439) of standard time, and the time of the site's clock."""

    date: dt.date
    minute: int
    wall: dt.datetime


def moment_at(site: Site, text: str) -> Moment:
    """The instant that the site's clock calls `text`, "2025-03-21 09:15". Raises `InputError` for other text."""
    naive = _naive(text)
    check_year("at", naive.date())
    wall = naive.replace(tzinfo=zone_of(site))
    if site.timezone and wall.astimezone(dt.UTC).astimezone(zone_of(site)).replace(tzinfo=None) != naive:
        remedy = "Clocks go forward over that hour; give the time after it."
        raise InputError.of("at", text, f"does not exist on the clock of {site.timezone}.", remedy)
    standard = wall.astimezone(standard_zone(site))
    return Moment(date=standard.date(), minute=standard.hour * 60 + standard.minute, wall=wall)


def _naive(text: str) -> dt.datetime:
    if (found := _read(text, _FORMATS)) is not None:
        return found
    remedy = 'Write the day and the local time, "2025-03-21 09:15" or "3/21/2025 9:15 am".'
    raise InputError.of("at", text, "is not a time.", remedy)


def _read(text: str, forms: tuple[str, ...]) -> dt.datetime | None:
    """The time written in one of the forms; None for what is written in none."""
    if len(text) > _MOST_LETTERS:
        return None
    plain = " ".join(text.upper().replace("A.M.", "AM").replace("P.M.", "PM").split())
    for form in forms:
        try:
            return dt.datetime.strptime(plain, form)
        except ValueError:
            continue
    return None


def day_written(text: str) -> dt.datetime | None:
    """The day written as "2025-03-21" or "3/21/2025" (its midnight); None for what is no day.

    >>> day_written("3/21/2025"), day_written("21/3/2025")
    (datetime.datetime(2025, 3, 21, 0, 0), None)
    """
    return _read(text, _DATES)


def check_year(field: str, date: dt.date) -> None:
    """Raise `InputError` for a day outside the years in which the sun's place is worth anything."""
    if not FIRST_YEAR <= date.year <= LAST_YEAR:
        remedy = f"Give a day from {FIRST_YEAR} to {LAST_YEAR}."
        raise InputError.of(field, str(date), "lies too far from today.", remedy)


def wall_time_or_none(site: Site, date: dt.date, minute: int | None) -> dt.datetime | None:
    """`wall_time`, or None for what does not happen on that day."""
    return None if minute is None else wall_time(site, date, minute)


def wall_time(site: Site, date: dt.date, minute: int) -> dt.datetime:
    """The site's clock at a minute of the standard day `date`."""
    start = dt.datetime.combine(date, dt.time(), tzinfo=standard_zone(site))
    return (start + dt.timedelta(minutes=minute)).astimezone(zone_of(site))


def standard_zone(site: Site) -> dt.timezone:
    """The site's standard time, without daylight saving."""
    return dt.timezone(dt.timedelta(hours=site.standard_offset_h))


def zone_of(site: Site) -> dt.tzinfo:
    """The zone of the site's clock: the one it names, else its standard time."""
    return zoneinfo.ZoneInfo(site.timezone) if site.timezone else standard_zone(site)


def clock_name(site: Site, date: dt.date) -> str:
    """Which clock times are told in on that day: "America/New_York, EDT", or "standard time, UTC−5 h"."""
    if not site.timezone:
        return f"standard time, {offset_words(site.standard_offset_h)}"
    return f"{site.timezone}, {wall_time(site, date, _NOON_H * 60):%Z}"


def on_clock(site: Site, stamps: Stamps) -> Stamps:
    """Time stamps in the zone that the site names, or as they are where it names none."""
    return stamps.tz_convert(site.timezone) if site.timezone else stamps


def hhmm(time: dt.datetime | None) -> str:
    """ "09:15", or a dash for what does not happen."""
    return "–" if time is None else f"{time:%H:%M}"


def iso(time: dt.datetime | None) -> str | None:
    """ "2025-03-21T09:15:00-04:00", or None for what does not happen."""
    return None if time is None else time.isoformat()


def minute_words(minute: int | None) -> str | None:
    """A minute of the standard day as "09:15", or None for what does not happen."""
    return None if minute is None else f"{minute // 60:02d}:{minute % 60:02d}"


def offset_words(offset_h: float) -> str:
    """ "UTC−5 h": an offset from UTC in hours."""
    return f"UTC{offset_h:+g} h".replace("-", "−")


def short_zone(site: Site, time: dt.datetime) -> str:
    """ "EDT" where the site names its zone, else the offset of `time` itself."""
    if site.timezone:
        return f"{time.astimezone(zone_of(site)):%Z}"
    return offset_words((time.utcoffset() or dt.timedelta()) / dt.timedelta(hours=1))


def clock_words(site: Site, offset_h: float | None = None) -> str:
    """Which clock a figure or a table shows: "Clock time (America/New_York)" or "Standard time (UTC−5 h)".

    `offset_h` is that of the standard time shown, by default the site's: a weather file may have another.
    """
    if site.timezone:
        return f"Clock time ({site.timezone})"
    return f"Standard time ({offset_words(site.standard_offset_h if offset_h is None else offset_h)})"


def when_words(site: Site, moment: Moment) -> str:
    """ "21 March 2025 at 09:15 (America/New_York, EDT)"."""
    return f"{moment.wall:%d %B %Y} at {hhmm(moment.wall)} ({clock_name(site, moment.date)})"


def today_at(site: Site) -> dt.date:
    """Today by the site's clock."""
    return dt.datetime.now(zone_of(site)).date()
