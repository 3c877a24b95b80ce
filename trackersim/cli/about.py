"""Beside the questions: the page, the guide, and what is installed."""

from __future__ import annotations

import socket
import subprocess
import sys
from importlib.util import find_spec
from ipaddress import IPv4Address
from pathlib import Path
from typing import Annotated

import typer

from trackersim.cli.common import JsonOpt, app, faults_told, print_json, say

_PACKAGE = Path(__file__).parents[1]
_LOOPBACK = "127.0.0.1"


def _version(wanted: bool) -> None:
    if wanted:
        from trackersim import __version__

        typer.echo(f"trackersim {__version__}")
        raise typer.Exit


@app.callback()
def common(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say the version and leave.")
    ] = False,
) -> None:
    """Water lifted by a solar pump on a fixed, ideal-tracking or late-turning passive rack, behind trees."""


def _own_address(address: str) -> str:
    """An address of this machine, as written. Raises `InputError` for any other."""
    from trackersim.errors import InputError

    try:
        asked = IPv4Address(address.strip())
        if asked.is_unspecified:
            raise ValueError(address)
        with socket.socket() as probe:
            probe.bind((str(asked), 0))
    except (ValueError, OSError):
        remedy = "Give four numbers as its network settings show them, such as 192.168.1.20, or leave the option out."
        raise InputError.of("address", address, "is no address of this machine.", remedy) from None
    return str(asked)


@app.command()
def page(
    port: Annotated[int, typer.Option("--port", min=1024, max=65535, help="On this machine, at this port.")] = 8501,
    address: Annotated[
        str, typer.Option("--address", help="This machine's address on a network you trust, for a phone there.")
    ] = _LOOPBACK,
) -> None:
    """The page in a browser, on this machine only unless told otherwise, and without the internet. Ctrl-C ends it."""
    with faults_told():
        here = _own_address(address)
    if find_spec("streamlit") is None:
        typer.echo("The page needs one more package: pip install 'trackersim[page]'", err=True)
        raise typer.Exit(2)
    door = _PACKAGE / "page" / "served.py"
    # A checkout has the page's settings beside its own door, an installed package beside this one.
    if not (door.parent / ".streamlit" / "config.toml").exists() and (_PACKAGE.parent / "app.py").exists():
        door = _PACKAGE.parent / "app.py"
    say(f"The page is at http://{here}:{port} until you press Ctrl-C here.")
    # Its output goes round the console: what is said above must stand first.
    sys.stdout.flush()
    command = [sys.executable, "-m", "streamlit", "run", str(door), "--server.port", str(port)]
    if here != _LOOPBACK:
        typer.echo("Everyone on that network can open it and see what is typed there.", err=True)
        command += ["--server.address", here, "--server.allowedHosts", here]
    try:
        raise typer.Exit(subprocess.run(command, check=False).returncode)
    except KeyboardInterrupt:
        raise typer.Exit(0) from None


@app.command()
def guide(
    chapter: Annotated[str | None, typer.Argument(metavar="CHAPTER", help="Name of a chapter; none: the list.")] = None,
) -> None:
    """The manual: short chapters, offline. Without a name it lists them."""
    from rich.console import Console
    from rich.markdown import Markdown

    from trackersim.guide import chapter_text, chapters

    with faults_told():
        if chapter is None:
            say("Chapters; read one with: trackersim guide NAME")
            for name, title in chapters().items():
                typer.echo(f"  {name:<18} {title}")
            return
        text = chapter_text(chapter)
    if sys.stdout.isatty():
        Console().print(Markdown(text))
    else:
        typer.echo(text, nl=False)  # as it is written: a command broken at a terminal's width could not be copied


@app.command()
def versions(as_json: JsonOpt = False) -> None:
    """What is installed and which data is at hand, for a report of a fault."""
    from trackersim.versions import at_hand

    found = at_hand()
    if as_json:
        print_json(found)
        return
    for part, values in found.items():
        typer.echo(f"{part}:")
        for name, value in values.items():
            typer.echo(f"  {name:<24} {value}")
