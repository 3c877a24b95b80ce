"""The inputs on the page: groups of fields, a table of trees, and every fault beside its field."""

from __future__ import annotations

from typing import Any

import pandas as pd
import streamlit as st

from trackersim.job.place import Tree
from trackersim.page.fields import GROUPS, Entry, Group, entries, shown_text, value_at
from trackersim.page.state import Desk, edit, read
from trackersim.units import System

_TREE_COLUMNS = (
    "name", "kind", "bearing", "distance", "height", "width", "crown_base", "leaf", "yearly_growth", "leaf_on",
    "leaf_off", "beam_in_leaf", "beam_bare", "ground", "runs", "bearing_from",
)  # fmt: skip


def draw_form(desk: Desk, system: System) -> None:
    """All groups, folded; those with a fault are open."""
    for group in GROUPS:
        open_now = any(_belongs(fault.field, group) for fault in desk.faults)
        with st.expander(group.title, expanded=open_now):
            for section in group.sections:
                _draw_section(desk, group, section, system)
        if group.title == "Where":
            with st.expander("Trees", expanded=any(fault.field.startswith("trees") for fault in desk.faults)):
                draw_trees(desk, system)


def _belongs(field: str, group: Group) -> bool:
    return field.split(".")[0] in group.sections


def _draw_section(desk: Desk, group: Group, section: str, system: System) -> None:
    fields = entries(group, section, desk.data)
    for entry in (entry for entry in fields if entry.first):
        _draw_entry(desk, entry, system)
    rest = [entry for entry in fields if not entry.first]
    if rest and st.toggle(f"All other fields of {section}", key=f"more.{section}.{desk.version}"):
        for entry in rest:
            _draw_entry(desk, entry, system)


def _draw_entry(desk: Desk, entry: Entry, system: System) -> None:
    value = value_at(desk.data, entry.path)
    key = f"{entry.path}|{system}|{desk.version}"
    label = f"{entry.path}: {entry.label}"
    if entry.kind == "switch":
        st.checkbox(label, value=bool(value), key=key, on_change=_took, args=(desk, entry, key, ""))
    elif entry.kind == "choice":
        place = entry.choices.index(str(value)) if str(value) in entry.choices else 0
        st.selectbox(label, entry.choices, index=place, key=key, on_change=_took, args=(desk, entry, key, ""))
    else:
        text = shown_text(value, entry.name, system)
        st.text_input(label, value=text, key=key, help=entry.example, on_change=_took, args=(desk, entry, key, text))
    for fault in desk.faults:
        if fault.field == entry.path or fault.field == _without_numbers(entry.path):
            st.text(f"⚠ {fault}")


def _without_numbers(path: str) -> str:
    return ".".join(part for part in path.split(".") if not part.isdigit())


def _took(desk: Desk, entry: Entry, key: str, before: str) -> None:
    """A widget changed: what it shows goes into the job, unless it shows what it was given."""
    text = str(st.session_state[key])
    if text != before:
        edit(desk, entry.path, text)


def draw_trees(desk: Desk, system: System) -> None:
    """The trees as a table; a row added is a tree added."""
    names = {info.alias or name: name for name, info in Tree.model_fields.items()}
    trees = value_at(desk.data, "trees") or []
    rows = [{column: shown_text(tree.get(column), names[column], system) for column in _TREE_COLUMNS} for tree in trees]
    table = pd.DataFrame(rows, columns=list(_TREE_COLUMNS), dtype=str)
    key = f"trees|{system}|{desk.version}"
    st.caption("One row for each tree or row of trees: bearing in degrees from the rack, sizes with their unit.")
    edited = st.data_editor(table, num_rows="dynamic", hide_index=True, key=key, width="stretch")
    if not edited.equals(table):
        desk.data = {**desk.data, "trees": _rows(edited, table, trees)}
        desk.version += 1
        read(desk)
        st.rerun()
    for fault in desk.faults:
        if fault.field.startswith("trees"):
            st.text(f"⚠ {fault}")


def _rows(edited: pd.DataFrame, before: pd.DataFrame, trees: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The table's rows as plain data; cells nobody touched keep their own exact value."""
    made = []
    for place, row in enumerate(edited.fillna("").to_dict("records")):
        tree: dict[str, Any] = {}
        for column in _TREE_COLUMNS:
            text = str(row[column]).strip()
            kept = place < len(trees) and place < len(before) and text == str(before.iloc[place][column])
            if kept and column in trees[place]:
                tree[column] = trees[place][column]
            elif text and text != "None":
                tree[column] = text
        if tree:
            made.append(tree)
    return made
