"""The command line. A plain sentence first, then a table, then the notices; faults go to stderr with exit code 2.

Nothing here loads the engine before a command needs it.
"""

from __future__ import annotations

import errno
import sys

from trackersim.cli import answer, decide, fleet, parts, site  # isort: skip
from trackersim.cli import about  # isort: skip  - last in the list of commands
from trackersim.cli.common import RackChoice, app
from trackersim.cli.streams import leave, prepare
from trackersim.memory import keep_freed, little_looking_for_garbage

_CANNOT_WRITE = (errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EPIPE, errno.EBADF, errno.EFBIG)

__all__ = ["RackChoice", "about", "answer", "app", "decide", "fleet", "main", "parts", "site"]


def main() -> None:
    """Entry point of the `trackersim` command. What cannot be written is told in a sentence, with exit code 1."""
    prepare()
    keep_freed()
    try:
        with little_looking_for_garbage():
            try:
                app()
            finally:
                sys.stdout.flush()
    except OSError as error:
        if error.errno not in _CANNOT_WRITE:
            raise
        leave(f"The answer could not be written ({error.strerror}).")
