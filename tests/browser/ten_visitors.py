"""Ten visitors at once: how long each waits for the first number, and how much memory the server takes.

`python tests/browser/ten_visitors.py [--visitors 10] [--jobs 10] [--stay 60]` prints JSON and asserts nothing.

Visitors are websocket sessions on the page's real server, which runs the real page for each; they say what a browser
says that keeps a job of its own (`browser/keeper.js`, `browser/table.js`). No browser draws anything, so that the
machine's cores are the server's. Every job has another place, other trees and another delay: nothing is shared by
luck. With more jobs than visitors, each visitor who leaves makes room for the next.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import statistics
import time
import tomllib
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event, Thread
from typing import Any

from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from visiting import Server
from websockets.asyncio.client import ClientConnection, connect

from trackersim.job.files import demo_text
from trackersim.page.state import saved_text

_PATIENCE_S = 600.0
_MORE_EVERY_S = 1.5


def job_text(number: int) -> str:
    """A job of its own for each number: place, trees, rack and pump differ."""
    data = tomllib.loads(demo_text())
    data["site"] |= {
        "name": f"Farm {number} (invented)",
        "latitude": 35.0 + 0.05 * number,
        "longitude": -79.0 - 0.05 * number,
    }
    for tree in data["trees"]:
        tree["bearing"] += number % 17
        tree["height"] = f"{24 + number % 23} ft"
    data["rack"]["flip_delay"] = f"{31 + number % 53} min"
    data["source"]["lift"] = f"{100 + number % 31} ft"
    return saved_text(data)


@dataclass
class Visitor:
    """What a browser says that comes back with its own job, and what it hears."""

    number: int
    socket: ClientConnection
    server_pid: int
    heard: dict[str, Any] = field(default_factory=dict)
    first_number_s: float | None = None
    cpu_then_s: float = 0.0
    queue_words: list[str] = field(default_factory=list)

    async def say(self, widget: str | None = None, event: dict[str, Any] | None = None) -> None:
        """Have the page run again, with something that a part of it tells."""
        message = BackMsg()
        message.rerun_script.query_string = ""
        if widget is not None:
            message.rerun_script.widget_states.widgets.add(id=widget, json_value="{}")
            state = message.rerun_script.widget_states.widgets.add()
            state.id = f"$$STREAMLIT_INTERNAL_KEY_{widget}__events"
            state.json_trigger_value = json.dumps([event])
        await self.socket.send(message.SerializeToString())

    async def wait(self, until: str, seconds: float, *, begun: float) -> bool:
        """Hear what the server says until a part of the page comes, or it has ended a run (`"finished"`)."""
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            try:
                said = ForwardMsg.FromString(await asyncio.wait_for(self.socket.recv(), left))
            except TimeoutError:
                return False
            kind = said.WhichOneof("type")
            if kind == "delta":
                self._hear(said.delta, begun)
                element = said.delta.new_element
                name = element.bidi_component.component_name if element.HasField("bidi_component") else ""
                if name.endswith(until):
                    return True
            if kind == "script_finished" and until == "finished":
                return True
        return False

    def _hear(self, delta: Any, begun: float) -> None:
        element = delta.new_element
        kind = element.WhichOneof("type")
        if kind == "bidi_component":
            part = element.bidi_component
            told = part.json or part.mixed.json
            self.heard[part.component_name.rpartition(".")[2]] = (part.id, told)
            if part.component_name.endswith("trackersim_front") and self.first_number_s is None:
                self.first_number_s = time.monotonic() - begun
                self.cpu_then_s = cpu_s(self.server_pid)
        elif kind == "exception":
            raise RuntimeError(element.exception.message)
        elif kind == "alert" and element.alert.format == element.alert.ERROR:
            raise RuntimeError(f"visitor {self.number} was told: {element.alert.body}")
        elif kind in ("text", "spinner", "markdown", "alert") and "worked out" in str(element):
            words = getattr(element, kind)
            self.queue_words.append(getattr(words, "body", "") or getattr(words, "text", ""))


async def visit(server: Server, number: int, *, stay_s: float) -> Visitor:
    """One visit: the job the browser keeps is asked for and opened; the first number; then a stay of `stay_s`."""
    begun = time.monotonic()
    cookies = {"Cookie": "trackersim_job=1"}
    address = f"ws://127.0.0.1:{server.port}/_stcore/stream"
    async with connect(address, additional_headers=cookies, origin=server.url, max_size=None) as socket:  # type: ignore[arg-type]
        assert server.child is not None
        visitor = Visitor(number, socket, server.child.pid)
        await visitor.say()
        if not await visitor.wait("trackersim_keeper", _PATIENCE_S, begun=begun):
            raise RuntimeError("the page did not ask for the job that is kept")
        widget = visitor.heard["trackersim_keeper"][0]
        await visitor.say(widget, {"event": "found", "value": {"text": job_text(number)}})
        await visitor.wait("trackersim_front", _PATIENCE_S, begun=begun)
        await visitor.wait("trackersim_table", _PATIENCE_S, begun=begun)
        end = time.monotonic() + stay_s
        while time.monotonic() < end:
            await visitor.wait("nothing", _MORE_EVERY_S, begun=begun)
            address = server.url + json.loads(visitor.heard["trackersim_table"][1])["address"]
            await asyncio.to_thread(read, address)
    return visitor


def read(address: str) -> bytes:
    """What a server answers."""
    with urllib.request.urlopen(address, timeout=_PATIENCE_S) as answer:
        return bytes(answer.read())


@contextmanager
def watched(pid: int) -> Iterator[dict[str, float]]:
    """Resident memory of a process and its children, at most and at the end [MB], while the block runs."""
    found, stop = {"at_start_mb": resident_mb(pid), "peak_mb": 0.0, "at_end_mb": 0.0}, Event()

    def look() -> None:
        while not stop.wait(0.2):
            found["at_end_mb"] = resident_mb(pid)
            found["peak_mb"] = max(found["peak_mb"], found["at_end_mb"])

    thread = Thread(target=look)
    thread.start()
    try:
        yield found
    finally:
        stop.set()
        thread.join()


def cpu_s(pid: int) -> float:
    """Seconds of a core that a process has used."""
    told = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(told[11]) + int(told[12])) / os.sysconf("SC_CLK_TCK")


def resident_mb(pid: int) -> float:
    """Resident memory of a process and its children [MB]."""
    try:
        pages = int(Path(f"/proc/{pid}/statm").read_text().split()[1])
        children = [
            child for task in Path(f"/proc/{pid}/task").iterdir() for child in (task / "children").read_text().split()
        ]
    except (OSError, IndexError):  # it has just ended
        return 0.0
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6 + sum(resident_mb(int(child)) for child in children)


async def visits(server: Server, *, visitors: int, jobs: int, stay_s: float) -> list[Visitor]:
    """All visits, so many at once."""
    room = asyncio.Semaphore(visitors)

    async def one(number: int) -> Visitor:
        async with room:
            return await visit(server, number, stay_s=stay_s)

    return await asyncio.gather(*(one(number) for number in range(jobs)))


def main() -> None:
    """Measure, and print what was found."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--visitors", type=int, default=10, help="how many at once")
    words.add_argument("--jobs", type=int, default=10, help="how many in all, each with a job of its own")
    words.add_argument("--stay", type=float, default=60.0, help="seconds each stays after the first number")
    asked = words.parse_args()
    server = Server()
    server.start()
    assert server.child is not None
    load = os.getloadavg()[0]
    try:
        with watched(server.child.pid) as memory:
            begun = time.monotonic()
            found = asyncio.run(visits(server, visitors=asked.visitors, jobs=asked.jobs, stay_s=asked.stay))
            took_s = time.monotonic() - begun
    finally:
        server.stop()
    waits = [visitor.first_number_s for visitor in found if visitor.first_number_s is not None]
    print(
        json.dumps(
            {
                "what": "websocket sessions on the real server, each with another job",
                "visitors_at_once": asked.visitors,
                "jobs": asked.jobs,
                "stay_s": asked.stay,
                "cores": len(os.sched_getaffinity(0)),
                "load_before": round(load, 2),
                "load_after": round(os.getloadavg()[0], 2),
                "memory": {name: round(value) for name, value in memory.items()},
                "waits_s": [round(wait, 1) for wait in waits],
                "median_wait_s": round(statistics.median(waits), 1) if waits else None,
                "server_cpu_s_at_the_last_number": round(max(visitor.cpu_then_s for visitor in found), 1),
                "without_a_number": len(found) - len(waits),
                "answers_that_differ": len({visitor.heard["trackersim_front"][2] for visitor in found}),
                "told_of_the_queue": sorted({words for visitor in found for words in visitor.queue_words}),
                "took_s": round(took_s, 1),
            },
            indent=2,
        )
    )


if __name__ == "__main__":
    main()
