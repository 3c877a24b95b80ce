"""The page's simulations, each kept under one key: the hash of everything it depends on."""

from __future__ import annotations

import datetime as dt
from collections import OrderedDict
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from functools import partial
from threading import Lock
from typing import Any, NamedTuple

import streamlit as st

from trackersim.analysis.comparison import Comparison, compare_racks
from trackersim.analysis.first_look import DaysOf, FirstLook, days_of, first_look
from trackersim.analysis.losses import Losses, SiteLosses, losses_of, site_losses
from trackersim.analysis.morning import Morning, explain_morning
from trackersim.analysis.options import Options, options_of, repriced, without_prices
from trackersim.analysis.tree_shading import Shade, shade_of
from trackersim.job.files import with_overrides
from trackersim.job.fingerprint import fingerprint
from trackersim.job.model import Job
from trackersim.memory import give_back, keep_freed, leave_out_what_is_loaded
from trackersim.page.ahead import Ahead, DialTable
from trackersim.simulation.result import Result
from trackersim.simulation.reuse import StageCache
from trackersim.simulation.runner import QUEUE, Runner
from trackersim.simulation.tickets import Rank, Ticket, current_ticket, holding

Bar = Callable[[str, float], None]


# What is kept of stages and large answers, of all visitors together [bytes of arrays]. One job on every kind of rack
# takes 540 MB.
MOST_BYTES = 600_000_000
_LONG_ANSWERS_BYTES = 40_000_000


class Kept:
    """The last few answers under their keys, shared by all visitors; they are read only, and small.

    Streamlit's own caches record what is drawn while they fill, so a progress bar could not be told anything there.
    """

    def __init__(self, most: int) -> None:
        self._most, self._lock = most, Lock()
        self._answers: OrderedDict[str, Any] = OrderedDict()

    def has(self, key: str) -> bool:
        """Whether there is an answer under `key`."""
        with self._lock:
            return key in self._answers

    def get(self, key: str, work: Callable[[], Any]) -> Any:
        """The answer under `key`, worked out if it is not there."""
        with self._lock:
            if key in self._answers:
                self._answers.move_to_end(key)
                return self._answers[key]
        with asked():
            answer = work()
        self.put(key, answer)
        return answer

    def put(self, key: str, answer: Any) -> None:
        """Keep an answer."""
        with self._lock:
            self._answers[key] = answer
            while len(self._answers) > self._most:
                self._answers.popitem(last=False)


@st.cache_resource
def kept(kind: str, most: int) -> Kept:
    """The store of one kind of answer that holds no year of minutes."""
    return Kept(most)


def key_of(job: Job) -> str:
    """The key of all that is told of a job: its canonical text, and the bytes of the files it names.

    Two visitors may bring different files of the same name.
    """
    return fingerprint(job, remedy='Bring it again under "Files".')


def water_key_of(job: Job) -> str:
    """The key of all that moves a job's water: what is worked out once serves every name and every price."""
    return key_of(job.of_water)


@st.cache_resource
def long_answers() -> StageCache:
    """Answers that took long, of all visitors together. They hold days and no minutes: hundreds of them have room."""
    return StageCache(_LONG_ANSWERS_BYTES)


@st.cache_resource
def stages() -> StageCache:
    """What simulations of all visitors have worked out."""
    return StageCache(MOST_BYTES)


def runner_of(job: Job) -> Runner:
    """A runner of the job over its whole weather, with the stages that all visitors share.

    Raises `InputError` where a file that was brought is gone.
    """
    key_of(job)
    return Runner(job, cache=stages())


class Standing(NamedTuple):
    """Where a visitor stands in the queue, and what tells it on the page."""

    ticket: Ticket
    tell: Callable[[str], None]


_STANDING: ContextVar[Standing | None] = ContextVar("standing", default=None)


def queue_up(tell: Callable[[str], None]) -> None:
    """From here on this run of the page has its ticket; `tell` hears words while it waits, and "" once it does not.

    All that one run of the page asks has this one ticket, so that nobody goes to the end of the queue again half-way.
    """
    _STANDING.set(Standing(QUEUE.new(), tell))


