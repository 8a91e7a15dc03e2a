"""Connections to the page's server: who only connects and asks nothing does not keep others out.

A connection that has brought no whole request is closed after `WAIT_S` seconds, and the oldest of them at
once where there are more than `MOST_WAITING`: each takes one of the handles that a process may have, a few
hundred on some systems. A browser asks as soon as it is connected, so its own are never the oldest for long.
"""

from __future__ import annotations

import asyncio
from typing import Any, ClassVar

from uvicorn.protocols.http.auto import AutoHTTPProtocol

WAIT_S = 10.0
MOST_WAITING = 48


# AutoHTTPProtocol is one of two classes, by what is installed, so mypy takes it for a variable
class LimitedProtocol(AutoHTTPProtocol):  # type: ignore[misc, valid-type]
    """HTTP as uvicorn speaks it, with a limit on how long and how many wait."""

    _waiting: ClassVar[dict[LimitedProtocol, asyncio.TimerHandle]] = {}
    """Those that have asked nothing yet, the oldest first."""

    def connection_made(self, transport: Any) -> None:
        """Count it among those that wait."""
        super().connection_made(transport)
        self._waiting[self] = self.loop.call_later(WAIT_S, self._close)
        if len(self._waiting) > MOST_WAITING:
            next(iter(self._waiting))._close()

    def connection_lost(self, exc: Exception | None) -> None:
        """Count it no more."""
        self._has_asked()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Count it no more once a request has come, or it has become a socket of the page."""
        super().data_received(data)
        if self.cycle is not None or self.transport.get_protocol() is not self:
            self._has_asked()

    def _has_asked(self) -> None:
        late = self._waiting.pop(self, None)
        if late is not None:
            late.cancel()

    def _close(self) -> None:
        self._has_asked()
        self.transport.abort()
