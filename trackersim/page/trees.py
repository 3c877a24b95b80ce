"""The trees as a table to edit, and the sky above it in which they are seen at once."""

from __future__ import annotations

import io
from typing import Any

import pandas as pd
import streamlit as st

from trackersim.job.files import make_room_for_class
from trackersim.job.place import Tree
from trackersim.job.species import SPECIES
from trackersim.page import parts, work
from trackersim.page.fields import shown_text, value_at, with_unit
from trackersim.page.state import Desk, read
from trackersim.report import alt
from trackersim.report.tree_shading import sky_figure
from trackersim.units import System

COLUMNS = (
    "name", "kind", "bearing", "distance", "height", "width", "crown_base", "leaf", "species", "yearly_growth",
    "leaf_on", "leaf_off", "transmittance_leaf_on", "transmittance_leaf_off", "ground", "runs", "bearing_from",
)  # fmt: skip
NAMES = {info.alias or name: name for name, info in Tree.model_fields.items()}


def draw_trees(desk: Desk, system: System) -> None:
    """The sky with the trees of the job shown, and their table; a row added is a tree added."""
    draw_sky(desk)
    st.caption(
        "One row for each tree or row of trees: bearing in degrees from the rack, sizes with their unit. "
        "Write below the last row to add one; mark a row at its left edge to take it away."
    )
    key = f"trees|{system}|{desk.version}"
    if key not in st.session_state:
        # What the table is edited from stays as it is while it is on the page, or each cell would begin it anew.
        st.session_state[f"from.{key}"] = (_table(desk, system), list(value_at(desk.data, "trees") or []))
    table, trees = st.session_state[f"from.{key}"]
    choices = {"species": st.column_config.SelectboxColumn(options=["", *SPECIES])}
    edited = st.data_editor(table, num_rows="dynamic", hide_index=True, key=key, width="stretch", column_config=choices)
    edited = numbered_rows(edited, len(table), st.session_state[key]["deleted_rows"])
    taken = rows_taken(edited, table, trees, system)
    if taken != list(value_at(desk.data, "trees") or []):
        species, before = ([tree.get("species") for tree in rows] for rows in (taken, trees))
        # What a species brings has left its cells. A row that is added keeps its table, or typing in it would end.
        if len(taken) == len(trees) and species != before:
            desk.version += 1
        desk.data = {**desk.data, "trees": taken}
        read(desk)
        st.rerun()
    for fault in desk.faults:
        if fault.field.startswith("trees"):
            parts.faults([fault])
            if fault.field.rpartition(".")[2] not in COLUMNS:
                parts.leave_out(desk, fault)


def _table(desk: Desk, system: System) -> pd.DataFrame:
    trees = value_at(desk.data, "trees") or []
    rows = [{column: shown_text(tree.get(column), NAMES[column], system) for column in COLUMNS} for tree in trees]
    return pd.DataFrame(rows, columns=list(COLUMNS), dtype=str)


def draw_sky(desk: Desk) -> None:
    """The sun's paths over the trees of the last job without a fault."""
    job = desk.good

    def drawn() -> bytes:
        buffer = io.BytesIO()
        sky_figure(job).savefig(buffer, format="png", dpi=150)
        return buffer.getvalue()

    st.image(work.kept("sky", 8).get(work.key_of(job), drawn), alt=alt.sky_alt(job), width="stretch")


def numbered_rows(edited: pd.DataFrame, rows: int, deleted: list[int]) -> pd.DataFrame:
    """The edited table with the number each of its rows had before; added rows have numbers from `rows` on.

    The editor gives a row it adds the number of one that is deleted, when that was the last.
    """
    stay = [number for number in range(rows) if number not in deleted]
    return edited.set_axis([*stay, *range(rows, rows + len(edited) - len(stay))], axis="index")


def rows_taken(
    edited: pd.DataFrame, before: pd.DataFrame, trees: list[dict[str, Any]], system: System
) -> list[dict[str, Any]]:
    """The rows of a table from `numbered_rows` as plain data; untouched cells keep their exact value, empty rows go.

    A species newly chosen takes the place of the row's own leaf and transmittances.
    """
    made = []
    filled = edited.fillna("")
    for number, row in zip(filled.index.tolist(), filled.to_dict("records"), strict=True):
        known = dict(trees[number]) if number < len(trees) else {}
        if str(row["species"]).strip() not in ("", "None", known.get("species")):
            make_room_for_class(known, "species")
        # What has no column is kept: a word no tree knows is a fault to be told, not to be lost.
        tree: dict[str, Any] = {key: value for key, value in known.items() if key not in COLUMNS}
        for column in COLUMNS:
            text = str(row[column]).strip()
            kept = number < len(trees) and number < len(before) and text == str(before.iloc[number][column])
            if kept:
                if column in known:
                    tree[column] = known[column]
            elif text and text != "None":
                shown = str(before.iloc[number][column]) if number < len(before) else ""
                tree[column] = with_unit(text, shown, NAMES[column], system)
        if tree:
            made.append(tree)
    return made
