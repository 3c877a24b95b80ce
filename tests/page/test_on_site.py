"""On site: with a watch, a bucket, or for tomorrow; what cannot be read is told beside its field and hides no other."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from streamlit.testing.v1 import AppTest

from trackersim.analysis.flip_check import check_flip
from trackersim.analysis.flow_check import check_flow
from trackersim.analysis.flow_measurement import FLOW_ERROR, Readings, timed_flow, told_flow
from trackersim.analysis.observed_sky import Seen
from trackersim.clock import moment_at, today_at
from trackersim.errors import InputError
from trackersim.job.files import demo_text, load_job, parse_job
from trackersim.page.parts import as_text
from trackersim.page.places import on_site
from trackersim.report import flip_check as show_flip
from trackersim.report import flow_check as show_flow
from trackersim.units import System, held_value

Shown = Callable[[AppTest], str]
Offered = Callable[[AppTest], dict[str, str]]
Told = Callable[[AppTest], list[str]]
TWO_PUMPS = """
[main]
lift = "10 ft"
pipes = [{ length = "100 ft", bore = "2 in" }]
[[unit]]
name = "upper"
[[unit]]
name = "<b>lower</b>"
"""


def script() -> None:
    """A page that holds nothing but the place."""
    import streamlit as st

    from trackersim.page.places import on_site
    from trackersim.page.state import first_desk
    from trackersim.page.strip import ViewState

    if "desk" not in st.session_state:
        st.session_state.desk = first_desk()
    on_site.draw(st.session_state.desk, ViewState(system=st.session_state.get("system", "us")))


def opened(question: str, *, job: str = "", system: System = "us") -> AppTest:
    """The question on the longest day at half past ten, under a clear sky."""
    page = AppTest.from_function(script, default_timeout=120)
    page.session_state["system"] = system
    if job:
        from trackersim.page.state import first_desk

        desk = first_desk()
        desk.good = parse_job(job)
        page.session_state["desk"] = desk
    page.run()
    page.pills(key="site_question").set_value(question)
    page.pills(key="site_when").set_value("another time").run()
    if question == on_site.TOMORROW:
        return page
    page.date_input(key="site_date").set_value(dt.date(2025, 6, 21))
    page.time_input(key="site_clock").set_value(dt.time(10, 30))
    page.pills(key="site_sky").set_value("clear").run()
    assert not page.exception, page.exception
    return page


def type_in(page: AppTest, **numbers: float | None) -> AppTest:
    """Numbers into fields, and the page once more."""
    for name, number in numbers.items():
        page.number_input(key=f"site_{name.replace('__', '|')}").set_value(number)
    return page.run()


def fills(page: AppTest, *seconds: float) -> AppTest:
    """One fill after the other: each field comes when the one before is filled in."""
    for number, each in enumerate(seconds, start=1):
        type_in(page, **{f"seconds__{number}": each})
    return page


@pytest.fixture(scope="module")
def flow() -> AppTest:
    """The flow's question with all its fields open; each test leaves it with nothing wrong in them."""
    page = opened(on_site.FLOW)
    page.toggle(key="site_more").set_value(True).run()
    return fills(page, 25, 25, 26)


def test_the_flip_is_answered_as_python_answers_it(shown: Shown) -> None:
    page = opened(on_site.FLIP)
    page.pills(key="site_stands|flip").set_value("at its west stop").run()
    job = load_job("demo")
    check = check_flip(job, moment_at(job.site, "2025-06-21 10:30"), seen=Seen(sky="clear"), stands="west")
    assert show_flip.flip_sentence(check) in shown(page)
    assert show_flip.last_words(check) in shown(page)
    assert as_text(show_flip.safety_words(job)) in shown(page)  # a warning is markup: its signs are escaped
    assert "site_air|us" not in [str(each.key) for each in page.number_input]  # it would change nothing


def test_now_is_the_clock_of_the_site(shown: Shown) -> None:
    page = AppTest.from_function(script, default_timeout=120).run()
    zone = on_site.zone_of(load_job("demo").site)
    assert f"{dt.datetime.now(zone):%d %B %Y}" in shown(page)


@pytest.mark.parametrize(("system", "litres", "unit"), [("us", 5 * 3.785411784, "gpm"), ("si", 20.0, "L/min")])
def test_the_bucket_is_answered_as_python_answers_it(shown: Shown, system: System, litres: float, unit: str) -> None:
    page = opened(on_site.FLOW, system=system)
    assert "3 fills or more" in shown(page)
    fills(page, 25, 26)
    assert "3 fills or more" in shown(page)
    fills(page, 25, 26, 25)
    job = load_job("demo")
    measured = timed_flow(litres / 1000, [25.0, 26.0, 25.0])
    found = check_flow(job, moment_at(job.site, "2025-06-21 10:30"), measured, seen=Seen(sky="clear"))
    assert show_flow.flow_sentence(found, system) in shown(page)
    assert unit in show_flow.flow_sentence(found, system)


def test_a_meter_and_every_other_reading_are_taken_too(shown: Shown) -> None:
    page = opened(on_site.FLOW)
    page.toggle(key="site_meter").set_value(True)
    page.toggle(key="site_more").set_value(True).run()
    type_in(page, flow__us=11, light__us=900, pressure__us=60, gauge_above__us=96, voltage__us=66, current__us=8.2)
    job = load_job("demo")
    readings = Readings(
        light_w_m2=900,
        pressure_kpa=held_value(60, "pressure", "us"),
        gauge_above_m=96 * 0.3048,
        voltage_v=66,
        current_a=8.2,
    )
    measured = told_flow(held_value(11, "flow", "us"), FLOW_ERROR)
    moment = moment_at(job.site, "2025-06-21 10:30")
    found = check_flow(job, moment, measured, seen=Seen(sky="clear"), readings=readings)
    assert show_flow.flow_sentence(found, "us") in shown(page)
    without = check_flow(job, moment, measured, seen=Seen(sky="clear"))
    assert show_flow.flow_answer(found, "us").blocks != show_flow.flow_answer(without, "us").blocks
    for block in show_flow.flow_answer(found, "us").blocks:
        if type(block).__name__ == "Sentence":
            assert block.text in shown(page)


