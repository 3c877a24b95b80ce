"""The view of the moving morning: the player is given what the simulated day holds, for every choice there is."""

from __future__ import annotations

import base64
import datetime as dt
import io
import json
from collections.abc import Callable
from typing import Any

import pytest
from PIL import Image
from streamlit.testing.v1 import AppTest

from trackersim import Result
from trackersim.page import moving_view, player, work
from trackersim.page.state import first_desk
from trackersim.report.animation.moving import Frame, frame_alt_text, morning_minutes
from trackersim.report.figures import show_day

Shown = Callable[[AppTest], str]


def script() -> None:
    """A page that holds nothing but the view."""
    import streamlit as st

    from trackersim.page.moving_view import moving_picture
    from trackersim.page.state import first_desk

    if "desk" not in st.session_state:
        st.session_state.desk = first_desk()
    moving_picture(st.session_state.desk, "si" if st.toggle("metric", key="metric") else "us")


@pytest.fixture
def page() -> AppTest:
    return AppTest.from_function(script, default_timeout=120).run()


def given(page: AppTest) -> dict[str, Any]:
    """What the browser is given."""
    assert not page.exception, page.exception
    (mounted,) = page.get("bidi_component")
    data = json.loads(mounted.proto.json)
    assert isinstance(data, dict)
    return data


def demo(kind: str) -> tuple[Result, int]:
    """The demo on a rack of this kind, and the day its view opens on."""
    job = first_desk().good
    return work.own_year(work.varied(job, {"rack.kind": kind})), show_day(work.own_year(job))


def alts(result: Result, day: int, minutes: tuple[int, ...]) -> list[str]:
    return [frame_alt_text(result, day, minute, "us") for minute in minutes]


def test_it_opens_on_the_rack_with_canisters_at_the_usual_day(page: AppTest, shown: Shown) -> None:
    result, day = demo("thermal")
    minutes = morning_minutes(result, day)
    frames = given(page)["frames"]
    assert [frame["minute"] for frame in frames] == list(minutes)
    assert [frame["alt"] for frame in frames] == alts(result, day, minutes)
    assert all(frame["alt"].startswith(frame["clock"]) for frame in frames)
    assert all("% of the liquid" in frame["alt"] for frame in frames)
    assert moving_view.ASSUMED in shown(page)
    assert "turns east at" in shown(page)
    flip = int(result.morning.flip[day])
    assert any(frame["minute"] == flip for frame in frames)


def test_every_frame_is_a_picture_and_no_two_are_the_same(page: AppTest) -> None:
    pictures = [base64.b64decode(frame["png"]) for frame in given(page)["frames"]]
    assert all(Image.open(io.BytesIO(picture)).format == "PNG" for picture in pictures)
    assert len(set(pictures)) == len(pictures) > 30


def test_the_rack_as_it_was_watched_can_be_shown(page: AppTest, shown: Shown) -> None:
    page.radio(key="moving_rack").set_value("as it was watched").run()
    result, day = demo("delayed")
    frames = given(page)["frames"]
    assert [frame["alt"] for frame in frames] == alts(result, day, morning_minutes(result, day))
    assert moving_view.ASSUMED not in shown(page)


def test_another_day_the_whole_day_and_other_units(page: AppTest) -> None:
    first = given(page)
    page.date_input(key="moving_date").set_value(dt.date(2025, 7, 4)).run()
    july = given(page)
    assert all("4 July 2025" in frame["alt"] for frame in july["frames"])
    page.toggle(key="metric").set_value(True).run()
    metric = given(page)
    assert all("°C" in frame["alt"] and "°F" not in frame["alt"] for frame in metric["frames"])
    page.toggle(key="metric").set_value(False)
    page.toggle(key="moving_whole").set_value(True).run()
    whole = given(page)
    result, _ = demo("thermal")
    sunset = max(minute for minute in range(1440) if result.by_day("plane_w_m2")[184][minute] > 0)
    assert july["frames"][-1]["minute"] < 780 < sunset < whole["frames"][-1]["minute"]
    assert len({data["frames_id"] for data in (first, july, whole, metric)}) == 4


def test_frames_are_drawn_once(page: AppTest, monkeypatch: pytest.MonkeyPatch) -> None:
    before = given(page)

    def never(*_: object, **__: object) -> None:
        raise AssertionError("drawn again")

    monkeypatch.setattr(moving_view, "frames_of", never)
    assert given(page.run()) == before
    page.date_input(key="moving_date").set_value(dt.date(2025, 2, 3)).run()
    assert page.exception


def test_a_rack_that_does_not_wait_is_shown_without_a_choice() -> None:
    page = AppTest.from_function(script, default_timeout=120)
    desk = first_desk()
    desk.good = work.varied(desk.good, {"rack.kind": "fixed"})
    page.session_state["desk"] = desk
    page.run()
    assert not page.radio
    assert all("canister" not in frame["alt"] for frame in given(page)["frames"])


def test_the_gif_can_be_saved(page: AppTest) -> None:
    (button,) = page.get("download_button")
    assert button.proto.label == "Save it as GIF"
    assert button.proto.id.endswith("save_gif")


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
