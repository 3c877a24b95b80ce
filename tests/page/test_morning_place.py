"""Morning: the player is given what the simulated day holds, on the job's own rack, beside one that turns at once."""

from __future__ import annotations

import base64
import datetime as dt
import io
import json
import re
from collections.abc import Callable
from typing import Any

import pytest
from PIL import Image
from starlette.responses import Response
from streamlit.testing.v1 import AppTest

from trackersim import Result
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.page import player, work
from trackersim.page.places import morning
from trackersim.page.state import first_desk
from trackersim.page.strip import ViewState, supposed
from trackersim.report.animation.moving import Frame, morning_minutes
from trackersim.report.moment import day_sky, ghost_words, moment_of, moment_words
from trackersim.report.morning import morning_sentence

Shown = Callable[[AppTest], str]
Take = Callable[[AppTest, str], Response]
JULY = dt.date(2025, 7, 4)


def script() -> None:
    """A page that holds nothing but the place; the strip's state is put into the session."""
    import streamlit as st

    from trackersim.page.places import morning
    from trackersim.page.state import first_desk
    from trackersim.page.strip import ViewState

    if "desk" not in st.session_state:
        st.session_state.desk = first_desk()
    morning.draw(st.session_state.desk, st.session_state.get("looked_at", ViewState()))


def opened(view: ViewState | None = None, **changes: Any) -> AppTest:
    page = AppTest.from_function(script, default_timeout=120)
    page.session_state["looked_at"] = view or ViewState()
    if changes:
        desk = first_desk()
        desk.good = with_overrides(desk.good, {key.replace("__", "."): value for key, value in changes.items()})
        page.session_state["desk"] = desk
    return page.run()


@pytest.fixture(scope="module")
def page() -> AppTest:
    """One visitor for all tests; each leaves the place as it found it."""
    return opened()


def given(page: AppTest) -> dict[str, Any]:
    """What the browser is given."""
    assert not page.exception, page.exception
    (mounted,) = page.get("bidi_component")
    data = json.loads(mounted.proto.json)
    assert isinstance(data, dict)
    return data


def demo() -> Job:
    return first_desk().good


def alts(job: Job, date: dt.date, minutes: tuple[int, ...] | None = None) -> list[str]:
    """The sentences of the frames, from the simulated year."""
    result, prompt = work.own_year(job), work.ideal_year(job)
    day = (date - result.times[0].date()).days
    sky = day_sky(result, day)
    told = []
    for minute in minutes or morning_minutes(result, day):
        ghost = ghost_words(moment_of(prompt, day, minute, sky), "us")
        told.append(f"{moment_words(moment_of(result, day, minute, sky), result.rack, 'us')} {ghost}")
    return told


def loss_m3(result: Result, prompt: Result, date: dt.date) -> float:
    day = (date - result.times[0].date()).days
    return float((prompt.daily["water_m3"] - result.daily["water_m3"]).iloc[day])


def test_it_opens_on_the_jobs_own_rack_on_a_clear_day_that_loses_what_is_usual(page: AppTest, shown: Shown) -> None:
    look = work.first_look_of(demo())
    date = look.telling_day
    assert [frame["alt"] for frame in given(page)["frames"]] == alts(demo(), date)
    assert look.clear[(date - look.first_day).days]
    assert loss_m3(work.own_year(demo()), work.ideal_year(demo()), date) > 0
    words = shown(page)
    assert "turns east at" in words
    said = re.search(r"lifted ([\d,]+) gal; had it .*, ([\d,]+) gal: ([\d,]+) gal lost to the late flip\.", words)
    assert said is not None
    lifted, whole, lost = (int(figure.replace(",", "")) for figure in said.groups())
    assert lifted + lost == whole
    assert lost == round(loss_m3(work.own_year(demo()), work.ideal_year(demo()), date) / 0.003785411784)
    assert morning_sentence(work.morning_of(demo(), date), "us") in words
    assert "with a usual loss" in words
    assert morning.ASSUMED not in words


def test_every_frame_is_a_picture_and_no_two_are_the_same(page: AppTest) -> None:
    pictures = [base64.b64decode(frame["png"]) for frame in given(page)["frames"]]
    assert all(Image.open(io.BytesIO(picture)).format == "PNG" for picture in pictures)
    assert len(set(pictures)) == len(pictures) > 20


