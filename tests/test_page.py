"""The page: the demo's answer, another job, faults in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from trackersim import Result
from trackersim.job.files import demo_text
from trackersim.show import words

APP = str(Path(__file__).parents[1] / "app.py")


@pytest.fixture(autouse=True)
def _fresh_cache() -> Iterator[None]:
    st.cache_data.clear()
    yield
    st.cache_data.clear()


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
    assert "Nothing was simulated" in text
    assert "site.latitude" in text
    assert "source.lift" in text
    assert "this pump lifts" not in text
