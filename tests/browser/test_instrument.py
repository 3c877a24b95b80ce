"""The page as an instrument: one state in the address, a dial that answers at once, a job that the browser keeps."""

from __future__ import annotations

import calendar
import json
from collections.abc import Callable
from typing import Any

import pytest
from typer.testing import CliRunner
from visited_job import kept, open_in
from visiting import ONE_DAY, PATIENCE_MS, Server, form, opened, place, settled

from trackersim.cli import app
from trackersim.job.files import demo_text

_LITRES_A_GALLON = 3.785411784


def number(page: Any) -> int:
    return int(page.locator(".front .cost").inner_text().replace(",", ""))


def bar_of(page: Any) -> tuple[int, ...]:
    """Lifted, late and trees as printed, and the whole."""
    told = page.locator(".front .bar").get_attribute("aria-label")
    parts = [int(part.split()[0].replace(",", "")) for part in told.split(", ")]
    whole = page.locator(".front .whole").inner_text().split(": ")[1].split()[0]
    return (*parts, int(whole.replace(",", "")))


def dial_to(page: Any, value: int) -> None:
    """As a hand moves it: no server is asked until it is let go."""
    page.locator("#dial").evaluate(
        "(dial, value) => { dial.value = value; dial.dispatchEvent(new Event('input')); }", value
    )


def let_go(page: Any) -> None:
    page.locator("#dial").evaluate("dial => dial.dispatchEvent(new Event('change'))")


# How many answers the browser has.
KNOWN = "() => Object.values(window.trackersimHub?.table?.rows ?? {}).flat().length"


def whole_table(page: Any) -> None:
    """Wait until all answers are worked out ahead."""
    page.wait_for_function(
        "() => window.trackersimHub?.table && Object.values(window.trackersimHub.table.rows).length === 3"
        " && Object.values(window.trackersimHub.table.rows).every(row => row.length === 13)",
        timeout=PATIENCE_MS,
    )


def test_the_first_screen_adds_up_as_printed_and_equals_the_command_line(visitor: Any) -> None:
    *parts, whole = bar_of(visitor)
    assert sum(parts) == whole
    assert number(visitor) == parts[1] + parts[2]
    day = "weather.file=sample:clear-spring-day"
    site = json.loads(CliRunner().invoke(app, ["compare", "demo", "--set", day, "--json"]).stdout)["site"]
    names = ("as_it_stands", "late", "trees", "open_and_prompt")
    gallons = [site[f"{name}_m3_per_day"] * 1000 / _LITRES_A_GALLON for name in names]
    assert parts == pytest.approx(gallons[:3], abs=0.51)
    assert whole == pytest.approx(gallons[3], abs=1.51)  # three parts, each rounded


def test_what_can_be_won_back_has_its_unit(visitor: Any) -> None:
    won = visitor.locator(".front .won")
    assert won.inner_text() == "What can be won back, gal/day"
    visitor.locator(".strip .units label").filter(has_text="metric").click()
    won.filter(has_text="What can be won back, m³/day").wait_for(timeout=PATIENCE_MS)


def box_of(found: Any) -> Any:
    """Where it is; what is worked out ahead has some parts drawn anew, and in between they are nowhere."""
    while (box := found.bounding_box()) is None:
        found.wait_for(timeout=PATIENCE_MS)
    return box


@pytest.mark.parametrize(("width", "height"), [(1280, 800), (390, 844)])
def test_the_first_screen_needs_no_scrolling(year_visitor: Any, width: int, height: int) -> None:
    year_visitor.set_viewport_size({"width": width, "height": height})
    settled(year_visitor)
    bottom = height - (60 if width < 640 else 0)
    year_visitor.locator(".wins").get_by_text("Fell oaks on the lane").wait_for(timeout=PATIENCE_MS)  # the last to come
    for part in (".cost", ".bar", ".wins tr:last-child", ".calendar b:last-of-type", ".daynote"):
        box = box_of(year_visitor.locator(f".front {part}").first)
        assert box["y"] >= 0, part
        assert box["y"] + box["height"] <= bottom, part
    assert year_visitor.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth") <= width


