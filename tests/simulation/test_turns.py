"""The line before the places in which simulations run: who is next, and what those who wait are told."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

import pytest

from trackersim.simulation.turns import Rank, Turn, Turns, current_turn, taking


def until(true: Callable[[], bool]) -> None:
    """Wait for something that another thread does."""
    end = time.monotonic() + 10
    while not true():
        assert time.monotonic() < end
        time.sleep(0.002)


def order_of(turns: Turns, asked: list[Turn]) -> list[Turn]:
    """The order in which these, which come one after the other while the only place is taken, are worked on."""
    worked: list[Turn] = []

    def work(turn: Turn) -> None:
        with turns.place(turn):
            worked.append(turn)

    threads = []
    with turns.place(turns.new()):
        for turn in asked:
            threads.append(threading.Thread(target=work, args=(turn,)))
            threads[-1].start()
            until(lambda: len(turns._waiting) == len(threads))
    for thread in threads:
        thread.join(10)
    return worked


def test_who_asked_first_is_worked_on_first() -> None:
    turns = Turns(1)
    first, second, third = turns.new(), turns.new(), turns.new()
    assert order_of(turns, [third, first, second, first]) == [first, first, second, third]


def test_long_questions_wait_for_quick_ones_and_what_is_ahead_for_both() -> None:
    turns = Turns(1)
    ahead, long, quick = turns.new(Rank.AHEAD), turns.new(Rank.LONG), turns.new(Rank.QUICK)
    assert order_of(turns, [ahead, long, quick]) == [quick, long, ahead]
    assert order_of(turns, [quick.of_rank(Rank.LONG), long]) == [long, quick.of_rank(Rank.LONG)]


def test_no_more_at_once_than_there_are_places() -> None:
    turns, at_once, most, lock = Turns(2), 0, 0, threading.Lock()

    def work() -> None:
        nonlocal at_once, most
        with turns.place(turns.new()):
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
    turns, heard, done = Turns(2), [], threading.Event()
    first, second, third, last = (turns.new() for _ in range(4))

    def wait() -> None:
        turns.wait(last, heard.append, every_s=0.01)
        done.set()

    with turns.asking(first), turns.asking(second):
        with turns.asking(third), turns.asking(third):  # two threads of one question are one
            thread = threading.Thread(target=wait)
            thread.start()
            until(lambda: 3 in heard)
        until(lambda: 2 in heard)
        assert not done.is_set()
    thread.join(10)
    assert done.is_set()
    assert sorted(set(heard)) == [2, 3]


def test_whoever_came_later_is_not_waited_for() -> None:
    turns = Turns(1)
    first, later = turns.new(), turns.new()
    with turns.asking(later):
        turns.wait(first, lambda others: pytest.fail(f"{others} before the first"))
    with turns.asking(first.of_rank(Rank.LONG)):
        turns.wait(later, lambda others: pytest.fail(f"{others} long ones before a quick one"))


def test_who_leaves_while_waiting_is_waited_for_no_more() -> None:
    """A visitor who closes the page while waiting: what tells the page raises."""
    turns, first, second = Turns(1), Turn(Rank.QUICK, 0), Turn(Rank.QUICK, 1)

    def gone(others: int) -> None:
        raise InterruptedError

    with turns.asking(first):
        with pytest.raises(InterruptedError), turns.asking(second):
            turns.wait(second, gone)
        assert not turns.asks(second)
    with turns.place(first), pytest.raises(InterruptedError), turns.place(second, lambda: gone(1)):
        pytest.fail("there was no place")
    assert order_of(turns, [second]) == [second]


def test_a_thread_works_for_one_question_at_a_time() -> None:
    one, other = Turn(Rank.QUICK, 1), Turn(Rank.LONG, 2)
    with taking(one):
        with taking(other):
            assert current_turn() == other
        assert current_turn() == one
    assert current_turn() is None
