"""The sheet: the same numbers as the command line, the same bytes twice, names as text, nothing past the page."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import os
import re
import subprocess
import sys
import warnings
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from pypdf import PdfReader
from typer.testing import CliRunner

from trackersim import InputError, Result, load_job, simulate
from trackersim.cli import app
from trackersim.job.files import with_overrides
from trackersim.report import customer_sheet as report
from trackersim.report import words
from trackersim.report.customer_sheet import day_of, report_pdf
from trackersim.report.lettering import MISSING, printable, shortened, width_in, wrapped
from trackersim.report.sheet import MARGIN_IN, PAGE_IN, Sheet
from trackersim.report.sheet_inputs import input_rows

DAY = dt.date(2025, 3, 20)
CLEAR = ["weather.file=", "weather.clear_sky=true"]


def read(data: bytes) -> list[str]:
    """The text of each page on one line."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(data)).pages]


def one_day(changes: Mapping[str, Any] | None = None) -> Result:
    return simulate(with_overrides(load_job("demo", CLEAR), changes or {}), first_day=DAY, last_day=DAY)


@pytest.fixture(scope="module")
def plain() -> Result:
    return one_day()


@pytest.fixture(scope="module")
def whole(demo_year: dict[str, Result]) -> bytes:
    others = {kind: demo_year[kind] for kind in ("fixed", "ideal")}
    choices = [("Choice", "gal/day"), ("leave it as it is", "3,160"), ("cut the oaks", "3,300")]
    account = [("Cause", "gal/day"), ("late flip", "−257")]
    return report_pdf(demo_year["delayed"], system="us", others=others, choices=choices, account=account)


def test_the_front_page_gives_the_headline_of_the_command_line(whole: bytes, demo_year: dict[str, Result]) -> None:
    front = read(whole)[0]
    late = demo_year["delayed"]
    assert words.headline(late, "us") in front
    assert words.flip_words(late) in front
    pair = {"delayed": late, "fixed": demo_year["fixed"], "ideal": demo_year["ideal"]}
    assert words.compare_words(pair, "delayed", "us") in front
    for caution in words.CAUTIONS:
        assert caution in front
    for head in ("The question", "The answer", "The choices", "What was assumed", "Cautions"):
        assert head in front
    assert "cut the oaks 3,300" in front


def test_the_appendix_holds_everything_to_trace_the_figures_by(whole: bytes, demo_year: dict[str, Result]) -> None:
    late = demo_year["delayed"]
    pages = read(whole)
    assert len(pages) >= 3
    rest = " ".join(pages[1:])
    origin = late.provenance
    assert origin.job_sha256 in rest
    assert origin.weather_sha256 in rest
    assert f"trackersim {origin.version}" in rest
    for row in words.month_rows(late, "us"):
        assert " ".join(row) in rest
    for told in ("WITHIN THE LABEL: On the coldest morning", "At full power the pump gives", "late flip −257"):
        assert told in rest
    for field in ("source.lift 130 ft", "array.in_series 4", "pump.curve_flow 0, 4, 8, 12, 16, 20 gpm"):
        assert field in rest
    assert all(f"page {number + 1} of {len(pages)}" in page for number, page in enumerate(pages))


def test_the_same_result_gives_the_same_bytes(plain: Result) -> None:
    assert report_pdf(plain, system="us") == report_pdf(plain, system="us")


def test_another_process_gives_the_same_bytes(plain: Result) -> None:
    """Python seeds the hashes of text anew in every process; nothing of that may reach the file."""
    code = (
        "import datetime as dt, hashlib; from trackersim import load_job, simulate; "
        "from trackersim.report.customer_sheet import report_pdf; d = dt.date(2025, 3, 20); "
        f"r = simulate(load_job('demo', {CLEAR!r}), first_day=d, last_day=d); "
        "print(hashlib.sha256(report_pdf(r, system='us')).hexdigest())"
    )
    run = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", code],
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
        env={**os.environ, "PYTHONHASHSEED": "1"},
    )
    assert run.stdout.strip() == hashlib.sha256(report_pdf(plain, system="us")).hexdigest()


