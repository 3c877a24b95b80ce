"""Every view says its sentence; the numbers are those of the command line and of Python."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from starlette.routing import Match
from streamlit.testing.v1 import AppTest
from test_files import bring
from typer.testing import CliRunner

from trackersim import load_job, simulate
from trackersim.analysis.comparison import compare_racks
from trackersim.cli import app
from trackersim.job.files import demo_text, with_overrides
from trackersim.job.model import Job
from trackersim.page import work
from trackersim.page.app import PLACES
from trackersim.page.places import answer
from trackersim.page.state import Desk
from trackersim.page.table_address import tables
from trackersim.report import words
from trackersim.report.comparison import turning_words
from trackersim.report.site_losses import site_words
from trackersim.units import rounded, show, shown_value

Shown = Callable[[AppTest], str]
DeskOf = Callable[[AppTest], Desk]

Go = Callable[..., AppTest]

# What each place says, or detail of the answer.
SAYS = {
    ("answer", "Every kind of rack"): "this pump lifts about",
    ("answer", "Earlier or later"): "Against a rack that follows the sun",
    ("answer", "Year, pump and wire"): "At full power the pump gives",
    ("answer", "Where the water went"): "Mended alone",
    ("morning", None): "the rack turned east at",
    ("trees", None): "Without the trees and on a rack",
    ("decide", None): "A repaired rack",
    ("on-site", None): "Hill farm (invented), ",  # what it says of the rack depends on the hour
    ("sheet", None): "One page for the customer",
}

_YEAR = (Path(__file__).parents[2] / "weather_samples" / "typical-year.csv").read_text().splitlines()
# One day of weather: what is asked of the page's sliders, prices and caches does not need the year.
DAY = ["weather.file=sample:clear-spring-day"]


def given(page: AppTest, name: str) -> dict[str, Any]:
    """What the browser is given for one of the page's own parts."""
    assert not page.exception, page.exception
    (data,) = [
        json.loads(part.proto.json)
        for part in page.get("bidi_component")
        if part.proto.component_name.endswith(f"trackersim_{name}")
    ]
    assert isinstance(data, dict)
    return data


@pytest.fixture
def day_page(page: AppTest) -> AppTest:
    """The demonstration on one clear day."""
    return page.text_input(key="weather.file|us|0").set_value("sample:clear-spring-day").run()


WITH_PICTURES = ("Every kind of rack", "Earlier or later", "Year, pump and wire", "morning", "Where the water went")


@pytest.mark.usefixtures("blank_frames")
@pytest.mark.parametrize(("place", "detail"), SAYS)
def test_every_place_says_its_sentence_in_both_units_and_its_pictures_have_words(
    day_page: AppTest, shown: Shown, go: Go, place: str, detail: str | None
) -> None:
    """The words of a picture are for those who cannot see it."""
    page = day_page
    go(page, place, detail)
    assert SAYS[place, detail] in shown(page)
    alts = [image.alt for images in page.get("image") for image in images.proto.imgs]
    alts += [chart.proto.alt for chart in page.get("vega_lite_chart")]
    assert bool(alts) >= ((detail or place) in WITH_PICTURES)
    assert all(len(alt) > 40 for alt in alts), alts
    go(page, units="metric")
    assert SAYS[place, detail] in shown(page)
    assert not any(unit in shown(page) for unit in (" gal", " gpm", " ft ", "°F"))


@pytest.mark.parametrize("detail", list(answer.DETAILS))
def test_pictures_of_details_have_the_job_as_it_stands_behind_what_is_supposed(
    day_page: AppTest, go: Go, detail: str
) -> None:
    def pictures(**address: str | None) -> list[str]:
        go(day_page, "answer", detail, **address)
        assert not day_page.exception, day_page.exception
        assert not day_page.get("image")  # all of them answer the pointer
        return [str(chart.proto.spec) for chart in day_page.get("vega_lite_chart")]

    assert pictures()
    assert not any("the job as it stands" in spec for spec in pictures())
    for address in ({"delay": "180"}, {"delay": None, "trees": "none"}):
        assert all("the job as it stands" in spec for spec in pictures(**address))


