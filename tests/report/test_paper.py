"""The sheet: the same numbers as the command line, the same bytes twice, names as text, nothing past the page."""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
import io
import os
import re
import socket
import subprocess
import sys
import warnings
from collections.abc import Mapping, Sequence
from importlib.resources import files
from pathlib import Path
from shutil import which
from typing import Any

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from pypdf import PdfReader
from typer.testing import CliRunner

from trackersim import InputError, Result, load_job, simulate
from trackersim.analysis.losses import SiteLosses, site_losses
from trackersim.analysis.morning import day_of
from trackersim.cli import app
from trackersim.errors import Level, Notice
from trackersim.job.files import demo_text, parse_job, with_overrides
from trackersim.report import words
from trackersim.report.alt import months_alt, sky_alt
from trackersim.report.blocks import Block, Caution, Heading, Listing, Note, Picture, Sentence, Table
from trackersim.report.comparison import turning_words
from trackersim.report.customer_sheet import sheet_document
from trackersim.report.lettered_figure import LetteredFigure
from trackersim.report.lettering import MISSING, printable, shortened, width_in
from trackersim.report.paper import Document, FrontBlock, KeyFigures, Lead, PaperSize, Shortened, pdf, usual_paper
from trackersim.report.safety import cautions
from trackersim.report.sheet_inputs import default_words, input_rows
from trackersim.report.site_losses import site_words
from trackersim.report.visit import BLANK, NO_READING, Visit
from trackersim.simulation.runner import Runner
from trackersim.units import System, show

DAY = dt.date(2025, 3, 20)
CLEAR = ["weather.file=", "weather.clear_sky=true"]


def read(data: bytes) -> list[str]:
    """The text of each page on one line."""
    return [on_one_line(page.extract_text()) for page in PdfReader(io.BytesIO(data)).pages]


def on_one_line(text: str) -> str:
    return " ".join(text.replace("\u200b", "").split())


def report_pdf(result: Result, *, system: System, paper: PaperSize | None = None, **more: Any) -> bytes:
    return pdf(sheet_document(result, system=system, **more), paper=paper or usual_paper(system))


def one_day(changes: Mapping[str, Any] | None = None) -> Result:
    return simulate(with_overrides(load_job("demo", CLEAR), changes or {}), first_day=DAY, last_day=DAY)


@pytest.fixture(scope="module")
def plain() -> Result:
    return one_day()


@pytest.fixture(scope="module")
def plain_pdf(plain: Result) -> bytes:
    """Its sheet in US units; setting one takes a second."""
    return report_pdf(plain, system="us")


@pytest.fixture(scope="module")
def site() -> SiteLosses:
    return site_losses(Runner(load_job("demo")))


@pytest.fixture(scope="module")
def whole(demo_year: dict[str, Result], site: SiteLosses) -> bytes:
    others = {kind: demo_year[kind] for kind in ("fixed", "ideal")}
    choices = [("Choice", "gal/day"), ("leave it as it is", "3,160"), ("cut the oaks", "3,300")]
    account = [("Cause", "gal/day"), ("late flip", "−257")]
    return report_pdf(demo_year["delayed"], system="us", others=others, choices=choices, account=account,
                      site=site)  # fmt: skip


def test_the_front_page_gives_the_headline_of_the_command_line(
    whole: bytes, demo_year: dict[str, Result], site: SiteLosses
) -> None:
    front = read(whole)[0]
    late = demo_year["delayed"]
    assert words.headline(late, "us") in front
    average = show(late.water_m3_per_day, "volume_per_day", "us")
    assert f"about {average} on average" in words.headline(late, "us")
    assert f"{average} on an average day" in front
    lost = show(site.late_m3_per_day, "volume_per_day", "us")
    assert f"turning late costs {lost}" in front
    assert f"{lost} lost by turning late" in front
    assert f"{show(site.trees_m3_per_day, 'volume_per_day', 'us')} lost to the trees" in front
    assert site_words(site, "us") in front
    assert f"{lost} lost by turning late" in front
    assert words.flip_words(late) in front
    pair = {"delayed": late, "fixed": demo_year["fixed"], "ideal": demo_year["ideal"]}
    assert turning_words(pair, "delayed", "us") in front
    for caution in cautions(late.job):
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
    for row in words.month_table(late, "us").rows:
        assert " ".join(row) in rest
    for told in ("WITHIN THE LABEL: On the coldest morning", "At full power the pump gives", "late flip −257"):
        assert told in rest
    for field in ("source.lift 130 ft", "array.in_series 4", "pump.curve_flow 0, 4, 8, 12, 16, 20 gpm"):
        assert field in rest
    assert all(f"page {number + 1} of {len(pages)}" in page for number, page in enumerate(pages))


