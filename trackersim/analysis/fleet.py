"""Many sites, one question: each site worked out by itself, what fails told in its row, what is done kept."""

from __future__ import annotations

import hashlib
import time
import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, NamedTuple, get_args

import trackersim
from trackersim.analysis.finished_sites import FinishedSites
from trackersim.analysis.fleet_rows import Days, Question, Row, SiteRows, site_rows
from trackersim.errors import InputError
from trackersim.job.fingerprint import fingerprint
from trackersim.job.fleet_sites import FleetSite
from trackersim.job.model import Job
from trackersim.simulation.reuse import StageCache
from trackersim.simulation.workers import LostError, as_done

# Sites that go to a process together: enough to share the work on their place, few enough that a kill costs little.
_BATCH = 8
_WORST = 10  # sites that are named


@dataclass(frozen=True, kw_only=True)
class FleetProgress:
    """Sites done of all, how many of these an earlier run had done, and an estimate of the time left [s].

    `left_s` is None until a site of this run is done.
    """

    done: int
    sites: int
    kept: int
    left_s: float | None


@dataclass(frozen=True, kw_only=True)
class Fleet:
    """A row for each site and for each of its months, in the order in which the sites were given.

    `kept` is how many sites an earlier run had done. A site that failed has a `fault` in its row and no months.
    """

    question: Question
    sites: tuple[Row, ...]
    months: tuple[Row, ...]
    kept: int = 0

    @property
    def failed(self) -> tuple[Row, ...]:
        """Rows of sites that could not be worked out."""
        return tuple(row for row in self.sites if row["fault"])

    @property
    def found(self) -> tuple[Row, ...]:
        """Rows of the others."""
        return tuple(row for row in self.sites if not row["fault"])

    def worst(self) -> tuple[Row, ...]:
        """The ten sites whose rack takes most water, the worst first; none whose rack takes nothing."""
        losing = [row for row in self.found if row["late_m3_per_day"] > 0]
        return tuple(sorted(losing, key=lambda row: -row["late_m3_per_day"])[:_WORST])

    def summary(self) -> dict[str, Any]:
        """Plain data (SI)."""
        return {"question": self.question, "sites": list(self.sites), "months": list(self.months)}


class _Task(NamedTuple):
    """One site on its way to a process: its place in the fleet, its key and its job."""

    number: int
    key: str
    job: Job


def fleet_of(
    sites: Sequence[FleetSite],
    question: Question = "compare",
    *,
    days: Days = (None, None),
    processes: int = 1,
    scheduler: str = "",
    finished: FinishedSites | None = None,
    progress: Callable[[FleetProgress], None] | None = None,
) -> Fleet:
    """One question answered for many sites.

    Parameters
    ----------
    sites
        As `job.fleet_sites` reads them.
    question
        "compare", "losses" or "options".
    days
        First and last day, both included; None: from the weather's first, to its last.
    processes
        Processes on this machine; with 1 all is done in this one.
    scheduler
        Address of a Dask scheduler whose workers do it instead; they must find the files that jobs name at the same
        paths. "" for none.
    finished
        Keeps sites as they are done, and brings those of a run that was killed; None: nothing is kept.
    progress
        Hears how far it is.

    Returns
    -------
    Fleet
        The same for any number of processes.

    Raises
    ------
    InputError
        For another question, and where the processes cannot be had. A site's own faults stand in its row.
    """
    if question not in get_args(Question):
        raise InputError.of("question", question, "is none.", f"A fleet is asked {' or '.join(get_args(Question))}.")
    finished = FinishedSites() if finished is None else finished
    rows: dict[int, SiteRows | str] = {}
    tasks = []
    for number, site in enumerate(sites):
        task = _task_of(number, site, question, days)
        if isinstance(task, str):
            rows[number] = task
        elif task.key in finished.known:
            rows[number] = finished.known[task.key]
        else:
            tasks.append(task)
    kept = sum(isinstance(each, SiteRows) for each in rows.values())
    begun, before = time.monotonic(), len(rows)
    batches = _batches(tasks, processes)

    def tell() -> None:
        if progress is not None:
            here = len(rows) - before
            left_s = (time.monotonic() - begun) / here * (len(sites) - len(rows)) if here else None
            progress(FleetProgress(done=len(rows), sites=len(sites), kept=kept, left_s=left_s))

    tell()
    asked = partial(_answers, question=question, days=days)
    for task, answer in as_done(asked, batches, processes=processes, scheduler=scheduler):
        rows[task.number] = str(answer) if isinstance(answer, LostError) else answer
        if isinstance(answer, SiteRows):
            finished.add(task.key, answer)
        tell()
    return _fleet(sites, question, rows, kept)


def _task_of(number: int, site: FleetSite, question: Question, days: Days) -> _Task | str:
    """A site on its way, or its faults."""
    if site.job is None:
        return _told(InputError(site.faults))
    try:
        told = (trackersim.__version__, question, *map(str, days), fingerprint(site.job))
    except InputError as error:
        return _told(error)
    return _Task(number, hashlib.sha256("\n".join(told).encode()).hexdigest(), site.job)


def _batches(tasks: Sequence[_Task], processes: int) -> list[list[_Task]]:
    """Sites of one place and one weather together, in the order in which places come first."""
    by_place: dict[object, list[_Task]] = {}
    for task in tasks:
        site = task.job.site
        where = (site.latitude_deg, site.longitude_deg, site.elevation_m, site.utc_offset_h)
        by_place.setdefault((task.job.weather, str(task.job.folder), where), []).append(task)
    most = max(1, min(_BATCH, len(tasks) // (2 * processes)))
    return [group[first : first + most] for group in by_place.values() for first in range(0, len(group), most)]


# Of one process: sites of one place follow each other, and so share its weather, sun and trees.
_stages = StageCache()


def _answers(batch: Sequence[_Task], *, question: Question, days: Days) -> list[SiteRows | str]:
    return [_answered(task.job, question, days) for task in batch]


def _answered(job: Job, question: Question, days: Days) -> SiteRows | str:
    """Rows of a site; of one that cannot be worked out its faults in words, so that the others go on."""
    try:
        return site_rows(job, question, days=days, stages=_stages)
    except InputError as error:
        return _told(error)
    except Exception as error:  # a defect of this program ends the one site, not the night's work
        last = traceback.extract_tb(error.__traceback__)[-1]
        return f"A defect of trackersim: {type(error).__name__}: {error} ({last.name}, line {last.lineno})"


def _told(error: InputError) -> str:
    return " ".join(str(fault) for fault in error.faults)


def _fleet(sites: Sequence[FleetSite], question: Question, rows: dict[int, SiteRows | str], kept: int) -> Fleet:
    """Rows in the order of the sites, each with where the site is written and its fault, if any."""
    of_site: list[Row] = []
    of_month: list[Row] = []
    for number, site in enumerate(sites):
        found = rows[number]
        if isinstance(found, str):
            name = "" if site.job is None else site.job.site.name
            of_site.append({"source": site.source, "fault": found, "site": name})
            continue
        of_site.append({"source": site.source, "fault": "", **found.site})
        of_month += [{"source": site.source, **month} for month in found.months]
    return Fleet(question=question, sites=tuple(of_site), months=tuple(of_month), kept=kept)
