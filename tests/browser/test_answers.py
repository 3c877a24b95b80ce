"""What a visitor asks of the page and takes away from it, in a real browser."""

from __future__ import annotations

import re
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from visiting import PATIENCE_MS, ROOT, Server, names_of_views, open_job, opened, settled, unfold, view

from trackersim import load_job, simulate
from trackersim.job.files import demo_text
from trackersim.report import words
from trackersim.units import show

SPRING = ROOT / "weather_samples" / "clear-spring-day.csv"


def test_the_delay_moves_the_number_and_the_year_is_back_soon(visitor: Any) -> None:
    view(visitor, "Earlier or later")
    told = visitor.get_by_text("This rack lifts")
    told.wait_for(timeout=PATIENCE_MS)
    before = told.inner_text()
    thumb = visitor.locator("[class*=st-key-late_delay] input[type=range]")
    thumb.focus()
    started = time.perf_counter()
    thumb.press("ArrowRight")
    visitor.wait_for_function(
        "before => [...document.querySelectorAll('p')].some(e => "
        "e.textContent.startsWith('This rack lifts') && e.textContent !== before)",
        arg=before,
        timeout=PATIENCE_MS,
    )
    print(f"new yearly answer after {time.perf_counter() - started:.2f} s")
    settled(visitor)
    after = simulate(load_job("demo", ["rack.flip_delay=65"]))
    assert show(after.water_m3_per_day, "volume_per_day", "us") in visitor.get_by_text("This rack lifts").inner_text()
    assert "less than the job as it stands" in visitor.content()


def test_brought_weather_is_used_and_the_saved_job_is_the_job(visitor: Any, tmp_path: Path) -> None:
    view(visitor, "Year, pump and wire")
    unfold(visitor, "Files: open or save a job")
    with visitor.expect_download() as waiting:
        visitor.get_by_text("Save this job as a file").click()
    path = tmp_path / "job.toml"
    waiting.value.save_as(path)
    assert load_job(path).sha256() == load_job("demo").sha256()
    visitor.locator(".st-key-weather_file input[type=file]").set_input_files(SPRING)
    visitor.get_by_text("weather clear-spring-day.csv").wait_for(timeout=PATIENCE_MS)


def test_the_sheet_tells_the_command_line_s_number(visitor: Any, tmp_path: Path) -> None:
    from pypdf import PdfReader

    view(visitor, "The customer's sheet")
    button = visitor.get_by_text("Save the sheet as PDF")
    button.wait_for(timeout=PATIENCE_MS)
    with visitor.expect_download() as waiting:
        button.click()
    path = tmp_path / "sheet.pdf"
    waiting.value.save_as(path)
    text = " ".join(PdfReader(path).pages[0].extract_text().split())
    number = re.search(r"lifts about [\d,]+ gal/day", words.headline(simulate(load_job("demo")), "us"))
    assert number is not None
    assert number[0] in text
    printed = subprocess.run(
        [sys.executable, "-m", "trackersim", "run", "demo"], capture_output=True, text=True, check=True, cwd=ROOT
    ).stdout
    assert number[0] in " ".join(printed.split())


def test_a_tree_moved_in_the_table_is_seen_in_the_sky_at_once(visitor: Any) -> None:
    view(visitor, "The trees")
    sky = visitor.locator('img[alt*="Oaks on the lane"]').first
    sky.wait_for(timeout=PATIENCE_MS)
    before = sky.get_attribute("alt")
    grid = visitor.locator('[data-testid="stDataFrame"] canvas').first
    grid.scroll_into_view_if_needed()
    box = grid.bounding_box()
    # The first cell (the row's name); from there to the right by keyboard: kind, bearing, distance.
    visitor.mouse.click(box["x"] + 90, box["y"] + 52)
    for key in ("ArrowRight", "ArrowRight", "ArrowRight", "Enter"):
        visitor.wait_for_timeout(200)
        visitor.keyboard.press(key)
    visitor.wait_for_timeout(300)
    visitor.keyboard.press("Control+A")
    visitor.keyboard.type("200 ft", delay=50)
    visitor.keyboard.press("Enter")
    visitor.wait_for_function(
        "before => [...document.querySelectorAll('img')].some(e => e.alt.includes('Oaks') && e.alt !== before)",
        arg=before,
        timeout=PATIENCE_MS,
    )
    settled(visitor)
    # Twice as far away the oaks look less than half as high.
    after = visitor.locator('img[alt*="Oaks on the lane"]').first.get_attribute("alt")
    heights = [int(re.search(r"Oaks on the lane: up to (\d+)°", alt)[1]) for alt in (before, after)]  # type: ignore[index]
    assert heights[1] < heights[0] / 2


