"""A server on 127.0.0.1 that answers like PVGIS, or badly."""

from __future__ import annotations

import json
import socket
import threading
import time
import urllib.parse
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer


@dataclass
class Answer:
    """What the server says; `horizon_body`, if given, where a horizon is asked for.

    `cut` sends only that many bytes of the announced body; `drip_s` pauses between pieces."""

    body: bytes = b""
    status: int = 200
    wait_s: float = 0.0
    cut: int | None = None
    drip_s: float = 0.0
    horizon_body: bytes | None = None
    asked: list[str] = field(default_factory=list)


@contextmanager
def serving(answer: Answer) -> Iterator[str]:
    """The base address of a server that gives `answer` to every request."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            answer.asked.append(self.path)
            body = answer.body
            if answer.horizon_body is not None and "printhorizon" in self.path:
                body = answer.horizon_body
            time.sleep(answer.wait_s)
            try:
                self.send_response(answer.status)
                self.send_header("Content-Type", "application/json")
                self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                self._send(body if answer.cut is None else body[: answer.cut])
            except OSError:
                # The client has given up, as it should.
                return

        def _send(self, body: bytes) -> None:
            if not answer.drip_s:
                self.wfile.write(body)
                return
            for k in range(0, len(body), 10):
                self.wfile.write(body[k : k + 10])
                self.wfile.flush()
                time.sleep(answer.drip_s)

        def log_message(self, format: str, *args: object) -> None:
            """Say nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}/api/"
    finally:
        server.shutdown()
        server.server_close()


def horizon_answer() -> bytes:
    """A horizon as PVGIS gives it: azimuth from south, west positive, −180…180 with north twice; a hill in the east."""
    points = [{"A": -180 + 7.5 * k, "H_hor": 12.5 if -180 + 7.5 * k == -90 else 1.0} for k in range(49)]
    answer = {
        "inputs": {
            "location": {"latitude": 45.0, "longitude": 8.0, "elevation": 250.0},
            "horizon_db": "DEM-calculated",
        },
        "outputs": {"horizon_profile": points, "winter_solstice": [], "summer_solstice": []},
        "meta": {"inputs": {}, "outputs": {}},
    }
    return json.dumps(answer).encode()


def query_of(path: str) -> dict[str, list[str]]:
    """The parameters of a request."""
    return urllib.parse.parse_qs(urllib.parse.urlsplit(path).query)


@contextmanager
def speaking(words: Callable[[socket.socket], None]) -> Iterator[str]:
    """The base address of a server that says what `words` sends, over and over, without a web server between."""
    listening = socket.create_server(("127.0.0.1", 0))
    listening.settimeout(0.05)
    over = threading.Event()

    def answer(caller: socket.socket) -> None:
        with caller, suppress(OSError):
            caller.recv(65536)
            words(caller)

    def listen() -> None:
        while not over.is_set():
            with suppress(TimeoutError):
                caller, _ = listening.accept()
                threading.Thread(target=answer, args=(caller,), daemon=True).start()

    thread = threading.Thread(target=listen, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{listening.getsockname()[1]}/api/"
    finally:
        over.set()
        thread.join()
        listening.close()
