"""How fast the page is and how much memory it takes, in a real browser.

`python tests/browser/page_figures.py [--rounds 5] [--idle 0]` prints a small table and JSON, and asserts nothing. Each
figure is the median of the rounds, with the machine's load of the last minute beside it: on a machine that does other
things too, it says more about these. Every round has a job of its own, so that nothing is kept from the one before.

- cold: a server that nobody has visited since it was started; from the address until there is something to read, and
  until the large number is there.
- dial, trees: from the move until the number and the bar have changed, with all answers worked out ahead; the dial also
  with none of them, when the server is asked.
- field: from Enter in a field of the form until the number has changed.
- places: from the click until the place's title is there, and until it has been drawn whole.
- memory: the server and its children at rest, after a walk through all places and details.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from ten_visitors import job_text, resident_mb
from visited_job import open_in
from visiting import CHROMIUM, DETAILS, PATIENCE_MS, PLACES, READY, Server, settled, unfold

_DEEP = "const deep = s => [...document.querySelectorAll('*')].map(e => e.shadowRoot?.querySelector(s)).find(Boolean);"
_MOVED = (
    "async ([selector, event, set]) => {"
    + _DEEP
    + """
  const part = deep(selector), shown = () => deep('.told').textContent + deep('.front .bar').getAttribute('aria-label');
  const before = shown(), began = performance.now();
  if (set === null) part.checked = true; else part.value = set;
  part.dispatchEvent(new Event(event));
  while (shown() === before && performance.now() - began < 60000) await new Promise(requestAnimationFrame);
  return performance.now() - began;
}"""
)


class Figures:
    """What was measured, by name, with the load while it was."""

    def __init__(self) -> None:
        self.measured: dict[str, list[float]] = defaultdict(list)
        self.loads: dict[str, list[float]] = defaultdict(list)

    def add(self, name: str, value: float) -> None:
        """One measurement."""
        self.measured[name].append(value)
        self.loads[name].append(os.getloadavg()[0])

    def rows(self) -> list[dict[str, Any]]:
        """Each figure's median, its least and most, and the load."""
        return [
            {
                "figure": name,
                "median": round(statistics.median(values), 3),
                "least": round(min(values), 3),
                "most": round(max(values), 3),
                "rounds": len(values),
                "load": round(statistics.median(self.loads[name]), 1),
            }
            for name, values in self.measured.items()
        ]


@contextmanager
def timed(figures: Figures, name: str) -> Iterator[None]:
    """Measure the block [s]."""
    began = time.perf_counter()
    yield
    figures.add(name, time.perf_counter() - began)


@contextmanager
def serving() -> Iterator[Server]:
    """A server that nobody has visited."""
    server = Server()
    server.start()
    try:
        yield server
    finally:
        server.stop()


def cold(browser: Any, figures: Figures) -> None:
    """The first visit of a server."""
    with serving() as server:
        page = browser.new_context(viewport={"width": 1280, "height": 800}).new_page()
        began = time.perf_counter()
        page.goto(server.url, wait_until="commit")
        page.wait_for_function("() => document.body && document.body.innerText.trim() !== ''", timeout=PATIENCE_MS)
        figures.add("cold: something to read [s]", time.perf_counter() - began)
        page.locator(".front .cost").wait_for(timeout=PATIENCE_MS)
        figures.add("cold: first number [s]", time.perf_counter() - began)
        page.context.close()


def moves(page: Any, figures: Figures, number: int) -> None:
    """Dial, trees and a field of the form, on a job that is open on the first screen with its form."""
    ask = ["#dial", "change", 140 + 5 * number]
    # Before there is a table the dial asks the server; `input` moves it, `change` sends it.
    if page.evaluate("() => !window.trackersimHub?.table || Object.keys(window.trackersimHub.table.rows).length < 3"):
        figures.add("dial: number, nothing worked out ahead [s]", page.evaluate(_MOVED, ask) / 1000)
        settled(page)
    page.wait_for_function(
        "() => window.trackersimHub?.table && Object.values(window.trackersimHub.table.rows).length === 3"
        " && Object.values(window.trackersimHub.table.rows).every(row => row.length >= 13)",
        timeout=10 * PATIENCE_MS,
    )
    figures.add("dial: number and bar [s]", page.evaluate(_MOVED, ["#dial", "input", 205 + 5 * number]) / 1000)
    figures.add("trees none: number and bar [s]", page.evaluate(_MOVED, ["input[value=none]", "change", None]) / 1000)
    settled(page)
    unfold(page, "Water")
    field = page.get_by_role("textbox", name="Height from standing water")
    field.fill(f"{91 + number} ft")
    before = page.locator(".told").inner_text()
    began = time.perf_counter()
    field.press("Enter")
    page.wait_for_function("before => {" + _DEEP + "return deep('.told').innerText !== before;}", arg=before)
    figures.add("field: number [s]", time.perf_counter() - began)
    settled(page)