def test_the_file_says_nothing_about_people_or_the_clock(plain: Result) -> None:
    named = one_day({"site.name": "Family Quillfeather"})
    about = PdfReader(io.BytesIO(report_pdf(named, system="us"))).metadata
    assert about is not None
    assert not any("Quillfeather" in str(value) for value in about.values())
    assert "/Author" not in about
    assert about.creation_date is not None
    assert about.creation_date.date() == DAY
    assert plain.provenance.job_sha256[:12] not in str(about.title)  # the named job has its own hash
    assert named.provenance.job_sha256[:12] in str(about.title)


def test_names_are_text_whatever_they_hold() -> None:
    names = {
        "site.name": "$x^2$ \\frac{1}{",
        "trees.0.name": "<script>alert(1)</script>",
        "trees.1.name": "$\\alpha$",
        "wire.0.name": "a_b {c} \\$ & % # ~",
        "pump.name": "Øllegård Łąka",
    }
    with warnings.catch_warnings():
        warnings.simplefilter("error", UserWarning)
        pages = read(report_pdf(one_day(names), system="us"))
    assert pages[0].count(names["site.name"]) >= 2  # below the title, and in the answer
    assert names["trees.1.name"] in pages[0]  # in the sky
    for name in names.values():
        assert any(name in page for page in pages[1:])


def test_letters_that_are_lacking_are_shown_as_boxes_without_a_warning() -> None:
    result = one_day({"site.name": "农场 north\nfield \u202eevil 🚰", "trees.1.name": "杉"})
    with warnings.catch_warnings():
        warnings.simplefilter("error", UserWarning)
        pages = read(report_pdf(result, system="us"))
    assert f"{MISSING}{MISSING} north field {MISSING}evil {MISSING}" in pages[0]


LONG = {"words": ("a farm of many words " * 60)[:400], "one word": "W" * 400, "dollars": "$" * 399}


