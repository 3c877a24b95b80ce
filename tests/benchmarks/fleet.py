"""Sites of a fleet × a year of minutes in one process and in two: core-seconds a site, and memory.

Run by hand: `python tests/benchmarks/fleet.py [SITES]`, 64 by default. Prints one JSON object, which `--keep` keeps for
this version; asserts nothing. Seconds are processor time of this process and of those that it started, so that a busy
machine moves them little; they hold the start of the processes too. Two fleets are timed: neighbours, that share a
place, a weather file and its trees and differ in rack delay, age and lift; and strangers, each a tenth of a degree from
the last.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # before numpy is loaded, as `trackersim fleet` does

import resource  # noqa: E402

import keeping  # noqa: E402

from trackersim.analysis.finished_sites import FinishedSites  # noqa: E402
from trackersim.analysis.fleet import FleetProgress, fleet_of  # noqa: E402
from trackersim.job.files import load_job  # noqa: E402
from trackersim.job.fleet_sites import FleetSite  # noqa: E402
from trackersim.memory import keep_freed  # noqa: E402


def neighbours(count: int) -> list[FleetSite]:
    """Sites on one ridge."""
    return [_site(n, f"rack.flip_delay={60 + n}", f"array.age_years={n % 30}", f"source.lift={100 + n} ft")
            for n in range(count)]  # fmt: skip


def strangers(count: int) -> list[FleetSite]:
    """Sites with a sun and clouds of their own, from one weather file."""
    return [_site(n, f"site.latitude={36 + n % 8 / 10}", f"site.longitude={-80 - n // 8 / 10}") for n in range(count)]


def _site(number: int, *changes: str) -> FleetSite:
    return FleetSite(source=f"site {number}", job=load_job("demo", [f"site.name=site {number}", *changes]))


def core_seconds() -> float:
    """Processor time of this process and of its children that have ended."""
    return sum(
        used.ru_utime + used.ru_stime
        for used in map(resource.getrusage, (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    )


def peak_mb(who: int = resource.RUSAGE_SELF) -> float:
    """Largest resident memory so far."""
    return resource.getrusage(who).ru_maxrss / 1e3


def timed(sites: list[FleetSite], processes: int) -> dict[str, float]:
    """One fleet; memory after the first quarter of the sites and at the end says whether it grows."""
    memory: list[float] = []

    def told(progress: FleetProgress) -> None:
        memory.append(peak_mb())

    begun = core_seconds()
    with tempfile.TemporaryDirectory() as folder, FinishedSites.beside(Path(folder) / "fleet.csv") as finished:
        found = fleet_of(sites, processes=processes, finished=finished, progress=told)
        if processes > 1:
            from joblib.externals.loky import get_reusable_executor

            get_reusable_executor().shutdown(wait=True)  # children count only once they have ended
    assert not found.failed, found.failed[0]
    return {
        "core_s_a_site": round((core_seconds() - begun) / len(sites), 3),
        "peak_mb_after_a_quarter": round(memory[len(memory) // 4]),
        "peak_mb": round(memory[-1]),
        "peak_mb_of_a_child": round(peak_mb(resource.RUSAGE_CHILDREN)),
    }


def measured(count: int) -> dict[str, object]:
    """Both fleets, of so many sites each."""
    keep_freed()  # as `trackersim fleet` does
    return {
        "sites": count,
        "neighbours, 1 process": timed(neighbours(count), 1),
        "neighbours, 2 processes": timed(neighbours(count), 2),
        "strangers, 1 process": timed(strangers(count), 1),
    }


def main() -> None:
    """Measure, print, and keep if asked."""
    parser = keeping.arguments("Core-seconds a site of a fleet, and memory.")
    parser.add_argument("sites", type=int, nargs="?", default=64, help="sites a fleet (64)")
    asked = parser.parse_args()
    keeping.tell("fleet", lambda: measured(asked.sites), keep=asked.keep, again=asked.again)


if __name__ == "__main__":
    main()
