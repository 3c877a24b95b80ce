"""The manual: short chapters in Markdown that come with the package. The tests run every command and every block."""

from __future__ import annotations

from importlib.resources import files

from trackersim.errors import InputError

# In the order of a first season with a pump; chapters not named here come last, by name.
_ORDER = (
    "ten_minutes", "surveying_trees", "watching_mornings", "bucket_test", "the_sheet", "which_rack", "what_is_assumed",
    "watched_rack", "thermal_rack", "from_python", "fleet",
)  # fmt: skip


def chapters() -> dict[str, str]:
    """Names of the chapters in reading order, and their titles."""
    texts = {
        entry.name.removesuffix(".md"): entry.read_text(encoding="utf-8")
        for entry in files(__name__).iterdir()
        if entry.name.endswith(".md")
    }
    names = [*(name for name in _ORDER if name in texts), *sorted(set(texts) - set(_ORDER))]
    return {name: texts[name].lstrip("# ").splitlines()[0] for name in names}


def chapter_text(name: str) -> str:
    """A chapter as Markdown. Raises `InputError` for a name that is none."""
    known = chapters()
    found = name.strip().lower().replace("-", "_").removesuffix(".md")
    if found not in known:
        raise InputError.of("chapter", name, "is no chapter.", f"Chapters: {', '.join(known)}.")
    return files(__name__).joinpath(f"{found}.md").read_text(encoding="utf-8")
