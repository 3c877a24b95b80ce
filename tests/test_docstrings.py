"""Public functions of the physics and the simulation say what goes in, every parameter, and what comes out."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable
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
