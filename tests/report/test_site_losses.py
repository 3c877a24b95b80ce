"""What lateness and trees cost, in words: the same two figures in every answer, as printed, to the last digit."""

from __future__ import annotations

import datetime as dt
import io
import json
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader
from streamlit.testing.v1 import AppTest
from typer.testing import CliRunner

from trackersim import Result, load_job
from trackersim.analysis.comparison import compare_racks
from trackersim.analysis.losses import LATE, TREES, SiteLosses, SiteWater, losses_of, site_losses
from trackersim.analysis.options import options_of
from trackersim.cli import app
from trackersim.job.files import demo_text
from trackersim.page.state import first_desk, open_text
from trackersim.report.comparison import comparison_answer, turning_words
from trackersim.report.customer_sheet import sheet_document
from trackersim.report.losses import losses_answer, losses_rows
from trackersim.report.options import options_answer
from trackersim.report.paper import KeyFigures, pdf
from trackersim.report.site_losses import site_words
from trackersim.simulation.runner import Runner
from trackersim.units import System

CLEAR = ["weather.file=", "weather.clear_sky=true"]
SPRING = {"first_day": dt.date(2025, 3, 20), "last_day": dt.date(2025, 3, 21)}


@pytest.fixture(scope="module")
def site() -> SiteLosses:
    return site_losses(Runner(load_job("demo")))


def gallons(m3: float) -> str:
    return f"{m3 / 3.785411784e-3:,.0f}"


def test_the_demonstration_adds_up(site: SiteLosses) -> None:
    late, trees, repair = site.late_m3_per_day, site.trees_m3_per_day, site.won_back_m3_per_day
    assert repair is not None
    assert site.open_prompt_m3_per_day - late - trees == pytest.approx(site.own.water_m3_per_day, rel=1e-12)
    assert 0 < repair < late


def test_the_same_figures_from_compare_losses_options_the_sheet_and_the_page(tmp_path: Path) -> None:
    """On one clear day of spring: every answer takes other runs, and a year of each is long."""
    text = demo_text().replace("sample:typical-year", "sample:clear-spring-day")
    job_file = tmp_path / "day.toml"
    job_file.write_text(text, encoding="utf-8")
    runner = Runner(load_job(job_file))
    site = site_losses(runner)
    late, trees = site.late_m3_per_day, site.trees_m3_per_day
    assert min(late, trees) > 0.1
    found = losses_of(runner.job, runner=runner)
    by_cause = {term.cause: term.lost.water_m3 / found.days for term in found.terms}
    assert by_cause[LATE] == pytest.approx(late, abs=1e-9)
    assert by_cause[TREES] == pytest.approx(trees, abs=1e-9)
    answers = {
        "compare": comparison_answer(compare_racks(runner.job, runner=runner), "us"),
        "losses": losses_answer(found, "us"),
        "options": options_answer(options_of(runner.job, runner=runner), "us"),
    }
    sentence = site_words(site, "us")
    for name, answer in answers.items():
        figures = answer.summary["site"]
        assert figures["late_m3_per_day"] == pytest.approx(late, abs=1e-12), name
        assert figures["trees_m3_per_day"] == pytest.approx(trees, abs=1e-12), name
        assert any(getattr(block, "text", "") == sentence for block in answer.blocks), name
    rows = {row[0]: row[1] for row in losses_rows(found, "us")}
    assert (rows[LATE], rows[TREES]) == (f"−{gallons(late)}", f"−{gallons(trees)}")
    outcome = CliRunner().invoke(app, ["compare", str(job_file), "--json"])
    printed = json.loads(outcome.stdout)["site"]
    assert printed["late_m3_per_day"] == pytest.approx(late, abs=1e-12)
    assert printed["trees_m3_per_day"] == pytest.approx(trees, abs=1e-12)
    paper = pdf(sheet_document(site.own, system="us", site=site), paper="letter")
    sheet = PdfReader(io.BytesIO(paper)).pages[0].extract_text()
    assert " ".join(sentence.split()) in " ".join(sheet.replace("\u200b", "").split())
    page = AppTest.from_file(str(Path(__file__).parents[2] / "trackersim/page/door.py"), default_timeout=60)
    desk = first_desk()
    open_text(desk, text)
    page.session_state["desk"], page.session_state["detail"] = desk, "Every kind of rack"
    page.run()
    assert not page.exception
    assert sentence in [text.value for text in page.text]


