"""A full disk, a NUL in a name, a queue of visitors: the form and the job stay, and words tell what is the matter."""

from __future__ import annotations

import errno
import io
import os
import threading
import time
import tomllib
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from starlette.responses import Response
from streamlit.testing.v1 import AppTest
from test_files import SPRING, Given, bring

from trackersim.job.files import demo_text, load_job
from trackersim.page import parts, work
from trackersim.page.fields import GROUPS, entries
from trackersim.page.state import Desk, edit, first_desk, open_text, saved_text
from trackersim.page.uploads import take_weather
from trackersim.simulation.reuse import StageCache
from trackersim.simulation.runner import QUEUE
from trackersim.simulation.tickets import Rank, current_ticket

NewPage = Callable[[], AppTest]
Go = Callable[..., AppTest]
Take = Callable[[AppTest, str], Response]
Shown = Callable[[AppTest], str]
DeskOf = Callable[[AppTest], Desk]

ONE_DAY = demo_text().replace("sample:typical-year", "sample:clear-spring-day")
NUL = "oak\x00barn"


@pytest.fixture
def full_disk(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """No file and no folder can be made any more; what was tried. What is there can be read."""
    tried: list[str] = []
    os_open, io_open = os.open, io.open

    def full(path: Any, *rest: Any, **named: Any) -> Any:
        tried.append(str(path))
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(path))

    def opened(path: Any, mode: str = "r", *rest: Any, **named: Any) -> Any:
        return full(path) if set(mode) & set("wax+") else io_open(path, mode, *rest, **named)

    def opened_by_number(path: Any, flags: int, *rest: Any, **named: Any) -> int:
        return full(path) if flags & os.O_CREAT else os_open(path, flags, *rest, **named)

    with monkeypatch.context() as patch:
        patch.setattr(io, "open", opened)
        patch.setattr("builtins.open", opened)
        patch.setattr(os, "open", opened_by_number)
        patch.setattr(os, "mkdir", full)
        yield tried


def test_weather_brought_to_a_full_disk_is_told_and_the_job_stays(
    page: AppTest, shown: Shown, desk_of: DeskOf, full_disk: list[str]
) -> None:
    page.text_input(key="source.lift|us|0").set_value("100 ft").run()
    bring(page, SPRING)
    assert full_disk
    text = shown(page)
    assert "weather file = 'mine.csv': cannot be kept here: there is no room for it. Try again later" in text
    assert "last job without a fault" in text
    assert desk_of(page).good.source.lift_m == pytest.approx(30.48)
    assert desk_of(page).good.weather == load_job("demo").weather
    assert page.text_input(key="source.lift|us|0").value == "100 ft"


def test_a_disk_that_fills_while_weather_is_written_leaves_no_part_of_it(monkeypatch: pytest.MonkeyPatch) -> None:
    desk = first_desk()
    take_weather(desk, Given("mine.csv", SPRING))
    before = desk.good

    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    take_weather(desk, Given("mine.csv", SPRING.replace(b"2025-04-", b"2025-06-")))
    assert [fault.reason for fault in desk.faults] == ["cannot be kept here: there is no room for it."]
    assert desk.good == before
    assert desk.room is not None
    assert work.own_year(desk.good).days == 1


def test_a_visitor_who_comes_when_the_disk_is_full_has_the_page_and_can_save(
    new_page: NewPage, shown: Shown, take: Take, full_disk: list[str]
) -> None:
    """Each visitor once had a folder made, needed or not."""
    page = new_page()
    shown(page)
    page.text_input(key="source.lift|us|0").set_value("100 ft").run()
    job = tomllib.loads(bytes(take(page, "Save this job as a file").body).decode())
    assert job["source"]["lift"] == "100 ft"
    assert full_disk == []


