"""What runs in the visitor's browser: scripts and styles, each a file of its own."""

from __future__ import annotations

from importlib.resources import files


def text_of(name: str) -> str:
    """The text of one of the files here."""
    return files(__name__).joinpath(name).read_text(encoding="utf-8")
