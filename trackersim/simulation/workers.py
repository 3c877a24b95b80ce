"""Batches of things worked on by several processes or machines; through joblib, which the extra `fleet` has.

`processes.shared_out` is for draws of one job, whose answers are wanted in order and which a program without joblib
must have; here answers come as they are done, workers may sit on other machines, and one that is killed costs no more
than what it worked on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from importlib.util import find_spec
from typing import Any, TypeVar

from trackersim import __version__
from trackersim.errors import InputError
from trackersim.memory import keep_freed

Item = TypeVar("Item")
Done = TypeVar("Done")

# So often a pool may break before what stands first is worked on alone, to find out what breaks it.
_BREAKS = 2
_REMEDY = "pip install 'trackersim[fleet]'"


class LostError(RuntimeError):
    """Every process that worked on something was ended from outside."""


def at_hand(name: str) -> bool:
    """Whether a library of the extra is installed.

    Parameters
    ----------
    name : str
        Name of the library.

    Returns
    -------
    bool
        True where it can be imported.
    """
    return find_spec(name) is not None


def as_done(
    work: Callable[[Sequence[Item]], Sequence[Done]],
    batches: Sequence[Sequence[Item]],
    *,
    processes: int = 1,
    scheduler: str = "",
) -> Iterator[tuple[Item, Done | LostError]]:
    """What `work` finds for each item, batch by batch, as it is done.

    Parameters
    ----------
    work : Callable[[Sequence[Item]], Sequence[Done]]
        Takes a batch and gives one answer an item. Picklable, as items and answers are; answers depend on the item
        alone. What it raises ends the whole.
    batches : Sequence[Sequence[Item]]
        What is to be done; a batch goes to one process.
    processes : int
        Processes on this machine; with 1 all is done in this one.
    scheduler : str
        Address of a Dask scheduler whose workers do it instead; "" for none.

    Returns
    -------
    Iterator[tuple[Item, Done | LostError]]
        Items with their answers, in any order; `LostError` for an item whose process is killed whenever it is tried.

    Raises
    ------
    InputError
        Where joblib or Dask is missing, no scheduler answers, or its workers have another version of this program.
    """
    if processes <= 1 and not scheduler:
        for item in [item for batch in batches for item in batch]:
            yield item, work([item])[0]
        return
    with ExitStack() as stack:
        backend = _dask(stack, scheduler) if scheduler else _local(processes)
        left, breaks = dict(enumerate(batches)), 0
        while left:
            try:
                for number, answers in _round(work, left, backend):
                    yield from zip(left.pop(number), answers, strict=True)
            except _killed():
                breaks += 1
            if left and breaks >= _BREAKS:
                breaks = 0
                suspects = list(left)[: 2 * processes]
                for item in [item for number in suspects for item in left.pop(number)]:
                    yield item, _alone(work, item, backend)


def _round(work: Callable[[Any], Any], left: dict[int, Any], backend: dict[str, Any]) -> Iterator[tuple[int, Any]]:
    from joblib import Parallel, delayed, parallel_config

    with parallel_config(**backend):
        # One task at a time, and few of them ahead: what a killed pool had waiting is lost and done again.
        pool = Parallel(return_as="generator_unordered", batch_size=1, pre_dispatch="2*n_jobs")
        yield from pool(delayed(_numbered)(work, number, batch) for number, batch in list(left.items()))


def _numbered(work: Callable[[Any], Any], number: int, batch: Any) -> tuple[int, Any]:
    keep_freed()
    return number, work(batch)


def _alone(work: Callable[[Any], Any], item: Any, backend: dict[str, Any]) -> Any:
    """The answer for one item with no other beside it."""
    try:
        ((_, (answer,)),) = _round(work, {0: [item]}, backend)
    except _killed():
        return LostError("every process that worked on it was ended from outside")
    return answer


def _local(processes: int) -> dict[str, Any]:
    if not at_hand("joblib"):
        raise InputError.of("processes", processes, "needs joblib, which is not installed.", f"{_REMEDY}, or take 1.")
    return {"backend": "loky", "n_jobs": processes, "inner_max_num_threads": 1}


def _dask(stack: ExitStack, scheduler: str) -> dict[str, Any]:
    if not (at_hand("joblib") and at_hand("distributed")):
        raise InputError.of("dask", scheduler, "needs joblib and Dask, which are not installed.", f"{_REMEDY}.")
    from distributed import Client

    try:
        connect: Any = Client
        client = stack.enter_context(connect(scheduler, timeout=10, set_as_default=False))
    except (OSError, ValueError) as error:
        remedy = "Start one with `dask scheduler` and give its address, tcp://HOST:8786."
        raise InputError.of("dask", scheduler, f"does not answer ({type(error).__name__}).", remedy) from None
    others = {version for version in client.run(_version).values() if version != __version__}
    if others:
        remedy = f"Install trackersim {__version__} on every machine."
        raise InputError.of("dask", scheduler, f"has workers with trackersim {', '.join(sorted(others))}.", remedy)
    return {"backend": "dask", "client": client}


def _version() -> str:
    return __version__


def _killed() -> tuple[type[BaseException], ...]:
    """What the libraries raise when a worker was killed."""
    from joblib.externals.loky.process_executor import BrokenProcessPool

    if not at_hand("distributed"):
        return (BrokenProcessPool,)
    from distributed import KilledWorker

    return BrokenProcessPool, KilledWorker
