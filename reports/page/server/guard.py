"""The access guard: an ASGI application that lets in only this machine, with the key.

A request passes where its Host and its Origin are this server's own and it carries this server's secret in a
cookie; everything else is refused with one plain sentence. The cookie is given, once, to who brings the start
key, which stands in a file that only this user can read (`StartKey`) and is another one from then on: what a
command line, a history or a terminal shows of it opens nothing. The cookie is HttpOnly and SameSite=Strict,
so no other site's page can send it along, and the secret is another one at each start.

A report is a file from a job folder, which may come from anywhere: it is shown without scripts, in an origin
of its own, and loads nothing.
"""

from __future__ import annotations

import hmac
import secrets
import sys
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from contextlib import suppress
from html import escape
from http.cookies import CookieError, SimpleCookie
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs

from capture.disk.writing import replace_whole
from reports.messages.wording import our_fault

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Application = Callable[[Scope, Receive, Send], Awaitable[None]]

LOOPBACK = "127.0.0.1"
NAMES = (LOOPBACK, "localhost")
KEY = "key"
"""What the key is called in the address."""
POLICY = (
    "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self'; frame-src 'self'; "
    "object-src 'none'; base-uri 'self'; form-action 'self'; frame-ancestors 'self'"
)
"""Nothing is loaded from anywhere else; the page's own library compiles its templates in the browser."""
REPORTS = "/report/"
"""Where reports are found: their addresses begin so."""
REPORT_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'self'; sandbox"
)
"""No script runs, nothing is asked of anybody, and the origin is none, so that the page is out of reach."""


def _headers(policy: str) -> tuple[tuple[bytes, bytes], ...]:
    return (
        (b"content-security-policy", policy.encode()),
        (b"referrer-policy", b"no-referrer"),
        (b"x-content-type-options", b"nosniff"),
        (b"cross-origin-resource-policy", b"same-origin"),
        (b"cross-origin-opener-policy", b"same-origin"),
    )


HEADERS, REPORT_HEADERS = _headers(POLICY), _headers(REPORT_POLICY)
WRONG_HOST = "This page answers at the address that coilwise printed, and at no other name."
WRONG_ORIGIN = "This request came from another site, so it is refused."
NO_KEY = "Open the file that coilwise named when it started: it leads here, once each time."
NOT_UNDERSTOOD = "This address holds what no address here has."
TOO_MUCH = (
    "This is more than the page takes at once. Bring the recording with coilwise bring, or a shorter one."
)
_OK, _FORBIDDEN, _BAD, _TOO_MUCH, _POLICY_VIOLATION = 200, 403, 400, 413, 1008
KEY_BYTES = 24
_START = """<!DOCTYPE html>
<html lang="en-GB"><meta charset="utf-8"><meta name="referrer" content="no-referrer">
<meta http-equiv="refresh" content="0; url={address}"><title>coilwise</title>
<p><a href="{address}">Open the bench page</a></p></html>
"""
_COME_IN = b'<!DOCTYPE html><meta http-equiv="refresh" content="0; url=/"><a href="/">Open the bench page</a>'


class StartKey:
    """The key with which a browser comes in, once; ``file`` leads there with the one that is good now."""

    def __init__(self, file: Path, *, port: int) -> None:
        """Make the first one.

        Raises
        ------
        OSError
            The file cannot be written.

        """
        self._file, self._port = file, port
        self._renew()

    @property
    def address(self) -> str:
        """Where the page is, with the key that is good now."""
        return f"http://{LOOPBACK}:{self._port}/?{KEY}={self._key}"

    def spend(self, key: str) -> bool:
        """Whether this is the key; if so, it is another one from now on."""
        if not hmac.compare_digest(key.encode(), self._key.encode()):
            return False
        with suppress(OSError):  # the next one is in no file then, and who came in stays in
            self._renew()
        return True

    def remove(self) -> None:
        """Take the file away: the server has ended."""
        self._key = secrets.token_urlsafe(KEY_BYTES)
        with suppress(OSError):
            self._file.unlink()

    def _renew(self) -> None:
        self._key = secrets.token_urlsafe(KEY_BYTES)
        replace_whole(self._file, _START.format(address=escape(self.address)).encode(), mode=0o600)


