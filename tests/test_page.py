"""The page: the demo's answer, another job, faults in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from trackersim import Result, simulate
from trackersim.job.files import demo_text, parse_job
from trackersim.page.fields import GROUPS, Entry, entries, shown_text, value_at
from trackersim.page.state import Desk, edit, first_desk, keep_weather, plain, saved_text
from trackersim.show import words

SITE_VIEWS = ("Where the water went",)  # a dozen years: tested by its own parts
APP = str(Path(__file__).parents[1] / "app.py")


@pytest.fixture(autouse=True)
def _fresh_cache() -> Iterator[None]:
    st.cache_resource.clear()
    yield
    st.cache_resource.clear()


def shown(page: AppTest) -> str:
    assert not page.exception, page.exception
    return "\n".join(str(part.value) for kind in (page.text, page.error, page.warning, page.caption) for part in kind)


def test_the_first_screen_is_the_demo_s_answer(demo_year: Mapping[str, Result]) -> None:
    page = AppTest.from_file(APP, default_timeout=60).run()
    text = shown(page)
    assert words.headline(demo_year["delayed"], "us") in text
    assert words.compare_words(demo_year, "delayed", "us") in text
    assert "lock the disconnect" in text
    page.radio(key="units").set_value("metric").run()
    assert words.headline(demo_year["delayed"], "si") in shown(page)


def test_another_job_gives_another_answer() -> None:
    page = AppTest.from_file(APP, default_timeout=60).run()
    changed = demo_text().replace('name = "Hill farm (invented)"', 'name = "Dry creek (invented)"')
    page.file_uploader(key="job_file").upload("job.toml", changed.encode(), "application/toml").run()
    assert "Dry creek (invented): on the late-turning rack" in shown(page)


def test_the_page_reads_no_file_of_the_server() -> None:
    page = AppTest.from_file(APP, default_timeout=60).run()
    sneaky = demo_text().replace('file = "sample:typical-year"', 'file = "/etc/passwd"')
    page.file_uploader(key="job_file").upload("job.toml", sneaky.encode(), "application/toml").run()
    assert "cannot be read by the page" in shown(page)
    assert "root" not in shown(page)


def test_faults_of_a_job_are_shown_in_words() -> None:
    page = AppTest.from_file(APP, default_timeout=60).run()
    broken = demo_text().replace("latitude = 36.10", "latitude = 999").replace('lift = "130 ft"', 'lift = "70 gpm"')
    page.file_uploader(key="job_file").upload("job.toml", broken.encode(), "application/toml").run()
    text = shown(page)
    assert "last job without a fault" in text
    assert "site.latitude" in text
    assert "source.lift" in text
    assert "Hill farm (invented): on the late-turning rack" in text  # the last good answer stays


@pytest.fixture
def page() -> AppTest:
    return AppTest.from_file(APP, default_timeout=90).run()


def desk(page: AppTest) -> Desk:
    found = page.session_state["desk"]
    assert isinstance(found, Desk)
    return found


VIEWS = {
    "The answer": "this pump lifts about",
    "If it turns later": "Against a rack that follows the sun",
    "One morning": "the rack turned east at",
    "The year and the water": "At full power the pump gives",
    "The trees": "the sun clears the trees",
    "The choices": "Every choice is a year of minutes",
    "On site": "the rack",
    "The morning, moving": "rack",
    "The customer's sheet": "One page for the customer",
}


@pytest.mark.parametrize("view", VIEWS)
def test_every_view_says_its_sentence(page: AppTest, view: str) -> None:
    page.radio(key="view").set_value(view).run()
    assert VIEWS[view] in shown(page)


def test_every_view_of_the_page_is_tested(page: AppTest) -> None:
    assert set(page.radio(key="view").options) <= set(VIEWS) | set(SITE_VIEWS)


def test_units_there_and_back_leave_the_job_as_it_was(page: AppTest) -> None:
    before = desk(page).good.sha256()
    for system in ("metric", "US", "metric", "US"):
        page.radio(key="units").set_value(system).run()
        assert desk(page).good.sha256() == before
    assert page.text_input(key="source.lift|us|0").value == "130 ft"


def test_a_saved_job_opens_as_the_same_job(page: AppTest) -> None:
    page.text_input(key="source.lift|us|0").set_value("100 ft").run()
    good = desk(page).good
    assert good.source.lift_m == pytest.approx(30.48)
    other = AppTest.from_file(APP, default_timeout=90).run()
    other.file_uploader(key="job_file").upload("job.toml", saved_text(good).encode(), "application/toml").run()
    assert desk(other).good.sha256() == good.sha256()


def test_a_fault_stands_beside_its_field_and_mending_it_clears_it(page: AppTest) -> None:
    page.text_input(key="source.lift|us|0").set_value("70 gpm").run()
    texts = [text.value for text in page.text]
    assert any(text.startswith("⚠ source.lift") for text in texts)
    assert desk(page).stale
    page.text_input(key="source.lift|us|0").set_value("70 ft").run()
    assert not desk(page).stale
    assert not any(text.value.startswith("⚠") for text in page.text)


FIELDS = [(entry, group.title) for group in GROUPS for section in group.sections
          for entry in entries(group, section, plain(parse_job(demo_text())))]  # fmt: skip


@pytest.mark.parametrize("entry", [entry for entry, _ in FIELDS if entry.kind == "text"], ids=lambda entry: entry.path)
def test_nonsense_in_any_field_is_a_fault_or_harmless_and_never_an_exception(entry: Entry) -> None:
    """By the form's own functions, since a page run for each of a hundred fields would take minutes."""
    one = first_desk()
    good = one.good
    edit(one, entry.path, "@#!? seven")
    if one.faults:
        assert one.good == good
        assert all(fault.reason for fault in one.faults)
    edit(one, entry.path, "")
    edit(one, entry.path, shown_text(value_at(plain(good), entry.path), entry.name, "us"))
    assert not one.faults


