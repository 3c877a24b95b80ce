"""The inputs on the page: groups of fields with every fault beside its field. The trees have cards of their own."""

from __future__ import annotations

import streamlit as st

from trackersim.errors import Fault
from trackersim.job.overrides import value_at
from trackersim.job.unit import UNIT_SECTIONS
from trackersim.page import parts
from trackersim.page.edits import with_entry, with_partners, without_entry
from trackersim.page.field_text import shown_text, with_unit
from trackersim.page.fields import CHOICE_WORDS, GROUPS, Entry, Group, entries, without_numbers
from trackersim.page.state import Desk, edit, replace
from trackersim.page.tree_cards import draw_cards
from trackersim.units import System

_WEATHER_HINT = (
    "The year that comes with the program belongs to 36.1° N, 80.0° W. For another place bring a weather file (under "
    "Files; `trackersim weather` fetches one), or tick cloudless days: they tell the most the place can give."
)
_THINGS = {
    "site": "the place",
    "weather": "the weather",
    "horizon": "hills on the horizon",
    "rack": "the rack",
    "array": "the modules",
    "wire": "the wire",
    "controller": "the controller",
    "pump": "the pump",
    "pipes": "the pipe",
    "source": "the source",
    "store": "the store",
    "money": "money",
}


def draw_form(desk: Desk, system: System, *, trees_elsewhere: bool) -> None:
    """All groups, folded; those with a fault are open. `trees_elsewhere`: the place beside it has the trees' cards."""
    unit = _unit_shown(desk)
    for group in GROUPS:
        faulty = any(_group_of(fault) is group for fault in desk.faults)
        with st.expander(group.title, expanded=faulty):
            if group.title == "Where":
                st.caption(_WEATHER_HINT)
            for section in group.sections:
                _draw_section(desk, group, section, system, unit if section in UNIT_SECTIONS else "")
        if group.title == "Where" and not trees_elsewhere:
            with st.expander("Trees", expanded=any(fault.field.startswith("trees") for fault in desk.faults)):
                draw_cards(desk, system, narrow=True)


def where_of(fault: Fault) -> str:
    """The group of the form in which a fault's field stands; empty if in none."""
    if fault.field.startswith("trees"):
        return "Trees"
    group = _group_of(fault)
    return group.title if group else ""


def _group_of(fault: Fault) -> Group | None:
    section = without_numbers(fault.field).split(".")[0]
    return next((group for group in GROUPS if section in group.sections), None)


def _unit_shown(desk: Desk) -> str:
    """Which of several units the form speaks of, as the beginning of a path."""
    units = value_at(desk.data, "unit") or []
    if not units:
        return ""
    names = [f"{number + 1}: {unit.get('name') or 'unnamed'}" for number, unit in enumerate(units)]
    chosen = st.selectbox("Unit (rack, modules, wire, controller, pump, pipe, source)", names, key="unit")
    return f"unit.{names.index(chosen)}."


def _draw_section(desk: Desk, group: Group, section: str, system: System, within: str) -> None:
    fields = entries(group, section, desk.data, within)
    told: list[Fault] = []
    for entry in (entry for entry in fields if entry.first):
        told += _draw_entry(desk, entry, system)
    thing = dict(group.lists).get(section)
    if thing:
        _draw_list_buttons(desk, within + section, thing)
    rest = [entry for entry in fields if not entry.first]
    key = f"more.{within}{section}.{desk.version}"
    more = bool(rest) and st.toggle(f"More about {_THINGS[section]}", key=key)
    for entry in rest:
        # What has a fault is shown although it is folded away.
        if more or _faults_of(desk, entry):
            told += _draw_entry(desk, entry, system)
    for fault in desk.faults:
        if without_numbers(fault.field).split(".")[0] == section and fault not in told:
            parts.faults([fault])
            parts.leave_out(desk, fault)


def _draw_entry(desk: Desk, entry: Entry, system: System) -> list[Fault]:
    """One field with its faults, which are returned."""
    value = value_at(desk.data, entry.path)
    key = f"{entry.path}|{system}|{desk.version}"
    if entry.kind == "switch":
        st.checkbox(
            entry.label,
            value=value is True,
            key=key,
            help=entry.help,
            on_change=_took,
            args=(desk, entry, key, "", system),
        )
    elif entry.kind == "choice":
        # A word that is no choice stands as one until another is chosen, or its fault would have nothing to mend.
        found = str(value) if value is not None else entry.default
        options = entry.choices if found in entry.choices else (found, *entry.choices)
        st.selectbox(
            _numbered(entry),
            options,
            index=options.index(found),
            key=key,
            help=entry.help,
            format_func=lambda word: CHOICE_WORDS.get((entry.rule, word), word or "not said"),
            on_change=_took,
            args=(desk, entry, key, "", system),
        )
    else:
        text = shown_text(value, entry.name, system)
        st.text_input(
            _numbered(entry),
            value=text,
            key=key,
            help=entry.help,
            on_change=_took,
            args=(desk, entry, key, text, system),
        )
    found_faults = _faults_of(desk, entry)
    parts.faults(found_faults)
    return found_faults


def _numbered(entry: Entry) -> str:
    """The label, with the number of the entry of a list it belongs to."""
    inner = entry.path.split(".")
    numbers = [int(part) + 1 for part in inner[2 if inner[0] == "unit" else 0 :] if part.isdigit()]
    return f"{numbers[0]}. {entry.label}" if numbers else entry.label


def _faults_of(desk: Desk, entry: Entry) -> list[Fault]:
    """Faults at the field itself, at one of its values, or told of a list's only entry without its number."""
    return [
        fault
        for fault in desk.faults
        if fault.field == entry.path or fault.field.startswith(f"{entry.path}.") or fault.field == entry.rule
    ]


def _took(desk: Desk, entry: Entry, key: str, before: str, system: System) -> None:
    """A widget changed: what it shows goes into the job, unless it shows what it was given.

    The good value as it was shown is that value itself, not what its rounded digits say.
    """
    text = str(st.session_state[key])
    if text == before:
        return
    good = value_at(desk.good.plain(), entry.path)
    shown = shown_text(good, entry.name, system)
    whole = with_partners(desk.data, entry.path, text)
    if whole != desk.data:
        desk.version += 1  # other fields than this one have changed
    desk.data = whole
    same = good is not None and text == shown
    edit(desk, entry.path, good if same else with_unit(text, shown or before, entry.name, system))


def _draw_list_buttons(desk: Desk, path: str, thing: str) -> None:
    count = len(value_at(desk.data, path) or [])
    key = f"{path}.{desk.version}"
    st.button(f"Add a {thing}", key=f"add.{key}", on_click=lambda: replace(desk, with_entry(desk.data, path)))
    if count:
        st.button(
            f"Take away the last {thing}",
            key=f"less.{key}",
            on_click=lambda: replace(desk, without_entry(desk.data, path)),
        )