class AccessGuard:
    """The guard around an application that listens on a port of the loopback address."""

    def __init__(
        self, app: Application, *, start: StartKey, port: int, most_bytes: float = float("inf")
    ) -> None:
        """``most_bytes``: how much one request may bring; what is beyond is not taken off the line."""
        self._app, self._start, self._most_bytes = app, start, most_bytes
        self._secret = secrets.token_urlsafe(KEY_BYTES)
        self._hosts = frozenset(f"{name}:{port}" for name in NAMES)
        self._origins = frozenset(f"http://{host}" for host in self._hosts)
        self._cookie = f"coilwise-{port}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, or refuse it."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        refusal = self.refusal(scope["headers"])
        if refusal is None and not _can_be_meant(scope):
            await _refuse(scope, send, NOT_UNDERSTOOD, status=_BAD)
            return
        if refusal is None and self._key_in_address(scope):
            await self._set_cookie(send)
            return
        if refusal is None and not self._has_cookie(scope["headers"]):
            refusal = NO_KEY
        if refusal is not None:
            await _refuse(scope, send, refusal)
            return
        report = scope.get("path", "").startswith(REPORTS)
        with_headers = _with_headers(send, REPORT_HEADERS if report else HEADERS)
        if scope["type"] == "websocket":
            await self._app(scope, receive, with_headers)
        else:
            await self._answer(scope, receive, with_headers)

    async def _answer(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Have a request answered that may bring a file, of which there may be too much, or half."""
        body = _Body(receive, send, most_bytes=self._most_bytes)
        announced = _header_values(scope["headers"], b"content-length")
        if announced and announced[0].isdecimal() and int(announced[0]) > self._most_bytes:
            await _refuse(scope, send, TOO_MUCH, status=_TOO_MUCH)
            return
        try:
            await self._app(scope, body.receive, body.send)
        except Exception as error:  # nothing is above it but the server, which prints a traceback
            if not body.ended:
                sys.stderr.write(f"{our_fault(error)}\n")
        if body.ended == TOO_MUCH and not body.answered:
            await _refuse(scope, send, TOO_MUCH, status=_TOO_MUCH)

    def refusal(self, headers: Iterable[tuple[bytes, bytes]]) -> str | None:
        """Why a request with such headers is refused whatever key it has."""
        hosts = _header_values(headers, b"host")
        if len(hosts) != 1 or hosts[0] not in self._hosts:
            return WRONG_HOST
        origins = _header_values(headers, b"origin")
        if any(origin not in self._origins for origin in origins):
            return WRONG_ORIGIN
        return None

    def _key_in_address(self, scope: Scope) -> bool:
        keys = parse_qs(scope.get("query_string", b"").decode("latin-1")).get(KEY, [])
        return scope["type"] == "http" and len(keys) == 1 and self._start.spend(keys[0])

    def _has_cookie(self, headers: Iterable[tuple[bytes, bytes]]) -> bool:
        for text in _header_values(headers, b"cookie"):
            jar: SimpleCookie = SimpleCookie()
            try:
                jar.load(text)
            except CookieError:
                continue
            if self._cookie in jar and self._has_secret(jar[self._cookie].value):
                return True
        return False

    def _has_secret(self, given: str) -> bool:
        return hmac.compare_digest(given.encode(), self._secret.encode())

    async def _set_cookie(self, send: Send) -> None:
        """Give the secret as a cookie, and lead to the address without a key.

        By a page of our own: after a redirect from a file the browser would keep the cookie back.
        """
        cookie = f"{self._cookie}={self._secret}; Path=/; HttpOnly; SameSite=Strict"
        html = (b"content-type", b"text/html; charset=utf-8")
        headers = [html, (b"set-cookie", cookie.encode()), (b"cache-control", b"no-store")]
        await send({"type": "http.response.start", "status": _OK, "headers": [*headers, *HEADERS]})
        await send({"type": "http.response.body", "body": _COME_IN})


class _Body:
    """What a request brings, and whether it was answered; ``ended``: why there is no more of it to come."""

    def __init__(self, receive: Receive, send: Send, *, most_bytes: float) -> None:
        self._receive, self._send, self._left = receive, send, most_bytes
        self.ended, self.answered = "", False

    async def receive(self) -> Message:
        """The next piece; beyond the limit as if the sender had gone."""
        if self.ended:
            return {"type": "http.disconnect"}
        message = await self._receive()
        self._left -= len(message.get("body", b""))
        if self._left < 0:
            self.ended = TOO_MUCH
            return {"type": "http.disconnect"}
        if message["type"] == "http.disconnect":
            self.ended = "cut off"
        return message

    async def send(self, message: Message) -> None:
        """Pass on what is answered, while there is somebody to whom; what is said of too much is not this."""
        if not self.ended:
            self.answered = True
            await self._send(message)


def _can_be_meant(scope: Scope) -> bool:
    """Whether a path is text: no control characters, and no bytes that are no UTF-8."""
    path = str(scope.get("path", ""))
    return all(c.isprintable() and c != "\N{REPLACEMENT CHARACTER}" for c in path)


def _header_values(headers: Iterable[tuple[bytes, bytes]], name: bytes) -> list[str]:
    return [value.decode("latin-1") for key, value in headers if key.lower() == name]


def _with_headers(send: Send, headers: tuple[tuple[bytes, bytes], ...]) -> Send:
    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start":
            message["headers"] = [*message.get("headers", []), *headers]
        await send(message)

    return sent


async def _refuse(scope: Scope, send: Send, why: str, *, status: int = _FORBIDDEN) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": _POLICY_VIOLATION, "reason": why})
        return
    plainly = [(b"content-type", b"text/plain; charset=utf-8"), (b"cache-control", b"no-store")]
    headers = [*plainly, (b"connection", b"close"), *HEADERS]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": why.encode()})