def test_the_same_result_gives_the_same_bytes(plain: Result, plain_pdf: bytes) -> None:
    assert report_pdf(plain, system="us") == plain_pdf


def test_another_process_gives_the_same_bytes(plain_pdf: bytes) -> None:
    """Python seeds the hashes of text anew in every process; nothing of that may reach the file."""
    code = (
        "import datetime as dt, hashlib; from trackersim import load_job, simulate; "
        "from trackersim.report.customer_sheet import sheet_document; from trackersim.report.paper import pdf; "
        "d = dt.date(2025, 3, 20); "
        f"r = simulate(load_job('demo', {CLEAR!r}), first_day=d, last_day=d); "
        "print(hashlib.sha256(pdf(sheet_document(r, system='us'), paper='letter')).hexdigest())"
    )
    run = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", code],
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
        env={**os.environ, "PYTHONHASHSEED": "1"},
    )
    assert run.stdout.strip() == hashlib.sha256(plain_pdf).hexdigest()


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


def read_with_places(data: bytes) -> tuple[list[str], list[list[tuple[float, float]]]]:
    """As `read`, and for every page the point [pt] at which each piece of text begins."""
    texts: list[str] = []
    placed: list[list[tuple[float, float]]] = []
    for page in PdfReader(io.BytesIO(data)).pages:
        places: list[tuple[float, float]] = []

        def seen(text: str, matrix: list[float], at: list[float], font: object, size: float, to: Any = places) -> None:
            if text.strip():
                x, y = at[4], at[5]
                a, b, c, d, e, f = matrix
                to.append((a * x + c * y + e, b * x + d * y + f))

        texts.append(on_one_line(page.extract_text(visitor_text=seen)))
        placed.append(places)
    return texts, placed


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("name", LONG.values(), ids=LONG.keys())
def test_the_front_is_one_page_and_nothing_leaves_it_whatever_the_names(name: str, paper: PaperSize) -> None:
    changes = {"site.name": name, "trees.0.name": name, "wire.0.name": name, "pump.name": name}
    worst = one_day({**changes, "controller.track_high": "80 V", "controller.max_input": "90 V"})
    notices = tuple(Notice(text=f"{number} {name}", level=level) for level in LEVELS for number in range(12))
    worst = dataclasses.replace(worst, notices=(*worst.notices, *notices))
    choices = [("Choice", *[f"gal/day {n}" for n in range(5)]), *[(name * 9, *[name[:40]] * 5)] * 20]
    account = [("Cause", "lost"), *[(name * 3, "1")] * 12]
    data = report_pdf(worst, system="us", choices=choices, account=account, question=name * 3, paper=paper)
    pages, placed = read_with_places(data)
    assert 3 <= len(pages) <= 20
    assert "For the file" not in pages[0]
    assert pages[1].startswith("For the file")
    for caution in cautions(worst.job):
        assert caution in pages[0]
    assert "more in the appendix: read them all." in pages[0]
    width, height = SIZES[paper]
    for places in placed:
        assert places
        assert all(50 <= x <= width - 50 and 30 <= y <= height - 40 for x, y in places)
    if which("pdftotext"):
        for left, right in word_boxes(data):
            assert left >= 53
            assert right <= width - 53


def word_boxes(data: bytes) -> list[tuple[float, float]]:
    """Left and right end [pt] of every word, as another reader of PDF measures them."""
    run = subprocess.run(["pdftotext", "-bbox", "-", "-"], input=data, capture_output=True, check=True)
    return [
        (float(a), float(b)) for a, b in re.findall(r'<word xMin="([-\d.]+)".*? xMax="([-\d.]+)"', run.stdout.decode())
    ]


