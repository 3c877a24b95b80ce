"""One answer of a web server, whole and within a time, whatever the server does."""

from __future__ import annotations

import http.client
import json
import socket
import ssl
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from typing import Any

_PIECE = 65536
_MOST_MESSAGE_BYTES = 10_000
_MOST_MESSAGE_LETTERS = 200
Connection = http.client.HTTPConnection


class RefusedError(Exception):
    """The server did not give a whole answer; the text says why, after the address."""


def answer_of(url: str, *, timeout_s: float, most_bytes: int) -> bytes:
    """The body of the answer to `url`, at most `most_bytes` of it. Raises `RefusedError`.

    A socket's own timeout starts again with every byte, and the name of a server is looked up without any: the call is
    made by a thread, which is left and whose sockets are closed when `timeout_s` is over.
    """
    try:
        web = urllib.parse.urlsplit(url).scheme in ("http", "https")
    except ValueError:
        web = False
    if not web:
        raise RefusedError("is no http address.")
    call = _Call(url, timeout_s, most_bytes)
    call.start()
    call.join(timeout_s)
    if call.is_alive():
        call.hang_up()
        raise RefusedError(f"did not answer within {timeout_s:g} s.")
    if call.error is not None:
        raise call.error
    return call.body


class _Call(threading.Thread):
    """The call and what came of it: `body`, or `error`."""

    def __init__(self, url: str, timeout_s: float, most_bytes: int) -> None:
        super().__init__(daemon=True)
        self._url, self._timeout_s, self._most_bytes = url, timeout_s, most_bytes
        self._deadline = time.monotonic() + timeout_s
        self._opened: list[Connection] = []
        self.body = b""
        self.error: Exception | None = None

    def run(self) -> None:
        try:
            self.body = self._read()
        except urllib.error.HTTPError as error:
            self.error = RefusedError(_refusal(error))
        except (OSError, http.client.HTTPException, ValueError) as error:
            self.error = RefusedError(_words(getattr(error, "reason", None) or error, self._timeout_s))
        except Exception as error:
            self.error = error

    def hang_up(self) -> None:
        """Close what is open, so that a server that never ends does not keep the thread."""
        for connection in self._opened:
            with suppress(OSError, AttributeError):
                connection.sock.shutdown(socket.SHUT_RDWR)

    def _read(self) -> bytes:
        parts: list[bytes] = []
        size = 0
        with self._opener().open(self._url, timeout=self._timeout_s) as response:
            while part := response.read1(_PIECE):
                parts.append(part)
                size += len(part)
                if size > self._most_bytes:
                    raise RefusedError("answered far more than a year of hours.")
                if time.monotonic() > self._deadline:
                    raise TimeoutError
            expected = response.headers.get("Content-Length")
        if expected is not None and expected.isdecimal() and size < int(expected):
            raise RefusedError("broke off in the middle of its answer.")
        return b"".join(parts)

    def _opener(self) -> urllib.request.OpenerDirector:
        """What opens web addresses alone, where a server may send us on to others."""
        opener = urllib.request.OpenerDirector()
        for handler in (
            urllib.request.ProxyHandler(),
            _Http(self._connected),
            _Https(self._connected),
            urllib.request.HTTPDefaultErrorHandler(),
            urllib.request.HTTPRedirectHandler(),
            urllib.request.HTTPErrorProcessor(),
            urllib.request.UnknownHandler(),
        ):
            opener.add_handler(handler)
        return opener

    def _connected(self, kind: type[Connection], host: str, **more: Any) -> Connection:
        connection = kind(host, **more)
        self._opened.append(connection)
        return connection


class _Http(urllib.request.HTTPHandler):
    def __init__(self, connected: Callable[..., Connection]) -> None:
        super().__init__()
        self._connected = connected

    def http_open(self, req: urllib.request.Request) -> Any:
        return self.do_open(partial(self._connected, http.client.HTTPConnection), req)


class _Https(urllib.request.HTTPSHandler):
    def __init__(self, connected: Callable[..., Connection]) -> None:
        super().__init__()
        self._connected = connected

    def https_open(self, req: urllib.request.Request) -> Any:
        return self.do_open(partial(self._connected, http.client.HTTPSConnection), req)


def _refusal(error: urllib.error.HTTPError) -> str:
    if 300 <= error.code < 400:
        return "sends from one address to another and gives no answer."
    return f"refused (HTTP {error.code}{_message(error)})."


def _message(error: urllib.error.HTTPError) -> str:
    """The service's own words in a refusal, such as of a place at sea."""
    try:
        answer = json.loads(error.read(_MOST_MESSAGE_BYTES))
    except (ValueError, OSError, RecursionError, http.client.HTTPException):
        return ""
    text = answer.get("message") if isinstance(answer, dict) else None
    return f": {_printable(text)}" if isinstance(text, str) else ""


def _printable(text: str) -> str:
    """What a stranger wrote, without what would steer a terminal."""
    return "".join(letter for letter in text[:_MOST_MESSAGE_LETTERS] if letter.isprintable())


def _words(error: object, timeout_s: float) -> str:
    """What went wrong on the way, for somebody who knows cables and plugs."""
    if isinstance(error, TimeoutError):
        return f"did not answer within {timeout_s:g} s."
    if isinstance(error, socket.gaierror):
        return "could not be reached: no server has that name, or this machine has no network."
    if isinstance(error, ConnectionRefusedError):
        return "could not be reached: nothing answers at that address."
    if isinstance(error, ssl.SSLCertVerificationError):
        return "could not be reached: this machine does not trust its certificate; is the machine's date right?"
    if isinstance(error, http.client.InvalidURL | UnicodeError):
        return "is no http address."
    if isinstance(error, str):
        return "sends on to an address that is none of the web."
    if isinstance(error, ssl.SSLError | ConnectionError | http.client.HTTPException | ValueError):
        return "broke off, or answered something that is no answer of the web."
    told = getattr(error, "strerror", None)
    return f"could not be reached ({told})." if told else "could not be reached."
