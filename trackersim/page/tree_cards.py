"""What is known of a tree, on a card: a few numbers first, its name and species, the rest when it is asked for.

A tree half typed is no fault: a new one goes into the job with its last number, one that is known keeps what it had.
"""

from __future__ import annotations

import dataclasses
from typing import Any

import streamlit as st

from trackersim.job.files import make_room_for_class
from trackersim.job.overrides import value_at
from trackersim.job.place import Tree
from trackersim.job.species import SPECIES
from trackersim.page import parts
from trackersim.page.field_text import shown_text, with_unit
from trackersim.page.numbers import large_fields, number_field
from trackersim.page.state import Desk, edit
from trackersim.quantity_reading import UnitError, read_quantity
from trackersim.quantity_writing import held_unit
from trackersim.units import System, shown_value, unit_label

NEW = -1
# What a tree's card asks first: the field, its words, whether a tree can do without, its kind of number, least and most
# in SI.
_NUMBERS = (
    ("bearing", "Bearing from the rack (°)", "", -360.0, 720.0),
    ("height", "Height ({})", "length", 0.1, 120.0),
    ("distance", "Distance from the rack ({})", "length", 0.1, 5000.0),
    ("width", "Width seen from the rack ({})", "length", 0.1, 5000.0),
    ("crown_base", "Lowest leaves above its ground ({})", "length", 0.0, 110.0),
)
_NEEDED = ("bearing", "height", "distance", "width")
_FIELDS = {info.alias or name: (name, info) for name, info in Tree.model_fields.items()}
_CHOICES = {
    "kind": {"tree": "one tree, round", "row": "a row, flat-topped"},
    "leaf": {"leafy": "drops its leaves", "evergreen": "keeps them all year"},
    "bearing_from": {"true": "true north", "magnetic": "a compass (magnetic north)"},
}
_MORE = (
    ("kind", "Tree or row"),
    ("leaf", "Leaves"),
    ("leaf_on", "First day in full leaf (month-day, such as 04-20)"),
    ("leaf_off", "First day bare (month-day)"),
    ("transmittance_leaf_on", "Share of direct sun that passes in leaf"),
    ("transmittance_leaf_off", "Share of direct sun that passes when bare"),
    ("yearly_growth", "Height gained a year"),
    ("ground", "Its ground above the rack's ground; empty: from the slope of the site"),
    ("runs", "A row's own direction (°); empty: at right angles to its bearing"),
    ("bearing_from", "The bearing is from"),
)
_LABELS = {
    "name": "Name",
    "species": "Species",
    **dict(_MORE),
    **{name: label.partition(" (")[0] for name, label, *_ in _NUMBERS},
}


def with_unit_of(value: float, kind: str, system: System) -> float | str:
    """A number as a job holds it: with the unit of the page, or bare where it has none."""
    return f"{value:.6g} {unit_label(kind, system)}" if kind else value


def _key(desk: Desk, number: int, name: str, system: System) -> str:
    return f"tree.{number}.{name}|{system}|{desk.version}"


def _shown(desk: Desk, number: int, name: str, system: System) -> float | None:
    """A number of a tree as its field shows it; None where there is none, or words that are no number."""
    value = value_at(desk.data, f"trees.{number}.{name}")
    kind = next(kind for known, _, kind, *_ in _NUMBERS if known == name)
    if value is None:
        return None
    try:
        held = read_quantity(value, held_unit(_FIELDS[name][0]))
    except UnitError:
        return None
    return float(f"{shown_value(held, kind, system) if kind else held:.6g}")


def draw_cards(desk: Desk, system: System, *, narrow: bool = False) -> None:
    """Which tree, and what is known of it; `narrow` puts one field below the other."""
    with st.container(key="tree_cards"):
        large_fields("tree_cards")
        _draw_picked(desk, system, narrow=narrow)


def _draw_picked(desk: Desk, system: System, *, narrow: bool) -> None:
    trees = value_at(desk.data, "trees") or []
    if not isinstance(trees, list):
        return
    picked = st.session_state.get("tree_picked")
    if picked is None or not NEW <= picked < len(trees):
        st.session_state["tree_picked"] = 0 if trees else NEW
    picked = st.pills(
        "Which tree",
        [*range(len(trees)), NEW],
        key="tree_picked",
        format_func=lambda number: "Add a tree" if number == NEW else parts.as_text(_called(trees[number], number)),
        label_visibility="collapsed",
        required=True,
    )
    if picked == NEW:
        _new_tree(desk, system, narrow=narrow)
    elif picked is not None:
        _known_tree(desk, int(picked), system, narrow=narrow)


def _called(tree: Any, number: int) -> str:
    name = tree.get("name") if isinstance(tree, dict) else None
    return str(name) if name else f"tree {number + 1}"


def _numbers(desk: Desk, number: int, system: System, *, narrow: bool) -> dict[str, float | None]:
    """The number fields of a tree, or of one that is not in the job yet."""
    typed = {}
    columns = [st.container() for _ in _NUMBERS] if narrow else st.columns(len(_NUMBERS))
    for column, (name, label, kind, least, most) in zip(columns, _NUMBERS, strict=True):
        low, high = ((float(shown_value(end, kind, system)) if kind else end) for end in (least, most))

        def took(value: float | None, name: str = name, kind: str = kind) -> None:
            if number == NEW:
                _plant(desk, system)
            elif value is not None:
                edit(desk, f"trees.{number}.{name}", with_unit_of(value, kind, system))
            elif name not in _NEEDED:
                edit(desk, f"trees.{number}.{name}", "")

        with column:
            value = None if number == NEW else _shown(desk, number, name, system)
            words = label.format(unit_label(kind, system)) if kind else label
            key = _key(desk, number, name, system)
            typed[name] = number_field(words, key, value, least=low, most=high, took=took)
    return typed