def walk(page: Any, figures: Figures) -> None:
    """Every place and every detail of the answer, for the first time with this job."""
    worst = title_worst = 0.0
    for name in PLACES[1:]:
        began = time.perf_counter()
        page.locator(".st-key-top").get_by_role("link", name=name, exact=True).click()
        at = f".st-key-at_{name.lower().replace(' ', '-')}"
        page.locator(f"{at} h1").wait_for(state="attached", timeout=PATIENCE_MS)
        titled = time.perf_counter() - began
        page.wait_for_selector(READY, timeout=PATIENCE_MS)
        drawn = time.perf_counter() - began
        figures.add(f"{name}: title [s]", titled)
        figures.add(f"{name}: whole [s]", drawn)
        title_worst, worst = max(title_worst, titled), max(worst, drawn)
    figures.add("worst place: title [s]", title_worst)
    figures.add("worst place: whole [s]", worst)
    page.locator(".st-key-top").get_by_role("link", name="Answer", exact=True).click()
    settled(page)
    for name in DETAILS:
        with timed(figures, f"{name}: whole [s]"):
            page.locator(".st-key-detail").get_by_text(name, exact=True).click(timeout=PATIENCE_MS)
            page.get_by_role("heading", name=name, exact=True).wait_for(timeout=PATIENCE_MS)
            page.wait_for_selector(READY, timeout=PATIENCE_MS)


def measured(browser: Any, *, rounds: int, idle_s: float) -> Figures:
    """All figures."""
    figures = Figures()
    for _ in range(rounds):
        cold(browser, figures)
    with serving() as server:
        assert server.child is not None
        page = browser.new_context(viewport={"width": 1280, "height": 800}).new_page()
        page.goto(server.url)
        page.locator(".front .cost").wait_for(timeout=PATIENCE_MS)
        settled(page)
        page.context.close()
        for number in range(rounds):
            page = browser.new_context(viewport={"width": 1280, "height": 800}).new_page()
            with timed(figures, "a job opened: first number [s]"):
                open_in(page, server, "", job_text(number))
            moves(page, figures, number)
            form_closed(page)
            walk(page, figures)
            figures.add("memory after a walk [MB]", resident_mb(server.child.pid))
            page.context.close()
        walks = figures.measured["memory after a walk [MB]"]
        figures.add("memory after the first walk [MB]", walks[0])
        figures.add("memory after the last walk [MB]", walks[-1])
        if idle_s:
            time.sleep(idle_s)
            figures.add(f"memory {idle_s:g} s later [MB]", resident_mb(server.child.pid))
    return figures


def form_closed(page: Any) -> None:
    """Close the job beside the place."""
    page.locator(".st-key-form_toggle button").click(timeout=PATIENCE_MS)
    settled(page)


def main() -> None:
    """Measure, and print what was found."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--rounds", type=int, default=5)
    words.add_argument("--idle", type=float, default=0.0, help="seconds until memory is looked at once more")
    asked = words.parse_args()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        chromium = driver.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-background-networking"]
        )
        rows = measured(chromium, rounds=asked.rounds, idle_s=asked.idle).rows()
        chromium.close()
    for row in rows:
        print(f"{row['figure']:<46} {row['median']:>9} {row['least']:>9} … {row['most']:<9} load {row['load']}")
    print(json.dumps({"cores": len(os.sched_getaffinity(0)), "figures": rows}, indent=2))


if __name__ == "__main__":
    main()