def test_too_many_choices_go_to_the_appendix(plain: Result) -> None:
    choices = [("Choice", "gal/day"), *[(f"choice number {number}", str(number)) for number in range(30)]]
    pages = read(report_pdf(plain, system="us", choices=choices))
    assert "All choices stand in the appendix; left out here: 22." in pages[0]
    assert "choice number 7 7" in pages[0]
    assert "choice number 8" not in pages[0]
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
    assert (us["source.specific_capacity"], si["source.specific_capacity"]) == ("1.5 gpm per ft", "18.63 L/min per m")
    assert (us["weather.daily_swing"], si["weather.daily_swing"]) == ("18 °F", "10 K")
    assert us["weather.clear_sky"] == "yes"


def test_names_are_cut_to_the_width_measured() -> None:
    """Against matplotlib's own layout."""
    figure = LetteredFigure(figsize=(8, 2), dpi=100)
    for bold in (False, True):
        text = figure.text(0, 0.5, "Wide or narrow: mill", fontsize=20, weight="bold" if bold else "normal")
        FigureCanvasAgg(figure).draw()
        measured = width_in("Wide or narrow: mill", size_pt=20, bold=bold)
        assert text.get_window_extent().width / 100 == pytest.approx(measured, rel=0.03)
    short = shortened("a long name " * 20, size_pt=9, room_in=1.5)
    assert short.endswith("…")
    assert 1.2 < width_in(short, size_pt=9) <= 1.5
    assert printable("tab\tend\x00\ud800") == f"tab end {MISSING}"


def document(*front: FrontBlock, appendix: Sequence[Block] = (), name: str = "A sheet") -> Document:
    return Document(
        title="A title",
        name=name,
        subtitle="A place",
        program="trackersim 0",
        foot="A foot",
        date=DAY,
        front=front,
        appendix_name="For the file",
        appendix=appendix,
    )


def drawn() -> Figure:
    figure = Figure(figsize=(3, 2))
    figure.subplots().plot([0, 1], [0, 1])
    return figure


def tags(data: bytes) -> list[dict[str, Any]]:
    """The structure tree, flat, in reading order."""
    found: list[dict[str, Any]] = []

    def walk(node: Any) -> None:
        node = node.get_object()
        if isinstance(node, list):
            for child in node:
                walk(child)
        elif isinstance(node, dict):
            if "/S" in node:
                found.append(dict(node))
            if "/K" in node:
                walk(node["/K"])

    walk(PdfReader(io.BytesIO(data)).trailer["/Root"]["/StructTreeRoot"]["/K"])
    return found


def test_the_file_is_tagged_for_a_screen_reader(whole: bytes) -> None:
    """ISO 14289-1 (PDF/UA-1), from memory: identifier, Marked, Lang, title displayed, structure."""
    reader = PdfReader(io.BytesIO(whole))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] == True  # noqa: E712, a PDF boolean
    assert str(root["/Lang"]).startswith("en")
    assert root["/ViewerPreferences"]["/DisplayDocTitle"] == True  # noqa: E712
    xmp = root["/Metadata"].get_object().get_data().decode()
    assert re.search(r"<pdfuaid:part>1</pdfuaid:part>", xmp)
    assert reader.metadata is not None
    assert str(reader.metadata.title).startswith("Water from the solar pump, job ")
    found = tags(whole)
    kinds = [str(tag["/S"]) for tag in found]
    for kind in ("/H1", "/H2", "/P", "/Table", "/TR", "/TD", "/L", "/LI", "/Figure"):
        assert kind in kinds, kind
    assert kinds.count("/THead") == kinds.count("/Table") >= 6
    assert kinds.count("/TH") >= 2 * kinds.count("/Table")


def test_pictures_are_vectors_with_their_words(whole: bytes, demo_year: dict[str, Result]) -> None:
    alts = [str(tag["/Alt"]) for tag in tags(whole) if tag["/S"] == "/Figure"]
    shown = {kind: demo_year[kind] for kind in ("delayed", "fixed", "ideal")}
    assert alts == [months_alt(shown, "us"), sky_alt(demo_year["delayed"].job)]
    assert not any(page.images for page in PdfReader(io.BytesIO(whole)).pages)
    assert b"/Subtype /Image" not in whole
    assert b"/Subtype/Image" not in whole


