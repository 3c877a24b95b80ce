"""The clock on the wall, for questions asked at a site: local time in, minutes of the standard day inside."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from dataclasses import dataclass

from trackersim.errors import InputError
from trackersim.job.place import Site

FIRST_YEAR, LAST_YEAR = 1950, 2100  # as for weather.year: the sun's place is known well for these
_FORMATS = ("%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S")
_NOON_H = 12


@dataclass(frozen=True, kw_only=True)
class Moment:
    """An instant at the site: the day and the minute (0…1439) of standard time, and the time of the site's clock."""

    date: dt.date
    minute: int
    wall: dt.datetime


def moment_at(site: Site, text: str) -> Moment:
    """The instant that the site's clock calls `text`, "2025-03-21 09:15". Raises `InputError` for what is none."""
    naive = _naive(text)
    check_year("--at", naive.date())
    wall = naive.replace(tzinfo=zone_of(site))
    if site.timezone and wall.astimezone(dt.UTC).astimezone(zone_of(site)).replace(tzinfo=None) != naive:
        remedy = "Clocks go forward over that hour; give the time after it."
        raise InputError.of("--at", text, f"does not exist on the clock of {site.timezone}.", remedy)
    standard = wall.astimezone(standard_zone(site))
    return Moment(date=standard.date(), minute=standard.hour * 60 + standard.minute, wall=wall)


def _naive(text: str) -> dt.datetime:
    for form in _FORMATS:
        try:
            return dt.datetime.strptime(text.strip(), form)
        except ValueError:
            continue
    raise InputError.of("--at", text, "is not a time.", 'Write the day and the local time, "2025-03-21 09:15".')


def check_year(field: str, date: dt.date) -> None:
    """Raise `InputError` for a day outside the years in which the sun's place is worth anything."""
    if not FIRST_YEAR <= date.year <= LAST_YEAR:
        remedy = f"Give a day from {FIRST_YEAR} to {LAST_YEAR}."
        raise InputError.of(field, str(date), "lies too far from today.", remedy)


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
        return f"standard time, UTC{site.standard_offset_h:+g} h".replace("-", "−")
    return f"{site.timezone}, {wall_time(site, date, _NOON_H * 60):%Z}"


def today_at(site: Site) -> dt.date:
    """Today by the site's clock."""
    return dt.datetime.now(zone_of(site)).date()
