"""The server's connections: none is held by a client that says nothing, half a request, or does not read its answer."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from types import FrameType
from typing import Any

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_S = 20.0
"""From a connection's first moment, or the first byte of a next request, to the end of that request's head [s]."""
STALL_S = 60.0
"""Longest that a client reads nothing of its answer [s]."""


class BoundedProtocol(H11Protocol):
    """A connection that is closed where its client keeps it waiting."""

    _timer: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self._wait(HEAD_S, self._close_unless_asked)

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        if self._is_asked():
            self._stop_waiting()
        elif self._timer is None:
            self._wait(HEAD_S, self._close_unless_asked)

    def pause_writing(self) -> None:
        super().pause_writing()
        self._stop_waiting()
        self._wait(STALL_S, self.transport.abort)

    def resume_writing(self) -> None:
        super().resume_writing()
        self._stop_waiting()

    def connection_lost(self, exc: Exception | None) -> None:
        self._stop_waiting()
        super().connection_lost(exc)

    def _is_asked(self) -> bool:
        return self.cycle is not None and not self.cycle.response_complete

    def _close_unless_asked(self) -> None:
        self._timer = None
        if not self._is_asked():
            self.transport.close()

    def _wait(self, seconds: float, then: Callable[[], None]) -> None:
        self._timer = self.loop.call_later(seconds, then)

    def _stop_waiting(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None


class QuietServer(uvicorn.Server):
    """A server that ends its work when it is stopped, given its settings and what ends the work."""

    def __init__(self, config: uvicorn.Config, stop: Callable[[], None]) -> None:
        super().__init__(config)
        self._stop = stop

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        self._stop()
        # Whoever is cut off now is told so by the answer; nobody reads where in the server that was.
        logging.getLogger("uvicorn.error").setLevel(logging.CRITICAL)
        super().handle_exit(sig, frame)


def server_of(app: Any, stop: Callable[[], None]) -> QuietServer:
    """A server with bounded connections, given an application and what ends its work."""
    config = uvicorn.Config(
        app, http=BoundedProtocol, log_level="warning", server_header=False, timeout_graceful_shutdown=2
    )
    return QuietServer(config, stop)