@pytest.mark.parametrize("system", ["us", "si"])
def test_the_sheet_s_large_figures_are_those_of_its_sentence(site: SiteLosses, system: System) -> None:
    """0.731 m³/day in large print beside 0.73 in the sentence are two figures."""
    blocks = sheet_document(site.own, system=system, site=site).front
    large = {meaning: figure for block in blocks if isinstance(block, KeyFigures) for figure, meaning in block.figures}
    words = site_words(site, system)
    for meaning in ("lost by turning late", "lost to the trees"):
        assert f" {large[meaning]} (" in words


def test_the_sentence_adds_up_as_printed(site: SiteLosses) -> None:
    words = site_words(site, "us")
    whole, late, trees = (int(text.replace(",", "")) for text in re.findall(r"([\d,]+) gal/day", words))
    assert whole - late - trees == round(site.own.water_m3_per_day / 3.785411784e-3)  # the figure that the page shows
    assert site.won_back_m3_per_day is not None
    assert f"A repair wins back {gallons(site.won_back_m3_per_day)} of the {gallons(site.late_m3_per_day)}" in words


def test_a_site_without_trees_speaks_of_none() -> None:
    bare = site_losses(Runner(load_job("demo", [*CLEAR, "trees=[]"]), **SPRING))
    assert "trees" not in site_words(bare, "us").lower()
    assert bare.trees_m3_per_day == 0


def test_a_rack_that_follows_the_sun_in_the_open_has_nothing_to_tell() -> None:
    ideal = site_losses(Runner(load_job("demo", [*CLEAR, "trees=[]", "rack.kind=ideal"]), **SPRING))
    assert site_words(ideal, "us") == ""


def test_a_fixed_rack_is_not_called_late() -> None:
    fixed = site_losses(Runner(load_job("demo", [*CLEAR, "rack.kind=fixed"]), **SPRING))
    words = site_words(fixed, "us")
    assert "the rack fixed at 25° tilt costs" in words
    assert "late" not in words


def test_a_late_rack_that_does_better_is_said_to_gain(site: SiteLosses) -> None:
    """Lying still toward the west may beat following a hidden sun."""
    water = site.water
    other_way = SiteWater(water.prompt, water.own, water.open_prompt, water.open_sky, water.repaired)
    words = site_words(replace(site, water=other_way), "us")
    assert "turning late gains" in words or "gains" in words
    assert "-" not in words
    assert "repair" not in words


def test_no_water_at_all_is_told() -> None:
    dry = site_losses(Runner(load_job("demo", [*CLEAR, "source.lift=300 ft"]), **SPRING))
    assert site_words(dry, "us") == "No rack lifts any water in these days."
    assert dry.summary()["late_m3_per_day"] == 0


def test_turning_at_all_is_held_against_the_fixed_rack(demo_year: Mapping[str, Result]) -> None:
    late, fixed = demo_year["delayed"], demo_year["fixed"]
    percent = 100 * (late.water_m3 / fixed.water_m3 - 1)
    assert f"({percent:.1f} %) over the rack fixed" in turning_words(demo_year, "delayed", "us")
    light = 100 * (late.daily_light_kwh_m2.mean() / fixed.daily_light_kwh_m2.mean() - 1)
    assert light < percent / 1.3
    assert f"Light rises by {light:.1f} % only" in turning_words(demo_year, "delayed", "us")
    swapped = {"fixed": late, "delayed": fixed}
    # Of the rack named after "than", which lifts less.
    assert f"({percent:.1f} %) more than the" in turning_words(swapped, "delayed", "us")
    assert turning_words({"delayed": late}, "delayed", "us") == ""


def test_what_would_be_printed_as_nothing_is_told_as_nothing() -> None:
    """A tank that is always full takes the same on every rack. Once "turning late gains 0 gal/day (0.0 %)" and "The
    rack fixed at 20° tilt would lift 0.115 gal/day (0.0 %) more"."""
    store = ("store.capacity=1000 gal", "store.start=0.84", "store.demand=50 gal/day")
    full = load_job("demo", [*CLEAR, "trees=[]", *store])
    racks = Runner(full, **SPRING).racks(["fixed", "delayed"])
    assert 0 < abs(racks["delayed"].water_m3 - racks["fixed"].water_m3) / 2 < 0.0019
    assert turning_words(racks, "delayed", "us") == "Turning at all gains nothing over the rack fixed at 25° tilt."
    assert " 0 gal/day" not in site_words(site_losses(Runner(full, **SPRING)), "us")
