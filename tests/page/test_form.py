"""The form: every fault stands beside its field in words, the last good answer stays, units leave no trace."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable

import pytest
import tomlkit
from faulty_jobs import ONE_FAULT
from streamlit.testing.v1 import AppTest

from trackersim.errors import InputError
from trackersim.job.files import demo_text, load_job, parse_job
from trackersim.job.overrides import place_value, value_at
from trackersim.page.fields import GROUPS, Entry, entries
from trackersim.page.state import Desk

Go = Callable[..., AppTest]
Shown = Callable[[AppTest], str]
DeskOf = Callable[[AppTest], Desk]
Told = Callable[[AppTest], list[str]]

DEMO = parse_job(demo_text()).plain()
SECTIONS = [(group, section) for group in GROUPS for section in group.sections]
# The page has no folder to look into: it says that it was not given the file.
OWN_REASONS = {"weather.file=nowhere.csv": "no file that was brought here"}
MAIN = '\n[main]\nlift = "40 ft"\n[main.pipes]\nlength = "200 ft"\nbore = "3 in"\n'
UNITS = MAIN + '[[unit]]\nname = "upper"\n[[unit]]\nname = "lower"\n'
ONE_DAY = demo_text().replace("sample:typical-year", "sample:clear-spring-day")
NONSENSE = "@#!? seven"


def unfolded(page: AppTest) -> AppTest:
    """Every field of the form on the page."""
    for toggle in page.toggle:
        if str(toggle.key).startswith("more."):
            toggle.set_value(True)
    return page.run()


def widget_of(page: AppTest, entry: Entry, version: int) -> object:
    kind = {"text": page.text_input, "choice": page.selectbox, "switch": page.checkbox}[entry.kind]
    return kind(key=f"{entry.path}|us|{version}")


def test_every_field_of_the_job_is_on_the_page(page: AppTest, desk_of: DeskOf) -> None:
    unfolded(page)
    keys = {str(widget.key) for kind in (page.text_input, page.selectbox, page.checkbox) for widget in kind}
    fields = [entry for group, section in SECTIONS for entry in entries(group, section, desk_of(page).data)]
    assert len(fields) > 120
    assert {f"{entry.path}|us|0" for entry in fields} <= keys


@pytest.mark.parametrize(("group", "section"), SECTIONS, ids=[section for _, section in SECTIONS])
def test_nonsense_in_any_field_is_told_beside_it_and_goes_when_mended(
    page: AppTest, desk_of: DeskOf, shown: Shown, told: Told, group: object, section: str
) -> None:
    """Every text field of the form, typed into on the page: a fault beside it, or a word the field may hold.

    The fields of a section are typed into before the page runs, as by a quick hand; a run for each takes a minute. What
    is not told among the others' faults is tried by itself.
    """
    unfolded(page)
    good = desk_of(page).good
    fields = [entry for entry in entries(group, section, DEMO) if entry.kind == "text"]  # type: ignore[arg-type]
    before = {entry.path: page.text_input(key=f"{entry.path}|us|0").value for entry in fields}

    def typed(some: list[Entry], text: str | None) -> None:
        for entry in some:
            page.text_input(key=f"{entry.path}|us|0").set_value(before[entry.path] if text is None else text)
        page.run()
        assert not page.exception, section

    def untold(some: list[Entry]) -> list[Entry]:
        """Those of the fields beside which no fault stands; all are put back."""
        typed(some, NONSENSE)
        stale, beside = desk_of(page).stale, told(page)
        if stale:
            assert "last job without a fault" in shown(page)
            assert desk_of(page).good == good
        typed(some, None)
        assert not desk_of(page).stale
        assert not told(page)
        assert desk_of(page).good.sha256() == good.sha256()
        return [entry for entry in some if not _is_told(entry, some, beside)]

    words = [entry for entry in fields if entry.name == "name"]
    alone = untold([entry for entry in fields if entry not in words])
    assert [entry.path for entry in alone if untold([entry])] == []
    assert untold(words) == words
    assert fields or section == "horizon"


def _is_told(entry: Entry, tried: list[Entry], beside: list[str]) -> bool:
    """Whether as many faults are told as there are entries of a list with this field."""
    alike = [other for other in tried if other.rule == entry.rule]
    names = "|".join(re.escape(name) for name in {entry.rule, *(other.path for other in alike)})
    return sum(bool(re.match(rf"⚠ (?:{names})(?:\.\d+)*(?![\w.])", text)) for text in beside) >= len(alike)


def one_fault_text(override: str) -> str:
    """The demonstration's job file with one thing wrong in it."""
    data = tomllib.loads(demo_text())
    path, _, text = override.partition("=")
    value = tomllib.loads(f"value = {text}")["value"] if text.startswith(("[", "{")) else text
    assert place_value(data, path.split("."), _typed(value))
    return tomlkit.dumps(data)


def _typed(value: object) -> object:
    if value == "true":
        return True
    try:
        return float(value) if isinstance(value, str) else value
    except ValueError:
        return value


