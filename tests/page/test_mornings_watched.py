"""The rack diagnosed on site: rows as people fill them in, faults by row and field, the command line's answer."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest
from typer.testing import CliRunner

from trackersim.analysis.diagnosis import RackDiagnosis
from trackersim.cli import app
from trackersim.clock import today_at
from trackersim.job.files import demo_text, load_job, parse_job
from trackersim.page import mornings_watched
from trackersim.page.parts import as_text
from trackersim.page.places import on_site
from trackersim.report.diagnosis import SAFETY

Shown = Callable[[AppTest], str]
Offered = Callable[[AppTest], dict[str, str]]
Told = Callable[[AppTest], list[str]]

DAY = demo_text().replace("sample:typical-year", "sample:clear-spring-day")


def script() -> None:
    """A page that holds nothing but the place."""
    import streamlit as st

    from trackersim.page import mornings_watched
    from trackersim.page.places import on_site
    from trackersim.page.strip import ViewState

    if "kept" in st.session_state:
        mornings_watched.restore(st.session_state.pop("kept"))
    on_site.draw(st.session_state.desk, ViewState())


def opened(job: str = DAY, kept: str | None = None) -> AppTest:
    from trackersim.page.state import first_desk

    page = AppTest.from_function(script, default_timeout=120)
    desk = first_desk()
    desk.good = parse_job(job)
    page.session_state["desk"] = desk
    page.session_state["site_question"] = on_site.AILS
    if kept is not None:
        page.session_state["kept"] = kept
    return page.run()


def clock(page: AppTest, column: str, number: int, at: str, how: str = "at") -> None:
    """A moment of a morning: how it was seen, then the clock that comes with it."""
    page.pills(key=f"site_seen_{column}|{number}|how").set_value(how).run()
    page.time_input(key=f"site_seen_{column}|{number}|clock").set_value(dt.time.fromisoformat(at)).run()


def asked(page: AppTest) -> AppTest:
    page.button(key="site_diagnose").click().run()
    assert not page.exception, page.exception
    return page


@pytest.fixture
def page() -> AppTest:
    return opened()


@pytest.fixture(scope="module")
def watched() -> Iterator[tuple[AppTest, list[str], list[int]]]:
    """Two mornings of a rack that faces the sun late and has an oily mark, asked about; what can be saved of them, and
    how often a diagnosis was worked out."""
    saved: list[str] = []
    worked: list[int] = []
    told, diagnosed = mornings_watched._csv, mornings_watched.diagnose

    def kept(rows: dict[int, dict[str, str]]) -> str:
        saved.append(told(rows))
        return saved[-1]

    def counted(*words: object, **named: object) -> RackDiagnosis:
        worked.append(1)
        return diagnosed(*words, **named)  # type: ignore[arg-type]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(mornings_watched, "_csv", kept)
        patch.setattr(mornings_watched, "diagnose", counted)
        page = opened()
        page.button(key="site_more_mornings").click().run()
        for number, flip, facing, air in ((1, "08:12", "10:51", 41), (2, "08:15", "10:40", 45)):
            page.date_input(key=f"site_seen_date|{number}").set_value(dt.date(2026, 3, 20 + number))
            clock(page, "flip", number, flip)
            clock(page, "facing", number, facing)
            page.number_input(key=f"site_seen_east|{number}").set_value(25)
            page.number_input(key=f"site_seen_air|{number}|us").set_value(air)
            page.pills(key=f"site_seen_sky|{number}").set_value("clear").run()
        page.toggle(key="site_signs").set_value(True).run()
        page.pills(key="site_sign|oily").set_value("yes").run()
        assert not worked  # nothing is worked out before it is asked for
        yield asked(page), saved, worked


def test_the_answer_is_the_command_lines(
    watched: tuple[AppTest, list[str], list[int]], shown: Shown, tmp_path: Path
) -> None:
    page, saved, _ = watched
    (tmp_path / "job.toml").write_text(DAY)
    (tmp_path / "mornings.csv").write_text(saved[-1])
    words = ["diagnose", str(tmp_path / "job.toml"), str(tmp_path / "mornings.csv")]
    outcome = CliRunner().invoke(app, words, env={"COLUMNS": "80"})
    assert outcome.exit_code == 0, outcome.stderr
    printed = " ".join(outcome.stdout.split())
    (headline,) = [part.proto.body for part in page.get("html") if 'class="lead"' in part.proto.body]
    assert "refrigerant has leaked" in headline
    assert headline.removeprefix('<p class="lead">').removesuffix("</p>") in printed
    timed, likely = (table.value for table in page.table)
    assert [as_text(text) for text in ("08:12", "10:51", "08:15", "10:40")] == list(timed["seen"])
    for row in [*timed.to_numpy().tolist(), *likely.to_numpy().tolist()]:
        assert " ".join(row).replace("\\", "") in printed
    for text in page.text:
        if text.value.startswith(("In short:", "Tomorrow, ", "Leaked charge:", "What a repair")):
            assert text.value in printed
    assert as_text(SAFETY) in shown(page)


def test_what_is_typed_after_waits_for_the_next_asking(
    watched: tuple[AppTest, list[str], list[int]], shown: Shown
) -> None:
    page, _, worked = watched
    page.pills(key="site_seen_wind|1").set_value("calm").run()
    assert "Press “Diagnose the rack”" in shown(page)
    assert not page.table
    page.pills(key="site_seen_wind|1").set_value("unknown").run()
    assert "refrigerant has leaked" in shown(page)  # as it was asked about
    assert len(worked) == 1


def test_a_tap_on_the_button_asks_about_what_is_typed_by_then(
    page: AppTest, shown: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once wrong: a thumb quicker than the page asked about the rows as last drawn, and had to press again."""
    asked_about: list[dict[str, str]] = []
    monkeypatch.setattr(
        mornings_watched, "_answered", lambda job, place, rows, *rest: asked_about.append(dict(rows[1]))
    )
    page.number_input(key="site_seen_east|1").set_value(25).run()
    page.number_input(key="site_seen_east|1").set_value(-60)
    asked(page)
    assert "Press “Diagnose the rack”" not in shown(page)
    assert [row["east"] for row in asked_about] == ["-60 deg"]


