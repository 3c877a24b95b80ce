"""The queue before the places in which simulations run: who is next, and what those who wait are told."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

import pytest

from trackersim.simulation.tickets import Queue, Rank, Ticket, current_ticket, holding


def until(true: Callable[[], bool]) -> None:
    """Wait for something that another thread does."""
    end = time.monotonic() + 10
    while not true():
        assert time.monotonic() < end
        time.sleep(0.002)


def order_of(queue: Queue, asked: list[Ticket]) -> list[Ticket]:
    """The order in which these, which come one after the other while the only place is taken, are worked on."""
    worked: list[Ticket] = []

    def work(ticket: Ticket) -> None:
        with queue.place(ticket):
            worked.append(ticket)

    threads = []
    with queue.place(queue.new()):
        for ticket in asked:
            threads.append(threading.Thread(target=work, args=(ticket,)))
            threads[-1].start()
            until(lambda: len(queue._waiting) == len(threads))
    for thread in threads:
        thread.join(10)
    return worked


def test_who_asked_first_is_worked_on_first() -> None:
    queue = Queue(1)
    first, second, third = queue.new(), queue.new(), queue.new()
    assert order_of(queue, [third, first, second, first]) == [first, first, second, third]


def test_long_questions_wait_for_quick_ones_and_what_is_ahead_for_both() -> None:
    queue = Queue(1)
    ahead, long, quick = queue.new(Rank.AHEAD), queue.new(Rank.LONG), queue.new(Rank.QUICK)
    assert order_of(queue, [ahead, long, quick]) == [quick, long, ahead]
    assert order_of(queue, [quick.of_rank(Rank.LONG), long]) == [long, quick.of_rank(Rank.LONG)]


def test_no_more_at_once_than_there_are_places() -> None:
    queue, at_once, most, lock = Queue(2), 0, 0, threading.Lock()

    def work() -> None:
        nonlocal at_once, most
        with queue.place(queue.new()):
            with lock:
                at_once += 1
                most = max(most, at_once)
            time.sleep(0.01)
            with lock:
                at_once -= 1

    threads = [threading.Thread(target=work) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(10)
    assert most == 2


def test_a_question_waits_until_there_are_places_and_is_told_how_many_come_first() -> None:
    queue, heard, done = Queue(2), [], threading.Event()
    first, second, third, last = (queue.new() for _ in range(4))

    def wait() -> None:
        queue.wait(last, heard.append, every_s=0.01)
        done.set()

    with queue.asking(first), queue.asking(second):
        with queue.asking(third), queue.asking(third):  # two threads of one question are one
            thread = threading.Thread(target=wait)
            thread.start()
            until(lambda: 3 in heard)
        until(lambda: 2 in heard)
        assert not done.is_set()
    thread.join(10)
    assert done.is_set()
    assert sorted(set(heard)) == [2, 3]


def test_whoever_came_later_is_not_waited_for() -> None:
    queue = Queue(1)
    first, later = queue.new(), queue.new()
    with queue.asking(later):
        queue.wait(first, lambda others: pytest.fail(f"{others} before the first"))
    with queue.asking(first.of_rank(Rank.LONG)):
        queue.wait(later, lambda others: pytest.fail(f"{others} long ones before a quick one"))


def test_who_leaves_while_waiting_is_waited_for_no_more() -> None:
    """A visitor who closes the page while waiting: what tells the page raises."""
    queue, first, second = Queue(1), Ticket(Rank.QUICK, 0), Ticket(Rank.QUICK, 1)

    def gone(others: int) -> None:
        raise InterruptedError

    with queue.asking(first):
        with pytest.raises(InterruptedError), queue.asking(second):
            queue.wait(second, gone)
        assert not queue.asks(second)
    with queue.place(first), pytest.raises(InterruptedError), queue.place(second, lambda: gone(1)):
        pytest.fail("there was no place")
    assert order_of(queue, [second]) == [second]


def test_a_thread_works_for_one_question_at_a_time() -> None:
    one, other = Ticket(Rank.QUICK, 1), Ticket(Rank.LONG, 2)
    with holding(one):
        with holding(other):
            assert current_ticket() == other
        assert current_ticket() == one
    assert current_ticket() is None
