"""Decide and On site in a browser: prices that last, numbers on a numeric keypad, the result in view, text as text."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import one_day
from visited_job import kept, saved
from visiting import PATIENCE_MS, READY

from trackersim.analysis.options import options_of
from trackersim.job.files import parse_job, with_overrides
from trackersim.report.choice_words import pays_words

# An opened job is known by another name than the demonstration.
DAY = one_day.DAY.replace("Hill farm (", "One day (")
# So much is wanted that every drop is used.
THIRSTY = DAY.replace('demand = "3000 gal/day"', 'demand = "20000 gal/day"')
HOSTILE = "<img src=x onerror=\"document.title='owned'\">"


def type_number(page: Any, label: str, number: str) -> None:
    """A number as somebody types it, and on to the next field; then the page has taken it."""
    field = page.get_by_label(label, exact=True)
    field.fill(number)
    field.press("Enter")
    page.wait_for_selector(READY, timeout=PATIENCE_MS)


def wait_for_text(page: Any, text: str) -> None:
    page.get_by_text(text).first.wait_for(timeout=PATIENCE_MS)


def words_of(job: Any, ready: str) -> str:
    found = options_of(job)
    words = pays_words(next(each for each in found.choices if each.ready == ready), found, "us")
    return words[:1].upper() + words[1:]


def test_a_typed_price_changes_what_pays_survives_a_reload_and_is_in_the_saved_job(visit: Callable[..., Any]) -> None:
    page = visit("decide", THIRSTY)
    row = page.locator(".st-key-measure_fell-all-trees")
    row.wait_for(timeout=PATIENCE_MS)
    assert row.get_by_text("pays").count() == 0
    type_number(page, "What 1000 gal of water are worth ($)", "6")
    priced = with_overrides(parse_job(THIRSTY), {"money.price_of_water": "6 per 1000 gal"})
    wait_for_text(page, words_of(priced, "fell-all-trees"))
    type_number(page, "Cost ($), all trees felled", "900")
    costly = with_overrides(priced, {"option": [{"ready": "fell-all-trees", "cost": 900}]})
    wait_for_text(page, words_of(costly, "fell-all-trees"))
    assert saved(page) == costly
    kept(page, "fell-all-trees")
    page.reload()
    wait_for_text(page, words_of(costly, "fell-all-trees"))
    cost = page.get_by_label("Cost ($), all trees felled", exact=True)
    page.wait_for_function("field => field.value === '900'", arg=cost.element_handle())
    type_number(page, "Cost ($), all trees felled", "1")
    wait_for_text(page, "Pays: ")


# What can be pressed or typed into and is less than 44 pixels high or wide. A field counts as a whole: what lies in it
# and is no stop of its own on the keyboard's way (the cross, the arrow) may be smaller.
SMALL = """
(within) => {
  const around = "label, [data-testid=stNumberInputContainer], [role=group], [data-testid=stSelectbox] > div";
  return [...document.querySelectorAll(within + " :is(button, input, label:has(input))")]
    .filter((each) => each.offsetParent && each.tabIndex >= (each.tagName === "LABEL" ? -1 : 0))
    .map((each) => {
      const whole = each.tagName === "BUTTON" ? each : each.closest(around) || each;
      const box = whole.getBoundingClientRect();
      return [each.outerHTML.slice(0, 120), box.width, box.height];
    })
    .filter(([, width, height]) => width < 43.5 || height < 43.5)
    .map(String);
}
"""
# Whether all of an element is seen: between the top and the row of places.
IN_VIEW = """
(selector) => {
  const box = document.querySelector(selector)?.getBoundingClientRect();
  const places = document.querySelector(".st-key-places").getBoundingClientRect();
  return box && box.height > 20 && box.top >= 0 && box.bottom <= places.top + 1 && places.top > innerHeight / 2;
}
"""
RESULT = ".st-key-on_site_result .lead"


def small_targets(page: Any, within: str) -> list[str]:
    return list(page.evaluate(SMALL, within))


def sees_result(page: Any) -> None:
    page.wait_for_selector(READY, timeout=PATIENCE_MS)
    page.wait_for_function(IN_VIEW, arg=RESULT, timeout=PATIENCE_MS)


def test_names_of_options_stay_text_and_targets_in_decide_are_large_enough_for_a_thumb(
    visit: Callable[..., Any],
) -> None:
    named = f"""{DAY}
