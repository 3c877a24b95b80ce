"""The sheet as one web page: the words of the paper, figures inside it, nothing fetched, and nothing read as markup."""

from __future__ import annotations

import base64
import datetime as dt
import re
from collections.abc import Mapping
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from typer.testing import CliRunner

from trackersim import Result, load_job, simulate
from trackersim.cli import app
from trackersim.job.files import with_overrides
from trackersim.report import words
from trackersim.report.customer_sheet import sheet_document
from trackersim.report.safety import cautions
from trackersim.report.web_page import web_page

DAY = dt.date(2025, 3, 20)
CLEAR = ["weather.file=", "weather.clear_sky=true"]
HOSTILE = {
    "site.name": "<script>alert(1)</script> & <b>Ødegård</b> 农场\u202eevil",
    "trees.0.name": '"><img src=x onerror=alert(1)>',
    "wire.0.name": "</style></main><iframe src='https://example.com'>",
    "pump.name": "{{7*7}} ${x} %s '\"",
}
# Elements that have no end.
VOID = {"meta", "img"}


class Read(HTMLParser):
    """A page as a reader of HTML finds it: elements with their attributes, and the text of the body."""

    def __init__(self, data: bytes) -> None:
        super().__init__()
        self.elements: list[tuple[str, Mapping[str, str | None]]] = []
        self.open: list[str] = []
        self.text = ""
        self.feed(data.decode())
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "body" in self.open:
            self.text += f" {data}"

    def of(self, tag: str) -> list[Mapping[str, str | None]]:
        return [attributes for name, attributes in self.elements if name == tag]


def one_day(changes: Mapping[str, Any]) -> Result:
    return simulate(with_overrides(load_job("demo", CLEAR), changes), first_day=DAY, last_day=DAY)


@pytest.fixture(scope="module")
def plain() -> Result:
    return one_day({})


@pytest.fixture(scope="module")
def page(plain: Result) -> Read:
    return Read(web_page(sheet_document(plain, system="us", choices=[("Choice", "gal/day"), ("leave it", "3,160")])))


def test_it_is_whole_and_says_what_the_paper_says(plain: Result, page: Read) -> None:
    assert page.open == []
    said = " ".join(page.text.split())
    assert words.headline(plain, "us") in said
    assert all(caution in said for caution in cautions(plain.job))
    assert plain.provenance.job_sha256 in said
    assert page.of("html") == [{"lang": "en"}]
    assert [tag for tag, _ in page.elements if tag == "h1"] == ["h1"]


def test_a_fixed_rack_s_sheet_tells_of_no_swing() -> None:
    said = Read(web_page(sheet_document(one_day({"rack.kind": "fixed"}), system="us"))).text
    assert "without warning" not in said
    assert "Wells and tanks are confined spaces" in said


def test_its_figures_are_vectors_with_words_that_stand_for_them(page: Read) -> None:
    pictures = page.of("img")
    assert len(pictures) >= 2
    for picture in pictures:
        kind, data = str(picture["src"]).split(",")
        assert kind == "data:image/svg+xml;base64"
        assert ElementTree.fromstring(base64.b64decode(data)).tag.endswith("svg")
        assert len(str(picture["alt"])) > 40


def test_nothing_is_fetched_and_no_script_could_run(plain: Result, page: Read) -> None:
    rule = next(one for one in page.of("meta") if one.get("http-equiv") == "Content-Security-Policy")
    assert str(rule["content"]).startswith("default-src 'none'")
    assert "script" not in str(rule["content"])
    assert not {"script", "link", "iframe", "object", "form", "a"} & {tag for tag, _ in page.elements}
    text = web_page(sheet_document(plain, system="us")).decode()
    assert not re.findall(r"(?:src|href)=[\"'](?!data:)|url\((?!data:)|@import", text)


def test_names_are_text_whatever_they_hold(page: Read) -> None:
    hostile = Read(web_page(sheet_document(one_day(HOSTILE), system="us")))
    assert {tag for tag, _ in hostile.elements} <= {tag for tag, _ in page.elements}
    assert not any(name.startswith("on") for _, attributes in hostile.elements for name in attributes)
    for name in HOSTILE.values():
        assert " ".join(name.replace("\u202e", "□").split()) in " ".join(hostile.text.split())


def test_the_same_result_gives_the_same_bytes(plain: Result) -> None:
    assert web_page(sheet_document(plain, system="si")) == web_page(sheet_document(plain, system="si"))


def test_the_command_line_writes_it_by_the_name_of_the_file(tmp_path: Path) -> None:
    changes = [part for each in CLEAR for part in ("--set", each)]
    told = CliRunner().invoke(app, ["report", "demo", "--quick", "-o", str(tmp_path / "sheet.html"), *changes])
    assert told.exit_code == 0, told.output
    assert "Wrote" in told.stdout
    assert Read((tmp_path / "sheet.html").read_bytes()).of("h1")
