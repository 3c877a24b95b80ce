"""The trees' table: what is edited becomes the job's trees; what nobody touched keeps its exact value."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from trackersim.job.files import demo_text
from trackersim.job.place import Tree
from trackersim.page.fields import shown_text
from trackersim.page.state import Desk, first_desk, replace
from trackersim.page.trees import COLUMNS, NAMES, numbered_rows, rows_taken

Go = Callable[..., AppTest]


@pytest.fixture
def desk() -> Desk:
    return first_desk()


def as_shown(desk: Desk) -> pd.DataFrame:
    rows = [
        {column: shown_text(tree.get(column), NAMES[column], "us") for column in COLUMNS} for tree in desk.data["trees"]
    ]
    return pd.DataFrame(rows, columns=list(COLUMNS), dtype=str)


def put(desk: Desk, edited: pd.DataFrame) -> None:
    replace(desk, {**desk.data, "trees": rows_taken(edited, as_shown(desk), desk.data["trees"], "us")})


def test_a_cell_changes_its_tree_and_nothing_else(desk: Desk) -> None:
    before = desk.good
    edited = as_shown(desk)
    edited.loc[0, "distance"] = "120 ft"
    put(desk, edited)
    assert not desk.faults
    assert desk.good.trees[0].distance_m == pytest.approx(36.576)
    assert desk.good.trees[1] == before.trees[1]
    assert desk.good.trees[0].height_m == before.trees[0].height_m


def test_a_row_taken_away_leaves_the_others_exactly_as_they_were(desk: Desk) -> None:
    before = desk.good
    put(desk, as_shown(desk).drop(index=0))
    assert desk.good.trees == before.trees[1:]


def test_a_row_added_is_a_tree_added(desk: Desk) -> None:
    edited = as_shown(desk)
    edited.loc[2] = {column: None for column in COLUMNS}
    for column, text in {"bearing": "70", "distance": "100 ft", "height": "40 ft", "width": "20 ft"}.items():
        edited.loc[2, column] = text
    put(desk, edited)
    assert not desk.faults, desk.faults
    assert desk.good.trees[2].height_m == pytest.approx(12.192)


def test_a_row_added_after_the_last_was_deleted_takes_nothing_of_it(desk: Desk) -> None:
    # The editor deletes first and then numbers what it adds, so the new row gets the deleted one's number.
    edited = as_shown(desk).drop(index=1)
    edited.loc[1] = {column: None for column in COLUMNS}
    edited.loc[2] = {**dict.fromkeys(COLUMNS), "bearing": "70", "distance": "99 ft", "height": "40 ft", "width": "9m"}
    put(desk, numbered_rows(edited, 2, [1]))
    assert not desk.faults, desk.faults
    assert [tree.name for tree in desk.good.trees] == [desk.good.trees[0].name, Tree.model_fields["name"].default]


def test_an_empty_row_is_no_tree_and_a_wrong_cell_is_a_fault_of_its_place(desk: Desk) -> None:
    good = desk.good
    edited = as_shown(desk)
    edited.loc[2] = {column: None for column in COLUMNS}
    edited.loc[1, "height"] = "tall"
    put(desk, edited)
    assert [fault.field for fault in desk.faults] == ["trees.1.height"]
    assert desk.good == good
    assert as_shown(desk).loc[1, "height"] == "tall"  # what was typed is still there to be mended


def test_the_fault_of_a_tree_stands_below_the_table(
    page: AppTest, told: Callable[[AppTest], list[str]], desk_of: Callable[[AppTest], Desk]
) -> None:
    desk = desk_of(page)
    edited = as_shown(desk)
    edited.loc[1, "distance"] = "3 ft"
    put(desk, edited)
    page.run()
    assert any(text.startswith("⚠ trees.1.distance") for text in told(page))
    assert next(expander for expander in page.expander if expander.label == "Trees").proto.expanded


def test_the_sky_shows_the_trees_of_the_job_in_words_too(
    page: AppTest, desk_of: Callable[[AppTest], Desk]
) -> None:
    def alts() -> str:
        return " ".join(image.alt for images in page.get("image") for image in images.proto.imgs)

    # On one day: the view simulates the whole weather with and without trees.
    page.text_input(key="weather.file|us|0").set_value("sample:clear-spring-day").run()
    assert "Cedar" in alts()
    desk = desk_of(page)
    put(desk, as_shown(desk).drop(index=1))
    page.run()
    assert "Cedar" not in alts()


def test_the_table_has_every_field_of_a_tree() -> None:
    assert set(COLUMNS) == {info.alias or name for name, info in Tree.model_fields.items()}


def test_a_bare_size_is_meant_in_feet_by_a_user_of_feet(desk: Desk) -> None:
    edited = as_shown(desk)
    edited.loc[0, "distance"] = "60"
    put(desk, edited)
    assert desk.good.trees[0].distance_m == pytest.approx(18.288)


def test_a_word_no_tree_knows_is_told_and_can_be_left_out(
    page: AppTest, told: Callable[[AppTest], list[str]], desk_of: Callable[[AppTest], Desk]
) -> None:
    broken = demo_text().replace("crown_base =", "crown_bass =", 1)
    page.file_uploader(key="job_file").upload("job.toml", broken.encode(), "application/toml").run()
    assert any(text.startswith("⚠ trees.0.crown_bass") for text in told(page))
    next(button for button in page.button if str(button.key).startswith("leave.trees.0.crown_bass")).click().run()
    assert not desk_of(page).stale


def test_a_species_chosen_takes_the_place_of_what_the_row_said(desk: Desk) -> None:
    edited = as_shown(desk)
    edited.loc[0, "transmittance_leaf_on"] = "5 %"
    put(desk, edited)
    edited = as_shown(desk)
    edited.loc[0, "species"] = "birch"
    put(desk, edited)
    assert not desk.faults, desk.faults
    assert desk.good.trees[0].transmittance_leaf_on == 0.24
    edited = as_shown(desk)
    edited.loc[0, "transmittance_leaf_on"] = "30 %"
    put(desk, edited)
    assert (desk.good.trees[0].species, desk.good.trees[0].transmittance_leaf_on) == ("birch", 0.30)
