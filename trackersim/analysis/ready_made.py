"""A ready-made option: what it changes in a job, or why it is none there."""

from __future__ import annotations

from dataclasses import dataclass, replace

from trackersim.analysis.loss_terms import Changes
from trackersim.units import show_both


@dataclass(frozen=True, kw_only=True)
class Ready:
    """One ready-made option: its name, what it means, and overrides of the job; or `refused`, why it is none here.

    `presupposes` is what must be so for the figures to hold, and what is not looked at. With a `size` (a value in SI
    and its kind, as `units.show` takes them) `words` have a place for it: {}.
    """

    name: str
    words: str
    presupposes: str = ""
    changes: Changes | None = None
    refused: str = ""
    size: tuple[float, str] | None = None

    @property
    def title(self) -> str:
        """What it is called where nobody has said in which units."""
        return self.words if self.size is None else self.words.format(show_both(*self.size))

    def carried_out(self, changes: Changes) -> Ready:
        """It with its changes of the job."""
        return replace(self, changes=changes)

    def not_here(self, reason: str) -> Ready:
        """It, and why this job cannot have it."""
        return replace(self, refused=reason)
