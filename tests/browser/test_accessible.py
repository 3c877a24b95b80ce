"""Everybody can use the page: names, order, contrast (axe-core's rules for WCAG 2 A and AA), keyboard, paper."""

from __future__ import annotations

import io
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import pytest
from visiting import DETAILS, PATIENCE_MS, PLACES, Server, detail, form, place, settled, unfold

from trackersim.job.files import demo_text

# What the page's toolkit draws by itself and gives no means to change.
NOT_OURS = {
    "presentation-role-conflict": "the file uploader's own drop zone",
    "scrollable-region-focusable": "wide tables on a phone; chromium itself lets the keyboard scroll them",
}


def broken_rules(page: Any) -> list[str]:
    from axe_playwright_python.sync_playwright import Axe

    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"]
    # Of rules that are kept not every node is told: that takes half of the time.
    options = {"runOnly": {"type": "tag", "values": tags}, "resultTypes": ["violations"]}
    found = Axe().run(page, options=options).response["violations"]
    return [
        f"{rule['id']}: {node['html'][:150]} {node.get('failureSummary', '')[:200]}"
        for rule in found
        if rule["id"] not in NOT_OURS
        for node in rule["nodes"]
    ]


def keeps_the_rules(page: Any, name: str, width: int) -> None:
    assert broken_rules(page) == [], name
    levels = page.evaluate("[...document.querySelectorAll('h1,h2,h3,h4')].map(e => Number(e.tagName[1]))")
    assert levels.count(1) == 1, name
    assert all(later <= earlier + 1 for earlier, later in pairwise(levels)), (name, levels)
    wide = page.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth")
    assert wide <= width, name


@pytest.mark.parametrize("width", [390, 1280])
def test_every_view_keeps_the_rules_of_accessibility_has_headings_in_order_and_fits_the_screen(
    visitor: Any, width: int
) -> None:
    """One walk through the views, since each is drawn anew when it is opened."""
    visitor.set_viewport_size({"width": width, "height": 844})
    for name in ("Answer", *DETAILS, *PLACES[1:]):
        (detail if name in DETAILS else place)(visitor, name)
        keeps_the_rules(visitor, name, width)


@pytest.mark.parametrize("width", [390, 1280])
def test_so_do_the_days_and_months_of_a_year(year_visitor: Any, width: int) -> None:
    year_visitor.set_viewport_size({"width": width, "height": 844})
    detail(year_visitor, "Year, pump and wire")
    keeps_the_rules(year_visitor, "Year, pump and wire", width)


def test_the_form_with_a_fault_breaks_no_rule(visitor: Any) -> None:
    form(visitor)
    for title in ("Files", "Where", "Trees", "Rack", "Modules", "Wire", "Pump", "Water", "Money"):
        unfold(visitor, title)
    field = visitor.get_by_role("textbox", name="Height from standing water")
    field.fill("70 gpm")
    field.press("Enter")
    visitor.get_by_text("⚠ source.lift").wait_for(timeout=PATIENCE_MS)
    settled(visitor)
    assert broken_rules(visitor) == []


def test_the_keyboard_alone_reaches_places_strip_answer_and_form(visitor: Any) -> None:
    form(visitor)
    reached: list[str] = []
    visitor.locator(".st-key-places a").first.focus()
    for _ in range(40):
        reached.append(
            visitor.evaluate(
                "() => { const e = document.activeElement; const keys = []; let up = e;"
                " while ((up = up.parentElement)) for (const name of up.classList)"
                " if (name.startsWith('st-key-')) keys.push(name.slice(7)); return keys.join(' '); }"
            )
        )
        visitor.keyboard.press("Tab")
    order = [next(n for n, keys in enumerate(reached) if key in keys.split())
             for key in ("places", "job_row", "strip", "front", "job_form")]  # fmt: skip
    assert order == sorted(order)
    visitor.locator("#dial").focus()
    visitor.keyboard.press("ArrowRight")
    visitor.wait_for_url("**/*delay=65*", timeout=PATIENCE_MS)


def test_on_paper_stand_answer_and_pictures_and_no_form(visitor: Any, server: Server) -> None:
    from pypdf import PdfReader

    detail(visitor, "Every kind of rack")
    visitor.locator('[data-testid="stVegaLiteChart"] svg').nth(3).wait_for(timeout=PATIENCE_MS)
    printed = PdfReader(io.BytesIO(visitor.pdf(format="Letter")))
    text = " ".join(" ".join(page.extract_text() for page in printed.pages).split())
    assert "this pump lifts about" in text
    assert "lock the disconnect" in text
    assert "Wire and controller" not in text
    assert "Put this into" not in text
    for axis in ("Water, gal/day", "Angle from centre", "Light on modules", "Flow, gpm"):
        assert axis in text  # of pictures, whose letters are letters
    assert len(printed.pages) <= 4


def test_on_a_phone_all_of_the_row_of_the_job_lies_on_the_screen(visit: Callable[..., Any]) -> None:
    page = visit("", demo_text().replace("Hill farm", "Spring on the long meadow behind the upper barn"), width=390)
    boxes = [each.bounding_box() for each in page.locator(".st-key-job_row :is(a, button)").all()]
    assert all(box["x"] >= 0 and box["x"] + box["width"] <= 390 for box in boxes), boxes
    _, job, manual, sheet = boxes  # the first takes the opening of the job back
    assert job["x"] + job["width"] <= manual["x"]
    assert manual["x"] + manual["width"] <= sheet["x"]
    assert job["width"] >= 90  # the beginning of its words can still be read
