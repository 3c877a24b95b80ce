"""`import trackersim` must be quick: none of the heavy libraries may come with it."""

from __future__ import annotations

import subprocess
import sys

HEAVY = ("matplotlib", "streamlit", "pandas", "pvlib", "scipy", "pint")


def test_importing_the_package_loads_no_heavy_library() -> None:
    code = f"import sys, trackersim; print([name for name in {HEAVY!r} if name in sys.modules])"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    assert run.stdout.strip() == "[]"


def test_reading_a_job_loads_no_library_that_it_can_do_without() -> None:
    code = (
        "import sys\nfrom trackersim import load_job\nload_job('demo')\n"
        "print([name for name in ('matplotlib', 'streamlit', 'pandas', 'pvlib', 'pint') if name in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    assert run.stdout.strip() == "[]"


def test_an_unknown_name_is_an_attribute_error() -> None:
    code = "import trackersim\ntry:\n    trackersim.no_such_name\nexcept AttributeError as error:\n    print(error)"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    assert "no_such_name" in run.stdout


def test_an_answer_in_words_loads_no_figures() -> None:
    code = (
        "import datetime, sys\nfrom trackersim import load_job, simulate\nimport trackersim.report.comparison\n"
        "day = datetime.date(2025, 6, 1)\nsimulate(load_job('demo'), first_day=day, last_day=day)\n"
        "heavy = ('matplotlib', 'streamlit', 'scipy.signal', 'scipy.stats', 'pint')\n"
        "print([name for name in heavy if name in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    assert run.stdout.strip() == "[]"
