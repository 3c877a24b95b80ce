"""Memory that an array frees is there for the next one, in the processes of this program."""

from __future__ import annotations

import subprocess
import sys

import pytest

# Arrays of a few megabytes, one after the other; prints the pages that the machine had to clear for the last of them.
ARRAYS = """
import resource
import numpy as np
%s
def pages():
    before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
    for _ in range(50):
        arrays = [np.ones(525_600) for _ in range(10)]
        del arrays
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before
pages()
kept = pages()
%s
print(kept, pages())
"""


def cleared(before: str, between: str = "") -> list[int]:
    run = subprocess.run(
        [sys.executable, "-c", ARRAYS % (before, between)], capture_output=True, text=True, timeout=60, check=True
    )
    return [int(number) for number in run.stdout.split()]


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="the C library of Linux is the one that is told")
def test_pages_are_cleared_once() -> None:
    from trackersim.memory import _of_the_c_library

    if _of_the_c_library("mallopt") is None:
        pytest.skip("another C library")
    kept, again = cleared("from trackersim.memory import give_back, keep_freed\nkeep_freed()", "give_back()")
    assert kept < 100
    assert again > 100  # what was given back is cleared once more


def test_the_command_line_keeps_and_does_not_look_for_garbage_as_it_ends() -> None:
    code = (
        "import gc, sys\nfrom trackersim import memory\nfrom trackersim.cli import main\n"
        "sys.argv = ['trackersim', '--version']\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "print(memory.keep_freed.cache_info().currsize, gc.get_freeze_count())\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    kept, left_out = map(int, run.stdout.split()[-2:])
    assert kept == 1
    assert left_out > 10_000
