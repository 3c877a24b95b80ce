"""Below `cli/` nothing speaks of an option of the command line: faults name what was asked for in plain words."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest
from typer.main import get_command

import trackersim
from trackersim.cli import app
from trackersim.cli.common import _OPTIONS

CORE = sorted(
    path
    for path in Path(trackersim.__file__).parent.rglob("*.py")
    if path.relative_to(Path(trackersim.__file__).parent).parts[0] != "cli"
)
FLAG = re.compile(r"(?<![\w-])--[a-z]+")


@pytest.mark.parametrize("path", CORE, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_no_text_of_the_core_names_an_option(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    docs = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef) and node.body
        if isinstance(node.body[0], ast.Expr)
    }
    texts = [
        node.value for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs
    ]  # fmt: skip
    named = [flag for text in texts for flag in FLAG.findall(re.sub(r"var\(--|--st-", "", text))]
    assert not named


def test_every_option_a_fault_is_shown_under_exists() -> None:
    commands = get_command(app).commands.values()  # type: ignore[attr-defined]
    known = {name for command in commands for option in command.params for name in option.opts}
    assert set(_OPTIONS.values()) <= known