def test_as_it_stands_is_the_job_and_now_is_what_is_looked_at(day_page: AppTest, shown: Shown, go: Go) -> None:
    go(day_page, "answer", "Where the water went", delay="180")
    stands, now = (simulate(load_job("demo", [*DAY, *more])) for more in ([], ["rack.flip_delay=180"]))
    gallons, before = (float(shown_value(each.water_m3_per_day, "volume_per_day", "us")) for each in (now, stands))
    assert rounded(gallons, 4) != rounded(before, 4)
    assert [row[1] for row in cells_of(day_page) if row[0] == "now"] == [rounded(gallons, 4)]
    (chart,) = day_page.get("vega_lite_chart")
    (line,) = [layer for layer in json.loads(chart.proto.spec)["layer"] if "data" in layer and "layer" in layer][:1]
    assert line["data"]["values"] == [
        {"name": "the job as it stands", "told": f"{before:,.0f} gal/day", "value": pytest.approx(before, rel=1e-5)}
    ]
    # The line alone has that name.
    told = [shown(day_page), chart.proto.alt, *(cell for row in cells_of(day_page) for cell in row)]
    assert not any("as it stands" in words for words in told)
    assert chart.proto.spec.count("as it stands") == str(line).count("as it stands")


def test_no_place_and_no_detail_is_left_out() -> None:
    assert {place for place, _ in SAYS} == set(PLACES) - {"manual"}
    assert {detail for place, detail in SAYS if place == "answer"} == set(answer.DETAILS)


def test_the_manual_is_the_guide(page: AppTest, go: Go) -> None:
    go(page, "manual")
    assert any("one text file about one site" in part.value for part in page.markdown)
    page.selectbox(key="chapter").set_value("bucket_test").run()
    assert any("A bucket, a watch and two minutes tell" in part.value for part in page.markdown)


def cells_of(page: AppTest) -> list[list[str]]:
    """The rows of all tables on the page."""
    rows = [row for table in page.table for row in table.value.astype(str).to_numpy().tolist()]
    return [[cell.replace("\\", "") for cell in row] for row in rows]


def test_page_command_line_and_python_give_the_same_numbers(day_page: AppTest, shown: Shown, go: Go) -> None:
    go(day_page, "answer", "Every kind of rack")
    on_page, cells = shown(day_page), cells_of(day_page)
    printed = " ".join(CliRunner().invoke(app, ["compare", "demo", "--set", *DAY]).stdout.split())
    found = compare_racks(load_job("demo", DAY))
    sentences = (
        words.headline(found.own, "us"),
        site_words(found.site, "us"),
        turning_words(found.racks, "delayed", "us"),
        words.flip_words(found.own),
    )
    for sentence in sentences:
        assert sentence in on_page
        assert " ".join(sentence.split()) in printed
    for row in words.compare_table(found.racks, "us").rows:
        assert list(row) in cells
        assert " ".join(row) in printed


def test_page_command_line_and_python_give_the_same_year(page: AppTest, shown: Shown, go: Go) -> None:
    go(page, "answer", "Year, pump and wire")
    outcome = CliRunner().invoke(app, ["run", "demo"])
    printed = " ".join(outcome.stdout.split())
    own = simulate(load_job("demo"))
    for sentence in (words.headline(own, "us"), words.flip_words(own)):
        assert sentence in shown(page)
        assert " ".join(sentence.split()) in printed
    rows = words.month_table(own, "us").rows
    assert len(rows) == 12
    for row in rows:
        assert list(row) in cells_of(page)
        assert " ".join(row) in printed


def test_another_job_gives_another_answer(page: AppTest, shown: Shown, go: Go) -> None:
    changed = demo_text().replace('name = "Hill farm (invented)"', 'name = "Dry creek (invented)"')
    page.file_uploader(key="job_file").upload("job.toml", changed.encode(), "application/toml").run()
    go(page, "answer", "Year, pump and wire")
    assert "Dry creek (invented): on the late-turning rack" in shown(page)


def test_the_last_good_answer_stays_beside_a_fault_and_is_marked(page: AppTest, shown: Shown, go: Go) -> None:
    go(page, "answer", "Year, pump and wire")
    good = shown(page)
    headline = next(line for line in good.splitlines() if "this pump lifts about" in line)
    page.text_input(key="source.lift|us|0").set_value("70 gpm").run()
    assert headline in shown(page)
    assert "last job without a fault" in shown(page)


