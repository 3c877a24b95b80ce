"""How a time, a zone and an offset are written."""

from __future__ import annotations

import datetime as dt

import pandas as pd
import pytest

from trackersim.clock import (
    clock_words,
    hhmm,
    iso,
    minute_words,
    moment_at,
    offset_words,
    on_clock,
    short_zone,
    wall_time,
    wall_time_or_none,
    when_words,
)
from trackersim.errors import InputError
from trackersim.job.files import demo_text, parse_job
from trackersim.job.place import Site

ZONED = Site(name="x", latitude_deg=40.0, longitude_deg=-75.0, timezone="America/New_York")
PLAIN = Site(name="x", latitude_deg=40.0, longitude_deg=-75.0)
SUMMER = dt.date(2025, 6, 21)


def test_a_minute_of_the_standard_day_is_an_hour_later_on_a_summer_clock() -> None:
    assert hhmm(wall_time(PLAIN, SUMMER, 555)) == "09:15"
    assert hhmm(wall_time(ZONED, SUMMER, 555)) == "10:15"
    assert iso(wall_time(ZONED, SUMMER, 555)) == "2025-06-21T10:15:00-04:00"


def test_what_does_not_happen_has_no_time() -> None:
    assert wall_time_or_none(ZONED, SUMMER, None) is None
    assert (hhmm(None), iso(None), minute_words(None)) == ("–", None, None)
    assert minute_words(65) == "01:05"


@pytest.mark.parametrize(("offset_h", "words"), [(-5, "UTC−5 h"), (5.75, "UTC+5.75 h"), (0, "UTC+0 h")])
def test_an_offset_is_written_in_hours_with_its_sign(offset_h: float, words: str) -> None:
    assert offset_words(offset_h) == words


def test_a_zone_is_told_by_its_name_or_else_by_its_offset() -> None:
    stamps = pd.date_range("2025-06-21 09:15", periods=2, freq="min", tz=dt.timezone(dt.timedelta(hours=-5)))
    assert [short_zone(site, stamps[0]) for site in (ZONED, PLAIN)] == ["EDT", "UTC−5 h"]
    assert [hhmm(on_clock(site, stamps)[0]) for site in (ZONED, PLAIN)] == ["10:15", "09:15"]
    assert clock_words(ZONED) == "Clock time (America/New_York)"
    assert clock_words(PLAIN) == "Standard time (UTC−5 h)"
    assert clock_words(PLAIN, 1) == "Standard time (UTC+1 h)"


def test_the_moment_asked_about_is_told_as_it_was_typed() -> None:
    moment = moment_at(ZONED, "2025-06-21 10:15")
    assert moment.minute == 555
    assert when_words(ZONED, moment) == "21 June 2025 at 10:15 (America/New_York, EDT)"


@pytest.mark.parametrize(
    ("timezone", "longitude_deg", "hours"),
    [
        ("Asia/Kolkata", 77.2, 5.5),
        ("Europe/Madrid", -3.7, 1.0),
        ("America/Detroit", -84.5, -5.0),
        ("Europe/Dublin", -6.3, 0.0),
        ("Australia/Sydney", 151.2, 10.0),
        ("", 77.2, 5.0),
    ],
)
def test_standard_time_is_that_of_the_zone_named(timezone: str, longitude_deg: float, hours: float) -> None:
    """Offsets of the zones as the IANA time zone database has them; no zone, the longitude's whole hour."""
    site = Site(latitude_deg=40.0, longitude_deg=longitude_deg, timezone=timezone)
    assert site.standard_offset_h == hours
    assert (
        Site(latitude_deg=40.0, longitude_deg=longitude_deg, timezone=timezone, utc_offset_h=3).standard_offset_h == 3
    )


def test_a_zone_far_from_the_longitude_is_told() -> None:
    with pytest.raises(InputError) as told:
        parse_job(demo_text().replace("utc_offset = -5\n", "").replace("America/New_York", "Pacific/Auckland"))
    assert [fault.field for fault in told.value.faults] == ["site.timezone"]
