"""The page's server as a child process, and what a visitor does in a real browser."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from weakref import WeakKeyDictionary

import pytest

REQUIRED = os.environ.get("TRACKERSIM_BROWSER") == "required"
# The first is made for tests: a page without the windows, menus and services of a whole browser around it.
CHROMIUM = next(filter(None, map(shutil.which, ("chromium-headless-shell", "chromium", "chromium-browser"))), None)
ROOT = Path(__file__).parents[2]
# What begins the command of a server whose demonstration is one clear day.
ONE_DAY = (str(Path(__file__).with_name("one_day.py")),)
READY = '[data-testid="stApp"][data-test-script-state="notRunning"]'
# Tests wait for states; this only ends what never comes. At load 12 the first opening of Decide has taken over 90 s.
PATIENCE_MS = 240_000
APP = '[data-testid="stApp"]'


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass
class Server:
    """The page's server as a child process on a port of its own; `program` are the words that begin its command."""

    port: int = field(default_factory=free_port)
    program: tuple[str, ...] = ("-m", "streamlit")
    child: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        command = [sys.executable, *self.program, "run", "app.py", "--server.port", str(self.port)]
        self.child = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        for _ in range(240):
            try:
                urllib.request.urlopen(f"{self.url}/_stcore/health", timeout=1).read()
                return
            except (urllib.error.URLError, OSError):
                time.sleep(0.25)
        pytest.fail("the page's server did not come up")

    def stop(self) -> None:
        if self.child is not None:
            self.child.terminate()
            self.child.wait(timeout=20)

    def kill(self) -> None:
        """As a power cut would: no time to say goodbye."""
        if self.child is not None:
            self.child.kill()
            self.child.wait(timeout=20)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def is_home(self, url: str) -> bool:
        """Whether a request stayed on this machine."""
        return url.startswith((self.url, f"ws://127.0.0.1:{self.port}", "data:", "blob:"))


def opened(page: Any, server: Server) -> None:
    page.goto(server.url)
    page.locator(".front .cost").wait_for(timeout=PATIENCE_MS)
    settled(page)


# What the browser said on the pages that are listened to, to be told with a failure.
_HEARD: WeakKeyDictionary[Any, list[str]] = WeakKeyDictionary()


def listen(page: Any) -> None:
    """Keep what the browser reports of a page: errors, warnings, a crash, and connections."""
    heard = _HEARD.setdefault(page, [])
    page.on("console", lambda message: heard.append(f"{message.type}: {message.text[:500]}"))
    page.on("pageerror", lambda error: heard.append(f"error that nobody caught: {error} {error.stack}"[:2000]))
    page.on("crash", lambda crashed: heard.append("crash"))
    page.on("framenavigated", lambda frame: heard.append(f"at {frame.url}"))
    page.on("websocket", lambda socket: heard.append("connects"))


def settled(page: Any) -> None:
    """Wait until the page has drawn all."""
    page.wait_for_timeout(300)
    with telling(page):
        page.wait_for_selector(READY, timeout=PATIENCE_MS)


@contextmanager
def telling(page: Any) -> Iterator[None]:
    """If what the block waits for does not come, tell where the page stands."""
    from playwright.sync_api import TimeoutError

    try:
        yield
    except TimeoutError as error:
        pytest.fail(f"{error}\n{_told_of(page)}")


def _told_of(page: Any) -> str:
    states = page.evaluate("app => ({ ...document.querySelector(app)?.dataset })", APP)
    return f"{page.url} {states} {_HEARD.get(page, [])[-30:]}\n{page.locator('body').inner_text()[:3000]}"


PLACES = ("Answer", "Morning", "Trees", "Decide", "On site", "Sheet", "Manual")
DETAILS = ("Every kind of rack", "Earlier or later", "Year, pump and wire", "Where the water went")


def place(page: Any, name: str) -> None:
    """Go to a place by its link."""
    page.locator(".st-key-top").get_by_role("link", name=name, exact=True).click()
    page.locator(f".st-key-at_{name.lower().replace(' ', '-')} h1").wait_for(state="attached", timeout=PATIENCE_MS)
    settled(page)


def detail(page: Any, name: str) -> None:
    """Open one of the answer's details."""
    page.locator(".st-key-detail").get_by_text(name, exact=True).click(timeout=PATIENCE_MS)
    page.get_by_role("heading", name=name, exact=True).wait_for(timeout=PATIENCE_MS)
    settled(page)


def form(page: Any) -> None:
    """Open the job beside the place; the toolkit loses a click on a button that it is drawing anew."""
    from playwright.sync_api import TimeoutError

    closed = page.locator(".st-key-form_toggle button").filter(has_text="Job:")
    closed.click()
    try:
        closed.wait_for(state="detached", timeout=PATIENCE_MS / 4)
    except TimeoutError:
        closed.click()
    page.get_by_role("heading", name="The job", exact=True).wait_for(timeout=PATIENCE_MS)
    settled(page)


def unfold(page: Any, title: str) -> None:
    page.locator("details summary").filter(has_text=title).first.click()
    page.wait_for_timeout(300)


def open_job(page: Any, text: str) -> None:
    form(page)
    unfold(page, "Files: open or save a job")
    page.locator(".st-key-job_file input[type=file]").set_input_files(
        {"name": "job.toml", "mimeType": "application/toml", "buffer": text.encode()}
    )
    settled(page)
