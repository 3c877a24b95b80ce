"""One function of a number worked out by several processes, answers in order.

This process is one of them; it begins at once, while the others still start. They are started afresh (spawn): forking a
process whose libraries have threads is unsafe. They leave Ctrl-C to this one, and go when it goes, however it ends.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from typing import Any, TypeVar

from trackersim.errors import Fault, InputError
from trackersim.memory import keep_freed

T = TypeVar("T")
_Answer = tuple[Any, tuple[Fault, ...]]

# Numbers each other process has at a time: one it works on, one waiting.
_AHEAD = 2
# Memory that a year of minutes takes in a process, with room to spare [bytes].
_NEEDED = 1_000_000_000


@contextmanager
def shared_out(
    work: Callable[[int], T], numbers: Sequence[int], *, workers: int | None = None
) -> Iterator[Iterator[T]]:
    """A function of a number worked out by several processes.

    Parameters
    ----------
    work : Callable[[int], T]
        What is to be done; it must be picklable, and its answers depend on the number alone.
    numbers : Sequence[int]
        What it is done for.
    workers : int | None
        How many processes; None for one for each core at hand. With one it runs in this process.

    Returns
    -------
    Iterator[Iterator[T]]
        The answers in order. What is unfinished when the block ends is given up.
    """
    count = min(workers or cores(), len(numbers))
    if count <= 1:
        yield (work(number) for number in numbers)
        return
    before = set(multiprocessing.active_children())
    pool = ProcessPoolExecutor(count - 1, multiprocessing.get_context("spawn"), initializer=_begin, initargs=(work,))
    try:
        yield _in_order(work, numbers, pool, ahead=_AHEAD * (count - 1))
    finally:
        for process in set(multiprocessing.active_children()) - before:
            process.terminate()
        pool.shutdown(wait=True)


def cores() -> int:
    """Cores at hand, no more than there is memory for.

    Returns
    -------
    int
        At least 1.
    """
    at_hand = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    if not hasattr(os, "sysconf") or "SC_PHYS_PAGES" not in os.sysconf_names:
        return at_hand
    memory = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    return max(1, min(at_hand, memory // _NEEDED))


def _in_order(
    work: Callable[[int], T], numbers: Sequence[int], pool: ProcessPoolExecutor, *, ahead: int
) -> Iterator[T]:
    """Answers in order. Others have at most `ahead` numbers at a time; this process takes the next while it waits."""
    waiting = deque(numbers)
    theirs: dict[int, Future[_Answer]] = {}
    own: dict[int, T] = {}
    for number in numbers:
        while number not in own:
            _hand_out(pool, waiting, theirs, ahead)
            if (number in theirs and theirs[number].done()) or not waiting:
                break
            taken = waiting.popleft()
            own[taken] = work(taken)
        yield own.pop(number) if number in own else _told(work, number, theirs.pop(number))


def _hand_out(pool: ProcessPoolExecutor, waiting: deque[int], theirs: dict[int, Future[_Answer]], ahead: int) -> None:
    """Give the other processes something to do, none if they are gone."""
    busy = sum(not future.done() for future in theirs.values())
    with _without_interrupts():
        while waiting and busy < ahead:
            try:
                theirs[waiting[0]] = pool.submit(_answer, waiting[0])
            except BrokenProcessPool:
                return
            waiting.popleft()
            busy += 1


def _told(work: Callable[[int], T], number: int, future: Future[_Answer]) -> T:
    """What another process found."""
    try:
        answer, faults = future.result()
    except BrokenProcessPool:  # it was killed, or none can be started from here: slower, but surely
        return work(number)
    if faults:
        raise InputError(faults)
    found: T = answer
    return found


_work: Callable[[int], Any] | None = None


def _begin(work: Callable[[int], Any]) -> None:
    global _work
    keep_freed()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_leave_with_parent, daemon=True).start()
    _work = work


def _leave_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _answer(number: int) -> _Answer:
    assert _work is not None
    try:
        return _work(number), ()
    except InputError as error:  # which does not survive pickling
        return None, error.faults


@contextmanager
def _without_interrupts() -> Iterator[None]:
    """Hold Ctrl-C back for a moment, here and in every process started meanwhile (there for good)."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    held = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, held)