def test_the_sheet_and_the_report_need_no_room_on_the_disk(
    page: AppTest, go: Go, shown: Shown, take: Take, full_disk: list[str]
) -> None:
    page.file_uploader(key="job_file").upload("job.toml", ONE_DAY.encode(), "application/toml").run()
    go(page, "sheet")
    assert "the customer" in shown(page)
    assert sheet_of(page, take).startswith(b"%PDF")


def sheet_of(page: AppTest, take: Take) -> bytes:
    """What the link for the sheet gives."""
    return bytes(take(page, "Save the sheet as PDF").body)


def test_a_nul_in_any_text_field_of_the_form_leaves_form_and_job(page: AppTest, shown: Shown, desk_of: DeskOf) -> None:
    for toggle in page.toggle:
        if str(toggle.key).startswith("more."):
            toggle.set_value(True)
    page.run()
    typed = [field for field in page.text_input if "|us|0" in str(field.key)]
    assert len(typed) > 100
    for field in typed:
        field.set_value(NUL)
    page.run()
    text, desk = shown(page), desk_of(page)
    assert "last job without a fault" in text
    demo = load_job("demo")  # names may be so; nothing else was taken
    assert desk.good.site.name == NUL
    assert (desk.good.source, desk.good.rack, desk.good.array) == (demo.source, demo.rack, demo.array)
    assert all(page.text_input(key=str(field.key)).value == NUL for field in typed)
    other = first_desk()
    open_text(other, saved_text(desk.data))  # saved and opened again, it is what was typed
    assert other.data == desk.data
    page.button(key="go_back").click().run()
    assert not desk_of(page).stale
    shown(page)


def test_each_text_field_takes_a_nul_by_itself() -> None:
    """What is told stands at the field; what is not, such as a name, is a job that can be saved, opened and run."""
    taken = set()
    for group in GROUPS:
        for section in group.sections:
            for entry in entries(group, section, first_desk().data):
                if entry.kind != "text":
                    continue
                desk = first_desk()
                edit(desk, entry.path, NUL)
                if not desk.faults:
                    taken.add(entry.name)
                    other = first_desk()
                    open_text(other, saved_text(desk.data))
                    assert other.good == desk.good, entry.path
                else:
                    assert any(fault.field.startswith((entry.path, entry.rule)) for fault in desk.faults), entry.path
    assert taken <= {"name", "currency"}


def test_a_nul_in_names_and_in_the_words_of_the_sheet_comes_through_to_its_pdf(
    page: AppTest, go: Go, take: Take
) -> None:
    job = ONE_DAY.replace("Hill farm", "Hill\\u0000farm").replace("cedar", "ce\\u0000dar")
    page.file_uploader(key="job_file").upload("job.toml", job.encode(), "application/toml").run()
    go(page, "sheet")
    page.text_input(key="sheet_question").set_value(NUL)
    page.text_input(key="visit_by").set_value(NUL)
    for key in ("visit_readings", "visit_findings", "visit_unchecked"):
        page.text_area(key=key).set_value(NUL)
    assert sheet_of(page, take).startswith(b"%PDF")


def test_a_nul_in_each_text_field_of_a_tree_s_card(page: AppTest, shown: Shown, desk_of: DeskOf) -> None:
    page.toggle(key="tree.more|0").set_value(True).run()
    fields = [field for field in page.text_input if str(field.key).startswith("tree.")]
    assert len(fields) > 2
    for field in fields:
        field.set_value(NUL)
    page.run()
    text, desk = shown(page), desk_of(page)
    assert desk.data["trees"][0]["name"] == NUL
    assert "last job without a fault" in text
    assert "trees.0.yearly_growth" in text
    assert len(desk.good.trees) == 2


def test_a_nul_in_the_name_of_a_brought_file() -> None:
    desk = first_desk()
    take_weather(desk, Given("my\x00year.csv", SPRING))
    assert not desk.faults
    assert desk.good.weather.file == "my_year.csv"


