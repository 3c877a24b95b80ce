"""The examples in docstrings are run. Only modules that have one are imported."""

from __future__ import annotations

import doctest
from importlib import import_module
from pathlib import Path

import pytest

import trackersim

PACKAGE = Path(trackersim.__file__).parent
WITH_EXAMPLES = sorted(
    ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts)
    for path in PACKAGE.rglob("*.py")
    if ">>> " in path.read_text(encoding="utf-8")
)


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_examples_in_docstrings(name: str) -> None:
    ran = doctest.testmod(import_module(name))
    assert ran.attempted > 0
    assert ran.failed == 0
