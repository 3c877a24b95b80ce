"""One typeface on page, paper and figures: shipped with its licence; what it lacks comes from elsewhere."""

from __future__ import annotations

import ast
import base64
import datetime as dt
import io
import re
from pathlib import Path

import matplotlib
import pytest
from fontTools.ttLib import TTFont
from matplotlib.figure import Figure
from matplotlib.text import Text
from pypdf import PdfReader

from trackersim import Result, load_job, simulate
from trackersim.job.files import with_overrides
from trackersim.report.customer_sheet import sheet_document
from trackersim.report.figures import day_figure, months_figure
from trackersim.report.lettering import BOLD, FACE_FOLDER, FAMILY, FOR_THE_REST, REGULAR, printable, width_in
from trackersim.report.paper import pdf
from trackersim.report.web_page import web_page

PACKAGE = Path(__file__).parents[2] / "trackersim"
DAY = dt.date(2025, 3, 20)
CLEAR = ["weather.file=", "weather.clear_sky=true"]
# What figures, units and prices are written with, beside ASCII.
OF_FIGURES = "−–°²³×≤≥Ω…·¢½¼¾±≈“”’"
# All else that the program's own words hold and the typeface does not: read from what people type, put in for what no
# letters have, and the guide's formulas.
FROM_ELSEWHERE = set("µ⅛⅜⅝⅞⅔′″⚠□→←\u2011\u200b\u202f\ufffd") | set("εσγρτλ⁴₀")


def shipped(name: str) -> TTFont:
    return TTFont(FACE_FOLDER / f"{name}.ttf")


def own_words() -> set[str]:
    """Characters of everything that the program says: texts in its code, its scripts and its guide."""
    found: set[str] = set()
    for path in PACKAGE.rglob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        alone = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}  # docstrings
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in alone:
                found |= set(node.value)
    for path in (path for end in ("*.js", "*.html", "*.md") for path in PACKAGE.rglob(end)):
        found |= set(path.read_text(encoding="utf-8"))
    return found


@pytest.mark.parametrize("name", [REGULAR, BOLD])
def test_the_program_s_own_words_are_in_the_typeface_or_known_to_be_elsewhere(name: str) -> None:
    known = set(map(chr, shipped(name).getBestCmap()))
    assert set(OF_FIGURES) <= known
    lacking = {character for character in own_words() - known if character.isprintable() or ord(character) > 127}
    assert lacking == FROM_ELSEWHERE
    assert printable("⅔⚠→□εσγρτλ") == "⅔⚠→□εσγρτλ"  # the other letters have them


def test_figures_of_the_typeface_can_stand_one_below_the_other() -> None:
    for name in (REGULAR, BOLD):
        font = shipped(name)
        assert "tnum" in {record.FeatureTag for record in font["GSUB"].table.FeatureList.FeatureRecord}


def test_it_is_small_and_comes_with_its_licence() -> None:
    assert sum(path.stat().st_size for path in FACE_FOLDER.iterdir()) < 250_000
    licence = (FACE_FOLDER / "OFL.txt").read_text(encoding="utf-8")
    assert "SIL OPEN FONT LICENSE Version 1.1" in licence
    assert all(str(shipped(name)["name"].getDebugName(0)) in licence for name in (REGULAR, BOLD))
    assert all(shipped(name)["name"].getDebugName(1) == FAMILY for name in (REGULAR, BOLD))


def test_a_width_is_that_of_the_shipped_letters_and_of_others_where_it_has_none() -> None:
    font = shipped(REGULAR)
    advance = sum(font["hmtx"][font.getBestCmap()[ord(letter)]][0] for letter in "Water")
    # One em is 72 pt, an inch.
    assert width_in("Water", size_pt=72) == pytest.approx(advance / font["head"].unitsPerEm, rel=1e-3)
    assert width_in("Ж", size_pt=72) > 0.5


def one_day(name: str = "Hill farm") -> Result:
    return simulate(with_overrides(load_job("demo", CLEAR), {"site.name": name}), first_day=DAY, last_day=DAY)


def test_the_sheet_is_set_in_it_and_in_other_letters_only_where_it_must() -> None:
    def fonts(name: str) -> set[str]:
        pages = PdfReader(io.BytesIO(pdf(sheet_document(one_day(name), system="us"), paper="letter"))).pages
        named = {str(font.get_object()["/BaseFont"]) for page in pages for font in page["/Resources"]["/Font"].values()}
        return {name.partition("+")[2] for name in named}

    assert fonts("Hill farm") == {REGULAR, BOLD}
    assert fonts("Ферма") - {REGULAR, BOLD} <= {"DejaVuSans", "DejaVuSans-Bold"}
    assert fonts("Ферма") > {REGULAR, BOLD}


def test_every_word_of_a_figure_is_set_in_it_and_matplotlib_s_settings_stay() -> None:
    before = dict(matplotlib.rcParams)
    result = one_day()
    for figure in (months_figure({"delayed": result}, "us"), day_figure({"delayed": result}, "us")):
        figure.savefig(io.BytesIO(), format="png", dpi=20)
        words = [text for text in figure.findobj(Text) if text.get_text()]
        assert len(words) > 15
        assert {tuple(text.get_fontfamily()) for text in words} == {(FAMILY, FOR_THE_REST)}
    assert dict(matplotlib.rcParams) == before
    assert Figure().text(0, 0, "x").get_fontfamily() == list(matplotlib.rcParams["font.family"])


def test_the_sheet_to_send_holds_it_and_pictures_that_need_no_letters() -> None:
    text = web_page(sheet_document(one_day(), system="us")).decode()
    faces = re.findall(r"@font-face \{ font-family: '([^']+)'; font-weight: (\d+); src: url\(data:font/woff2", text)
    assert faces == [(FAMILY, "400"), (FAMILY, "700")]
    pictures = [base64.b64decode(data).decode() for data in re.findall(r"svg\+xml;base64,([^\"]+)", text)]
    assert pictures
    assert not any("<text" in picture for picture in pictures)
    assert len(text) < 400_000
