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
class Turn:
    """The place of a question in the line: by rank, then by when it was asked."""

    rank: Rank
    number: int

    def of_rank(self, rank: Rank) -> Turn:
        """The same moment in the line of another rank."""
        return replace(self, rank=rank)


class Turns:
    """The line before a bounded number of places; threads of one question share its turn."""

    def __init__(self, places: int) -> None:
        self.places = places
        self._free = places
        # Re-entrant, since whoever waits asks in between whether there is still need.
        self._change = threading.Condition(threading.RLock())
        self._numbers = itertools.count()
        self._asking: list[Turn] = []
        self._waiting: list[Turn] = []

    def new(self, rank: Rank = Rank.QUICK) -> Turn:
        """A turn at the end of its rank."""
        with self._change:
            return Turn(rank, next(self._numbers))

    def before(self, turn: Turn) -> int:
        """How many questions that are being asked come before this turn."""
        with self._change:
            return len({other for other in self._asking if other < turn})

    def asks(self, turn: Turn) -> bool:
        """Whether the question of this turn is being asked."""
        with self._change:
            return turn in self._asking

    @contextmanager
    def asking(self, turn: Turn) -> Iterator[None]:
        """While the block runs, the question of this turn is being asked."""
        with self._change:
            self._asking.append(turn)
        try:
            yield
        finally:
            with self._change:
                self._asking.remove(turn)
                self._change.notify_all()

    def wait(self, turn: Turn, told: Callable[[int], None], *, every_s: float = 0.5) -> None:
        """Wait until fewer questions come before this turn than there are places; `told` hears how many, now and then.

        What `told` raises ends the wait.
        """
        while (count := self.before(turn)) >= self.places:
            told(count)
            with self._change:
                if self.before(turn) >= self.places:
                    self._change.wait(every_s)

    @contextmanager
    def place(self, turn: Turn, check: Callable[[], None] = lambda: None) -> Iterator[None]:
        """A place among the simulations that run at once; `check` is asked while waiting, and may raise."""
        with self._change:
            self._waiting.append(turn)
            try:
                while not self._free or min(self._waiting) < turn:
                    self._change.wait(0.2)
                    check()
                self._free -= 1
            finally:
                self._waiting.remove(turn)
                self._change.notify_all()
        try:
            yield
        finally:
            with self._change:
                self._free += 1
                self._change.notify_all()


_MINE: ContextVar[Turn | None] = ContextVar("turn", default=None)


def current_turn() -> Turn | None:
    """The turn of the question that this thread works on.

    Returns
    -------
    Turn | None
        None where `taking` gave it none.
    """
    return _MINE.get()


@contextmanager
def taking(turn: Turn) -> Iterator[None]:
    """What the block simulates belongs to a question.

    Parameters
    ----------
    turn : Turn
        That of the question.

    Returns
    -------
    Iterator[None]
        Nothing; threads that the block starts have the turn of no question.
    """
    before = _MINE.set(turn)
    try:
        yield
    finally:
        _MINE.reset(before)
