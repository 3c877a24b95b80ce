"""Trees: what is moved by hand, typed on a card, or half typed; each ends in the job, or not yet."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from trackersim.analysis.sky_seen import trees_over
from trackersim.job.files import demo_text, with_overrides
from trackersim.job.model import Job
from trackersim.page import tree_cards, work
from trackersim.page.components.sky_trees import TreeMove, moved_of
from trackersim.page.places import trees
from trackersim.page.state import Desk, edit, first_desk, open_text, saved_text
from trackersim.report.sky_by_hand import sky_data
from trackersim.report.sky_loss import sky_loss

DeskOf = Callable[[AppTest], Desk]
Told = Callable[[AppTest], list[str]]
FOOT_M = 0.3048
HOSTILE = "</script><img src=x onerror=alert(1)>"


def script() -> None:
    """A page that holds nothing but the place, on one clear day."""
    import streamlit as st

    from trackersim.page.places import trees
    from trackersim.page.state import edit, first_desk
    from trackersim.page.strip import ViewState

    if "desk" not in st.session_state:
        st.session_state.desk = first_desk()
        edit(st.session_state.desk, "weather.file", "sample:clear-spring-day")
    trees.draw(st.session_state.desk, ViewState(system="si" if st.session_state.get("metric") else "us"))


@pytest.fixture
def place() -> AppTest:
    page = AppTest.from_function(script, default_timeout=120).run()
    assert not page.exception, page.exception
    return page


@pytest.fixture
def key(place: AppTest, desk_of: DeskOf) -> Callable[[int, str], str]:
    """The key of a tree's field."""
    return lambda number, name: f"tree.{number}.{name}|us|{desk_of(place).version}"


def given(page: AppTest) -> dict[str, Any]:
    """What the browser is given to draw."""
    (mounted,) = page.get("bidi_component")
    data = json.loads(mounted.proto.json)
    assert isinstance(data, dict)
    return data


def test_the_legend_says_over_which_time_the_water_is_lost(place: AppTest, shown: Callable[[AppTest], str]) -> None:
    assert "of sky, gal in 1 day:" in shown(place)


def test_the_buttons_beside_a_number_go_by_whole_feet_and_degrees(place: AppTest) -> None:
    """The toolkit's own step made 32.01 ft of 32 ft."""
    assert {field.proto.step for field in place.number_input} == {1.0}


def test_the_browser_is_given_the_trees_as_the_shade_has_them(place: AppTest, desk_of: DeskOf) -> None:
    """The outline that the browser draws, with the formula of its own, meets the sky that the crown covers."""
    import numpy as np

    job, data = desk_of(place).good, given(place)
    assert [tree["name"] for tree in data["trees"]] == [tree.name for tree in job.trees]
    for tree in data["trees"]:
        over = np.degrees(np.arctan((tree["height_m"] - tree["eye_m"]) / tree["distance_m"]))
        bearing, height = (
            np.radians(tree["bearing_deg"]),
            np.radians([over - 0.1, over + (25 if not tree["row"] else 0.1)]),
        )
        direction = np.stack([np.cos(height) * np.sin(bearing), np.cos(height) * np.cos(bearing), np.sin(height)])
        seen = trees_over(job, direction, np.array([172]))[tree["number"]]
        assert seen.covers.tolist() == [True, False]
    assert data["cells"]
    assert data["unit_m"] == FOOT_M


@pytest.mark.parametrize("latitude", [36.1, -33.0, 0.0, 66.0])
def test_every_sun_of_the_year_has_its_place_in_the_picture(latitude: float) -> None:
    job = with_overrides(
        first_desk().good, {"site.latitude": latitude, "weather.clear_sky": True, "weather.file": "", "trees": []}
    )
    own = work.own_year(with_overrides(first_desk().good, {"weather.file": "sample:clear-spring-day"}))
    data = sky_data(job, sky_loss(own, own), "", "us")
    for path in data["paths"]:
        points = [point for piece in path["pieces"] for point in piece]
        assert all(data["from_deg"] <= bearing <= data["to_deg"] for bearing, _ in points)
        assert max(height for _, height in points) <= data["top_deg"]
    assert data["to_deg"] - data["from_deg"] <= 360


def moved(desk: Desk, told: TreeMove) -> Job:
    """What `take_move` makes of the job, outside a running page."""
    trees.take_move(desk, told, "us")
    return desk.good


def test_a_move_changes_its_tree_alone_and_in_the_units_of_the_page() -> None:
    desk = first_desk()
    before = desk.good.trees
    job = moved(desk, TreeMove(number=1, bearing_deg=150.0, height_m=40 * FOOT_M))
    assert job.trees[0] == before[0]
    assert job.trees[1] == before[1].model_copy(update={"bearing_deg": 150.0, "height_m": pytest.approx(40 * FOOT_M)})
    assert 'height = "40 ft"' in saved_text(desk.data)
    assert moved(desk, TreeMove(number=1, bearing_deg=None, height_m=None)) is job
    assert moved(desk, TreeMove(number=7, bearing_deg=10.0, height_m=3.0)) is job


def test_a_bearing_by_compass_stays_one() -> None:
    desk = first_desk()
    edit(desk, "site.magnetic_declination", -8.0)
    edit(desk, "trees.1.bearing_from", "magnetic")
    height = desk.good.trees[1].height_m
    assert moved(desk, TreeMove(number=1, bearing_deg=150.0, height_m=height)).trees[1].bearing_deg == 158.0
    data = sky_data(desk.good, _nothing_lost(), "", "us")
    assert data["trees"][1]["bearing_deg"] == 150.0


