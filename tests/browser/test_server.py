"""The page's server: for this machine only, and back after it was killed."""

from __future__ import annotations

import re
import socket
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from broken_line import line_to
from one_day import DAY
from visited_job import kept, open_in, saved
from visiting import ONE_DAY, PATIENCE_MS, Server, detail, form, opened, settled, unfold

from trackersim.job.files import load_job

ELSEWHERE = DAY.replace("Hill farm", "Elsewhere")


def test_the_page_comes_back_by_itself_after_the_server_was_killed(new_page: Callable[..., Any]) -> None:
    mortal = Server(program=ONE_DAY)
    mortal.start()
    page = new_page()
    try:
        opened(page, mortal)
        mortal.kill()
        mortal.start()
        # The same page, not loaded again: it finds the server by itself and answers to a click.
        page.wait_for_selector('[data-testid="stApp"][data-test-connection-state="CONNECTED"]', timeout=PATIENCE_MS)
        settled(page)
        detail(page, "Year, pump and wire")
        page.get_by_text("At full power the pump gives").wait_for(timeout=PATIENCE_MS)
        opened(page, mortal)
    finally:
        page.close()
        mortal.stop()


def test_a_job_and_its_what_if_outlive_the_server(new_page: Callable[..., Any]) -> None:
    """Killed and started again, it knows nobody; the browser has the job, the address the rest."""
    mortal = Server(program=ONE_DAY)
    mortal.start()
    page = new_page(viewport={"width": 1280, "height": 844})
    try:
        open_in(page, mortal, "?delay=150", ELSEWHERE)
        unfold(page, "Water")
        lift = page.get_by_role("textbox", name="Height from standing water")
        lift.fill("101 ft")
        lift.press("Enter")
        kept(page, "101 ft")
        settled(page)
        detail(page, "Year, pump and wire")
        shown = page.locator(".front").inner_text()
        mortal.kill()
        gone = '[data-testid="stApp"]:not([data-test-connection-state="CONNECTED"])'
        page.wait_for_selector(gone, timeout=PATIENCE_MS)
        assert page.locator(".front").inner_text() == shown  # what was there is there still
        assert lift.input_value() == "101 ft"
        mortal.start()
        page.wait_for_selector('[data-testid="stApp"][data-test-connection-state="CONNECTED"]', timeout=PATIENCE_MS)
        for how in ("as it is", "loaded again"):
            # Drawn anew without a click: the form, which only the server knew to be open, is closed.
            page.locator(".st-key-form_toggle button").filter(has_text=re.compile("^Job: Elsewhere")).wait_for(
                timeout=PATIENCE_MS
            )
            settled(page)
            assert page.locator(".front").inner_text() == shown
            assert "delay=150" in page.url
            if how == "as it is":
                assert page.get_by_role("heading", name="Year, pump and wire", exact=True).count() == 1
                form(page)  # the first click counts
                page.reload()
        form(page)
        unfold(page, "Water")
        from playwright.sync_api import expect

        # The toolkit paints a field empty and fills it some milliseconds later.
        again = page.get_by_role("textbox", name="Height from standing water")
        expect(again).to_have_value("101 ft", timeout=PATIENCE_MS)
    finally:
        page.close()
        mortal.stop()


def test_a_click_while_the_page_draws_its_fields_empties_none(new_page: Callable[..., Any]) -> None:
    """A field whose run ended before it was drawn stood empty, and was taken for emptied: trees lost their names."""
    slow = Server(program=(str(Path(__file__).parent / "slow_field.py"),))
    slow.start()
    try:
        for number in range(1, 8):  # name, species, bearing, height, distance, width, lowest leaves: each is late once
            page = new_page()
            page.goto(f"{slow.url}/trees")
            page.locator(".st-key-tree_cards").wait_for(state="attached", timeout=PATIENCE_MS)
            form(page)
            numbers = page.locator(".st-key-tree_cards [data-testid=stNumberInput] input")
            numbers.nth(4).wait_for(timeout=PATIENCE_MS)
            settled(page)
            assert page.get_by_role("textbox", name="Name", exact=True).input_value() == "oaks on the lane", number
            shown = [each.input_value() for each in numbers.all()]
            assert shown == ["92", "32", "90", "120", "5"], number
            page.locator(".st-key-form_toggle button").click()
            settled(page)
            form(page)
            unfold(page, "Files")
            assert saved(page).trees == load_job("demo").trees, number
            page.context.close()
    finally:
        slow.stop()