SIZES: dict[PaperSize, tuple[float, float]] = {"letter": (612, 792), "a4": (595.28, 841.89)}  # ANSI Y14.1, ISO 216
LEVELS: tuple[Level, ...] = ("danger", "caution", "note")


@pytest.mark.parametrize(("system", "paper", "size"), [("us", None, "letter"), ("si", None, "a4"), ("us", "a4", "a4")])
def test_paper_goes_with_the_units_unless_asked(
    plain: Result, system: System, paper: PaperSize | None, size: PaperSize
) -> None:
    for page in PdfReader(io.BytesIO(report_pdf(plain, system=system, paper=paper))).pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(SIZES[size], abs=0.5)


def test_every_kind_of_block_is_set_as_text() -> None:
    hostile = '#eval("1") $x$ *_<b>_* "quoted" @ref `raw` // gone /* gone */ \\ ~ -- '
    text = " ".join(hostile.split())
    table = Table(header=(hostile, "b"), rows=((hostile, "1"),), title=hostile)
    blocks: list[Block] = [
        Heading(text=hostile),
        Sentence(text=hostile),
        Note(text=hostile),
        Listing(lines=(hostile,)),
        Listing(lines=(hostile,), numbered=True),
        table,
        Caution(text=hostile),
        Caution(text=hostile, level="caution"),
        Caution(text=hostile, level="danger"),
        Picture(draw=drawn, alt=hostile),
    ]
    data = pdf(document(*blocks, Lead(text=hostile), KeyFigures(figures=((hostile, hostile),))), paper="a4")
    (page,) = read(data)
    assert page.count(text) == 14
    assert [str(tag["/Alt"]).strip() for tag in tags(data) if tag["/S"] == "/Figure"] == [text]


def test_every_character_with_a_shape_can_be_printed() -> None:
    """PDF/UA-1 refuses a character without a glyph, so whatever `printable` lets through must have one in the end."""
    every = "".join(chr(code) for code in range(0x11000) if printable(chr(code)) == chr(code))
    assert len(every) > 5000
    lines = [" ".join(every[start : start + 40]) for start in range(0, len(every), 40)]
    pdf(document(Lead(text=every[:300]), appendix=[Listing(lines=tuple(lines))]), paper="letter")
    for text in (
        "שלום עולם",
        "مرحبا",
        "e\u0301 A\u030a",
        "farm \u202eevil",
        "\ufeffx\u00ady",
        "a\u200bb",
        "1\u20e3",
        "\ufe0f",
    ):
        (page,) = read(pdf(document(Lead(text=text)), paper="letter"))
        assert "A place" in page


def test_the_front_loses_lines_of_what_may_lose_them_and_says_how_many() -> None:
    lines = tuple(f"remark {number} of many words to fill a line of the sheet" for number in range(200))
    front = Shortened(block=Listing(lines=lines), most=150, more="In the appendix: {} more.")
    first, second = read(pdf(document(front, Sentence(text="The end."), appendix=[Note(text="x")]), paper="letter"))
    assert "remark 0 " in first
    assert "The end." in first
    left = re.search(r"In the appendix: (\d+) more\.", first)
    assert left is not None
    assert int(left[1]) == 200 - len(re.findall(r"remark \d+ of", first))
    assert second.startswith("For the file")


def test_a_page_that_holds_everything_is_not_shortened() -> None:
    front = Shortened(block=Listing(lines=("one", "two")), most=2, more="In the appendix: {} more.")
    (page,) = read(pdf(document(front), paper="letter"))
    assert "In the appendix" not in page


def test_the_sheet_is_set_without_a_network(plain: Result, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*args: object, **kwargs: object) -> None:
        raise AssertionError("a connection")

    monkeypatch.setattr(socket.socket, "connect", refused)
    assert report_pdf(plain, system="us").startswith(b"%PDF")
    source = (files("trackersim.report") / "sheet.typ").read_text(encoding="utf-8")
    assert "@" not in source  # a package of typst's would be fetched
    assert "http" not in source


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


def test_a_file_is_named_by_what_it_is(tmp_path: Path) -> None:
    outcome = CliRunner().invoke(app, ["report", "demo", "-o", str(tmp_path / "sheet.doc")])
    assert outcome.exit_code == 2
    assert "neither in .pdf nor in .html" in " ".join(outcome.output.split())
    assert not list(tmp_path.iterdir())


