"""The access guard: an ASGI application that lets in only this machine, with the key.

A request passes where its Host and its Origin are this server's own and it carries the key, in the address
once and in a cookie from then on; everything else is refused with one plain sentence. The cookie is HttpOnly
and SameSite=Strict, so no other site's page can send it along; the key goes out of the address at once, so
that it stands in no history and no referrer.
"""

from __future__ import annotations

import hmac
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs

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
HEADERS = (
    (b"content-security-policy", POLICY.encode()),
    (b"referrer-policy", b"no-referrer"),
    (b"x-content-type-options", b"nosniff"),
    (b"cross-origin-resource-policy", b"same-origin"),
)
WRONG_HOST = "This page answers at the address that coilwise printed, and at no other name."
WRONG_ORIGIN = "This request came from another site, so it is refused."
NO_KEY = "Open the whole address that coilwise printed when it started, with its key."
_FORBIDDEN, _SEE_OTHER, _POLICY_VIOLATION = 403, 303, 1008


class AccessGuard:
    """The guard around an application that listens on a port of the loopback address."""

    def __init__(self, app: Application, *, key: str, port: int) -> None:
        self._app, self._key = app, key
        self._hosts = frozenset(f"{name}:{port}" for name in NAMES)
        self._origins = frozenset(f"http://{host}" for host in self._hosts)
        self._cookie = f"coilwise-{port}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, or refuse it."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        refusal = self.refusal(scope["headers"])
        if refusal is None and self._key_in_address(scope):
            await self._set_cookie(scope, send)
            return
        if refusal is None and not self._has_cookie(scope["headers"]):
            refusal = NO_KEY
        if refusal is not None:
            await _refuse(scope, send, refusal)
            return
        await self._app(scope, receive, _with_headers(send))

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
        return scope["type"] == "http" and len(keys) == 1 and self._matches(keys[0])

    def _has_cookie(self, headers: Iterable[tuple[bytes, bytes]]) -> bool:
        for text in _header_values(headers, b"cookie"):
            jar: SimpleCookie = SimpleCookie()
            try:
                jar.load(text)
            except CookieError:
                continue
            if self._cookie in jar and self._matches(jar[self._cookie].value):
                return True
        return False

    def _matches(self, key: str) -> bool:
        return hmac.compare_digest(key.encode(), self._key.encode())

    async def _set_cookie(self, scope: Scope, send: Send) -> None:
        """Put the key into a cookie and out of the address."""
        cookie = f"{self._cookie}={self._key}; Path=/; HttpOnly; SameSite=Strict"
        where = scope.get("path", "/").encode()
        headers = [(b"location", where), (b"set-cookie", cookie.encode()), (b"cache-control", b"no-store")]
        await send({"type": "http.response.start", "status": _SEE_OTHER, "headers": [*headers, *HEADERS]})
        await send({"type": "http.response.body", "body": b""})


def _header_values(headers: Iterable[tuple[bytes, bytes]], name: bytes) -> list[str]:
    return [value.decode("latin-1") for key, value in headers if key.lower() == name]


def _with_headers(send: Send) -> Send:
    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start":
            message["headers"] = [*message.get("headers", []), *HEADERS]
        await send(message)

    return sent


async def _refuse(scope: Scope, send: Send, why: str) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": _POLICY_VIOLATION, "reason": why})
        return
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"cache-control", b"no-store"), *HEADERS]
    await send({"type": "http.response.start", "status": _FORBIDDEN, "headers": headers})
    await send({"type": "http.response.body", "body": why.encode()})
