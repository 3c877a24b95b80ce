"""Trees moved by hand: mouse, finger and arrow keys change bearing and height, and the saved job says so."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import one_day
import pytest
from visited_job import saved
from visiting import PATIENCE_MS, READY

from trackersim.job.files import parse_job, with_overrides
from trackersim.job.place import Tree
from trackersim.page.components.sky_trees import JS
from trackersim.report.sky_by_hand import sky_data
from trackersim.report.sky_loss import SkyLoss
from trackersim.simulation.obstacles import crowns_of
from trackersim.sky.crowns import in_crown

# An opened job is known by another name than the demonstration.
DAY = one_day.DAY.replace("Hill farm", "One day", 1)
OAKS, CEDAR = parse_job(DAY).trees
FOOT_M = 0.3048
HOSTILE = "<img src=x onerror=\"document.title='owned'\">"


def handle(page: Any, label: str) -> Any:
    return page.get_by_role("slider", name=label, exact=True)


def middle(page: Any, label: str) -> tuple[float, float]:
    found = handle(page, label)
    found.evaluate("node => node.scrollIntoView({block: 'center'})")  # neither under the strip nor the places
    box = found.locator(".grip").bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def value(page: Any, label: str) -> str:
    return str(handle(page, label).get_attribute("aria-valuetext"))


def field_says(page: Any, label: str, other_than: float) -> None:
    """Python has taken the move: the card's field shows another number."""
    page.wait_for_function(
        """([label, before]) => {
          const field = [...document.querySelectorAll("input")].find((each) => each.ariaLabel === label);
          return field && field.value !== "" && Number(field.value) !== before;
        }""",
        arg=[label, other_than],
        timeout=PATIENCE_MS,
    )
    page.wait_for_selector(READY, timeout=PATIENCE_MS)


def only_these_differ(now: Tree, before: Tree, **changed: float) -> None:
    assert now.model_dump() == {**before.model_dump(), **{name: pytest.approx(to) for name, to in changed.items()}}


def test_the_mouse_moves_a_tree_and_the_saved_job_says_so(visit: Callable[..., Any]) -> None:
    page = visit("trees")
    assert value(page, "Height of cedar") == "30 ft"
    x, y = middle(page, "Height of cedar")
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 3, y - 60, steps=6)
    high = value(page, "Height of cedar")  # while it is held
    assert high != "30 ft"
    page.mouse.up()
    field_says(page, "Height (ft)", 32)  # the card is the cedar's now, and shows its new height
    x, y = middle(page, "Bearing of cedar")
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 80, y - 30, steps=6)
    page.mouse.up()
    field_says(page, "Bearing from the rack (°)", 128)
    feet, bearing = float(high.removesuffix(" ft")), float(value(page, "Bearing of cedar").removesuffix("°"))
    assert feet > 35
    assert bearing > 135
    oaks, cedar = saved(page).trees
    only_these_differ(cedar, CEDAR, height_m=feet * FOOT_M, bearing_deg=bearing)
    assert oaks == OAKS


def test_a_finger_moves_a_tree_on_a_phone(visit: Callable[..., Any]) -> None:
    page = visit("trees", width=390)
    hit = handle(page, "Height of cedar").locator(".hit").bounding_box()
    assert min(hit["width"], hit["height"]) >= 44
    for label, across, up in (("Height of cedar", 0, 50), ("Bearing of cedar", 40, 0)):
        x, y = middle(page, label)
        before = value(page, label)
        finger = page.context.new_cdp_session(page)
        finger.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
        for step in range(1, 6):
            point = {"x": x + across * step / 5, "y": y - up * step / 5}
            finger.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [point]})
        finger.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        assert value(page, label) != before
        field = "Height (ft)" if up else "Bearing from the rack (°)"
        field_says(page, field, 32 if up else 128)
    feet = float(value(page, "Height of cedar").removesuffix(" ft"))
    bearing = float(value(page, "Bearing of cedar").removesuffix("°"))
    assert feet > 32
    assert bearing > 135
    only_these_differ(saved(page).trees[1], CEDAR, height_m=feet * FOOT_M, bearing_deg=bearing)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_a_phone_names_every_compass_point_below_the_sky(visit: Callable[..., Any]) -> None:
    """It once left out east and west, where the morning's trees stand."""
    page = visit("trees", width=390)
    handle(page, "Height of cedar").wait_for(timeout=PATIENCE_MS)
    words = page.locator("svg:has([role=slider]) > text").all_text_contents()
    assert [word for word in words if word in ("E", "S", "W")] == ["E", "S", "W"]


def test_arrow_keys_move_a_tree(visit: Callable[..., Any]) -> None:
    page = visit("trees")
    handle(page, "Height of oaks on the lane").focus()
    for key in ("ArrowUp", "ArrowUp", "ArrowRight", "PageUp", "ArrowDown"):
        page.keyboard.press(key)
    assert value(page, "Height of oaks on the lane") == "39 ft"
    field_says(page, "Height (ft)", 32)
    assert handle(page, "Height of oaks on the lane").evaluate("node => node === node.getRootNode().activeElement")
    handle(page, "Bearing of oaks on the lane").focus()
    for key in ("ArrowLeft", "ArrowLeft", "ArrowDown"):
        page.keyboard.press(key)
    field_says(page, "Bearing from the rack (°)", 92)
    oaks, cedar = saved(page).trees
    only_these_differ(oaks, OAKS, height_m=39 * FOOT_M, bearing_deg=89)
    assert cedar == CEDAR


