"""Public functions of the physics and the simulation say what goes in, every parameter, and what comes out; and what
docstrings and the contributors' page name is there."""

from __future__ import annotations

import ast
import inspect
import re
from collections.abc import Callable, Iterator
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

import trackersim

ROOMS = ("sky", "rack", "power", "water", "simulation")


def public_functions() -> list[Callable[..., Any]]:
    found = []
    for room in ROOMS:
        for path in sorted((Path(trackersim.__file__).parent / room).glob("[!_]*.py")):
            module = import_module(f"trackersim.{room}.{path.stem}")
            own = (each for each in vars(module).values() if inspect.isfunction(each))
            found += [each for each in own if each.__module__ == module.__name__ and not each.__name__.startswith("_")]
    return found


def entries(section: str, docstring: str) -> dict[str, str]:
    """Name and words of each entry in a section of a docstring; `docstring` as `inspect.getdoc` gives it."""
    found = re.search(rf"^{section}\n-+\n(.*?)(?=\n\n\w+\n-+\n|\Z)", docstring, re.MULTILINE | re.DOTALL)
    blocks = re.split(r"\n(?=\S)", found[1].strip("\n")) if found else []
    parts = [block.partition("\n") for block in blocks]
    return {head.partition(" : ")[0]: " ".join(words.split()) for head, _, words in parts}


@pytest.mark.parametrize("function", public_functions(), ids=lambda each: f"{each.__module__}.{each.__name__}")
def test_every_parameter_and_what_is_returned_is_documented(function: Callable[..., Any]) -> None:
    told = inspect.getdoc(function) or ""
    described = entries("Parameters", told)
    assert list(described) == list(inspect.signature(function).parameters)
    assert all(described.values()), described
    returned = entries("Returns", told)
    assert len(returned) == 1
    assert all(returned.values())


def test_the_rooms_have_functions_to_look_at() -> None:
    assert len(public_functions()) > 50


def test_an_undocumented_parameter_would_be_seen() -> None:
    told = "Add.\n\nParameters\n----------\none : float\n    The first.\n\nReturns\n-------\nfloat\n    The sum."
    assert entries("Parameters", told) == {"one": "The first."}
    assert entries("Returns", told) == {"float": "The sum."}


PACKAGE = Path(trackersim.__file__).parent
LIBRARIES = {"download_button", "get_pvgis_horizon", "get_pvgis_tmy", "marion_diffuse"}  # names of other libraries


def names_in(text: str) -> set[str]:
    """Names of more than one word that stand in backticks, apart from their examples of text."""
    quoted = (re.sub(r'"[^"]*"', "", part) for part in re.findall(r"`([^`\n]+)`", text))
    return {name for part in quoted for name in re.findall(r"\b[A-Za-z]+(?:_[A-Za-z0-9]+)+\b", part)}


def texts() -> Iterator[tuple[str, str]]:
    """Every docstring of the package, and the contributors' page, each with where it stands."""
    yield "DEVELOPERS.md", (PACKAGE.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    for path in sorted(PACKAGE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef):
                yield f"{path.name}, {getattr(node, 'name', 'top')}", ast.get_docstring(node) or ""


def test_what_docstrings_name_is_there() -> None:
    """The contributors' page told of a function of the page that was long gone."""
    sources = [path for path in PACKAGE.rglob("*") if path.suffix in (".py", ".js")]
    code = [re.sub(r'(?s)""".*?"""|#[^\n]*', "", path.read_text(encoding="utf-8")) for path in sources]
    files = {path.stem for top in (PACKAGE, PACKAGE.parent / "tests") for path in top.rglob("*")}
    known = {name for text in code for name in re.findall(r"\w+", text)} | files | LIBRARIES
    gone = {where: missing for where, text in texts() if (missing := names_in(text) - known)}
    assert gone == {}


def test_a_name_that_is_gone_would_be_seen() -> None:
    assert names_in('See `old_name(day=1)`, `plain` and `{"a_b": x_y}`.') == {"old_name", "x_y"}
