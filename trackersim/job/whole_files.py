"""Writing files: each appears whole or not at all, whatever ends the program. All files are written here.

A file is made in a hidden folder beside its place, and moved when it is complete. The folder is locked while its maker
lives, so that the next run can tell one that a killed run has left, and clears it away.
"""

from __future__ import annotations

import errno
import os
import shutil
import stat
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

from trackersim.errors import InputError

try:
    import fcntl
except ImportError:  # a machine without such locks: what a killed run has left stays
    fcntl = None  # type: ignore[assignment]

MARK = ".trackersim-"  # how the name of a hidden folder begins
_TRIES = 5
_MOMENT_S = 0.05
_OTHER_FILE = "Name a file in a folder that exists and is writable."
_OTHER_FOLDER = "Give a folder that exists or can be made."


@contextmanager
def workshop(folder: Path) -> Iterator[Path]:
    """A hidden folder in `folder` to make files in, gone with what is left in it when the block ends.

    Those of killed runs are cleared away first. Raises `OSError` where none can be made.
    """
    _clear(folder)
    work, lock = _opened(folder)
    try:
        yield work
    finally:
        shutil.rmtree(work, ignore_errors=True)
        if lock is not None:
            os.close(lock)


def check_file_place(path: Path) -> None:
    """`InputError` if no file can be written at `path`; asked before an answer is worked out that would be lost."""
    try:
        with workshop(_target(path).parent):
            pass
    except (OSError, ValueError, RuntimeError) as error:
        raise InputError.of("out", str(path), f"cannot be written ({_reason(error)}).", _OTHER_FILE) from None


def check_folder_place(folder: Path) -> None:
    """`InputError` if no files can be written into `folder`, which need not be there yet; nothing is made."""
    try:
        existing = folder.resolve()
        while not existing.exists() and existing != existing.parent:
            existing = existing.parent
        with workshop(existing):
            pass
    except (OSError, ValueError, RuntimeError) as error:
        raise _no_folder(folder, error) from None


def write_whole(path: Path, content: bytes, *, field: str = "path") -> None:
    """Write a file; a link is followed, permissions are kept. Raises `InputError` and changes nothing if it fails."""
    try:
        target = _target(path)
        with workshop(target.parent) as work:
            made = work / "file"
            with made.open("wb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
            if target.exists():
                made.chmod(target.stat().st_mode & 0o777)
            made.replace(target)
    except (OSError, ValueError, RuntimeError) as error:
        raise InputError.of(field, str(path), f"cannot be written ({_reason(error)}).", _OTHER_FILE) from None


def write_all(folder: Path, writers: Mapping[str, Callable[[Path], Any]], *, stale: Sequence[str] = ()) -> list[Path]:
    """Write the named files into `folder` (made if missing) and return their paths, in the order of their names.

    They are moved into place when all are complete; then older files that match a pattern in `stale` are removed, so
    that no file of another run stays among them. Raises `InputError` if that fails.
    """
    with _made(folder) as work:
        try:
            for name in writers:
                _target(folder / name)
            for name, write in writers.items():
                write(work / name)
            older = {path for pattern in stale for path in folder.glob(pattern)} - {folder / name for name in writers}
            paths = [(work / name).replace(folder / name) for name in sorted(writers)]
            for path in older:
                path.unlink()
        except OSError as error:
            reason = f"could not be filled ({_reason(error)}); nothing was changed before the last step."
            raise InputError.of("out", str(folder), reason, "Free some space or choose another folder.") from None
    return paths


@contextmanager
def growing_file(folder: Path, name: str) -> Iterator[Path]:
    """The path of a file that grows while the block runs; when it ends the file takes its `name` in `folder`.

    Until then, and if the block fails, an older file of that name stays. `folder` is made if missing. Raises
    `InputError` where it cannot be written to.
    """
    with _made(folder) as work:
        yield work / name
        try:
            (work / name).replace(folder / name)
        except OSError as error:
            raise _no_folder(folder, error) from None


@contextmanager
def _made(folder: Path) -> Iterator[Path]:
    """A workshop in a folder that is made if it is missing."""
    with ExitStack() as stack:
        try:
            folder.mkdir(parents=True, exist_ok=True)
            work = stack.enter_context(workshop(folder))
        except (OSError, ValueError, RuntimeError) as error:
            raise _no_folder(folder, error) from None
        yield work


def _no_folder(folder: Path, error: Exception) -> InputError:
    return InputError.of("out", str(folder), f"cannot be written to ({_reason(error)}).", _OTHER_FOLDER)


def _reason(error: Exception) -> str:
    return getattr(error, "strerror", None) or "no such name is possible"


def _target(path: Path) -> Path:
    """Where a file that is written to `path` comes to lie. `OSError` where something stands that is no file."""
    target = path.resolve()
    if not target.exists():
        return target
    mode = target.stat().st_mode
    if stat.S_ISDIR(mode):
        raise IsADirectoryError(errno.EISDIR, f"{path.name} is a folder")
    if not stat.S_ISREG(mode):
        # A whole file would take its place: of /dev/null, for one.
        raise OSError(errno.EINVAL, f"{path.name} is a device or a pipe")
    if not os.access(target, os.W_OK):
        raise PermissionError(errno.EACCES, f"{path.name} is write-protected")
    return target


def _opened(folder: Path) -> tuple[Path, int | None]:
    """A new hidden folder and its lock; None where there are no locks."""
    for _ in range(_TRIES):
        work = Path(tempfile.mkdtemp(prefix=MARK, dir=folder))
        lock = _lock(work)
        if lock is None and fcntl is not None:
            time.sleep(_MOMENT_S)  # another run may have taken it for a leftover before it was locked, and removes it
        if work.exists():
            return work, lock
        if lock is not None:
            os.close(lock)
    raise OSError(errno.EAGAIN, os.strerror(errno.EAGAIN))


def _clear(folder: Path) -> None:
    """Remove the hidden folders whose makers are gone."""
    for left in folder.glob(f"{MARK}*"):
        lock = _lock(left)
        if lock is not None:
            shutil.rmtree(left, ignore_errors=True)
            os.close(lock)


def _lock(folder: Path) -> int | None:
    """A lock on a folder that ends with this process however that ends; None where none can be had."""
    if fcntl is None:
        return None
    try:
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
    except OSError:
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(handle)
        return None
    return handle