def test_the_slider_moves_water_and_money(day_page: AppTest, shown: Shown, go: Go) -> None:
    go(day_page, "answer", "Earlier or later")
    day_page.text_input(key="late_price|us|0|").set_value("6 per 1000 gal").run()
    go(day_page, delay="180")
    own, later = (simulate(load_job("demo", [*DAY, *more])) for more in ([], ["rack.flip_delay=180"]))
    lost = own.water_m3_per_day - later.water_m3_per_day
    text = shown(day_page)
    assert f"This rack lifts {show(later.water_m3_per_day, 'volume_per_day', 'us')}." in text
    assert f"{show(lost, 'volume_per_day', 'us')} less than the job as it stands" in text
    gallons_a_year = lost / 3.785411784e-3 * 365
    dollars = float(text.split("less than the job as it stands: $")[1].split(" a year")[0].replace(",", ""))
    assert dollars == pytest.approx(6 * gallons_a_year / 1000, rel=0.01)


def test_the_slider_with_and_without_trees_on_one_day(page: AppTest, shown: Shown, go: Go) -> None:
    go(page, "answer", "Earlier or later")
    before = shown(page)
    go(page, trees="none")
    without = shown(page)
    assert "more than the job as it stands" in without
    go(page, day="2025-12-21")
    assert "Water on that day" in shown(page)
    assert before != without != shown(page)


def test_no_words_lie_on_the_bars_of_the_months(day_page: AppTest, go: Go) -> None:
    """The name of the line of what is wanted could not be read there."""
    go(day_page, "answer", "Year, pump and wire")
    months = str(day_page.get("vega_lite_chart")[0].proto.spec)
    assert "Water, gal/day (line: wanted)" in months
    assert re.search(r'"type": ?"rule"', months)
    assert not re.search(r'"type": ?"text"', months)


@pytest.mark.parametrize("detail", ["Earlier or later", "Every kind of rack"])
def test_a_detail_shows_the_day_of_the_strip(page: AppTest, go: Go, detail: str) -> None:
    """It once showed a day of its own while the strip named another."""
    head, hours = _YEAR[:2], [line for line in _YEAR if re.match(r"03/2[0-6]/", line)]
    assert len(hours) == 7 * 24
    bring(page, "\n".join([*head, *hours]).encode())
    for address in (None, "2025-03-24"):
        go(page, "answer", detail, day=address)
        assert not page.exception, page.exception
        day = dt.date.fromisoformat(given(page, "strip")["day"])
        alts = [chart.proto.alt for chart in page.get("vega_lite_chart")]
        assert any(f"{day.day} {day:%B %Y}" in alt for alt in alts), alts


def test_a_thermal_rack_has_its_condition_on_sliders(day_page: AppTest, shown: Shown, go: Go) -> None:
    day_page.selectbox(key="rack.kind|us|0").set_value("thermal").run()
    go(day_page, "answer", "Earlier or later")
    go(day_page, charge="0.5")
    thermal = [*DAY, "rack.kind=thermal"]
    whole, leaky = (simulate(load_job("demo", [*thermal, *more])) for more in ([], ["rack.thermal.charge=0.5"]))
    lifts = [show(result.water_m3_per_day, "volume_per_day", "us") for result in (whole, leaky)]
    assert lifts[0] != lifts[1]
    assert f"This rack lifts {lifts[1]}." in shown(day_page)


def test_a_change_of_the_rack_reads_no_weather_again() -> None:
    work.own_year(load_job("demo", DAY))
    before = work.stages().made["place"]
    for changes in ({"rack.flip_delay": 95.0}, {"rack.kind": "ideal"}, {"trees": []}, {"source.lift": 30.0}):
        work.own_year(with_overrides(load_job("demo", DAY), changes))
    assert work.stages().made["place"] == before


def test_scenes_shared_between_changes_give_the_engine_s_own_numbers() -> None:
    hills = ["trees.0.height=20 ft", "horizon.points=[[80, 10], [120, 10]]"]
    for overrides in ([], ["trees=[]"], ["rack.height=4 m"], hills):
        job = load_job("demo", [*DAY, *overrides])
        assert work.own_year(job).water_m3 == simulate(job).water_m3, overrides


@pytest.mark.usefixtures("blank_frames")
def test_the_date_of_a_morning_can_be_chosen(page: AppTest, shown: Shown, go: Go) -> None:
    go(page, "morning")
    go(page, day="2025-12-03")
    assert "3 December 2025" in shown(page)


def test_a_bare_price_is_per_thousand_gallons_and_stays_as_it_was_typed(
    day_page: AppTest, desk_of: DeskOf, go: Go
) -> None:
    go(day_page, "answer", "Earlier or later")
    day_page.text_input(key="late_price|us|0|").set_value("$6").run()
    assert desk_of(day_page).good.money.price_of_water == pytest.approx(6 / 3.785411784)
    assert day_page.text_input(key="late_price|us|0|6 per 1000 gal").value == "6 per 1000 gal"


