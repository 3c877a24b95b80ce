"""Whose simulation is next: so many work at once in this process, and those of the question asked first go before."""

from __future__ import annotations

import itertools
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from enum import IntEnum


class Rank(IntEnum):
    """Kinds of question: of two that wait, the one of the lower rank is worked on first, whichever was asked first."""

    QUICK = 0
    LONG = 1
    AHEAD = 2


@dataclass(frozen=True, order=True)
class Ticket:
    """The place of a question in the line: by rank, then by when it was asked."""

    rank: Rank
    number: int

    def of_rank(self, rank: Rank) -> Ticket:
        """The same moment in the line of another rank."""
        return replace(self, rank=rank)


class Queue:
    """The queue before a bounded number of places; threads of one question share its ticket."""

    def __init__(self, places: int) -> None:
        self.places = places
        self._free = places
        # Re-entrant, since whoever waits asks in between whether there is still need.
        self._change = threading.Condition(threading.RLock())
        self._numbers = itertools.count()
        self._asking: list[Ticket] = []
        self._waiting: list[Ticket] = []

    def new(self, rank: Rank = Rank.QUICK) -> Ticket:
        """A ticket at the end of its rank."""
        with self._change:
            return Ticket(rank, next(self._numbers))

    def before(self, ticket: Ticket) -> int:
        """How many questions that are being asked come before this ticket."""
        with self._change:
            return len({other for other in self._asking if other < ticket})

    def asks(self, ticket: Ticket) -> bool:
        """Whether the question of this ticket is being asked."""
        with self._change:
            return ticket in self._asking

    @contextmanager
    def asking(self, ticket: Ticket) -> Iterator[None]:
        """While the block runs, the question of this ticket is being asked."""
        with self._change:
            self._asking.append(ticket)
        try:
            yield
        finally:
            with self._change:
                self._asking.remove(ticket)
                self._change.notify_all()

    def wait(self, ticket: Ticket, told: Callable[[int], None], *, every_s: float = 0.5) -> None:
        """Wait until fewer questions come before this ticket than there are places.

        `told` hears how many, now and then; what it raises ends the wait.
        """
        while (count := self.before(ticket)) >= self.places:
            told(count)
            with self._change:
                if self.before(ticket) >= self.places:
                    self._change.wait(every_s)

    @contextmanager
    def place(self, ticket: Ticket, check: Callable[[], None] = lambda: None) -> Iterator[None]:
        """A place among the simulations that run at once; `check` is asked while waiting, and may raise."""
        with self._change:
            self._waiting.append(ticket)
            try:
                while not self._free or min(self._waiting) < ticket:
                    self._change.wait(0.2)
                    check()
                self._free -= 1
            finally:
                self._waiting.remove(ticket)
                self._change.notify_all()
        try:
            yield
        finally:
            with self._change:
                self._free += 1
                self._change.notify_all()


_MINE: ContextVar[Ticket | None] = ContextVar("ticket", default=None)


def current_ticket() -> Ticket | None:
    """The ticket of the question that this thread works on.

    Returns
    -------
    Ticket | None
        None where `holding` gave it none.
    """
    return _MINE.get()


@contextmanager
def holding(ticket: Ticket) -> Iterator[None]:
    """What the block simulates belongs to a question.

    Parameters
    ----------
    ticket : Ticket
        That of the question.

    Returns
    -------
    Iterator[None]
        Nothing; threads that the block starts have the ticket of no question.
    """
    before = _MINE.set(ticket)
    try:
        yield
    finally:
        _MINE.reset(before)
