"""Version, what is installed, and the way to the page."""

from __future__ import annotations

import json
import subprocess

import pytest
from typer.testing import CliRunner

from trackersim import __version__
from trackersim.cli import about, app


def test_version() -> None:
    told = CliRunner().invoke(app, ["--version"])
    assert (told.exit_code, told.stdout) == (0, f"trackersim {__version__}\n")


def test_versions_name_every_package_and_the_samples() -> None:
    found = json.loads(CliRunner().invoke(app, ["versions", "--json"]).stdout)
    assert found["program"]["trackersim"] == __version__
    assert {"pvlib", "numpy", "pandas", "scipy", "pydantic", "typst"} <= set(found["packages"])
    assert "pytest" not in found["packages"]
    assert found["packages"]["pvlib"][0].isdigit()
    assert all(len(value) == 12 for value in found["samples (SHA-256)"].values())
    assert "pvlib" in CliRunner().invoke(app, ["versions"]).stdout


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """Commands that would have been started."""
    commands: list[list[str]] = []

    def run(words: list[str], *, check: bool) -> subprocess.CompletedProcess[str]:
        commands.append(words)
        return subprocess.CompletedProcess(words, 0)

    monkeypatch.setattr(about.subprocess, "run", run)
    return commands


def test_the_page_is_started_by_streamlit(started: list[list[str]]) -> None:
    told = CliRunner().invoke(app, ["page", "--port", "9012"])
    assert told.exit_code == 0
    assert "127.0.0.1:9012" in told.stdout
    (words,) = started
    assert words[1:4] == ["-m", "streamlit", "run"]
    assert words[4].endswith((".py",))
    assert words[5:] == ["--server.port", "9012"]


def test_the_page_is_shown_to_a_network_at_an_address_of_this_machine_only(started: list[list[str]]) -> None:
    told = CliRunner().invoke(app, ["page", "--address", "127.0.0.2"])  # Linux answers to all of 127/8
    assert told.exit_code == 0
    assert "http://127.0.0.2:8501" in told.stdout
    assert "Everyone on that network" in told.stderr
    assert started.pop()[-4:] == ["--server.address", "127.0.0.2", "--server.allowedHosts", "127.0.0.2"]
    for wrong in ("0.0.0.0", "203.0.113.7", "my phone", ""):
        told = CliRunner().invoke(app, ["page", "--address", wrong])
        assert told.exit_code == 2, wrong
        assert "is no address of this machine" in told.stderr
    assert not started


def test_without_streamlit_the_page_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(about, "find_spec", lambda name: None)
    told = CliRunner().invoke(app, ["page"])
    assert told.exit_code == 2
    assert "pip install 'trackersim[page]'" in told.stderr