def test_the_dial_moves_number_bar_and_strip_without_the_server(visitor: Any) -> None:
    whole_table(visitor)
    before = number(visitor)
    visitor.context.set_offline(True)
    took = visitor.evaluate(
        """async () => {
          const dial = [...document.querySelectorAll('*')].map(e => e.shadowRoot?.querySelector('#dial')).find(Boolean);
          const began = performance.now();
          dial.value = 180;
          dial.dispatchEvent(new Event('input'));
          await new Promise(requestAnimationFrame);
          return performance.now() - began;
        }"""
    )
    assert took < 100
    *parts, whole = bar_of(visitor)
    assert sum(parts) == whole
    later = number(visitor)
    assert later > before
    assert "as it stands" in visitor.locator(".told").inner_text()
    visitor.context.set_offline(False)
    let_go(visitor)
    visitor.wait_for_url("**/*delay=180*", timeout=PATIENCE_MS)
    settled(visitor)
    assert number(visitor) == later


def test_the_calendar_names_the_day_of_the_strip(year_visitor: Any) -> None:
    for day, named in (("2025-06-14", "14 June"), ("2025-10-03", "3 October")):
        year_visitor.locator(".strip .day input").fill(day)
        year_visitor.locator(".front .daynote").filter(has_text=f"{named}:").wait_for(timeout=PATIENCE_MS)
        settled(year_visitor)


def test_the_calendar_names_the_months_as_the_charts_do(year_visitor: Any) -> None:
    assert year_visitor.locator(".calendar > span").all_text_contents() == list(calendar.month_abbr)[1:]


def test_a_long_name_of_a_job_leaves_the_top_in_one_row(visitor: Any) -> None:
    visitor.set_viewport_size({"width": 1280, "height": 800})
    one_row = visitor.locator(".st-key-top").bounding_box()["height"]
    long_name = "e => { e.querySelector('p').textContent = 'a ranch of a long name '.repeat(8); }"
    visitor.locator(".st-key-form_toggle button").evaluate(long_name)
    assert visitor.locator(".st-key-form_toggle button").inner_text().count("ranch") == 8
    assert visitor.locator(".st-key-top").bounding_box()["height"] == one_row
    assert visitor.locator(".st-key-form_toggle button").bounding_box()["width"] <= 300


def test_a_phone_says_what_its_choices_are_about(visitor: Any) -> None:
    visitor.set_viewport_size({"width": 390, "height": 844})
    settled(visitor)
    assert visitor.locator(".strip .choice > span").is_visible()
    assert visitor.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth") <= 390
    rows = [visitor.locator(f".strip {part}").bounding_box()["y"] for part in (".choice", ".day")]
    assert abs(rows[0] - rows[1]) < 20  # trees and day still share a row


def test_reload_back_and_a_sent_link_bring_the_same_picture(
    visitor: Any, new_page: Callable[..., Any], server: Server
) -> None:
    dial_to(visitor, 120)
    let_go(visitor)
    visitor.wait_for_url("**/*delay=120*", timeout=PATIENCE_MS)
    settled(visitor)
    late = number(visitor)
    visitor.locator(".strip").get_by_text("none", exact=True).click()
    visitor.wait_for_url("**/*trees=none*", timeout=PATIENCE_MS)
    settled(visitor)
    bare = number(visitor)
    assert bare < late
    visitor.reload()
    visitor.locator(".front .cost").wait_for(timeout=PATIENCE_MS)
    settled(visitor)
    assert number(visitor) == bare
    link = visitor.url
    visitor.go_back()
    visitor.wait_for_function("() => !location.search.includes('trees')", timeout=PATIENCE_MS)
    said(visitor, late)
    place(visitor, "Decide")
    assert "delay=120" in visitor.url
    other = new_page()
    other.goto(link)
    other.locator(".front .cost").wait_for(timeout=PATIENCE_MS)
    said(other, bare)