def test_the_browser_is_told_the_server_s_own_address_of_what_is_worked_out_ahead(
    day_page: AppTest, desk_of: DeskOf, go: Go
) -> None:
    go(day_page, "answer")
    (route,) = tables()
    key = work.water_key_of(desk_of(day_page).good)
    address = given(day_page, "table")["address"]
    assert address == f"/ahead/{key}?units=us"
    assert route.matches({"type": "http", "method": "GET", "path": f"/ahead/{key}"})[0] is Match.FULL


def test_the_slider_follows_the_form(day_page: AppTest, shown: Shown, go: Go) -> None:
    """A slider that kept the old job's minutes would tell a difference that nobody asked for."""
    go(day_page, "answer", "Earlier or later")
    day_page.text_input(key="rack.flip_delay|us|0").set_value("95").run()
    assert given(day_page, "strip")["dial"]["value"] == 95
    later = simulate(load_job("demo", [*DAY, "rack.flip_delay=95"]))
    assert f"This rack lifts {show(later.water_m3_per_day, 'volume_per_day', 'us')}." in shown(day_page)
    assert "than the job as it stands" not in shown(day_page)


def test_a_price_or_an_option_simulates_nothing_again() -> None:
    before = work.own_year(load_job("demo", DAY))
    made = work.stages().made
    priced = load_job("demo", [*DAY, "money.price_of_water=6 per 1000 gal"])
    after = work.own_year(priced)
    assert work.stages().made == made
    assert after.water_m3 == before.water_m3
    assert after.job is priced
    assert after.provenance.job_sha256 == priced.sha256()


def test_another_name_or_price_works_nothing_out_anew_and_stands_in_the_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    def told(job: Job) -> tuple[Any, ...]:
        reports = (work.losses_report, work.options_report, work.shade_report)
        return work.first_look_of(job), *(report(job, lambda words, share: None) for report in reports)

    before = told(load_job("demo", DAY))
    for name in ("first_look", "losses_of", "options_of", "shade_of", "own_year"):
        monkeypatch.setattr(work, name, lambda *given, **named: pytest.fail("worked out again"))
    priced = load_job("demo", [*DAY, "site.name=Elsewhere (invented)", "money.price_of_water=6 per 1000 gal"])
    look, losses, options, shade = told(priced)
    assert look is before[0]
    assert losses.own == before[1].own
    assert [each.gain_m3_per_day for each in options.choices] == [each.gain_m3_per_day for each in before[2].choices]
    assert shade.by_years.keys() == before[3].by_years.keys()
    for found in (losses.result, options.own, shade.own):
        assert found.job is priced
        assert found.provenance.job_sha256 == priced.sha256()
    for summary in (losses.summary(), options.summary(), shade.summary()):
        assert summary["job"] == "Elsewhere (invented)"


def test_names_of_a_job_are_never_markup_in_tables(page: AppTest, go: Go) -> None:
    name = "[mend](http://evil.example/x) **b** $x^2$ :red[y] www.example.org"
    text = demo_text().replace('name = "down the well"', f'name = "{name}"')
    page.file_uploader(key="job_file").upload("job.toml", text.encode(), "application/toml").run()
    go(page, "answer", "Year, pump and wire")
    cells = [cell for table in page.table for row in table.value.astype(str).to_numpy().tolist() for cell in row]
    hostile = next(cell for cell in cells if "evil" in cell)
    assert hostile.replace("\\", "") == name
    for mark in ("[", "]", "*", "$", ":", "."):
        assert all(hostile[place - 1] == "\\" for place, letter in enumerate(hostile) if letter == mark), mark


def test_a_cloudless_answer_says_so_in_its_first_line(page: AppTest, shown: Shown, go: Go) -> None:
    page.checkbox(key="weather.clear_sky|us|0").check().run()
    go(page, "answer", "Year, pump and wire")
    headline = next(line for line in shown(page).splitlines() if "this pump lifts about" in line)
    assert "the most the place can give" in headline


def test_the_first_screen_says_when_every_day_is_taken_as_cloudless() -> None:
    """A year without a cloud lifts far more than any real one: nobody may take the large number for that."""
    clear = load_job("demo", ["weather.file=", "weather.clear_sky=true"])
    look = replace(work.first_look_of(load_job("demo", DAY)), job=clear)
    assert words.CLOUDLESS in answer._win_note(look)
    assert words.CLOUDLESS not in answer._win_note(replace(look, job=load_job("demo")))