[money]
currency = "<b>$"
[[option]]
name = '''{HOSTILE}'''
set = {{"wire.0.gauge" = "6"}}
"""
    page = visit("decide", named, width=390)
    wait_for_text(page, HOSTILE)
    assert page.title() != "owned"
    assert page.locator("img[src=x]").count() == 0
    page.wait_for_selector(READY, timeout=PATIENCE_MS)
    assert page.locator(".st-key-decide input").count() > 0
    assert small_targets(page, ".st-key-decide") == []
    assert page.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth") <= 390


def test_on_site_is_for_one_hand(visit: Callable[..., Any]) -> None:
    page = visit("on-site", width=390)
    page.get_by_role("radio", name="Is this flow right?").or_(
        page.get_by_role("button", name="Is this flow right?")
    ).tap()
    wait_for_text(page, "Give the seconds of 3 fills")
    for number, seconds in enumerate(("25", "25", "26"), start=1):
        field = page.get_by_label(f"Fill {number} took (s)", exact=True)
        field.wait_for(timeout=PATIENCE_MS)
        type_number(page, f"Fill {number} took (s)", seconds)
        assert field.get_attribute("type") == "number"  # a phone shows its keypad
        sees_result(page)
    page.locator(RESULT).filter(has_text="gpm").wait_for(timeout=PATIENCE_MS)
    sees_result(page)
    page.get_by_text("I read other meters too").tap()
    page.get_by_label("Voltage at the controller (V)", exact=True).wait_for(timeout=PATIENCE_MS)
    sees_result(page)
    assert small_targets(page, ".st-key-on_site") == []
    assert page.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth") <= 390


def test_a_rack_is_diagnosed_with_one_hand(visit: Callable[..., Any]) -> None:
    page = visit("on-site", width=390)
    page.locator(".st-key-site_question button").filter(has_text="What ails the rack?").tap()
    wait_for_text(page, "Tell of one morning or more")
    type_number(page, "Morning 1, angle reached, east of centre (°, minus if west)", "-60")
    clock = page.locator(".stTimeInput").first
    page.locator("[class*='st-key-site_seen_facing'] button").filter(has_text="not yet by").tap()
    clock.wait_for(timeout=PATIENCE_MS)
    page.wait_for_selector(READY, timeout=PATIENCE_MS)
    clock.get_by_role("spinbutton").first.click()
    page.keyboard.type("1130AM")
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    sees_result(page)
    assert small_targets(page, ".st-key-on_site") == []
    page.get_by_role("button", name="Diagnose the rack").tap()
    page.locator(RESULT).filter(has_text="it is stuck").wait_for(timeout=PATIENCE_MS)
    sees_result(page)
    page.reload()
    page.locator(".st-key-site_question button").filter(has_text="What ails the rack?").tap(timeout=PATIENCE_MS)
    page.locator(".stTimeInput").first.wait_for(timeout=PATIENCE_MS)  # it is known still that it had not faced the sun
    reached = page.get_by_label("Morning 1, angle reached, east of centre (°, minus if west)", exact=True)
    assert reached.input_value() == "-60"
    assert page.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth") <= 390


def test_targets_in_trees_are_large_enough_for_a_thumb(visit: Callable[..., Any]) -> None:
    page = visit("trees", width=390)
    page.locator(".st-key-trees_place input").first.wait_for(timeout=PATIENCE_MS)
    page.wait_for_selector(READY, timeout=PATIENCE_MS)
    assert small_targets(page, ".st-key-trees_place") == []
    assert page.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth") <= 390


def test_the_figures_of_a_table_end_at_the_right(visit: Callable[..., Any]) -> None:
    page = visit("on-site")
    row = page.locator("[data-testid=stTable] tr").filter(has_text="sunrise")
    row.wait_for(timeout=PATIENCE_MS)
    ends = "cells => cells.map((cell) => getComputedStyle(cell).textAlign)"
    name, *figures = row.locator("th, td").filter(visible=True).evaluate_all(ends)
    assert name != "right"
    assert set(figures) == {"right"}