def said(page: Any, cost: int) -> None:
    """Wait until the large number is this one."""
    page.locator(".front .cost").filter(has_text=f"{cost:,}").wait_for(timeout=PATIENCE_MS)


def test_what_is_worked_out_ahead_comes_without_a_run_of_the_page(new_page: Callable[..., Any], server: Server) -> None:
    """As a run of its own it drew into the place that its visitor had just left, and left the page blank."""
    page, said = new_page(), []
    page.on("websocket", lambda line: line.on("framesent", lambda words: said.append(words)))
    cold = demo_text().replace("Hill farm (invented)", "Cold ridge (invented)").replace('"130 ft"', '"131 ft"')
    open_in(page, server, "", cold)
    settled(page)
    before, known = len(said), page.evaluate(KNOWN)
    page.wait_for_function(f"known => ({KNOWN})() > known", arg=known, timeout=PATIENCE_MS)
    # The best tree to fell comes with it. Once it was shown only to whom the page was drawn anew for.
    page.locator(".wins").get_by_text("Fell oaks on the lane").wait_for(timeout=PATIENCE_MS)
    assert len(said) == before


def test_what_is_supposed_is_put_into_the_job_and_undone(visitor: Any) -> None:
    before = number(visitor)
    dial_to(visitor, 120)
    let_go(visitor)
    visitor.get_by_role("button", name="Put this into the job").click(timeout=PATIENCE_MS)
    visitor.wait_for_function("() => !location.search.includes('delay')", timeout=PATIENCE_MS)
    visitor.locator(".told").filter(has_text="as it stands").wait_for(state="detached", timeout=PATIENCE_MS)
    late = number(visitor)
    assert late > before
    visitor.get_by_role("button", name="Undo").click(timeout=PATIENCE_MS)
    said(visitor, before)


def test_the_job_outlives_a_reload_and_a_restart_in_this_browser_alone_and_can_be_forgotten(
    new_page: Callable[..., Any],
) -> None:
    server = Server(program=ONE_DAY)
    server.start()
    page = new_page(viewport={"width": 1280, "height": 900})
    try:
        opened(page, server)
        form(page)
        page.locator("details summary").filter(has_text="Rack").first.click()
        field = page.get_by_role("textbox", name="minutes of sun on the rack until it swings east")
        field.fill("150")
        field.press("Enter")
        kept(page, "150 min")
        settled(page)
        own = number(page)
        page.reload()
        said(page, own)
        server.kill()
        server.start()
        page.reload()
        said(page, own)
        other = new_page()
        opened(other, server)
        assert number(other) != own
        form(page)
        settled(page)
        page.locator("details summary").filter(has_text="Files: open or save a job").click()
        settled(page)
        page.get_by_role("button", name="Forget the job kept in this browser").click()
        page.wait_for_function("() => localStorage.getItem('trackersim.job') === null", timeout=PATIENCE_MS)
        page.reload()
        page.locator(".front .cost").wait_for(timeout=PATIENCE_MS)
        settled(page)
        assert number(page) != own
    finally:
        server.stop()


def test_a_day_of_the_calendar_opens_its_morning(year_visitor: Any) -> None:
    year_visitor.locator(".calendar").focus()
    year_visitor.keyboard.press("Home")
    year_visitor.keyboard.press("ArrowDown")
    year_visitor.locator(".daynote").filter(has_text="2 January").wait_for(timeout=PATIENCE_MS)
    year_visitor.keyboard.press("Enter")
    year_visitor.wait_for_url("**/morning?*day=2025-01-02*", timeout=PATIENCE_MS)
    year_visitor.get_by_text("2 January 2025").first.wait_for(timeout=PATIENCE_MS)
