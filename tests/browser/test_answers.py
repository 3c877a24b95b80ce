"""What a visitor asks of the page and takes away from it, in a real browser."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from one_day import DAY
from typer.testing import CliRunner
from visiting import DETAILS, PATIENCE_MS, PLACES, ROOT, Server, detail, form, open_job, opened, place, settled, unfold

from trackersim import load_job, simulate
from trackersim.cli import app
from trackersim.job.files import parse_job
from trackersim.report import words
from trackersim.units import show

CLOUDS = ROOT / "weather_samples" / "broken-cloud-day.csv"
SPRING = ["weather.file=sample:clear-spring-day"]


def test_the_delay_moves_the_number_and_the_detail(visitor: Any) -> None:
    detail(visitor, "Earlier or later")
    told = visitor.get_by_text("This rack lifts")
    told.wait_for(timeout=PATIENCE_MS)
    before = told.inner_text()
    visitor.locator("#dial").focus()
    visitor.locator("#dial").press("ArrowRight")
    visitor.get_by_text("than the job as it stands").wait_for(timeout=PATIENCE_MS)
    settled(visitor)
    assert told.inner_text() != before
    after = simulate(load_job("demo", [*SPRING, "rack.flip_delay=65"]))
    assert show(after.water_m3_per_day, "volume_per_day", "us") in told.inner_text()
    assert "less than the job as it stands" in visitor.content()


def test_brought_weather_is_used_and_the_saved_job_is_the_job(visitor: Any, tmp_path: Path) -> None:
    detail(visitor, "Year, pump and wire")
    form(visitor)
    unfold(visitor, "Files: open or save a job")
    with visitor.expect_download() as waiting:
        visitor.get_by_text("Save this job as a file").click()
    path = tmp_path / "job.toml"
    waiting.value.save_as(path)
    assert load_job(path).sha256() == parse_job(DAY).sha256()
    visitor.locator(".st-key-weather_file input[type=file]").set_input_files(CLOUDS)
    visitor.get_by_text("weather broken-cloud-day.csv").wait_for(timeout=PATIENCE_MS)


def test_the_sheet_tells_the_command_line_s_number(visitor: Any, tmp_path: Path) -> None:
    from pypdf import PdfReader

    place(visitor, "Sheet")
    button = visitor.get_by_text("Save the sheet as PDF")
    button.wait_for(timeout=PATIENCE_MS)
    with visitor.expect_download() as waiting:
        button.click()
    path = tmp_path / "sheet.pdf"
    waiting.value.save_as(path)
    text = " ".join(PdfReader(path).pages[0].extract_text().split())
    number = re.search(r"lifts about [\d,]+ gal/day", words.headline(simulate(parse_job(DAY)), "us"))
    assert number is not None
    assert number[0] in text
    printed = CliRunner().invoke(app, ["run", "demo", "--set", *SPRING]).stdout
    assert number[0] in " ".join(printed.split())


def test_the_sheet_to_send_opens_by_itself_without_a_request_or_a_message(
    visitor: Any, new_page: Callable[..., Any], tmp_path: Path
) -> None:
    place(visitor, "Sheet")
    button = visitor.get_by_text("Save it as a web page to send")
    button.wait_for(timeout=PATIENCE_MS)
    with visitor.expect_download() as waiting:
        button.click()
    waiting.value.save_as(tmp_path / "sheet.html")
    alone = new_page(offline=True, viewport={"width": 390, "height": 844})
    told, asked = [], []
    alone.on("console", lambda message: told.append(message.text))
    alone.on("request", lambda request: asked.append(request.url))
    alone.goto((tmp_path / "sheet.html").as_uri())
    assert words.headline(simulate(parse_job(DAY)), "us") in " ".join(alone.inner_text("main").split())
    assert alone.evaluate("[...document.images].every(image => image.naturalWidth > 100)")
    assert alone.evaluate("document.documentElement.scrollWidth") == 390
    assert told == []
    assert all(url.startswith(("file:", "data:")) for url in asked)


def test_a_fault_is_told_beside_its_field_while_the_last_answer_stays(visitor: Any) -> None:
    cost = visitor.locator(".front .cost")
    answer = cost.inner_text()
    form(visitor)
    unfold(visitor, "Water: source and store")
    field = visitor.get_by_role("textbox", name="Height from standing water")
    field.fill("70 gpm")
    field.press("Enter")
    visitor.get_by_text("⚠ source.lift").wait_for(timeout=PATIENCE_MS)
    settled(visitor)
    assert cost.inner_text() == answer
    assert visitor.get_by_text("is the last job without a fault").is_visible()
    field.fill("100 ft")
    field.press("Enter")
    visitor.get_by_text("⚠ source.lift").wait_for(state="detached", timeout=PATIENCE_MS)
    settled(visitor)
    assert cost.inner_text() != answer


def test_a_script_in_the_job_s_name_is_shown_and_not_run(visitor: Any) -> None:
    name = "<script>document.title='owned'</script><img src=x onerror=document.title='owned'> **bold** $x^2$"
    open_job(visitor, DAY.replace("Hill farm (invented)", name))
    visitor.get_by_text("<script>document.title='owned'</script>").first.wait_for(timeout=PATIENCE_MS)
    for shown in (*DETAILS, *PLACES[1:]):
        (detail if shown in DETAILS else place)(visitor, shown)
        assert visitor.title() != "owned", shown
        assert visitor.locator("img[src=x]").count() == 0, shown


def test_two_visitors_never_see_each_other_s_numbers(
    new_page: Callable[..., Any], server: Server, visitor: Any
) -> None:
    other = new_page()
    opened(other, server)
    open_job(visitor, DAY.replace("Hill farm (invented)", "First (invented)").replace('"130 ft"', '"90 ft"'))
    open_job(other, DAY.replace("Hill farm (invented)", "Second (invented)").replace('"130 ft"', '"170 ft"'))
    visitor.get_by_role("button", name="First (invented)").wait_for(timeout=PATIENCE_MS)
    other.get_by_role("button", name="Second (invented)").wait_for(timeout=PATIENCE_MS)
    for page in (visitor, other):
        settled(page)
    costs = [page.locator(".front .whole").inner_text() for page in (visitor, other)]
    assert costs[0] != costs[1]
    assert "Second" not in visitor.content()
    assert "First" not in other.content()