@pytest.mark.usefixtures("blank_frames")
def test_the_delay_and_the_day_of_the_strip_are_those_of_the_morning(shown: Shown) -> None:
    """Of a job with a hostile name, which stays text."""
    view = ViewState(delay_min=180.0, day=JULY)
    late = opened(view, site__name="<script>alert(1)</script> **x**")
    assert all("<script>" not in part.proto.body for part in late.get("html"))
    assert [frame["alt"] for frame in given(late)["frames"]] == alts(supposed(demo(), view), JULY)
    assert "with a usual loss" not in shown(late)  # a day that was chosen needs no reason


@pytest.mark.usefixtures("blank_frames")
def test_what_is_in_the_canisters_is_shown_by_physics(page: AppTest, shown: Shown) -> None:
    page.radio(key="morning_rack").set_value("by physics, with what is in its canisters").run()
    date = work.first_look_of(demo()).telling_day
    frames = given(page)["frames"]
    assert [frame["alt"] for frame in frames] == alts(with_overrides(demo(), {"rack.kind": "thermal"}), date)
    assert all("% of the liquid" in frame["alt"] for frame in frames)
    assert morning.ASSUMED in shown(page)
    page.radio(key="morning_rack").set_value("as it was watched").run()


@pytest.mark.usefixtures("blank_frames")
def test_the_whole_day_goes_on_until_the_sun_is_down(page: AppTest) -> None:
    half = given(page)
    page.toggle(key="morning_whole").set_value(True).run()
    whole = given(page)
    assert half["frames"][-1]["minute"] < 800 < 1100 < whole["frames"][-1]["minute"]
    assert half["frames_id"] != whole["frames_id"]
    page.toggle(key="morning_whole").set_value(False).run()


def test_frames_are_drawn_once(page: AppTest, monkeypatch: pytest.MonkeyPatch) -> None:
    before = given(page)

    def never(*_: object, **__: object) -> None:
        raise AssertionError("drawn again")

    monkeypatch.setattr(morning, "frames_of", never)
    assert given(page.run()) == before
    page.session_state["looked_at"] = ViewState(day=dt.date(2025, 2, 3))
    assert page.run().exception
    page.session_state["looked_at"] = ViewState()


@pytest.mark.usefixtures("blank_frames")
@pytest.mark.parametrize(("kind", "ghost"), [("fixed", True), ("ideal", False)])
def test_a_rack_that_does_not_wait_has_no_choice_and_only_one_that_loses_a_ghost(kind: str, ghost: bool) -> None:
    page = opened(rack__kind=kind, weather__file="sample:clear-spring-day")
    assert not page.radio
    told = [frame["alt"] for frame in given(page)["frames"]]
    assert all("canister" not in alt for alt in told)
    assert all(("Had it turned at once" in alt) == ghost for alt in told)


def test_the_gif_can_be_saved(page: AppTest, take: Take) -> None:
    assert bytes(take(page.run(), "Save it as GIF").body).startswith(b"GIF89a")


def test_what_differs_in_a_frame_differs_in_the_identity() -> None:
    frame = Frame(minute=1, png=b"a", clock="00:01", alt="dark")
    others = (
        Frame(minute=2, png=b"a", clock="00:01", alt="dark"),
        Frame(minute=1, png=b"b", clock="00:01", alt="dark"),
        Frame(minute=1, png=b"a", clock="00:02", alt="dark"),
        Frame(minute=1, png=b"a", clock="00:01", alt="light"),
    )
    made = [player.player_data([one], name="it")["frames_id"] for one in (frame, *others)]
    assert len(set(made)) == len(made)
    assert player.player_data([frame], name="it")["frames_id"] == made[0]


def test_upright_lines_stand_at_the_moments_of_the_table(page: AppTest) -> None:
    charts = [json.loads(chart.proto.spec) for chart in page.get("vega_lite_chart")]
    assert len(charts) == 3
    clocks = [clock.replace("\\", "")[:5] for clock in page.table[0].value["Clock"]]
    assert len(clocks) == 5
    for chart in charts:
        marks, curves = chart["layer"]
        minutes = sorted(row["minute"] for row in marks["data"]["values"])
        assert [f"{minute // 60:02}:{minute % 60:02}" for minute in minutes] == clocks
        shown = [row["clock"] for row in curves["data"]["values"]]
        assert shown[0] < clocks[0] < clocks[-1] < shown[-1] < "15:00"
    assert any("Upright lines" in caption.value for caption in page.caption)
