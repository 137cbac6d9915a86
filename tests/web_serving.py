"""The page's true server on a free loopback port, in a thread, for tests that need connections to break."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, NamedTuple

import httpx

from freecool.web.app import create_app
from freecool.web.connections import server_of
from freecool.web.services import AnswerService


class Serving(NamedTuple):
    """A running server: where it answers, its service, and a client of it."""

    address: str
    service: AnswerService
    client: httpx.Client

    def post(self, path: str, body: object) -> httpx.Response:
        """The answer to a JSON request."""
        return self.client.post(path, json=body)

    def send_file(self, content: bytes, name: str = "weather.txt", **fields: str) -> httpx.Response:
        """The answer to an uploaded file."""
        return self.client.post("/api/weather", files={"file": (name, content)}, data=fields)

    def refusal(self, answer: httpx.Response) -> str:
        """The sentence of a refusal, which is all that it holds."""
        told = answer.json()
        assert list(told) == ["error"], told
        sentence: str = told["error"]
        assert sentence.strip()
        assert "Traceback" not in sentence
        return sentence


@contextmanager
def serving(service: AnswerService | None = None, demo: bool = False) -> Iterator[Serving]:
    """A server that runs while the block does."""
    service = service or AnswerService()
    listening = socket.create_server(("127.0.0.1", 0))
    server = server_of(create_app(service, demo=demo), service.stop)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    address = f"http://127.0.0.1:{listening.getsockname()[1]}"
    # The socket listens already: the first request waits until the server is ready.
    with httpx.Client(base_url=address, timeout=300) as client:
        try:
            yield Serving(address, service, client)
        finally:
            server.should_exit = True
            thread.join(20)
            listening.close()


class Held:
    """Stands in for a computation: waits until it is let go or cancelled, and remembers which."""

    def __init__(self) -> None:
        self.begun, self.let_go = threading.Event(), threading.Event()
        self.cancelled: list[bool] = []

    def __call__(self, job: Any, question: Any, tell: Any, cancel: Any) -> None:
        self.begun.set()
        # Far longer than any cancel takes; a test whose work is never cancelled fails by this.
        for _ in range(1200):
            if cancel.wait(0.05) or self.let_go.is_set():
                break
        self.cancelled.append(cancel.is_set())
        from freecool.core.cancel import Cancelled

        raise Cancelled("Cancelled before it was done.")