def test_what_was_typed_comes_back_from_the_browser(watched: tuple[AppTest, list[str], list[int]]) -> None:
    _, saved, _ = watched
    again = opened(kept=saved[-1])
    assert not again.exception
    assert again.session_state["site_mornings_typed"] == saved[-1]
    assert not again.table  # it waits to be asked


@pytest.mark.parametrize(
    "kept",
    [
        "",
        "<b>",
        "date,flip\n1626-01-01,25:99\n",
        "date,flip,facing,east,air\n9999-99-99,not by,not yet by,nan deg,inf °F\n",
        "date,date,sky,oily\n2026-03-21,2026-03-21,sunny,perhaps,more,and,more\n",
        "date,flip\n" + "2026-03-21,8:12\n" * 40,
        "x" * 9000,
        '"',
        "date\x00,flip\n\x00,\x00\n",
    ],
)
def test_anything_in_the_browsers_storage_leaves_a_page(kept: str) -> None:
    page = opened(kept=kept)
    assert not page.exception, page.exception
    assert 1 <= len(page.date_input) <= mornings_watched.MOST_ROWS


def test_a_morning_of_which_nothing_is_told_is_none(page: AppTest, shown: Shown, offered: Offered) -> None:
    assert page.date_input(key="site_seen_date|1").value == today_at(load_job("demo").site)
    assert "Tell of one morning or more" in shown(page)
    assert page.button(key="site_diagnose").disabled
    assert not offered(page)
    assert page.button(key="site_less_mornings").disabled


def test_faults_of_every_row_are_told_at_once_by_row_and_field(page: AppTest, told: Told, shown: Shown) -> None:
    for _ in range(3):
        page.button(key="site_more_mornings").click().run()
    clock(page, "flip", 1, "09:12")
    clock(page, "facing", 1, "08:12")
    page.number_input(key="site_seen_east|2").set_value(250)
    page.number_input(key="site_seen_air|2|us").set_value(410)
    page.pills(key="site_seen_flip|3|how").set_value("not yet by").run()  # and no clock
    page.date_input(key="site_seen_date|3").set_value(dt.date(2026, 3, 21)).run()
    assert not told(page)  # not while it is being filled in
    asked(page)
    names = {
        "Morning 1, it faced the sun",
        "Morning 2, date",
        "Morning 2, air temperature",
        "Morning 2, angle reached, east of centre",
        "Morning 3, it passed its centre",
    }
    assert {text.removeprefix("⚠ ").partition(" =")[0] for text in told(page)} == names
    assert all(name in shown(page).partition("Please mend:")[2] for name in names)
    page.button(key="site_less_mornings").click().run()  # the fourth, empty, goes; nothing typed does
    assert page.number_input(key="site_seen_east|2").value == 250


def test_a_sky_alone_says_nothing_of_the_rack(page: AppTest, told: Told) -> None:
    page.pills(key="site_seen_sky|1").set_value("clear").run()
    (fault,) = told(asked(page))
    assert fault.startswith("⚠ Morning 1 =")
    assert "says nothing of the rack" in fault


def test_a_rack_that_no_sun_turns_is_told_so(told: Told, shown: Shown) -> None:
    page = opened(DAY.replace('kind = "delayed"', 'kind = "fixed"'))
    (fault,) = told(page)
    assert "no sun turns" in fault
    assert "cannot be diagnosed" in shown(page)
    assert not page.date_input