@pytest.mark.parametrize("name", LONG.values(), ids=LONG.keys())
def test_nothing_leaves_the_page_or_meets_its_neighbour(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    sheets: list[Sheet] = []
    monkeypatch.setattr(report, "_written", lambda sheet, result: sheets.append(sheet) or b"")
    changes = {"site.name": name, "trees.0.name": name, "wire.0.name": name, "pump.name": name}
    choices = [("Choice", *["gal/day"] * 5), *[(name * 9, *[name[:40]] * 5)] * 20]
    report_pdf(one_day(changes), system="us", choices=choices, account=[("Cause", "lost"), *[(name * 3, "1")] * 12])
    (sheet,) = sheets
    assert 3 <= len(sheet.pages) <= 20
    for page in sheet.pages:
        dots = 300.0  # on a coarser grid hinted letters run wider than those of a PDF
        page.set_dpi(dots)
        FigureCanvasAgg(page)
        boxes = [(text.get_text(), text.get_window_extent()) for text in page.texts if text.get_text()]
        boxes += [("axes", axes.get_tightbbox()) for axes in page.axes]
        for told, box in boxes:
            assert box.x0 >= (MARGIN_IN - 0.05) * dots, told
            assert box.x1 <= (PAGE_IN[0] - MARGIN_IN + 0.12) * dots, told
            assert box.y0 >= 0.4 * dots, told
            assert box.y1 <= (PAGE_IN[1] - MARGIN_IN + 0.08) * dots, told
        for number, (told, box) in enumerate(boxes):
            for other, beside in boxes[number + 1 :]:
                across = min(box.x1, beside.x1) - max(box.x0, beside.x0)
                upward = min(box.y1, beside.y1) - max(box.y0, beside.y0)
                assert across <= 0.01 * dots or upward <= 0.03 * dots, (told, other)


def test_too_many_choices_go_to_the_appendix(plain: Result) -> None:
    choices = [("Choice", "gal/day"), *[(f"choice number {number}", str(number)) for number in range(30)]]
    pages = read(report_pdf(plain, system="us", choices=choices))
    assert "All choices stand in the appendix." in pages[0]
    assert "choice number 29 29" in " ".join(pages[1:])
    few = [("Choice", "gal/day"), ("a choice of many words " * 12, "1"), ("cut the oaks", "2")]
    pages = read(report_pdf(plain, system="us", choices=few))
    assert "cut the oaks 2" in pages[0]
    assert ("a choice of many words " * 12).strip() not in pages[0]  # cut short there, whole in the appendix
    assert "".join(few[1][0].split()) in "".join("".join(pages[1:]).split())


def test_a_danger_stands_before_the_answer() -> None:
    result = one_day({"controller.track_high": "80 V", "controller.max_input": "90 V"})
    assert any(notice.level == "danger" for notice in result.notices)
    front = read(report_pdf(result, system="us"))[0]
    assert front.index("WARNING:") < front.index("The answer")


def test_the_day_asked_for_is_the_one_pictured(demo_year: dict[str, Result]) -> None:
    late = demo_year["delayed"]
    day = day_of(late, dt.date(2031, 6, 10))  # a typical year stands for any
    assert late.times[day * 1440].strftime("%m-%d") == "06-10"
    assert "Flow on 10 June 2025" in read(report_pdf(late, system="us", day=day))[0]


def test_a_day_outside_the_weather_is_refused(plain: Result) -> None:
    with pytest.raises(InputError, match="is not in the weather"):
        day_of(plain, dt.date(2025, 7, 1))


def test_pump_without_water_and_polar_night_make_a_sheet() -> None:
    for changes in ({"source.lift": "400 ft"}, {"site.latitude": 75.0, "site.timezone": "", "trees": []}):
        job = with_overrides(load_job("demo", CLEAR), changes)
        result = simulate(job, first_day=dt.date(2025, 12, 20), last_day=dt.date(2025, 12, 20))
        assert words.headline(result, "si") in read(report_pdf(result, system="si"))[0]


def test_inputs_are_shown_in_the_units_asked_for() -> None:
    job = load_job("demo", [*CLEAR, "weather.daily_swing=10"])
    us, si = dict(input_rows(job, "us")), dict(input_rows(job, "si"))
    assert us["source.lift"] == "130 ft"
    assert si["source.lift"] == "39.62 m"
    assert us["pipes 1.bore"] == "1.36 in"
    assert us["site.longitude"] == "-79.95°"
    assert us["source.specific_capacity"].endswith("m³/s per m")
    assert us["weather.daily_swing"] == "10 °C"
    assert us["weather.clear_sky"] == "yes"


def test_lines_are_as_wide_as_measured() -> None:
    """Against matplotlib's own layout, and every line of a paragraph within its room."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8, 2), dpi=100)
    for bold in (False, True):
        text = figure.text(0, 0.5, "Wide or narrow: mill", fontsize=20, weight="bold" if bold else "normal")
        FigureCanvasAgg(figure).draw()
        measured = width_in("Wide or narrow: mill", size_pt=20, bold=bold)
        assert text.get_window_extent().width / 100 == pytest.approx(measured, rel=0.03)
    lines = wrapped("one two three four five 24.7 % six seven " * 5 + "x" * 300, size_pt=9, room_in=1.5)
    assert all(width_in(line, size_pt=9) <= 1.5 for line in lines)
    assert "".join(lines).count("x") >= 300
    assert not any(line.startswith("%") for line in lines)
    short = shortened("a long name " * 20, size_pt=9, room_in=1.5)
    assert short.endswith("…")
    assert 1.2 < width_in(short, size_pt=9) <= 1.5
    assert printable("tab\tend\x00\ud800") == f"tab end {MISSING}"


def test_the_command_writes_the_sheet(tmp_path: Path) -> None:
    target = tmp_path / "sheet.pdf"
    words = ["report", "demo", "-o", str(target), "--quick", "--units", "si", "--date", "2025-06-10"]
    outcome = CliRunner().invoke(app, words)
    assert outcome.exit_code == 0, outcome.output
    pages = read(target.read_bytes())
    said = " ".join(outcome.output.split())
    headline = re.search(r"this pump lifts about [\d.,]+ m³/day", said)
    assert headline is not None
    assert headline[0] in pages[0]
    assert "Flow on 10 June 2025" in pages[0]
    assert [path.name for path in tmp_path.iterdir()] == ["sheet.pdf"]


def test_the_command_tells_faults_and_writes_nothing(tmp_path: Path) -> None:
    missing = tmp_path / "none" / "sheet.pdf"
    outcome = CliRunner().invoke(app, ["report", "demo", "-o", str(missing), "--set", "array.in_series=-1"])
    assert outcome.exit_code == 2
    assert "array.in_series" in outcome.output
    assert not missing.parent.exists()