@pytest.mark.parametrize(("override", "field", "reason"), ONE_FAULT)
def test_every_kind_of_fault_in_an_opened_job_is_told_in_words(
    stubborn: AppTest, shown: Shown, desk_of: DeskOf, override: str, field: str, reason: str
) -> None:
    content = one_fault_text(override).encode()
    stubborn.file_uploader(key="job_file").upload("job.toml", content, "application/toml").run()
    text = shown(stubborn)
    assert OWN_REASONS.get(override, reason) in text
    assert field in text
    assert "last job without a fault" in text
    assert desk_of(stubborn).good.sha256() == load_job("demo").sha256()


def test_many_faults_of_an_opened_job_stand_beside_their_fields(page: AppTest, told: Told, desk_of: DeskOf) -> None:
    broken = demo_text().replace("latitude = 36.10", "latitude = 999").replace('lift = "130 ft"', 'lift = "70 gpm"')
    broken = broken.replace('length = "450 ft"', 'length = "-3 ft"').replace("own_use", "own_yuse")
    page.file_uploader(key="job_file").upload("job.toml", broken.encode(), "application/toml").run()
    beside = told(page)
    for field in ("site.latitude", "source.lift", "pipes.length", "controller.own_yuse"):
        assert any(text.startswith(f"⚠ {field}") for text in beside), (field, beside)
    page.text_input(key="site.latitude|us|1").set_value("36.1").run()
    page.text_input(key="source.lift|us|1").set_value("130 ft").run()
    assert not any("latitude" in text or "lift" in text for text in told(page))
    assert any(text.startswith("⚠ pipes.0.length") for text in told(page))
    page.button(key="go_back").click().run()
    assert not desk_of(page).stale
    assert not told(page)


def test_a_fault_in_a_folded_field_is_shown_beside_it_all_the_same(page: AppTest, told: Told) -> None:
    broken = demo_text().replace("utc_offset = -5", "utc_offset = 5")
    page.file_uploader(key="job_file").upload("job.toml", broken.encode(), "application/toml").run()
    assert page.text_input(key="site.utc_offset|us|1").value == "5"
    assert any(text.startswith("⚠ site.utc_offset") for text in told(page))


def test_groups_with_a_fault_are_open(page: AppTest) -> None:
    page.text_input(key="source.lift|us|0").set_value("70 gpm").run()
    opened = {expander.label: expander.proto.expanded for expander in page.expander}
    assert opened["Water: source and store"]
    assert not opened["Pump and pipe"]


def test_choices_and_switches_change_the_job(page: AppTest, desk_of: DeskOf) -> None:
    page.checkbox(key="weather.clear_sky|us|0").check().run()
    assert desk_of(page).good.weather.clear_sky
    assert not desk_of(page).stale
    page.checkbox(key="weather.clear_sky|us|1").uncheck().run()
    assert desk_of(page).good.weather.file == "sample:typical-year"
    page.text_input(key="weather.file|us|2").set_value("sample:clear-spring-day").run()  # soon simulated
    page.selectbox(key="rack.kind|us|2").set_value("thermal").run()
    assert desk_of(page).good.rack.kind == "thermal"
    page.text_input(key="rack.thermal.charge|us|2").set_value("70 %").run()
    assert desk_of(page).good.rack.thermal.charge == pytest.approx(0.7)
    page.selectbox(key="pump.pump_class|us|2").set_value("10gpm-150ft").run()
    assert not desk_of(page).stale
    assert desk_of(page).good.pump.pump_class == "10gpm-150ft"
    assert desk_of(page).good.pump.curve_flow_m3_s != load_job("demo").pump.curve_flow_m3_s


def test_only_fields_that_say_something_stand_before_the_others(page: AppTest) -> None:
    keys = {str(field.key) for field in page.text_input}
    assert "rack.flip_delay|us|0" in keys
    assert "rack.thermal.charge|us|0" not in keys
    page.selectbox(key="rack.kind|us|0").set_value("thermal").run()
    keys = {str(field.key) for field in page.text_input}
    assert "rack.flip_delay|us|0" not in keys
    assert "rack.thermal.charge|us|0" in keys


def test_units_there_and_back_leave_the_job_as_it_was(page: AppTest, desk_of: DeskOf, go: Go) -> None:
    before = desk_of(page).good.sha256()
    for system in ("metric", "US", "metric", "US"):
        go(page, units=system)
        assert desk_of(page).good.sha256() == before
    assert page.text_input(key="source.lift|us|0").value == "130 ft"
    go(page, units="metric")
    assert page.text_input(key="source.lift|si|0").value == "39.624 m"


def test_a_run_of_wire_is_added_and_taken_away(page: AppTest, desk_of: DeskOf) -> None:
    page.button(key="add.wire.0").click().run()
    assert len(desk_of(page).good.wire) == 3
    page.text_input(key="wire.2.length|us|1").set_value("20 ft").run()
    assert desk_of(page).good.wire[2].length_m == pytest.approx(6.096)
    page.button(key="less.wire.1").click().run()
    assert desk_of(page).good.sha256() == load_job("demo").sha256()