def test_of_several_pumps_the_readings_belong_to_the_one_they_were_taken_at(shown: Shown) -> None:
    job = demo_text().replace("sample:typical-year", "sample:clear-spring-day") + TWO_PUMPS
    page = opened(on_site.FLOW, job=job)
    page.toggle(key="site_more").set_value(True).run()
    assert page.selectbox(key="site_unit").options == ["upper", "<b>lower</b>"]
    fills(page, 12, 12, 13)
    type_in(page, voltage__us=66, current__us=8.2)
    told = {}
    for place, name in enumerate(("upper", "<b>lower</b>")):
        page.selectbox(key="site_unit").set_value(name).run()
        found = check_flow(
            parse_job(job),
            moment_at(parse_job(job).site, "2025-06-21 10:30"),
            timed_flow(5 * 3.785411784e-3, [12.0, 12.0, 13.0]),
            seen=Seen(sky="clear"),
            readings=Readings(voltage_v=66, current_a=8.2, unit=place),
        )
        assert show_flow.flow_sentence(found, "us") in shown(page).replace("&lt;", "<").replace("&gt;", ">")
        told[name] = shown(page)
    assert "<b>lower" not in told["<b>lower</b>"].partition("\n")[0]


def test_tomorrow_is_a_card_to_save(shown: Shown, offered: Offered) -> None:
    page = opened(on_site.TOMORROW)
    assert "Call if" in shown(page)
    tomorrow = today_at(load_job("demo").site) + dt.timedelta(days=1)
    assert f"{tomorrow.day} {tomorrow:%B}" in shown(page)
    assert list(offered(page)) == ["Save the card"]


def fields(page: AppTest) -> set[str]:
    every = [*page.number_input, *page.pills, *page.toggle, *page.date_input, *page.time_input]
    return {str(each.key) for each in every}


def test_a_clock_that_is_wrong_is_told_and_hides_no_field(flow: AppTest, told: Told, shown: Shown) -> None:
    """On the page before this one, a mistyped clock took the fields of the flow away."""
    before = fields(flow)
    flow.date_input(key="site_date").set_value(dt.date(2025, 3, 9))
    flow.time_input(key="site_clock").set_value(dt.time(2, 30)).run()  # skipped in spring
    (fault,) = told(flow)
    assert fault.startswith("⚠ Clock at the site")
    assert "does not exist on the clock" in fault
    assert "Please mend: Clock at the site" in shown(flow)
    assert fields(flow) == before
    assert [flow.number_input(key=f"site_seconds|{number}").value for number in (1, 2, 3)] == [25, 25, 26]
    flow.date_input(key="site_date").set_value(dt.date(2025, 6, 21))
    flow.time_input(key="site_clock").set_value(dt.time(10, 30)).run()
    assert not told(flow)


@pytest.mark.parametrize(("date", "clock"), [(None, dt.time(9)), (dt.date(2025, 6, 21), None), ((), dt.time(9))])
def test_a_clock_that_was_emptied_is_a_fault_of_its_field(date: object, clock: dt.time | None) -> None:
    with pytest.raises(InputError, match="at: is empty"):
        on_site._moment(load_job("demo"), date, clock)


@pytest.mark.parametrize(
    ("name", "wrong", "label"),
    [
        ("air|us", 400.0, "Air temperature"),
        ("volume|us", 0.0, "One fill holds"),
        ("seconds|2", -3.0, "Seconds of each fill"),
        ("light|us", 5000.0, "Light on the modules"),
        ("pressure|us", -1.0, "Pressure at the gauge"),
        ("gauge_above|us", 30.0, "Gauge above the job's standing water"),
        ("voltage|us", 2000.0, "Voltage at the controller"),
        ("current|us", 900.0, "Current at the controller"),
    ],
)
def test_a_number_that_cannot_be_is_told_under_its_name_until_it_is_mended(
    flow: AppTest, told: Told, shown: Shown, name: str, wrong: float, label: str
) -> None:
    before, right = fields(flow), flow.number_input(key=f"site_{name}").value
    flow.number_input(key=f"site_{name}").set_value(wrong).run()
    assert [text for text in told(flow) if text.startswith(f"⚠ {label}")], told(flow)
    assert label in shown(flow).partition("Please mend:")[2]
    assert fields(flow) >= before
    flow.number_input(key=f"site_{name}").set_value(right).run()
    assert not told(flow)


def test_faults_of_several_fields_are_told_at_once(flow: AppTest, told: Told) -> None:
    type_in(flow, air__us=400, light__us=5000)
    assert len(told(flow)) == 2
    type_in(flow, air__us=None, light__us=None)
    assert not told(flow)


def test_what_is_told_by_no_field_is_told_by_its_answer(
    flow: AppTest, shown: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuses(*_: object, **__: object) -> None:
        raise InputError.of("rotation", 3, "lies beyond the rack's stops.", "Look again.")

    monkeypatch.setattr(on_site, "check_flow", refuses)
    type_in(flow, seconds__3=27)
    assert "lies beyond" in shown(flow)
    monkeypatch.undo()
    type_in(flow, seconds__3=26)