def _missing(typed: dict[str, float | None]) -> str:
    return ", ".join(_LABELS[name].lower() for name in _NEEDED if typed[name] is None)


def _new_tree(desk: Desk, system: System, *, narrow: bool) -> None:
    """A tree that is not in the job yet: it goes there by itself with its last number, and until then is no fault."""
    st.text_input("Name", "", key=_key(desk, NEW, "name", system), max_chars=80, placeholder="oak by the barn")
    typed = _numbers(desk, NEW, system, narrow=narrow)
    st.text(f"Still needed: {_missing(typed)}. Then it stands in the sky and can be moved by hand.")


def _plant(desk: Desk, system: System) -> None:
    """Put the new tree into the job once it has all that a tree needs."""
    typed = {name: st.session_state.get(_key(desk, NEW, name, system)) for name, *_ in _NUMBERS}
    if _missing(typed):
        return
    kinds = {name: kind for name, _, kind, *_ in _NUMBERS}
    tree = {name: with_unit_of(value, kinds[name], system) for name, value in typed.items() if value is not None}
    name = str(st.session_state.get(_key(desk, NEW, "name", system), "")).strip()
    trees = value_at(desk.data, "trees") or []
    desk.version += 1  # the fields of the next new tree begin empty
    edit(desk, "trees", [*trees, {**({"name": name} if name else {}), **tree}])
    st.session_state["tree_picked"] = len(trees)


def _known_tree(desk: Desk, number: int, system: System, *, narrow: bool) -> None:
    left, right = (st.container(), st.container()) if narrow else st.columns(2)
    with left:
        _text(desk, number, "name", system)
    with right:
        _species(desk, number, system)
    typed = _numbers(desk, number, system, narrow=narrow)
    if missing := _missing(typed):
        st.text(f"Empty: {missing}. The tree stays as it was until there is a number again.")
    if number < len(desk.good.trees):
        tree = desk.good.trees[number]
        leaf, bare = (f"{100 * share:.0f} %" for share in (tree.transmittance_leaf_on, tree.transmittance_leaf_off))
        st.text(
            f"Of the direct sun {leaf} passes its crown in leaf" + (f", {bare} bare." if tree.leaf == "leafy" else ".")
        )
    if st.toggle("More about this tree", key=f"tree.more|{number}") or _fault_in_more(desk, number):
        for name, _ in _MORE:
            if name in _CHOICES:
                _choice(desk, number, name, system)
            else:
                _text(desk, number, name, system)
    _faults(desk, number)
    st.button("Take this tree away", key=f"tree.less|{number}|{desk.version}", on_click=_fell, args=(desk, number))


def _fault_in_more(desk: Desk, number: int) -> bool:
    names = {name for name, _ in _MORE}
    return any(fault.field.partition(f"trees.{number}.")[2] in names for fault in desk.faults)


def _faults(desk: Desk, number: int) -> None:
    for fault in desk.faults:
        if not fault.field.startswith("trees"):
            continue
        _, mine, name = fault.field.partition(f"trees.{number}.")
        if mine and name in _LABELS:
            parts.faults([dataclasses.replace(fault, field=_LABELS[name])])
        elif mine:
            parts.faults([fault])
            parts.leave_out(desk, fault)


def _fell(desk: Desk, number: int) -> None:
    trees = value_at(desk.data, "trees") or []
    desk.version += 1
    edit(desk, "trees", [tree for place, tree in enumerate(trees) if place != number])


def _text(desk: Desk, number: int, name: str, system: System) -> None:
    path, field = f"trees.{number}.{name}", _FIELDS[name][0]
    shown, key = shown_text(value_at(desk.data, path), field, system), _key(desk, number, name, system)

    def took() -> None:
        edit(desk, path, with_unit(str(st.session_state[key]), shown, field, system))

    st.text_input(_LABELS[name], shown, key=key, on_change=took, max_chars=200)


def _choice(desk: Desk, number: int, name: str, system: System) -> None:
    path, words = f"trees.{number}.{name}", _CHOICES[name]
    found, key = value_at(desk.data, path), _key(desk, number, name, system)
    options = [*words] if found is None or found in words else [str(found), *words]
    st.selectbox(
        _LABELS[name],
        options,
        0 if found is None else options.index(str(found)),
        key=key,
        format_func=lambda word: words.get(word, word),
        on_change=lambda: edit(desk, path, st.session_state[key]),
    )


def _species(desk: Desk, number: int, system: System) -> None:
    """What it is; a species newly chosen takes the place of the tree's own leaf and transmittances."""
    path = f"trees.{number}.species"
    found, key = value_at(desk.data, path) or "", _key(desk, number, "species", system)
    options = ["", *SPECIES] if found in ("", *SPECIES) else ["", str(found), *SPECIES]

    def took() -> None:
        tree = dict(value_at(desk.data, f"trees.{number}") or {})
        chosen = st.session_state[key]
        if chosen:
            make_room_for_class(tree, "species")
            tree["species"] = chosen
        else:
            tree.pop("species", None)
        desk.version += 1  # other fields than this one have changed
        edit(desk, f"trees.{number}", tree)

    st.selectbox(
        "Species, for the light it lets through",
        options,
        options.index(str(found)),
        key=key,
        format_func=lambda word: word or "not known",
        on_change=took,
    )
