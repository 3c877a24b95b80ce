"""The page in a real browser: Debian's chromium through playwright. Every request it makes is recorded.

Without a browser on the machine these tests are skipped, unless TRACKERSIM_BROWSER=required (as `.ci/run` sets it).
"""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from trackersim.job.files import demo_text

REQUIRED = os.environ.get("TRACKERSIM_BROWSER") == "required"
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
playwright_api: Any = (
    pytest.importorskip("playwright.sync_api")
    if not REQUIRED
    else __import__("playwright.sync_api", fromlist=["sync_api"])
)
pytestmark = pytest.mark.skipif(CHROMIUM is None and not REQUIRED, reason="no chromium on this machine")

ROOT = Path(__file__).parents[1]
READY = '[data-testid="stApp"][data-test-script-state="notRunning"]'
PATIENCE_MS = 90_000


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass
class Server:
    """The page's server as a child process on a port of its own."""

    port: int = field(default_factory=free_port)
    child: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        command = [sys.executable, "-m", "streamlit", "run", "app.py", "--server.port", str(self.port)]
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

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    made = Server()
    made.start()
    yield made
    made.stop()


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with playwright_api.sync_playwright() as driver:
        chromium = driver.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-background-networking"]
        )
        yield chromium
        chromium.close()


@pytest.fixture
def visitor(browser: Any, server: Server) -> Iterator[Any]:
    """A fresh visitor on the page, whose every request must stay on this machine."""
    context = browser.new_context(viewport={"width": 1280, "height": 900}, accept_downloads=True)
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    opened(page, server)
    yield page
    context.close()
    away = [url for url in asked if not url.startswith((server.url, f"ws://127.0.0.1:{server.port}", "data:", "blob:"))]
    assert asked
    assert not away


def opened(page: Any, server: Server) -> None:
    page.goto(server.url)
    settled(page)
    page.get_by_text("this pump lifts about").first.wait_for(timeout=PATIENCE_MS)


def settled(page: Any) -> None:
    page.wait_for_timeout(300)
    page.wait_for_selector(READY, timeout=PATIENCE_MS)


def view(page: Any, name: str) -> None:
    page.locator(".st-key-view").get_by_text(name, exact=True).click()
    settled(page)


def open_job(page: Any, text: str) -> None:
    page.get_by_text("Files: open or save a job").click()
    page.locator(".st-key-job_file input[type=file]").set_input_files(
        {"name": "job.toml", "mimeType": "application/toml", "buffer": text.encode()}
    )
    settled(page)


def test_the_delay_moves_the_number_and_the_year_is_back_soon(visitor: Any) -> None:
    view(visitor, "If it turns later")
    visitor.get_by_text("This rack lifts").wait_for(timeout=PATIENCE_MS)
    before = visitor.get_by_text("This rack lifts").inner_text()
    thumb = visitor.locator(".st-key-late_delay input[type=range]")
    thumb.focus()
    started = time.perf_counter()
    thumb.press("ArrowRight")
    visitor.wait_for_function(
        "before => [...document.querySelectorAll('*')].some(e => e.children.length === 0 && "
        "e.textContent.startsWith('This rack lifts') && e.textContent !== before)",
        arg=before,
        timeout=PATIENCE_MS,
    )
    print(f"new yearly answer after {time.perf_counter() - started:.2f} s")
    settled(visitor)
    assert visitor.get_by_text("This rack lifts").inner_text() != before
    assert "less than the job as it stands" in visitor.content()


def test_the_saved_job_is_the_job(visitor: Any, tmp_path: Path) -> None:
    visitor.get_by_text("Files: open or save a job").click()
    with visitor.expect_download() as waiting:
        visitor.get_by_text("Save this job as a file").click()
    path = tmp_path / "job.toml"
    waiting.value.save_as(path)
    from trackersim import load_job

    assert load_job(path).sha256() == load_job("demo").sha256()


def test_the_sheet_tells_the_command_line_s_number(visitor: Any, tmp_path: Path) -> None:
    from pypdf import PdfReader

    from trackersim import load_job, simulate
    from trackersim.show import words

    view(visitor, "The customer's sheet")
    button = visitor.get_by_text("Save the sheet as PDF")
    button.wait_for(timeout=PATIENCE_MS)
    with visitor.expect_download() as waiting:
        button.click()
    path = tmp_path / "sheet.pdf"
    waiting.value.save_as(path)
    text = " ".join(PdfReader(path).pages[0].extract_text().split())
    number = re.search(r"lifts about [\d,]+ gal/day", words.headline(simulate(load_job("demo")), "us"))
    assert number is not None
    assert number[0] in text
    printed = subprocess.run(
        [sys.executable, "-m", "trackersim", "run", "demo"], capture_output=True, text=True, check=True, cwd=ROOT
    ).stdout
    assert number[0] in " ".join(printed.split())


