"""The command line. A plain sentence first, then a table, then the notices; faults go to stderr with exit code 2.

Nothing here loads the engine before a command needs it.
"""

from __future__ import annotations

from trackersim.cli import answer, decide, parts, site
from trackersim.cli.common import RackChoice, app

__all__ = ["RackChoice", "answer", "app", "decide", "main", "parts", "site"]


def main() -> None:
    """Entry point of the `trackersim` command."""
    app()
