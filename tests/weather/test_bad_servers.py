"""Servers that drip, send on, lie and never end: one sentence within the time, and the job file as it was."""

from __future__ import annotations

import json
import socket
import threading
import time
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest
from makers import pvgis_json
from server import Answer as Served
from server import horizon_answer, serving, speaking

from trackersim import InputError
from trackersim.job.files import demo_text, load_job
from trackersim.weather.adopt import adopt_weather

TIMEOUT_S = 0.4
# Servers that drip, stall or send on have no end of their own: what is not given up is waited for without end. The rest
# of the time is reading the job and looking at a year that came whole, which took 4 s at a load of ten.
LONGEST_S = TIMEOUT_S + 20
HEAD = b"HTTP/1.1 200 OK\r\nContent-Type: application/json\r\n"
Words = Callable[[socket.socket], None]


@cache
def year() -> str:
    site = load_job("demo").site
    return pvgis_json(latitude=site.latitude_deg, longitude=site.longitude_deg)


def refusal(folder: Path, url: str) -> str:
    """What is told when `url` is asked, after it was seen that nothing came of it."""
    path = folder / "site.toml"
    path.write_text(demo_text())
    before, threads = path.read_bytes(), threading.active_count()
    began = time.monotonic()
    with pytest.raises(InputError) as caught:
        adopt_weather(path, url=url, cache_dir=folder / "cache", timeout_s=TIMEOUT_S)
    assert time.monotonic() - began < LONGEST_S
    assert path.read_bytes() == before
    assert [file for file in folder.rglob("*") if file.is_file()] == [path]
    assert len(caught.value.faults) == 1
    told = str(caught.value)
    assert "\n" not in told
    for word in ("Errno", "Error", "gaierror", "Traceback", "<", "NoneType", "urlopen", "0x"):
        assert word not in told.replace(url, "")
    assert threading.active_count() <= threads + 4  # what is left of the call is let go
    return told


def forever(piece: bytes, pause_s: float = 0.0) -> Words:
    def words(caller: socket.socket) -> None:
        while True:
            caller.sendall(piece)
            time.sleep(pause_s)

    return words


def after(head: bytes, then: Words) -> Words:
    def words(caller: socket.socket) -> None:
        caller.sendall(head)
        then(caller)

    return words


def once(content: bytes) -> Words:
    return lambda caller: caller.sendall(content)