def test_the_shown_text_of_every_field_reads_back_to_the_same_value() -> None:
    for system in ("us", "si"):
        one = first_desk()
        for entry, _ in FIELDS:
            value = value_at(one.data, entry.path)
            if entry.kind == "text" and isinstance(value, int | float) and not isinstance(value, bool):
                edit(one, entry.path, shown_text(value, entry.name, system))  # type: ignore[arg-type]
                assert not one.faults, entry.path
                again = value_at(plain(one.good), entry.path)
                assert again == pytest.approx(value, rel=6e-6, abs=1e-9), entry.path


def test_the_slider_moves_the_water(page: AppTest) -> None:
    page.radio(key="view").set_value("If it turns later").run()
    before = shown(page)
    page.slider(key="late_delay").set_value(180).run()
    after = shown(page)
    assert "less than the job as it stands" in after
    assert before != after
    page.toggle(key="late_no_trees").set_value(True).run()
    assert shown(page) != after


GOOD_WEATHER = (Path(__file__).parents[1] / "weather_samples" / "clear-spring-day.csv").read_bytes()
BAD_WEATHER = {
    "empty": (b"", "is empty"),
    "11 MB": (b"a" * 11_000_000, "larger than 10 MB"),
    "a picture named csv": (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + b"\x00" * 100, "is not a text file"),
    "ten million columns": (b"time," + b"a," * 4_900_000 + b"ghi\n2025-01-01 00:00,1\n", ""),
    "prose": (b"Dear sir,\nthe pump is fine.\n" * 20, ""),
    "a month of NaN": (
        b"# label = hour ending\n# utc_offset = -5\ntime,ghi\n"
        + b"".join(f"2025-01-{d:02d} {h:02d}:00,NaN\n".encode() for d in range(1, 29) for h in range(24)),
        "",
    ),
}


def test_uploaded_weather_is_simulated() -> None:
    one = first_desk()
    keep_weather(one, "spring.csv", GOOD_WEATHER)
    assert not one.faults
    assert simulate(one.good).days == 1


@pytest.mark.parametrize("name", BAD_WEATHER)
def test_bad_weather_is_told_in_words(page: AppTest, name: str) -> None:
    content, words_of_fault = BAD_WEATHER[name]
    keep_weather(desk(page), "bad.csv", content)
    page.run()
    text = shown(page)
    assert not page.exception
    assert words_of_fault in text
    assert any(word in text for word in ("To mend", "to mend", "mend before"))


def test_the_check_on_site_answers_with_a_watch_and_a_bucket(page: AppTest) -> None:
    page.radio(key="view").set_value("On site").run()
    page.text_input(key="site_at").set_value("2025-03-21 12:00").run()
    assert "overdue" in shown(page) or "turned" in shown(page) or "should" in shown(page)
    page.text_input(key="site_at").set_value("yesterday").run()
    assert any(text.value.startswith("⚠") for text in page.text)
    page.text_input(key="site_at").set_value("2025-06-21 13:00").run()
    page.radio(key="site_question").set_value("Is this flow right?").run()
    page.text_input(key="site_seconds").set_value("25 25 26").run()
    assert "gpm" in shown(page)
    assert "In short" in shown(page)
    page.radio(key="site_question").set_value("Tomorrow").run()
    assert "Call if" in shown(page)


def test_the_moving_picture_can_be_dragged(page: AppTest) -> None:
    page.radio(key="view").set_value("The morning, moving").run()
    before = shown(page)
    page.slider(key="moving_minute").set_value(720).run()
    assert shown(page) != before