def _nothing_lost() -> Any:
    own = work.own_year(with_overrides(first_desk().good, {"weather.file": "sample:clear-spring-day"}))
    return sky_loss(own, own)


@pytest.mark.parametrize(
    "told",
    [None, 3, "x", {}, {"number": -1}, {"number": True}, {"number": "0", "bearing_deg": 1, "height_m": 1},
     {"number": 0, "bearing_deg": "90", "height_m": 3}, {"number": 0, "bearing_deg": 90, "height_m": float("nan")},
     {"number": 0, "bearing_deg": 90, "height_m": 1e9}, {"number": 0, "bearing_deg": float("inf"), "height_m": 3}],
)  # fmt: skip
def test_what_is_no_move_is_none(told: Any) -> None:
    assert moved_of(told) is None


def test_a_number_on_the_card_goes_into_the_job_and_an_empty_one_is_no_fault(
    place: AppTest, desk_of: DeskOf, told: Told, key: Callable[[int, str], str]
) -> None:
    desk = desk_of(place)
    before = desk.good.trees[0]
    place.number_input(key=key(0, "distance")).set_value(100.0).run()
    assert desk.good.trees[0] == before.model_copy(update={"distance_m": pytest.approx(100 * FOOT_M)})
    place.number_input(key=key(0, "distance")).set_value(None).run()
    assert not told(place)
    assert not desk.faults
    assert any(text.value.startswith("Empty: distance from the rack") for text in place.text)
    assert desk.good.trees[0].distance_m == pytest.approx(100 * FOOT_M)
    place.number_input(key=key(0, "crown_base")).set_value(40.0).run()
    assert [text.partition(" =")[0] for text in told(place)] == ["⚠ Lowest leaves above its ground"]


def test_a_new_tree_is_in_the_job_with_its_last_number_and_no_fault_before(
    place: AppTest, desk_of: DeskOf, told: Told, key: Callable[[int, str], str]
) -> None:
    desk = desk_of(place)
    place.pills(key="tree_picked").set_value(tree_cards.NEW).run()
    place.text_input(key=key(tree_cards.NEW, "name")).set_value(HOSTILE).run()
    for name, number in {"bearing": 70.0, "height": 30.0, "width": 20.0}.items():
        place.number_input(key=key(tree_cards.NEW, name)).set_value(number).run()
        assert not told(place)
        assert not desk.faults
        assert len(desk.good.trees) == 2
    place.number_input(key=key(tree_cards.NEW, "distance")).set_value(80.0).run()
    assert not place.exception, place.exception
    new = desk.good.trees[2]
    assert (new.name, new.bearing_deg, new.height_m) == (HOSTILE, 70.0, pytest.approx(30 * FOOT_M))
    assert place.session_state["tree_picked"] == 2
    assert given(place)["trees"][2]["name"] == HOSTILE
    (less,) = (button for button in place.button if button.label == "Take this tree away")
    less.click().run()
    assert len(desk.good.trees) == 2


def test_a_species_fills_the_light_it_lets_through(
    place: AppTest, desk_of: DeskOf, key: Callable[[int, str], str]
) -> None:
    desk = desk_of(place)
    edit(desk, "trees.0.transmittance_leaf_on", "5 %")
    place.selectbox(key=key(0, "species")).set_value("birch").run()
    assert desk.good.trees[0].transmittance_leaf_on == 0.24
    assert any("24 % passes its crown in leaf, 54 % bare" in text.value for text in place.text)
    place.selectbox(key=key(0, "species")).set_value("scots pine").run()
    assert desk.good.trees[0].leaf == "evergreen"


def test_every_field_of_a_tree_has_its_place() -> None:
    assert set(tree_cards._LABELS) == set(tree_cards._FIELDS)
    assert not any(label in tree_cards._FIELDS for label in tree_cards._LABELS.values())


def test_the_rest_of_a_tree_is_typed_as_anywhere(
    place: AppTest, desk_of: DeskOf, told: Told, key: Callable[[int, str], str]
) -> None:
    place.toggle(key="tree.more|0").set_value(True).run()
    place.text_input(key=key(0, "yearly_growth")).set_value("12 in").run()
    assert desk_of(place).good.trees[0].yearly_growth_m == pytest.approx(FOOT_M)
    place.text_input(key=key(0, "leaf_on")).set_value("soon").run()
    assert any(text.startswith("⚠ First day in full leaf") for text in told(place))


def test_a_word_no_tree_knows_is_told_and_can_be_left_out(place: AppTest, desk_of: DeskOf, told: Told) -> None:
    open_text(desk_of(place), demo_text().replace("crown_base =", "crown_bass =", 1))
    place.run()
    assert any(text.startswith("⚠ trees.0.crown_bass") for text in told(place))
    next(button for button in place.button if str(button.key).startswith("leave.trees.0.crown_bass")).click().run()
    assert not desk_of(place).stale
    assert not place.exception


def test_a_word_that_is_no_number_is_told_and_typed_over(
    place: AppTest, desk_of: DeskOf, told: Told, key: Callable[[int, str], str]
) -> None:
    open_text(desk_of(place), demo_text().replace('height = "32 ft"', 'height = "tall"'))
    place.run()
    assert place.number_input(key=key(0, "height")).value is None
    assert any(text.startswith("⚠ Height") for text in told(place))
    place.number_input(key=key(0, "height")).set_value(33.0).run()
    assert not told(place)
    assert desk_of(place).good.trees[0].height_m == pytest.approx(33 * FOOT_M)