def test_the_visit_stands_on_the_front_with_a_line_to_sign(plain: Result, plain_pdf: bytes) -> None:
    visit = Visit(
        date=dt.date(2025, 5, 4),
        by="the well man",
        readings=("17 gpm at the pipe", "41 V at the controller"),
        findings=("west canister dented",),
        not_checked=("the down-hole wire",),
    )
    front = read(report_pdf(plain, system="us", visit=visit))[0]
    for told in (
        "Date 04 May 2025, looked at by the well man, signature", "17 gpm at the pipe; 41 V at the controller",
        "Findings: west canister dented", "Not checked: the down-hole wire; strength of rack", f"signature {BLANK}",
    ):  # fmt: skip
        assert told in front
    empty = read(plain_pdf)[0]
    assert empty.count(BLANK) == 4  # date, name, findings, signature
    assert NO_READING in empty


def test_a_long_visit_leaves_the_front_one_page(plain: Result) -> None:
    visit = Visit(by="x" * 500, readings=("a reading " * 80,), findings=("finding " * 80,), not_checked=("y " * 400,))
    pages = read(report_pdf(plain, system="us", visit=visit))
    assert "Not checked" in pages[0]
    assert "For the file" in pages[1]


def test_nothing_typed_is_called_a_default() -> None:
    """A field typed with the value that is its default was given."""
    assert parse_job(demo_text()).pump.max_speed == 1.0  # its default, and in the demo's file
    job = parse_job(demo_text(), overrides=["pump.motor_efficiency=80 %", "rack.max_rotation=50"])
    given = {key for key, _ in input_rows(job, "us")}
    assert {"pump.max_speed", "pump.motor_efficiency", "rack.max_rotation", "rack.lag"} <= given
    defaults = default_words(job)
    pump = defaults.partition("pump: ")[2].partition(";")[0].split(", ")
    assert "min_speed" in pump
    assert not {"max_speed", "motor_efficiency"} & set(pump)
    for key in given:
        section, _, field = key.partition(".")
        listed = defaults.partition(f"{section}: ")[2].partition(";")[0].split(", ")
        assert field not in listed, key


@pytest.mark.parametrize("name", ["demo", "sump", "pond", "three_pumps", "thermal_rack", "helical", "tank"])
def test_us_units_throughout(name: str) -> None:
    """No metre, litre, kilogram, kilopascal or degree Celsius in what was given, as many as a job may have."""
    more = ["weather.daily_swing=10", "pipes.rating=700 kPa"] if name == "demo" else []
    path = "demo" if name == "demo" else Path(__file__).parents[1] / "saved_jobs" / f"{name}.toml"
    si = re.compile(r"\d ?(mm²?|m[²³]?|km|cm|L|kg|kPa|°C|K)\b(?!/m²)|m³|L/min")
    for key, value in input_rows(load_job(path, more), "us"):
        assert not si.search(value) or key.endswith("name"), (key, value)


def test_units_of_wells_wire_and_small_lengths() -> None:
    job = load_job("demo", ["pipes.rating=160 psi", "money.price_of_water=6 per 1000 gal", "weather.daily_swing=10"])
    told = dict(input_rows(with_overrides(job, {"wire": [{"length": "50 ft", "area": "33.6 mm**2"}]}), "us"))
    assert told["source.specific_capacity"] == "1.5 gpm per ft"
    assert told["pipes 1.bore"] == "1.36 in"
    assert told["array.layout.gap_across"] == "1 in"
    assert told["pipes 1.rating"] == "160 psi"
    assert told["money.price_of_water"] == "6 per 1000 gal"
    assert told["wire 1.area"] == "66.31 kcmil"
    assert told["weather.daily_swing"] == "18 °F"


def test_the_whole_sheet_in_us_units(plain_pdf: bytes) -> None:
    text = " ".join(read(plain_pdf))
    # A remark does not know its reader and says both, the other in parentheses.
    assert not re.search(r"\d ?(°C|mm|m³|L/min|kPa|kg)\b", re.sub(r"\([-−.,\d]+ [^\s()]+\)", "", text))
