"""Faults in the input (`InputError`) and remarks about unusual input (`Notice`).

Impossible input raises one `InputError` that lists every fault found. Unusual input is simulated and
leaves a `Notice` in the result. Any other exception is a bug and is allowed to surface.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Level = Literal["note", "caution", "danger"]


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One thing wrong with the input, in words the person at the site can act on."""

    field: str
    value: object
    reason: str
    remedy: str

    def __str__(self) -> str:
        if self.value is None:  # nothing was given
            return f"{self.field}: {self.reason} {self.remedy}".rstrip()
        try:
            shown = repr(self.value)
        except ValueError:  # an integer of thousands of digits
            shown = "a very large number"
        except RecursionError:
            shown = "something nested too deeply"
        if len(shown) > 90:
            shown = f"{shown[:30]} … {shown[-55:]}"
        return f"{self.field} = {shown}: {self.reason} {self.remedy}".rstrip()


class InputError(ValueError):
    """Input that cannot be simulated. `faults` holds every fault found, in the order of the job file."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def __reduce__(self) -> tuple[type[InputError], tuple[tuple[Fault, ...]]]:
        """Faults and not their text go from one process to another."""
        return type(self), (self.faults,)

    @classmethod
    def of(cls, field: str, value: object, reason: str, remedy: str) -> InputError:
        """An `InputError` with a single fault."""
        return cls([Fault(field=field, value=value, reason=reason, remedy=remedy)])


def counted(number: int, thing: str) -> str:
    """ "1 gap", "3 gaps"."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


@dataclass(frozen=True, kw_only=True)
class Notice:
    """A remark that belongs to a result: what was assumed, filled, clipped, or looks dangerous."""

    text: str
    field: str = ""
    level: Level = "note"

    def __str__(self) -> str:
        marks = {"note": "Note", "caution": "CAUTION", "danger": "WARNING"}
        return f"{marks[self.level]}: {self.text}"
