"""Where the files that a job names may lie."""

from __future__ import annotations

from pathlib import Path


class ClosedFolder(type(Path())):  # type: ignore[misc]  # pathlib makes the class of a path by the machine
    """A folder for jobs of strangers: such a job may name files that lie in it by their names, and no others."""

    @staticmethod
    def holds(name: str) -> bool:
        """Whether `name` is that of a file in the folder itself, and no way out of it."""
        return (
            bool(name) and name.isprintable() and Path(name).name == name and name[0] not in "~." and "\\" not in name
        )


def path_in(folder: Path, name: str) -> Path | None:
    """The path of a file that a job in `folder` names; None where it may not name it, or no such name is possible.

    A relative name starts at the folder; "~" is the home folder.
    """
    if isinstance(folder, ClosedFolder):
        return Path(folder) / name if folder.holds(name) else None
    try:
        path = Path(name).expanduser()
    except RuntimeError:
        path = Path(name)  # "~someone" without such a home folder is just a file name that will not be found
    return path if path.is_absolute() else folder / path
