"""The check on site: with a watch, a bucket, or for tomorrow; faults of what is typed in words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from streamlit.testing.v1 import AppTest

from trackersim import load_job
from trackersim.analysis.flip_check import check_flip
from trackersim.analysis.flow_check import check_flow
from trackersim.analysis.flow_measurement import timed_flow
from trackersim.analysis.observed_sky import Seen
from trackersim.clock import moment_at, today_at
from trackersim.page.on_site import in_24_hours
from trackersim.page.parts import as_text
from trackersim.report import flip_check as show_flip
from trackersim.report import flow_check as show_bucket

Shown = Callable[[AppTest], str]
Told = Callable[[AppTest], list[str]]


def on_site(page: AppTest) -> AppTest:
    page.date_input(key="site_date").set_value(dt.date(2025, 6, 21))
    page.text_input(key="site_clock").set_value("10:30")
    return page.selectbox(key="site_sky").set_value("clear").run()


@pytest.fixture
def site(page: AppTest) -> AppTest:
    return on_site(page)


@pytest.fixture(scope="module")
def readings(new_page: Callable[[], AppTest]) -> AppTest:
    """The bucket's question with all its fields open, and nothing wrong in them."""
    page = on_site(new_page())
    page.radio(key="site_question").set_value("Is this flow right?").run()
    page.toggle(key="site_more").set_value(True).run()
    return page.text_input(key="site_seconds").set_value("25 25 26").run()


def test_the_flip_is_answered_as_python_answers_it(site: AppTest, shown: Shown) -> None:
    site.selectbox(key="site_stands|flip").set_value("at its west stop").run()
    job = load_job("demo")
    check = check_flip(job, moment_at(job.site, "2025-06-21 10:30"), seen=Seen(sky="clear"), stands="west")
    assert show_flip.flip_sentence(check) in shown(site)
    assert show_flip.last_words(check) in shown(site)
    assert as_text(show_flip.SAFETY) in shown(site)  # a warning is markup: its signs are escaped


def test_the_bucket_is_answered_as_python_answers_it(site: AppTest, shown: Shown) -> None:
    site.radio(key="site_question").set_value("Is this flow right?").run()
    assert "3 fills or more" in shown(site)
    site.text_input(key="site_seconds").set_value("25 26").run()
    assert "3 fills or more" in shown(site)
    site.text_input(key="site_seconds").set_value("25 25 26").run()
    job = load_job("demo")
    measured = timed_flow(5 * 3.785411784e-3, [25.0, 25.0, 26.0])
    found = check_flow(job, moment_at(job.site, "2025-06-21 10:30"), measured, seen=Seen(sky="clear"))
    assert show_bucket.bucket_sentence(found, "us") in shown(site)
    assert "In short" in shown(site)


def test_a_meter_and_other_readings_are_taken_too(site: AppTest, shown: Shown) -> None:
    site.radio(key="site_question").set_value("Is this flow right?").run()
    site.toggle(key="site_meter").set_value(True)
    site.toggle(key="site_more").set_value(True).run()
    site.text_input(key="site_flow").set_value("11 gpm")
    site.text_input(key="site_light").set_value("900 W/m2")
    site.text_input(key="site_voltage").set_value("66 V").run()
    assert "11" in shown(site)
    assert "In short" in shown(site)


def test_tomorrow_is_a_card_to_save(site: AppTest, shown: Shown) -> None:
    site.radio(key="site_question").set_value("What should the owner see tomorrow?").run()
    assert "Call if" in shown(site)
    tomorrow = today_at(load_job("demo").site) + dt.timedelta(days=1)
    assert f"{tomorrow.day} {tomorrow:%B}" in shown(site)


@pytest.mark.parametrize(
    ("key", "typed", "field"),
    [
        ("site_clock", "yesterday", "Date and clock"),
        ("site_clock", "25:10", "Date and clock"),
        ("site_air", "warm", "Air temperature"),
        ("site_air", "41", "Air temperature"),
        ("site_air", "400 F", "Air temperature"),
    ],
)
def test_a_time_or_air_that_cannot_be_read_is_told_under_its_name(
    site: AppTest, told: Told, key: str, typed: str, field: str
) -> None:
    site.radio(key="site_question").set_value("Is this flow right?").run()
    site.text_input(key=key).set_value(typed).run()
    assert any(text.startswith(f"⚠ {field}") for text in told(site)), told(site)


@pytest.mark.parametrize(
    ("key", "typed", "field"),
    [
        ("site_volume|us", "a bucket", "One fill holds"),
        ("site_volume|us", "0 gal", "One fill holds"),
        ("site_seconds", "soon", "Seconds of each fill"),
        ("site_seconds", "-3", "Seconds of each fill"),
        ("site_light", "bright", "Light on the modules"),
        ("site_pressure", "35", "Pressure at the gauge"),
        ("site_gauge_above", "3 psi", "Gauge above the standing water"),
        ("site_voltage", "high", "Voltage at the controller"),
    ],
)
def test_a_reading_that_cannot_be_read_is_told_under_its_name_until_it_is_mended(
    readings: AppTest, told: Told, key: str, typed: str, field: str
) -> None:
    right = readings.text_input(key=key).value
    readings.text_input(key=key).set_value(typed).run()
    assert any(text.startswith(f"⚠ {field}") for text in told(readings)), told(readings)
    readings.text_input(key=key).set_value(right).run()
    assert not told(readings)


def test_faults_of_several_fields_are_told_at_once(site: AppTest, told: Told) -> None:
    site.text_input(key="site_clock").set_value("late")
    site.text_input(key="site_air").set_value("cool").run()
    assert len(told(site)) == 2


def test_a_clock_of_twice_twelve_hours_is_read_too(site: AppTest, shown: Shown) -> None:
    site.text_input(key="site_clock").set_value("10:30 am").run()
    job = load_job("demo")
    check = check_flip(job, moment_at(job.site, "2025-06-21 10:30"), seen=Seen(sky="clear"))
    assert show_flip.flip_sentence(check) in shown(site)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("2:30 pm", "14:30"),
        ("12.05 AM", "00:05"),
        ("12:00 p.m.", "12:00"),
        ("09:15", "09:15"),
        ("13:00 pm", "13:00 pm"),
    ],
)
def test_twelve_hours_as_twenty_four(typed: str, meant: str) -> None:
    assert in_24_hours(typed) == meant
