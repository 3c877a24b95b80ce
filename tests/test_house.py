"""Which room may know which: read from the imports of every module, without running any."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "trackersim"
PHYSICS = {"weather", "sky", "rack", "power", "water"}
BELOW = {
    "arrays",
    "constants",
    "errors",
    "units",
    "unit_factors",
    "quantity_text",
    "quantity_reading",
    "quantity_writing",
    "compiled",
    "memory",
    "clock",
    "data",
    "job",
}
# What each room may import beside itself and what lies below all.
MAY: dict[str, set[str]] = {
    "job": BELOW,
    **dict.fromkeys(PHYSICS, PHYSICS | BELOW),
    "simulation": PHYSICS | BELOW | {"__version__"},
    "analysis": PHYSICS | BELOW | {"simulation", "__version__"},
    "report": BELOW | {"simulation", "analysis", "__version__"},
    "page": BELOW | {"simulation", "analysis", "report", "guide", "__version__"},
    "cli": BELOW | {"simulation", "analysis", "report", "weather", "guide", "versions", "__version__"},
}
# What fills a canister depends on the refrigerant: the one fact of physics that a job cannot be checked without.
EXCEPTED = {("trackersim.job.thermal", "trackersim.rack.refrigerant")}


def named() -> Iterator[tuple[str, Path]]:
    """Dotted name and file of every module."""
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
        yield ".".join(parts[:-1] if parts[-1] == "__init__" else parts), path


@cache  # and not while tests are collected, which every worker does
def modules() -> tuple[tuple[str, ast.Module], ...]:
    """Dotted name and syntax tree of every module."""
    return tuple((name, ast.parse(path.read_text(encoding="utf-8"))) for name, path in named())


def imported(tree: ast.Module) -> Iterator[str]:
    """Modules of this package that a module imports, inside functions too, but not those for the type checker alone."""
    for node in _running(tree):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.split(".")[0] == "trackersim":
            yield from (
                f"{node.module}.{alias.name}" if _is_module(f"{node.module}.{alias.name}") else node.module
                for alias in node.names
            )
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name.split(".")[0] == "trackersim")


def _running(node: ast.AST) -> Iterator[ast.AST]:
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test):
            continue
        yield child
        yield from _running(child)


def _is_module(name: str) -> bool:
    path = PACKAGE.parent.joinpath(*name.split("."))
    return path.is_dir() or path.with_suffix(".py").is_file()


@cache
def imports() -> dict[str, set[str]]:
    """What every module imports."""
    return {name: set(imported(tree)) for name, tree in modules()}


def room(name: str) -> str:
    """The room of a module, or the name of one that stands in none."""
    return name.split(".")[1] if "." in name else "__version__"


@pytest.mark.parametrize("name", [name for name, _ in named() if room(name) in MAY])
def test_a_room_knows_only_what_lies_below_it(name: str) -> None:
    allowed = MAY[room(name)] | {room(name)}
    strangers = {other for other in imports()[name] if room(other) not in allowed}
    strangers = {other for other in strangers if (name, other) not in EXCEPTED}
    assert not strangers, f"{name} imports {', '.join(sorted(strangers))}"


def test_no_two_stages_outside_the_simulation() -> None:
    """Only `simulation/` puts the stages together: no other module calls more than one of them."""
    stages = {"make_scene", "scene_at", "track", "generate", "pump"}
    for name, tree in modules():
        if room(name) == "simulation":
            continue
        called = {
            node.func.id for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        }
        assert len(called & stages) < 2, f"{name} calls {called & stages}"


def test_no_circle() -> None:
    done: set[str] = set()

    def follow(name: str, way: tuple[str, ...]) -> None:
        assert name not in way, " → ".join((*way[way.index(name) :], name))
        if name in done:
            return
        for other in imports().get(name, ()):
            if other != "trackersim":  # which loads everything on first use only
                follow(other, (*way, name))
        done.add(name)

    for name in imports():
        if name != "trackersim":
            follow(name, ())


def literals(tree: ast.Module) -> Iterator[str]:
    """Texts of a module that are no docstrings."""
    docs = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef) and node.body
        and isinstance(node.body[0], ast.Expr)
    }  # fmt: skip
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs:
            yield node.value


def test_options_of_the_command_line_are_named_there_alone() -> None:
    flags = {
        f"{name}: {text}"
        for name, tree in modules()
        if room(name) not in ("cli", "page")
        for text in literals(tree)
        if any(word.startswith("--") and word.strip("-") for word in text.split())
    }
    assert not flags


def test_no_class_is_defined_twice() -> None:
    homes: dict[str, list[str]] = {}
    for name, tree in modules():
        for node in ast.walk(tree):
            if isinstance(node, ast.ClassDef):
                homes.setdefault(node.name, []).append(name)
    assert {name: where for name, where in homes.items() if len(where) > 1} == {}