def test_the_moving_picture_is_a_gif(visitor: Any, tmp_path: Path) -> None:
    view(visitor, "The morning, moving")
    visitor.get_by_text("Make the moving picture").click()
    button = visitor.get_by_text("Save it as GIF")
    button.wait_for(timeout=PATIENCE_MS)
    with visitor.expect_download() as waiting:
        button.click()
    path = tmp_path / "morning.gif"
    waiting.value.save_as(path)
    assert path.read_bytes()[:6] == b"GIF89a"
    assert path.stat().st_size > 100_000


def test_a_script_in_the_job_s_name_is_shown_and_not_run(visitor: Any) -> None:
    name = "<script>document.title='owned'</script><img src=x onerror=alert(1)> **bold** $x^2$"
    open_job(visitor, demo_text().replace("Hill farm (invented)", name))
    visitor.get_by_text("<script>document.title='owned'</script>").first.wait_for(timeout=PATIENCE_MS)
    assert visitor.title() != "owned"
    assert visitor.locator("img[src=x]").count() == 0


@pytest.mark.parametrize("width", [390, 1280])
def test_nothing_needs_sideways_scrolling(visitor: Any, width: int) -> None:
    visitor.set_viewport_size({"width": width, "height": 844})
    names = visitor.locator(".st-key-view label p").all_inner_texts()
    assert len(names) >= 5
    for name in names:
        view(visitor, name)
        wide = visitor.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth")
        assert wide <= width, name


def test_two_visitors_never_see_each_other_s_numbers(browser: Any, server: Server, visitor: Any) -> None:
    other = browser.new_context().new_page()
    opened(other, server)
    open_job(visitor, demo_text().replace("Hill farm (invented)", "First (invented)").replace('"130 ft"', '"90 ft"'))
    open_job(other, demo_text().replace("Hill farm (invented)", "Second (invented)").replace('"130 ft"', '"170 ft"'))
    visitor.get_by_text("First (invented): on the").first.wait_for(timeout=PATIENCE_MS)
    other.get_by_text("Second (invented): on the").first.wait_for(timeout=PATIENCE_MS)
    numbers = [
        re.search(r"lifts about ([\d,]+)", page.get_by_text("lifts about").first.inner_text())
        for page in (visitor, other)
    ]
    assert numbers[0] is not None
    assert numbers[1] is not None
    assert numbers[0][1] != numbers[1][1]
    assert "Second" not in visitor.content()
    assert "First" not in other.content()
    other.context.close()


def test_the_server_killed_and_restarted_comes_back(browser: Any) -> None:
    mortal = Server()
    mortal.start()
    page = browser.new_page()
    try:
        opened(page, mortal)
        mortal.stop()
        mortal.start()
        opened(page, mortal)
        assert "this pump lifts about" in page.content()
    finally:
        page.close()
        mortal.stop()


def test_the_server_listens_on_this_machine_only_and_refuses_another_name(server: Server) -> None:
    request = urllib.request.Request(f"{server.url}/_stcore/host-config", headers={"Host": "evil.example"})
    try:
        answer = urllib.request.urlopen(request, timeout=5).status
    except urllib.error.HTTPError as error:
        answer = error.code
    listening = subprocess.run(["cat", "/proc/net/tcp"], capture_output=True, text=True, check=True).stdout
    places = [line.split()[1] for line in listening.splitlines()[1:] if line.split()[1].endswith(f":{server.port:04X}")]
    assert places
    assert {place.split(":")[0] for place in places} == {"0100007F"}  # 127.0.0.1, least byte first
    assert answer in (200, 400, 403)
    with socket.create_connection(("127.0.0.1", server.port), timeout=5) as line:
        line.sendall(
            b"GET /_stcore/stream HTTP/1.1\r\nHost: evil.example\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
            b"Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\nOrigin: http://evil.example\r\n\r\n"
        )
        first = line.recv(200).split(b"\r\n")[0]
    assert b"101" not in first  # no session for a page that came under another name
