"""A line between a browser and the page's server, as out on a farm: it goes silent, and breaks."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field


@dataclass
class Line:
    """Leads from `port` to the server; while `speaks` is not set, nothing that the server says goes through."""

    port: int
    speaks: threading.Event = field(default_factory=threading.Event)
    ends: list[socket.socket] = field(default_factory=list)

    def cut(self) -> None:
        """End all connections; what was under way is lost. New ones are taken."""
        ends, self.ends[:] = list(self.ends), []
        for end in ends:
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
        self.speaks.set()

    def serve(self, door: socket.socket, server_port: int) -> None:
        """Take connections until the door is closed."""
        with suppress(OSError):
            while True:
                near, _ = door.accept()
                far = socket.create_connection(("127.0.0.1", server_port))
                self.ends += [near, far]
                threading.Thread(target=self._lead, args=(near, far, False), daemon=True).start()
                threading.Thread(target=self._lead, args=(far, near, True), daemon=True).start()

    def _lead(self, source: socket.socket, target: socket.socket, from_server: bool) -> None:
        with suppress(OSError), source, target:
            while said := source.recv(65536):
                if from_server:
                    self.speaks.wait()
                target.sendall(said)


@contextmanager
def line_to(server_port: int) -> Iterator[Line]:
    """A line that speaks, for as long as the block runs."""
    with socket.create_server(("127.0.0.1", 0)) as door:
        line = Line(door.getsockname()[1])
        line.speaks.set()
        threading.Thread(target=line.serve, args=(door, server_port), daemon=True).start()
        try:
            yield line
        finally:
            line.cut()
