"""Decide: the rows are those of `options`; a typed price changes what pays and stands in the saved job."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from streamlit.testing.v1 import AppTest

from trackersim.analysis.options import Options, options_of
from trackersim.job.files import demo_text, parse_job
from trackersim.page.prices import cost_of, options_with_cost
from trackersim.page.state import Desk, first_desk, open_text, saved_text
from trackersim.report.choice_words import by_water, pays_words, won_words
from trackersim.report.options import side_by_side
from trackersim.report.verdict import first_words, repair_or_replace_words

Shown = Callable[[AppTest], str]
DeskOf = Callable[[AppTest], Desk]
HOSTILE = "<img src=x onerror=alert(1)> **x** [y](z)"


def script() -> None:
    """A page that holds nothing but the place, on one clear day whose every drop is wanted."""
    import streamlit as st

    from trackersim.page.places import decide
    from trackersim.page.state import edit, first_desk
    from trackersim.page.strip import ViewState

    if "desk" not in st.session_state:
        st.session_state.desk = first_desk()
        edit(st.session_state.desk, "weather.file", "sample:clear-spring-day")
        edit(st.session_state.desk, "store.demand", "20000 gal/day")
    decide.draw(st.session_state.desk, ViewState(system="si" if st.session_state.get("metric") else "us"))


@pytest.fixture(scope="module")
def opened() -> AppTest:
    """One visitor for all tests of this file: each leaves the prices as it found them."""
    return AppTest.from_function(script, default_timeout=120).run()


@pytest.fixture
def options(opened: AppTest, desk_of: DeskOf) -> Options:
    return options_of(desk_of(opened).good)


def saved_and_opened(desk: Desk) -> Desk:
    again = first_desk()
    open_text(again, saved_text(desk.data))
    assert not again.faults, again.faults
    return again


def test_the_rows_are_the_options_repair_first_then_by_water(opened: AppTest, options: Options, shown: Shown) -> None:
    words = shown(opened)
    assert words.index(first_words(options, "us")) < words.index(repair_or_replace_words(options, "us"))
    rows = by_water(options)
    assert rows[0].ready == "repair-rack"
    places = [words.index(f"<div>{won_words(choice, options, 'us')}.") for choice in rows]
    assert places == sorted(places)
    gains = [choice.used_gain_m3_per_day for choice in rows[1:]]
    assert gains == sorted(gains, reverse=True)
    assert {str(each.key).split("|")[1] for each in opened.number_input if str(each.key).startswith("cost|")} == {
        choice.ready for choice in rows
    }


def test_a_typed_price_changes_what_pays_survives_and_is_in_the_saved_job(
    opened: AppTest, shown: Shown, desk_of: DeskOf
) -> None:
    desk = desk_of(opened)
    assert "pays below" not in shown(opened).lower()
    opened.number_input(key=f"price_of_water|us|{desk.version}").set_value(6.0).run()
    assert "pays below $" in shown(opened).lower()
    opened.number_input(key=f"cost|fell-all-trees|{desk.version}").set_value(1.0).run()
    assert "pays: " in shown(opened).lower()
    opened.number_input(key=f"cost|fell-all-trees|{desk.version}").set_value(900_000.0).run()
    assert "does not pay" in shown(opened).lower()
    choice = next(each for each in options_of(desk.good).choices if each.ready == "fell-all-trees")
    assert pays_words(choice, options_of(desk.good), "us").capitalize()[1:] in shown(opened)

    again = saved_and_opened(desk)
    assert again.good.money.price_of_water == pytest.approx(6 / 3.785411784)
    (option,) = again.good.option
    assert (option.ready, option.cost) == ("fell-all-trees", 900_000)
    assert again.good == desk.good

    opened.number_input(key=f"cost|fell-all-trees|{desk.version}").set_value(None).run()
    opened.number_input(key=f"price_of_water|us|{desk.version}").set_value(None).run()
    assert desk.good.option == ()
    assert desk.good.money.price_of_water is None


def test_measures_are_laid_side_by_side_with_what_they_cost_a_year(
    opened: AppTest, options: Options, desk_of: DeskOf
) -> None:
    desk = desk_of(opened)
    opened.multiselect(key="beside").set_value(["driven-tracker", "larger-wire"]).run()
    chosen = [next(each for each in options.choices if each.ready == ready) for ready in opened.multiselect[0].value]
    expected = side_by_side(options, chosen, "us")
    table = opened.table[0].value
    assert [str(head).replace("\\", "") for head in table.columns] == list(expected.header)
    opened.number_input(key=f"life_years|larger-wire|{desk.version}").set_value(12.0).run()
    assert desk.good.option[0].life_years == 12
    opened.number_input(key=f"life_years|larger-wire|{desk.version}").set_value(None)
    opened.multiselect(key="beside").set_value([]).run()
    assert desk.good.option == ()


def test_names_in_a_job_stay_text(shown: Shown) -> None:
    text = f'''
[money]
currency = "<b>$"
[[option]]
name = "{HOSTILE}"
cost = 5
set = {{"wire.0.gauge" = "6"}}
'''
    page = AppTest.from_function(script, default_timeout=120)
    desk = first_desk()
    open_text(desk, demo_text().replace("sample:typical-year", "sample:clear-spring-day") + text)
    assert not desk.faults, desk.faults
    page.session_state["desk"] = desk
    page.run()
    assert "<img" not in shown(page)
    assert "&lt;img src=x" in shown(page)
    assert any("\\*\\*x" in each.label for each in page.number_input)


def test_the_costs_of_a_jobs_own_options_and_of_ready_ones_are_kept_apart() -> None:
    text = """
[[option]]
name = "twice"
set = {"wire.0.gauge" = "6"}
[[option]]
ready = "larger-wire"
name = "what we call it"
[[option]]
name = "twice"
cost = 7
set = {"wire.0.gauge" = "4"}
"""
    desk = first_desk()
    open_text(desk, demo_text().replace("sample:typical-year", "sample:clear-spring-day") + text)
    found = options_of(desk.good)
    first, second = (next(each for each in found.choices if each.option == place) for place in (0, 2))
    assert (cost_of(desk.data, first, "cost"), cost_of(desk.data, second, "cost")) == (None, 7)
    made = options_with_cost(desk.data, second, "cost", 8.5)
    assert [each.get("cost") for each in made] == [None, None, 8.5]
    ready = next(each for each in found.choices if each.ready == "larger-wire")
    assert ready.option == 1
    made = options_with_cost(desk.data, ready, "cost", 3)
    assert len(options_with_cost({"option": made}, ready, "cost", None)) == 3  # it has a name of its own
    none = next(each for each in found.choices if each.ready == "new-pipe")
    added = options_with_cost(desk.data, none, "cost", 0.0)
    assert added[-1] == {"ready": "new-pipe", "cost": 0.0}
    assert parse_job(saved_text({**desk.data, "option": added})).option[-1].cost == 0
    assert options_with_cost({"option": added}, none, "cost", None) == desk.data["option"]
    assert options_with_cost({"option": "nonsense"}, first, "cost", 4) == []