@contextmanager
def asked(rank: Rank = Rank.QUICK) -> Iterator[None]:
    """Wait until this visitor is served. What is worked out ahead rests meanwhile."""
    standing = _STANDING.get() or Standing(QUEUE.new(), lambda words: None)
    ticket = standing.ticket.of_rank(rank)
    if (mine := current_ticket()) is not None and QUEUE.asks(mine):  # part of a question that is worked on already
        yield
        return
    with QUEUE.asking(ticket), holding(ticket):
        told = False

        def tell(others: int) -> None:
            nonlocal told
            told = True
            standing.tell(queue_words(others))

        QUEUE.wait(ticket, tell)
        if told:
            standing.tell("")
        keep_freed()
        try:
            yield
        finally:
            leave_out_what_is_loaded()
            give_back()


def queue_words(others: int) -> str:
    """What a visitor reads who waits for others."""
    return "1 other is being worked out first." if others == 1 else f"{others} others are being worked out first."


def busy() -> bool:
    """Whether a visitor waits for an answer."""
    return QUEUE.before(Ticket(Rank.AHEAD, 0)) > 0


def own_year(job: Job) -> Result:
    """The job on its own rack."""
    with asked():
        return runner_of(job).run()


def days_given(jobs: Sequence[Job]) -> list[DaysOf]:
    """What each of some jobs gave on its days. Their minutes are not kept."""
    found, keys = kept("days", 400), [water_key_of(job) for job in jobs]
    missing = {key: job for key, job in zip(keys, jobs, strict=True) if not found.has(key)}
    if missing:
        with asked():
            given = runner_of(jobs[0]).of_each(list(missing.values()), days_of)
        for key, days in zip(missing, given, strict=True):
            found.put(key, days)
    # Should one be forgotten in between, it is worked out again.
    return [found.get(key, partial(_own_days, job)) for key, job in zip(keys, jobs, strict=True)]


def _own_days(job: Job) -> DaysOf:
    return days_of(own_year(job))


def first_look_of(job: Job) -> FirstLook:
    """What is seen of a job first."""
    found: FirstLook = kept("first look", 200).get(water_key_of(job), lambda: first_look(job, days_given))
    return found


@st.cache_resource
def ahead() -> Ahead:
    """What is worked out before it is asked for."""
    return Ahead(stages(), busy=busy)


def table_of(job: Job) -> DialTable:
    """A job at every position of its dial, as far as it is known; it stands under `water_key_of`."""
    return ahead().table(water_key_of(job), job)


def comparison_of(job: Job, bar: Bar) -> Comparison:
    """The job on every kind of rack, and what trees and the late flip take."""
    return _to_the_end(bar, lambda: compare_racks(job, progress=bar, runner=runner_of(job)))  # type: ignore[no-any-return]


def ideal_year(job: Job) -> Result:
    """The job on a rack that follows the sun at once."""
    return own_year(with_overrides(job, {"rack.kind": "ideal"}))


def site_of(job: Job) -> SiteLosses:
    """What trees and the late flip take from the job."""
    with asked():
        return site_losses(runner_of(job))


def morning_of(job: Job, date: dt.date) -> Morning:
    """One morning of the job."""
    morning: Morning = kept("morning", 4).get(key_of(job) + date.isoformat(), lambda: explain_morning(job, date))
    return morning


def shade_report(job: Job, bar: Bar) -> Shade:
    """What the job's trees do."""
    found: Shade = _long("shade", job.of_water, bar, shade_of)
    return found.of_job(job)


def losses_report(job: Job, bar: Bar) -> Losses:
    """Where the job's water went."""
    found: Losses = _long("losses", job.of_water, bar, losses_of)
    return found.of_job(job)


def options_report(job: Job, bar: Bar) -> Options:
    """What could be done about the job. Only what changes water is simulated: another price is another sum."""
    found: Options = _long("options", without_prices(job), bar, options_of)
    return repriced(found, job)


def _long(kind: str, job: Job, bar: Bar, answer: Callable[..., Any]) -> Any:
    """A long answer: whoever comes back to it, or looks at the same job, has it at once."""
    work = partial(answer, job, progress=bar, runner=runner_of(job))
    return long_answers().get(kind, key_of(job), lambda: _to_the_end(bar, work))


def _to_the_end(bar: Bar, work: Callable[[], Any]) -> Any:
    """What `work` gives, after all that is quick; the bar is gone whether it is told the end or not."""
    try:
        with asked(Rank.LONG):
            return work()
    finally:
        bar("done", 1.0)