SLOW: dict[str, Words] = {
    "silence": lambda caller: time.sleep(60),
    "a first line that drips": after(b"HTTP/1.1 200 ", forever(b"O", 0.05)),
    "a head that drips": after(HEAD, forever(b"X-More: 1\r\n", 0.03)),
    "a letter of the head at a time": after(HEAD + b"X: ", forever(b"x", 0.01)),
    "100 Continue without end": forever(b"HTTP/1.1 100 Continue\r\n\r\n"),
    "100 Continue that drips": forever(b"HTTP/1.1 100 Continue\r\n\r\n", 0.05),
    "an answer that drips": after(HEAD + b"Content-Length: 1000000\r\n\r\n", forever(b" ", 0.02)),
    "pieces that drip": after(HEAD + b"Transfer-Encoding: chunked\r\n\r\n", forever(b"1\r\n \r\n", 0.02)),
    "half an answer, then silence": after(
        HEAD + b"Content-Length: 1000000\r\n\r\n" + b" " * 1000, lambda caller: time.sleep(60)
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", SLOW)
def test_a_server_that_takes_its_time(tmp_path: Path, name: str) -> None:
    with speaking(SLOW[name]) as url:
        assert "did not answer within" in refusal(tmp_path, url)


BROKEN: dict[str, bytes] = {
    "nothing": b"",
    "no web": b"220 mail.example ESMTP\r\n",
    "bytes": bytes(range(256)) * 40,
    "a head without an end": HEAD + b"X" * 200_000,
    "a thousand heads": HEAD + b"X-A: 1\r\n" * 1000 + b"\r\n{}",
    "half an answer": HEAD + b'Content-Length: 1000\r\n\r\n{"outputs": ',
    "a length that is none": HEAD + b"Content-Length: -5\r\n\r\n{}",
    "pieces that are none": HEAD + b"Transfer-Encoding: chunked\r\n\r\nzz\r\n{}\r\n",
    "a piece that is short": HEAD + b"Transfer-Encoding: chunked\r\n\r\nffff\r\n{}\r\n",
    "without end": HEAD + b"\r\n" + b"[" * 21_000_000,
    "an answer packed": HEAD + b"Content-Encoding: gzip\r\n\r\n\x1f\x8b\x08",
    "sent on without end": b"HTTP/1.1 302 Found\r\nLocation: /api/again\r\nContent-Length: 0\r\n\r\n",
    "sent on to a file": b"HTTP/1.1 302 Found\r\nLocation: file:///etc/passwd\r\nContent-Length: 0\r\n\r\n",
    "sent on to ftp": b"HTTP/1.1 302 Found\r\nLocation: ftp://127.0.0.1/x\r\nContent-Length: 0\r\n\r\n",
    "sent on to nowhere": b"HTTP/1.1 302 Found\r\nLocation: http://127.0.0.1:9/\r\nContent-Length: 0\r\n\r\n",
    "sent on to no address": b"HTTP/1.1 302 Found\r\nLocation: http://[::\r\nContent-Length: 0\r\n\r\n",
    "sent on without a place": b"HTTP/1.1 302 Found\r\nContent-Length: 0\r\n\r\n",
    "a refusal that steers the terminal": b'HTTP/1.1 400 Bad\r\n\r\n{"message": "\\u001b[2Jgone\\n\\u0007"}',
    "a refusal nested deep": b"HTTP/1.1 400 Bad\r\n\r\n" + b"[" * 9000,
    "nothing to say": b"HTTP/1.1 204 No Content\r\n\r\n",
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_server_that_is_broken(tmp_path: Path, name: str) -> None:
    with speaking(once(BROKEN[name])) as url:
        told = refusal(tmp_path, url)
    assert "\x1b" not in told
    assert "\\x1b" not in told


def lying(name: str) -> bytes:
    answer = json.loads(year())
    rows, place = answer["outputs"]["tmy_hourly"], answer["inputs"]["location"]
    if name == "another place":
        return pvgis_json().encode()
    if name == "the year 12 hours late":
        light = [{key: row[key] for key in ("G(h)", "Gb(n)", "Gd(h)")} for row in rows]
        for row, other in zip(rows, light[12:] + light[:12], strict=True):
            row.update(other)
    elif name == "light in kW":
        for row in rows:
            row.update({key: row[key] / 1000 for key in ("G(h)", "Gb(n)", "Gd(h)")})
    elif name == "light a hundred times":
        for row in rows:
            row.update({key: row[key] * 100 for key in ("G(h)", "Gb(n)", "Gd(h)")})
    elif name == "no light":
        for row in rows:
            row.update({key: 0 for key in ("G(h)", "Gb(n)", "Gd(h)")})
    elif name == "words for numbers":
        rows[17]["T2m"] = "warm"
    elif name == "air in kelvin":
        for row in rows:
            row["T2m"] += 273.15
    elif name == "months that do not exist":
        rows[17]["time(UTC)"] = "20071301:0000"
    elif name == "no days at all":
        for row in rows:
            row["time(UTC)"] = "xxxx" + row["time(UTC)"][4:]
    elif name == "a height on no mountain":
        place["elevation"] = 12000
    elif name == "an offset of a day":
        place["irradiance_time_offset"] = 24
    elif name == "every hour the first":
        for row in rows:
            row["time(UTC)"] = row["time(UTC)"][:6] + "01:0000"
    elif name == "holes everywhere":
        for row in rows:
            row.update({key: None for key in ("G(h)", "Gb(n)")})
    elif name == "not a number":
        for row in rows:
            row["Gb(n)"] = float("nan")
    elif name == "without end":
        for row in rows:
            row["G(h)"] = float("inf")
    elif name == "400 digits":
        return json.dumps(answer).replace(f'"latitude": {place["latitude"]}', '"latitude": ' + "9" * 400).encode()
    elif name == "400 digits in an hour":
        rows[4000]["G(h)"] = 10**400
    elif name == "5,000 digits":
        return b'{"outputs": ' + b"9" * 5000 + b"}"
    elif name == "deep":
        return b'{"outputs": {"tmy_hourly": ' + b"[" * 300_000
    elif name == "deep and closed":
        return b'{"outputs": ' + b"[" * 900 + b"]" * 900 + b"}"
    elif name == "no months":
        del answer["outputs"]["months_selected"]
    elif name == "a list":
        return b"[1, 2, 3]"
    else:
        raise AssertionError(name)
    return json.dumps(answer).encode()


@pytest.mark.parametrize(
    "name",
    ["another place", "light in kW", "light a hundred times", "no light", "words for numbers", "air in kelvin",
     "months that do not exist", "no days at all", "a height on no mountain", "an offset of a day",
     "every hour the first", "holes everywhere", "not a number", "without end", "400 digits", "400 digits in an hour",
     "5,000 digits", "deep", "deep and closed", "no months", "a list", "the year 12 hours late"],
)  # fmt: skip
def test_a_year_that_cannot_be_simulated_is_not_adopted(tmp_path: Path, name: str) -> None:
    """Nine kinds of answer were once written into the job and refused by the next run."""
    with serving(Served(body=lying(name), horizon_body=horizon_answer())) as url:
        told = refusal(tmp_path, url)
    assert "answered" in told


@pytest.mark.parametrize(
    "body",
    [b'{"outputs": {"horizon_profile": ' + b"[" * 5000, horizon_answer().replace(b"12.5", b"9" * 400),
     horizon_answer().replace(b"12.5", b"NaN"), horizon_answer().replace(b"12.5", b"1e999"),
     horizon_answer().replace(b"12.5", b"[]"), b"[]", b"5", b'{"outputs": 5}'],
    ids=["deep", "400 digits", "NaN", "1e999", "a list", "no list", "a number", "no outputs"],
)  # fmt: skip
def test_a_horizon_that_cannot_be(tmp_path: Path, body: bytes) -> None:
    path = tmp_path / "site.toml"
    path.write_text(demo_text())
    with serving(Served(body=year().encode(), horizon_body=body)) as url, pytest.raises(InputError) as caught:
        adopt_weather(path, url=url, cache_dir=tmp_path / "cache", timeout_s=20)
    assert [fault.field for fault in caught.value.faults] == ["horizon.points"]
    assert path.read_text() == demo_text()


@pytest.mark.parametrize(
    "url",
    ["http://[::", "http://exa mple/", "http://127.0.0.1:99999/", "http://127.0.0.1:x/", "http://ü" + "ü" * 80 + "/",
     "http:///", "http://no-such-host.invalid/", "ftp://127.0.0.1/", "https://127.0.0.1:9/", "data:,x", "x" * 9000],
)  # fmt: skip
def test_an_address_that_is_none(tmp_path: Path, url: str) -> None:
    refusal(tmp_path, url)