def test_who_waits_is_told_how_many_come_first_and_then_nothing() -> None:
    heard: list[str] = []
    first, second = QUEUE.new(), QUEUE.new()
    done = threading.Event()

    def ask() -> None:
        work.queue_up(heard.append)
        with work.asked():
            assert current_ticket() is not None
            with work.asked(Rank.LONG):  # part of it: no second wait
                done.set()

    thread = threading.Thread(target=ask)
    assert not work.busy()
    with QUEUE.asking(first), QUEUE.asking(second), pytest.MonkeyPatch.context() as patch:
        patch.setattr(QUEUE, "places", 2)
        thread.start()
        end = time.monotonic() + 10
        while not heard and time.monotonic() < end:
            time.sleep(0.01)
        assert work.busy()
        assert not done.is_set()
    thread.join(10)
    assert done.is_set()
    assert heard[0] == "2 others are being worked out first."
    assert heard[-1] == ""
    assert not work.busy()


def test_the_page_tells_who_waits_and_answers_then(
    page: AppTest, desk_of: DeskOf, monkeypatch: pytest.MonkeyPatch
) -> None:
    heard: list[str] = []
    monkeypatch.setattr(parts, "line", lambda: heard.append)
    monkeypatch.setattr(QUEUE, "places", 1)
    page.text_input(key="weather.file|us|0").set_value("sample:clear-spring-day")
    page.text_input(key="source.lift|us|0").set_value("87 ft")
    begun = threading.Event()

    def others() -> None:
        with QUEUE.asking(QUEUE.new()), QUEUE.asking(QUEUE.new()):
            begun.set()
            end = time.monotonic() + 60
            while not heard and time.monotonic() < end:
                time.sleep(0.01)

    thread = threading.Thread(target=others)
    thread.start()
    assert begun.wait(10)
    page.run()
    thread.join(60)
    assert not page.exception
    assert heard[0] == "2 others are being worked out first."
    assert heard[-1] == ""
    assert not desk_of(page).stale
    assert desk_of(page).good.source.lift_m == pytest.approx(87 * 0.3048)


def test_what_many_jobs_leave_in_the_page_s_stages_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    """Days and first looks are kept for all of them, the minutes only of the last."""
    assert work.stages()._most == work.MOST_BYTES <= 600_000_000
    most = 1_000_000
    stages = StageCache(most)
    monkeypatch.setattr(work, "stages", lambda: stages)
    desk = first_desk()
    open_text(desk, ONE_DAY)
    jobs = []
    for number in range(6):
        edit(desk, "site.latitude", f"{35 + number / 20}")
        assert not desk.faults
        jobs.append(desk.good)
        work.first_look_of(desk.good)
        assert most / 2 < stages.held_bytes <= most
    made = dict(stages.made)
    assert made["place"] == len(jobs)
    assert [work.first_look_of(job).own_m3_per_day for job in jobs] > [0.0]
    assert dict(stages.made) == made
    work.own_year(jobs[0])
    assert stages.made["place"] == len(jobs) + 1  # the minutes of the first were let go


@pytest.mark.parametrize("report", [work.losses_report, work.options_report, work.shade_report])
def test_a_long_answer_is_there_at_once_for_whoever_comes_back(
    monkeypatch: pytest.MonkeyPatch, report: Callable[..., Any]
) -> None:
    """It holds no minutes: what others ask meanwhile does not push it out."""
    answers, stages = StageCache(work.long_answers()._most), StageCache(work.MOST_BYTES)
    monkeypatch.setattr(work, "long_answers", lambda: answers)
    monkeypatch.setattr(work, "stages", lambda: stages)
    desk = first_desk()
    open_text(desk, ONE_DAY)
    found = report(desk.good, lambda words, share: None)
    assert stages.made["place"] == 1
    assert 0 < answers.held_bytes < work.long_answers()._most / 100
    nothing = StageCache(0)
    monkeypatch.setattr(work, "stages", lambda: nothing)
    assert report(desk.good, lambda words, share: None).summary() == found.summary()
    assert dict(nothing.made) == {}
