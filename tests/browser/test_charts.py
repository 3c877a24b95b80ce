"""Pictures of the answer's details answer the pointer, in light and dark, with the figures of the tables."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from typing import Any

import pytest
from PIL import Image
from visiting import PATIENCE_MS, Server, detail, opened, settled

CHART = '[data-testid="stVegaLiteChart"]'


def chart(page: Any, number: int = 0) -> Any:
    """One of the charts, drawn."""
    found = page.locator(CHART).nth(number)
    found.locator("svg").wait_for(timeout=PATIENCE_MS)
    found.scroll_into_view_if_needed()
    return found


def bar(page: Any, *words: str) -> Any:
    """The bar whose description holds some words."""
    found = chart(page).locator("path[aria-roledescription=bar]")
    for word in words:
        found = found.and_(page.locator(f'[aria-label*="{word}"]'))
    return found.first


def told_at(page: Any, mark: Any) -> str:
    """What the pointer is told there."""
    # The strip stays in view above: what is pointed at must not lie below it.
    mark.evaluate("mark => mark.scrollIntoView({block: 'center'})")
    mark.hover(force=True)
    tip = page.locator("#vg-tooltip-element.visible")
    tip.wait_for(timeout=PATIENCE_MS)
    return " ".join(tip.inner_text().split())


def cells(page: Any, row: str) -> list[str]:
    # What the pointer is told is a table as well, and the page's own may be drawn later.
    found = page.locator("tr:not(#vg-tooltip-element *)").filter(has_text=row).first
    found.wait_for(timeout=PATIENCE_MS)
    return [cell.strip() for cell in found.locator("th, td").all_inner_texts()]


def axis_labels(page: Any) -> list[str]:
    found = chart(page).locator("svg .role-axis-label text").all_text_contents()
    return [label for label in found if re.fullmatch(r"[\d,]+", label)]


def test_a_bar_tells_the_figure_of_the_table_in_both_units(year_visitor: Any) -> None:
    page = year_visitor
    detail(page, "Year, pump and wire")
    for unit, choice in (("gal/day", None), ("m³/day", "metric")):
        if choice:
            page.locator(".units").get_by_text(choice).click()
            page.wait_for_url("**units=metric*", timeout=PATIENCE_MS)
            settled(page)
            page.get_by_text("m³/day").first.wait_for(timeout=PATIENCE_MS)
        for month in ("April", "December"):
            assert f"{cells(page, month)[1]} {unit}" in told_at(page, bar(page, f"Month: {month}"))


def test_a_step_tells_the_figure_of_the_table(visitor: Any) -> None:
    detail(visitor, "Where the water went")
    visitor.get_by_text("Mended alone, ").wait_for(timeout=PATIENCE_MS)
    settled(visitor)
    for cause in ("late flip", "trees", "wire"):
        told = told_at(visitor, bar(visitor, f"Cause: {cause}"))
        assert f"{cells(visitor, cause)[1]} gal/day" in told


def test_a_minute_tells_the_figures_of_every_curve(visitor: Any) -> None:
    detail(visitor, "Earlier or later")
    flow = chart(visitor, 3)
    flow.evaluate("chart => chart.scrollIntoView({block: 'center'})")
    box = flow.locator("svg").bounding_box()
    visitor.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    tip = visitor.locator("#vg-tooltip-element.visible")
    tip.wait_for(timeout=PATIENCE_MS)
    told = " ".join(tip.inner_text().split())
    assert re.search(r"Time 1\d:\d\d", told), told
    assert len(re.findall(r"[\d.]+ gpm", told)) == 2, told


def test_before_stays_as_an_outline_on_an_axis_that_stays(year_visitor: Any) -> None:
    detail(year_visitor, "Year, pump and wire")
    labels = axis_labels(year_visitor)
    before = told_at(year_visitor, bar(year_visitor, "Month: April"))
    figure = re.search(r"[\d,]+ gal/day", before)
    assert figure is not None
    year_visitor.locator("#dial").evaluate("dial => { dial.value = 180; dial.dispatchEvent(new Event('change')); }")
    year_visitor.get_by_text("Outlined: the job as it stands.").wait_for(timeout=PATIENCE_MS)
    settled(year_visitor)
    assert axis_labels(year_visitor) == labels
    ghost = bar(year_visitor, "Month: April", "the job as it stands")
    assert figure[0] in ghost.get_attribute("aria-label")
    assert figure[0] not in bar(year_visitor, "Month: April", "late-turning rack").get_attribute("aria-label")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_chart_has_the_page_s_ground_and_words_that_stand_for_it(
    new_page: Callable[..., Any], server: Server, scheme: str
) -> None:
    page = new_page(viewport={"width": 1280, "height": 900}, color_scheme=scheme)
    opened(page, server)
    detail(page, "Earlier or later")
    chart(page, 3)
    assert page.locator(CHART).count() == 4
    for number in range(4):
        drawn = Image.open(io.BytesIO(chart(page, number).screenshot())).convert("L")
        ground = max(drawn.getcolors(1_000_000), key=lambda count: count[0])[1]
        assert (ground < 60) == (scheme == "dark"), (scheme, ground)
        # Letters stand out from it.
        least, most = drawn.getextrema()
        assert most - least > 150
        assert chart(page, number).get_attribute("role") == "graphics-document"
        words = chart(page, number).get_attribute("aria-label")
        assert len(words) > 60, words
