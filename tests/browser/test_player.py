"""The player in a real browser: by itself, with frames of the test's own making, and in the page with the demo's."""

from __future__ import annotations

import io
import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from visiting import PATIENCE_MS, place, settled

from trackersim.page import player
from trackersim.report.animation.moving import FRAME_MS, Frame

HOSTILE = "<script>document.title='owned'</script><img src=x onerror=\"document.title='owned'\"> & 'so' \"on\""
_MODULE = """
async ([js, css, html]) => {
  document.body.innerHTML = html;
  document.head.append(Object.assign(document.createElement("style"), {textContent: css}));
  const made = await import(URL.createObjectURL(new Blob([js], {type: "text/javascript"})));
  window.give = (data) => { window.leave = made.default({data, parentElement: document.body}); };
}
"""


def frame(minute: int, alt: str = "") -> Frame:
    """A grey picture of its own for every minute."""
    png = io.BytesIO()
    Image.new("L", (54, 75), minute % 256).save(png, format="PNG")
    clock = f"{minute // 60:02d}:{minute % 60:02d} EDT"
    return Frame(minute=minute, png=png.getvalue(), clock=clock, alt=alt or f"It is {clock}.")


MORNING = [frame(minute) for minute in range(360, 500, 10)]
LONG_MS = 60_000  # time for a whole morning, and more


@pytest.fixture
def alone(new_page: Callable[..., Any]) -> Any:
    """The player on an empty page, as the component mounts it."""
    page = new_page(viewport={"width": 390, "height": 844})
    page.goto("about:blank")
    page.evaluate(_MODULE, [player._JS, player._CSS, player._HTML])
    return page


def give(page: Any, frames: list[Frame]) -> None:
    page.evaluate("data => window.give(data)", player.player_data(frames, name="it"))


def clock(page: Any) -> str:
    return str(page.locator(".player .clock").inner_text())


def picture(page: Any) -> str:
    return str(page.locator(".player img").get_attribute("src"))


def plays(page: Any) -> bool:
    return str(page.locator(".player .play").inner_text()) == "Pause"


def hold_time(page: Any) -> None:
    """From here on what the page times anew waits for `pass_time`, however slow the machine is.

    Timers already running go on as they were: call it before Play.
    """
    page.clock.install()
    page.clock.pause_at(time.time() + 24 * 3600)  # it can only be told a time to come


def pass_time(page: Any, ms: int) -> None:
    """Every timer due within it has run when this returns."""
    page.clock.run_for(ms)


def rerun(page: Any) -> None:
    """The whole page once more, by Streamlit's own key for it; it needs none of the time held."""
    page.evaluate("""() => {
      const app = document.querySelector("[data-testid=stApp]");
      const look = () => { window.reran ||= app.dataset.testScriptState !== "notRunning"; };
      window.reran = false;
      new MutationObserver(look).observe(app, {attributes: true});
    }""")
    page.keyboard.press("r")
    until(page, lambda: page.evaluate("window.reran"))
    settled(page)