def test_the_names_of_trees_stay_text(visit: Callable[..., Any]) -> None:
    named = DAY.replace('name = "cedar"', f"name = '''{HOSTILE}'''")
    page = visit("trees", named)
    assert handle(page, f"Height of {HOSTILE}").count() == 1
    assert page.get_by_text(HOSTILE, exact=True).count() >= 1
    assert page.title() != "owned"
    assert page.locator("img[src=x]").count() == 0


def tree_text(name: str, bearing: int, distance: int, height: int) -> str:
    where = f'bearing = {bearing}\ndistance = "{distance} ft"\nheight = "{height} ft"\nwidth = "20 ft"'
    return f'\n[[trees]]\nname = "{name}"\nkind = "tree"\n{where}\n'


# Side by side, one behind the other, and one too tall for the picture.
MORE = [
    ("walnut behind the shed", 118, 70, 52),
    ("poplar by the gate", 134, 45, 60),
    ("ash", 140, 80, 34),
    ("willow at the spring", 240, 24, 90),
]
SIX = DAY + "".join(tree_text(*each) for each in MORE)


def boxes(page: Any, what: str) -> list[dict[str, Any]]:
    """Where something of the sky is seen, and its words."""
    return list(
        page.locator(f".picture {what}:visible").evaluate_all(
            "all => all.map((each) => ({...each.getBoundingClientRect().toJSON(), words: each.textContent}))"
        )
    )


def covered(one: dict[str, Any], other: dict[str, Any]) -> bool:
    across = min(one["right"], other["right"]) - max(one["left"], other["left"])
    down = min(one["bottom"], other["bottom"]) - max(one["top"], other["top"])
    return bool(min(across, down) > 0.5)  # pixels are rounded


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize(("job", "trees"), [(None, 2), (SIX, 6)])
def test_no_name_of_a_tree_lies_below_a_handle_or_other_words(
    visit: Callable[..., Any], job: str, trees: int, width: int
) -> None:
    page = visit("trees", job, width=width)
    page.locator(".grip").nth(2 * trees - 1).wait_for(timeout=PATIENCE_MS)
    for moved in (False, True):
        if moved:  # the cedar lower, beside the others
            handle(page, "Height of cedar").focus()
            for _ in range(3):
                page.keyboard.press("PageDown")
        names, handles = boxes(page, ".name"), boxes(page, ".grip")
        assert len(handles) == 2 * trees
        assert len(names) == trees  # none had to be left out
        picture = page.locator(".picture").bounding_box()
        for place, name in enumerate(names):
            assert name["left"] >= picture["x"]
            assert name["right"] <= picture["x"] + picture["width"]
            assert name["top"] >= picture["y"]
            others = [*handles, *names[place + 1 :], *boxes(page, "text:not(.name)")]
            assert [other for other in others if covered(name, other)] == [], name


def test_a_name_too_long_for_the_picture_is_cut_and_told_whole(visit: Callable[..., Any]) -> None:
    name = "the very old cedar that grandfather planted beside the upper spring"
    page = visit("trees", DAY.replace('name = "cedar"', f'name = "{name}"'), width=390)
    assert handle(page, f"Height of {name}").count() == 1
    (shown,) = [each for each in boxes(page, ".name") if each["words"].startswith("the very old")]
    assert shown["words"].endswith("…")
    assert shown["width"] < 250


@pytest.mark.parametrize("number", [0, 1, 2, 3])
def test_the_outline_drawn_is_the_crown_that_shades(new_page: Callable[..., Any], number: int) -> None:
    """Just inside it a ray meets the crown, just outside it does not: the script's formulas against `sky.crowns`."""
    near = {"name": "near", "bearing": 200, "distance": 8, "height": 18, "width": 9, "crown_base": 6}
    askew = {"name": "askew", "kind": "row", "bearing": 110, "runs": 70, "distance": 40, "height": 15, "width": 30}
    known = [tree.model_dump(by_alias=True, exclude_none=True, mode="json") for tree in (OAKS, CEDAR)]
    job = with_overrides(parse_job(DAY), {"trees": [*known, near, askew]})
    edges = {"bearing_deg": np.array([0.0, 360.0]), "elevation_deg": np.array([0.0, 90.0])}
    nothing = SkyLoss(**edges, lost_m3=np.zeros((1, 1)), sun_down_m3=0.0)
    tree = sky_data(job, nothing, "", "us")["trees"][number]
    page = new_page()
    page.evaluate(JS.replace("export default function", "function drawn") + "; window.outline = outline; null")
    outline = np.array(page.evaluate("tree => window.outline(tree)", tree))
    page.close()
    assert len(outline) > 100
    (crown,) = [each for place, each in enumerate(crowns_of(job, np.array([172]))) if place == number]
    middle = outline.mean(axis=0)
    for share, met in ((0.97, True), (1.03, False)):
        bearing, height = np.radians(middle + share * (outline - middle)).T
        rays = np.stack([np.cos(height) * np.sin(bearing), np.cos(height) * np.cos(bearing), np.sin(height)])
        assert (in_crown(rays, crown) == met).mean() > 0.97, (share, met)
