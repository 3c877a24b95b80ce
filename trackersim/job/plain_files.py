"""Reading files that somebody names: only regular ones are opened, and no more of them is read than allowed."""

from __future__ import annotations

import csv
import errno
import os
import stat
from pathlib import Path

from trackersim.errors import InputError

_MOST_LETTERS = 10_000  # of a line of a table


class TooLargeError(OSError):
    """A file holds more than may be read."""


def read_bytes(path: Path, most: int) -> bytes:
    """What a regular file holds, at most `most` bytes.

    A device, a pipe or a socket is refused before a byte is read: it may have no end, or nobody may ever write to it.
    Raises `TooLargeError` for a larger file, and `OSError` or `ValueError` for what cannot be read.
    """
    # Without waiting: a pipe that nobody writes to would hold the opening itself. What is opened is what is looked at.
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with os.fdopen(handle, "rb") as stream:
        mode = os.fstat(handle).st_mode
        if stat.S_ISDIR(mode):
            raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
        if not stat.S_ISREG(mode):
            raise OSError(errno.EINVAL, "it is a device or a pipe and not a file")
        content = stream.read(most + 1)
    if len(content) > most:
        raise TooLargeError(errno.EFBIG, os.strerror(errno.EFBIG))
    return content


def read_text(
    path: Path, *, field: str, value: str, most: int, large: str, unread: str, form: str = "CSV in UTF-8"
) -> str:
    """The text, in UTF-8, of a file that somebody names as `value` in `field`.

    Raises `InputError` with what to do about it: `large` about a file of more than `most` bytes, `unread` about one
    that cannot be read; one that is no text is to be saved in the `form`.
    """
    try:
        return read_bytes(path, most).decode("utf-8-sig")
    except TooLargeError:
        raise InputError.of(field, value, f"is larger than {most / 1e6:g} MB.", large) from None
    except UnicodeDecodeError:
        raise InputError.of(field, value, "is not text in UTF-8.", f"Save it as {form}.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "no such name is possible"
        raise InputError.of(field, value, f"cannot be read ({reason}).", unread) from None


def told_lines(text: str) -> list[tuple[int, str]]:
    """Number and text of each line of a table that has more than empty cells, counted as a spreadsheet counts rows.

    Lines end where an editor ends them: U+2028, a form feed and the like stand within one.
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    return [(number, line) for number, line in enumerate(lines, start=1) if line.strip().strip(' ,;\t"')]


def cells_of(line: str) -> list[str]:
    """The cells of one line of a comma-separated table, each line by itself: no quotation mark swallows the next.

    Of a line longer than any table has, the start.
    """
    return next(csv.reader([line[:_MOST_LETTERS]], skipinitialspace=True), [])