def test_a_fault_is_told_beside_its_field_while_the_last_answer_stays(visitor: Any) -> None:
    answer = visitor.get_by_text("this pump lifts about").first.inner_text()
    unfold(visitor, "Water: source and store")
    field = visitor.get_by_role("textbox", name="Height from standing water")
    field.fill("70 gpm")
    field.press("Enter")
    visitor.get_by_text("⚠ source.lift").wait_for(timeout=PATIENCE_MS)
    settled(visitor)
    assert visitor.get_by_text("this pump lifts about").first.inner_text() == answer
    assert visitor.get_by_text("is the last job without a fault").is_visible()
    field.fill("100 ft")
    field.press("Enter")
    visitor.get_by_text("⚠ source.lift").wait_for(state="detached", timeout=PATIENCE_MS)
    settled(visitor)
    assert visitor.get_by_text("this pump lifts about").first.inner_text() != answer


def test_a_script_in_the_job_s_name_is_shown_and_not_run(visitor: Any) -> None:
    name = "<script>document.title='owned'</script><img src=x onerror=document.title='owned'> **bold** $x^2$"
    open_job(visitor, demo_text().replace("Hill farm (invented)", name))
    visitor.get_by_text("<script>document.title='owned'</script>").first.wait_for(timeout=PATIENCE_MS)
    for shown in names_of_views(visitor):
        view(visitor, shown)
        assert visitor.title() != "owned", shown
        assert visitor.locator("img[src=x]").count() == 0, shown


def test_two_visitors_never_see_each_other_s_numbers(browser: Any, server: Server, visitor: Any) -> None:
    other = browser.new_context().new_page()
    opened(other, server)
    open_job(visitor, demo_text().replace("Hill farm (invented)", "First (invented)").replace('"130 ft"', '"90 ft"'))
    open_job(other, demo_text().replace("Hill farm (invented)", "Second (invented)").replace('"130 ft"', '"170 ft"'))
    visitor.get_by_text("First (invented): on the").first.wait_for(timeout=PATIENCE_MS)
    other.get_by_text("Second (invented): on the").first.wait_for(timeout=PATIENCE_MS)
    numbers = [
        re.search(r"lifts about ([\d,]+)", page.get_by_text("lifts about").first.inner_text())
        for page in (visitor, other)
    ]
    assert numbers[0] is not None
    assert numbers[1] is not None
    assert numbers[0][1] != numbers[1][1]
    assert "Second" not in visitor.content()
    assert "First" not in other.content()
    other.context.close()


def test_a_tree_is_added_and_another_taken_away_in_the_table(visitor: Any) -> None:
    view(visitor, "The trees")
    visitor.locator('img[alt*="Cedar"]').first.wait_for(timeout=PATIENCE_MS)
    grid = visitor.locator('[data-testid="stDataFrame"] canvas').first
    grid.scroll_into_view_if_needed()
    box = grid.bounding_box()
    row_px, tall = 35, box["height"]
    # Below the last row: an empty one is added, and its first cell opens to be written in.
    visitor.mouse.click(box["x"] + 90, box["y"] + 3.5 * row_px)
    cell = visitor.locator("#portal textarea, #portal input").first
    for text in ("walnut", "tree", "70", "100 ft", "40 ft", "20 ft", "4 ft"):
        if text != "walnut":
            visitor.keyboard.press("Enter")
        cell.wait_for(timeout=PATIENCE_MS)
        visitor.keyboard.press("Control+A")
        visitor.keyboard.type(text, delay=40)
        visitor.keyboard.press("Tab")
        cell.wait_for(state="detached", timeout=PATIENCE_MS)
        settled(visitor)
    assert grid.bounding_box()["height"] == pytest.approx(tall + row_px, abs=2)
    visitor.locator('img[alt*="at a bearing of 69°"]').first.wait_for(timeout=PATIENCE_MS)
    settled(visitor)
    # The cedar's row is marked at its left edge and taken away; the new tree stays.
    grid.scroll_into_view_if_needed()
    box = grid.bounding_box()
    visitor.mouse.click(box["x"] + 15, box["y"] + 2.5 * row_px)
    visitor.get_by_role("button", name="Delete row").click(timeout=PATIENCE_MS)
    visitor.locator('img[alt*="Cedar"]').first.wait_for(state="detached", timeout=PATIENCE_MS)
    assert visitor.locator('img[alt*="Walnut: up to 18° high at a bearing of 69°"]').count() > 0