def test_each_of_several_units_is_edited_by_itself(page: AppTest, desk_of: DeskOf) -> None:
    text = ONE_DAY + UNITS
    try:
        parse_job(text)
    except InputError as error:
        pytest.fail(str(error))
    page.file_uploader(key="job_file").upload("job.toml", text.encode(), "application/toml").run()
    page.selectbox(key="unit").set_value("2: lower").run()
    page.text_input(key="unit.1.source.lift|us|1").set_value("90 ft").run()
    lifts = [unit.source.lift_m for unit in desk_of(page).good.units]
    assert lifts == pytest.approx([39.624, 27.432])


# What is typed, and what it means [SI] on a page in US units and on one in metric.
BARE = {
    "source.lift": ("80", 24.384, 80.0),
    "site.elevation": ("1400", 426.72, 1400.0),
    "pipes.0.bore": ("1.25", 0.03175, None),  # in metric it is shown in mm, and no pipe is that narrow
    "pipes.0.length": ("300", 91.44, 300.0),
    "store.demand": ("2000", 7.570823568, 2000.0),
    "array.vmp": ("17.1", 17.1, 17.1),
    "rack.flip_delay": ("75", 75.0, 75.0),
    "site.latitude": ("36.2", 36.2, 36.2),
}


@pytest.mark.parametrize(("system", "chosen", "place"), [("us", "US", 1), ("si", "metric", 2)])
def test_a_bare_number_is_meant_in_the_unit_the_field_shows(
    page: AppTest, desk_of: DeskOf, system: str, chosen: str, place: int, go: Go
) -> None:
    go(page, units=chosen)
    unfolded(page)
    meant = {path: case[place] for path, case in BARE.items() if case[place] is not None}
    for path in meant:
        page.text_input(key=f"{path}|{system}|0").set_value(BARE[path][0])
    page.run()
    assert not desk_of(page).stale
    found = {path: value_at(desk_of(page).good.plain(), path) for path in meant}
    assert found == pytest.approx(meant, rel=1e-6)


def test_a_list_of_bare_numbers_is_meant_in_the_unit_the_field_shows(page: AppTest, desk_of: DeskOf) -> None:
    page.text_input(key="pump.curve_flow|us|0").set_value("0 5 9 13 17 21").run()
    assert not desk_of(page).stale
    assert desk_of(page).good.pump.curve_flow_m3_s[-1] == pytest.approx(21 * 3.785411784e-3 / 60)


def test_hills_survive_a_change_of_units(page: AppTest, desk_of: DeskOf, go: Go) -> None:
    page.text_input(key="weather.file|us|0").set_value("sample:clear-spring-day").run()
    unfolded(page)
    page.text_input(key="horizon.points|us|0").set_value("80 4; 100 9").run()
    assert not desk_of(page).stale
    for chosen, system in (("metric", "si"), ("US", "us")):
        go(page, units=chosen)
        unfolded(page)
        assert page.text_input(key=f"horizon.points|{system}|0").value == "80 4; 100 9"


def test_the_first_unit_speaks_for_the_job_in_words_and_trees(page: AppTest, desk_of: DeskOf) -> None:
    page.file_uploader(key="job_file").upload("job.toml", (ONE_DAY + UNITS).encode(), "application/toml").run()
    page.selectbox(key="unit.0.rack.kind|us|1").set_value("fixed").run()
    page.text_input(key="unit.0.rack.height|us|1").set_value("12 ft").run()
    good = desk_of(page).good
    assert good.rack.kind == good.units[0].rack.kind == "fixed"
    assert good.rack.height_m == good.units[0].rack.height_m == pytest.approx(3.6576)
    assert good.units[1].rack.kind == "delayed"


def test_what_has_no_field_can_be_left_out(page: AppTest, desk_of: DeskOf, shown: Shown) -> None:
    broken = demo_text().replace("own_use", "own_yuse") + "\n[oddity]\nx = 1\n"
    page.file_uploader(key="job_file").upload("job.toml", broken.encode(), "application/toml").run()
    for field in ("controller.own_yuse", "oddity"):
        button = next(button for button in page.button if str(button.key).startswith(f"leave.{field}"))
        button.click().run()
    assert not desk_of(page).stale, desk_of(page).faults


def test_a_section_that_is_none_makes_room_for_one(page: AppTest, desk_of: DeskOf) -> None:
    broken = demo_text().replace("[array]", "thermal = 3\n\n[array]", 1)
    page.file_uploader(key="job_file").upload("job.toml", broken.encode(), "application/toml").run()
    assert desk_of(page).stale
    unfolded(page)
    page.text_input(key="rack.thermal.charge|us|1").set_value("0.9").run()
    assert not desk_of(page).stale
    assert desk_of(page).good.rack.thermal.charge == pytest.approx(0.9)


def test_a_choice_left_out_shows_what_the_job_means_by_it(page: AppTest) -> None:
    broken = demo_text().replace('kind = "delayed"', "").replace("latitude = 36.10", "latitude = 999")
    page.file_uploader(key="job_file").upload("job.toml", broken.encode(), "application/toml").run()
    assert page.selectbox(key="rack.kind|us|1").value == "delayed"
    assert any(str(field.key) == "rack.flip_delay|us|1" for field in page.text_input)