def test_fields_that_a_broken_line_lost_are_not_taken_for_emptied(new_page: Callable[..., Any], server: Server) -> None:
    """Drawn for a browser out of reach and then again, they stood empty there; the next click emptied the job's."""
    from playwright.sync_api import TimeoutError

    page = new_page()
    heard: list[str] = []
    page.on("request", lambda request: heard.extend(re.findall("/heard/.*", request.url)))
    measures = page.get_by_label("Two or three measures to hold against each other")
    fields = page.locator("[class*=st-key-cost_per_year] input, [class*=st-key-life_years] input")
    priced = f'{ELSEWHERE}\n[[option]]\nready = "repair-rack"\ncost_per_year = 20\nlife_years = 9\n'
    with line_to(server.port) as line:
        open_in(page, Server(port=line.port), "decide", priced)
        measures.wait_for(timeout=PATIENCE_MS)
        page.locator('[data-testid="stSkeleton"]').first.wait_for(state="detached", timeout=PATIENCE_MS)
        assert heard
        line.speaks.clear()
        pressed = False
        for _ in range(20):  # the toolkit closes the list where the page below it still grows
            measures.fill("rack repaired")
            try:
                page.get_by_role("option").wait_for(timeout=3000)
            except TimeoutError:
                if pressed:  # what is chosen is offered no more
                    break
                continue
            measures.press("Enter")
            pressed = True
        page.wait_for_timeout(8000)  # the server draws them for nobody
        line.cut()
        fields.nth(1).wait_for(timeout=PATIENCE_MS)
        settled(page)
        assert [field.input_value() for field in fields.all()] == ["20", "9"]
        (option,) = saved(page).option
        assert (option.cost_per_year, option.life_years) == (20.0, 9.0)


def test_the_server_listens_on_this_machine_only(server: Server) -> None:
    listening = Path("/proc/net/tcp").read_text() + Path("/proc/net/tcp6").read_text()
    places = [line.split()[1] for line in listening.splitlines() if f":{server.port:04X} " in line and " 0A " in line]
    assert places
    assert {place.split(":")[0] for place in places} == {"0100007F"}  # 127.0.0.1, least byte first


def test_the_server_refuses_another_host_s_name(server: Server) -> None:
    assert first_line(server, host="evil.example", origin="http://evil.example").startswith(b"HTTP/1.1 4")
    assert b"101" in first_line(server, host=f"127.0.0.1:{server.port}", origin=server.url)


@pytest.mark.parametrize(
    "what", ["/", "/morning", "/answer", "/_stcore/health", "/_stcore/host-config", "/static/index.html"]
)
def test_another_host_s_name_is_refused_for_whatever_is_asked(server: Server, what: str) -> None:
    """As after rebinding: a stranger's page whose name has been pointed at this machine."""
    refused = answer(server, what, host=f"evil.example:{server.port}")
    assert refused.startswith(b"HTTP/1.1 400")
    assert b"trackersim" not in refused
    for host in ("127.0.0.1", "localhost"):
        assert not answer(server, what, host=f"{host}:{server.port}").startswith(b"HTTP/1.1 400")


def test_no_other_page_may_frame_this_one(server: Server) -> None:
    assert b"content-security-policy: frame-ancestors 'self'" in answer(server, "/", host="localhost").lower()


def answer(server: Server, what: str, *, host: str) -> bytes:
    """What a plain question is answered."""
    with socket.create_connection(("127.0.0.1", server.port), timeout=5) as line:
        line.sendall(f"GET {what} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n".encode())
        return b"".join(iter(lambda: line.recv(65536), b""))


def first_line(server: Server, *, host: str, origin: str) -> bytes:
    """The answer to a visitor's first handshake."""
    asked = (
        "GET /_stcore/stream HTTP/1.1",
        f"Host: {host}",
        "Upgrade: websocket",
        "Connection: Upgrade",
        "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==",
        "Sec-WebSocket-Version: 13",
        f"Origin: {origin}",
    )
    with socket.create_connection(("127.0.0.1", server.port), timeout=5) as line:
        line.sendall(("\r\n".join(asked) + "\r\n\r\n").encode())
        return line.recv(200).split(b"\r\n")[0]


def test_statistics_and_details_of_errors_stay_off(server: Server) -> None:
    request = urllib.request.Request(f"{server.url}/_stcore/host-config")
    try:
        answer = urllib.request.urlopen(request, timeout=5).read()
    except urllib.error.HTTPError as error:
        answer = str(error.code).encode()
    assert b"allowedOrigins" in answer or answer == b"403"
    import streamlit.config as config

    config.get_config_options(force_reparse=True)
    assert config.get_option("browser.gatherUsageStats") is False
    assert config.get_option("client.showErrorDetails") == "type"
    assert config.get_option("server.maxUploadSize") == 10