def until(page: Any, holds: Callable[[], bool]) -> None:
    for _ in range(PATIENCE_MS // 50):
        if holds():
            return
        page.wait_for_timeout(50)
    pytest.fail("it did not come to that")


def test_it_rests_until_it_is_played_and_stops_at_the_end(alone: Any) -> None:
    give(alone, MORNING)
    alone.wait_for_timeout(500)
    assert clock(alone) == "06:00 EDT"
    alone.get_by_role("button", name="Play").click()
    until(alone, lambda: clock(alone) == "08:10 EDT" and not plays(alone))  # in its own time, once
    hold_time(alone)
    alone.get_by_role("button", name="Play").click()  # again from the beginning
    assert clock(alone) == "06:00 EDT"
    for before, after in pairwise(MORNING):
        assert plays(alone)
        assert alone.locator(".sentence").get_attribute("aria-live") == "off"
        pass_time(alone, FRAME_MS - 1)
        assert clock(alone) == before.clock
        shown = picture(alone)
        pass_time(alone, 1)
        assert clock(alone) == after.clock
        assert picture(alone) != shown
    assert not plays(alone)
    assert alone.locator(".sentence").get_attribute("aria-live") == "polite"
    pass_time(alone, LONG_MS)
    assert clock(alone) == "08:10 EDT"


def test_keys_alone_do_everything(alone: Any) -> None:
    hold_time(alone)
    give(alone, MORNING)
    pass_time(alone, LONG_MS)
    assert clock(alone) == "06:00 EDT"
    alone.keyboard.press("Tab")  # a step back there is none of yet
    assert alone.evaluate("document.activeElement.className") == "play"
    alone.keyboard.press("Enter")
    pass_time(alone, 3 * FRAME_MS)
    assert clock(alone) == "06:30 EDT"
    alone.keyboard.press("Space")
    pass_time(alone, LONG_MS)
    assert clock(alone) == "06:30 EDT"
    alone.keyboard.press("Shift+Tab")
    alone.keyboard.press("Enter")
    assert clock(alone) == "06:20 EDT"
    alone.locator(".minute").focus()
    for key, expected in (("Home", "06:00 EDT"), ("ArrowRight", "06:10 EDT"), ("End", "08:10 EDT")):
        alone.keyboard.press(key)
        assert clock(alone) == expected
        assert alone.locator(".minute").get_attribute("aria-valuetext") == expected
        assert alone.locator(".sentence").inner_text() == f"It is {expected}."
        assert alone.locator("img").get_attribute("alt") == f"It is {expected}."


def test_focus_is_not_lost_on_the_last_step(alone: Any) -> None:
    give(alone, MORNING[:2])
    alone.get_by_role("button", name="Step on").press("Enter")
    assert clock(alone) == "06:10 EDT"
    assert alone.evaluate("document.activeElement.className") == "play"


def test_the_same_frames_again_change_nothing_and_others_keep_the_time_of_day(alone: Any) -> None:
    hold_time(alone)
    give(alone, MORNING)
    alone.locator(".minute").fill("7")
    assert clock(alone) == "07:10 EDT"
    alone.get_by_role("button", name="Play").click()
    pass_time(alone, FRAME_MS - 1)
    give(alone, MORNING)
    assert plays(alone)
    assert clock(alone) == "07:10 EDT"
    pass_time(alone, 1)
    assert clock(alone) == "07:20 EDT"
    alone.get_by_role("button", name="Pause").click()
    give(alone, [frame(one.minute, "In other units.") for one in MORNING])
    pass_time(alone, LONG_MS)
    assert clock(alone) == "07:20 EDT"
    assert alone.locator("img").get_attribute("alt") == "In other units."
    alone.locator(".minute").press("End")
    give(alone, [frame(minute) for minute in range(480, 520)])  # who has seen the end begins anew
    assert clock(alone) == "08:00 EDT"


def test_it_stops_when_it_is_taken_off_the_page(alone: Any) -> None:
    hold_time(alone)
    give(alone, MORNING)
    alone.get_by_role("button", name="Play").click()
    pass_time(alone, FRAME_MS)
    assert clock(alone) == "06:10 EDT"
    alone.evaluate("window.leave()")
    pass_time(alone, LONG_MS)
    assert clock(alone) == "06:10 EDT"


def test_text_is_never_markup(alone: Any) -> None:
    give(alone, [Frame(minute=one.minute, png=one.png, clock=HOSTILE, alt=HOSTILE) for one in MORNING])
    alone.get_by_role("button", name="Step on").click()
    alone.wait_for_timeout(300)
    assert alone.locator(".sentence").inner_text() == HOSTILE
    assert alone.locator("img").get_attribute("alt") == HOSTILE
    assert clock(alone) == HOSTILE
    assert alone.title() != "owned"
    assert alone.locator("img").count() == 1
    assert alone.evaluate("document.documentElement.scrollWidth") <= 390


def test_buttons_are_large_enough_for_a_thumb_and_the_picture_for_its_column(alone: Any) -> None:
    give(alone, MORNING)
    for name in ("Step back", "Play", "Step on"):
        assert alone.get_by_role("button", name=name).bounding_box()["height"] >= 44
    assert alone.locator(".minute").bounding_box()["height"] >= 44
    column = alone.evaluate("document.body.clientWidth - 2 * parseFloat(getComputedStyle(document.body).marginLeft)")
    assert alone.locator("img").bounding_box()["width"] >= 0.95 * min(column, 540)
    alone.set_viewport_size({"width": 1440, "height": 1200})
    assert alone.locator("img").bounding_box()["width"] == 540
    alone.set_viewport_size({"width": 1366, "height": 700})  # a laptop: picture and buttons in one window
    assert alone.locator(".minute").bounding_box()["y"] < 700 - 44


def test_the_morning_of_the_demo_plays_in_the_page(visitor: Any, tmp_path: Path) -> None:
    """`visitor` sees to it that no request leaves the machine."""
    place(visitor, "Morning")
    visitor.locator(".player .clock:not(:empty)").wait_for(timeout=PATIENCE_MS)
    settled(visitor)
    start = clock(visitor)
    visitor.wait_for_timeout(600)
    assert clock(visitor) == start
    minute = visitor.locator(".player .minute")
    last = int(minute.get_attribute("max"))
    minute.fill(str(last - 2))
    assert clock(visitor) != start
    visitor.get_by_role("button", name="Play").click()
    until(visitor, lambda: minute.input_value() == str(last) and not plays(visitor))  # in its own time, once
    hold_time(visitor)
    visitor.get_by_role("button", name="Play").click()
    assert clock(visitor) == start
    shown = picture(visitor)
    pass_time(visitor, FRAME_MS)
    assert clock(visitor) != start
    assert picture(visitor) != shown
    still = clock(visitor)
    rerun(visitor)
    assert plays(visitor)
    assert clock(visitor) == still
    pass_time(visitor, FRAME_MS)
    assert clock(visitor) > still
    visitor.get_by_role("button", name="Pause").click()
    still, shown = clock(visitor), picture(visitor)
    pass_time(visitor, LONG_MS)
    assert (clock(visitor), picture(visitor)) == (still, shown)
    visitor.clock.resume()
    visitor.get_by_role("slider", name="Time of day").press("ArrowRight")
    assert clock(visitor) != still
    assert picture(visitor) != shown
    image = visitor.locator(".player img")
    assert clock(visitor) in image.get_attribute("alt")
    assert "canister" in image.get_attribute("alt")
    assert image.evaluate("image => image.decode().then(() => image.naturalWidth)") == 540
    visitor.get_by_text("by physics, with what is in its canisters").click()
    until(visitor, lambda: "% of the liquid" in image.get_attribute("alt"))
    last = int(minute.get_attribute("max"))
    before = clock(visitor)
    visitor.locator(".strip").get_by_text("metric", exact=True).click()
    until(visitor, lambda: "°C" in image.get_attribute("alt"))
    assert clock(visitor) == before
    with visitor.expect_download(timeout=PATIENCE_MS) as waiting:
        visitor.get_by_text("Save it as GIF").click()
    path = tmp_path / "morning.gif"
    waiting.value.save_as(path)
    assert waiting.value.suggested_filename == "morning.gif"
    assert path.read_bytes()[:6] == b"GIF89a"
    assert path.stat().st_size > 100_000
    assert Image.open(path).n_frames == last + 1
    visitor.set_viewport_size({"width": 390, "height": 844})
    settled(visitor)
    assert visitor.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth") <= 390
    assert image.bounding_box()["width"] == 390 - 2 * 12  # all of the column
