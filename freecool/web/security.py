"""What every request passes first: a known host, our own page as origin, a body of sane size; and what every answer
carries."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from typing import Any
from urllib.parse import urlsplit

from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse

LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})
LARGEST_UPLOAD_BYTES = 20_000_000
"""A year is 1 to 2 MB, a record of ten years about 5 MB (our own choice)."""
LARGEST_BODY_BYTES = 256_000
"""Of any other request; a complete case is under 10 kB."""
BODY_S = 120.0
"""Longest that a request's body may take to come (our own choice) [s]."""
UPLOAD_PATHS = frozenset({"/api/weather", "/weather"})

CONTENT_SECURITY_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = (
    (b"content-security-policy", CONTENT_SECURITY_POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    # A link carries a whole case: it goes to no other site.
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
)

Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Application = Callable[[MutableMapping[str, Any], Receive, Send], Awaitable[None]]


class SecurityMiddleware:
    """Wraps an application, given the hosts it may be called by; None: any."""

    def __init__(self, app: Application, hosts: Iterable[str] | None) -> None:
        self._app = app
        self._hosts = None if hosts is None else frozenset(hosts)

    async def __call__(self, scope: MutableMapping[str, Any], receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        head = scope["method"] == "HEAD"

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message.get("headers", ()), *HEADERS]
            await send({**message, "body": b""} if head and message["type"] == "http.response.body" else message)

        if head:
            # What a GET would say, without its body.
            scope = {**scope, "method": "GET"}
        refusal = self._refusal(scope)
        if refusal is not None:
            await refusal(scope, receive, send_with_headers)
            return
        limit = LARGEST_UPLOAD_BYTES if scope["path"] in UPLOAD_PATHS else LARGEST_BODY_BYTES
        await self._app(scope, counted(receive, limit), send_with_headers)

    def _refusal(self, scope: MutableMapping[str, Any]) -> JSONResponse | None:
        headers = {name.decode("latin-1").lower(): value.decode("latin-1") for name, value in scope["headers"]}
        host = headers.get("host", "")
        # A name that leads here is not enough: a foreign page may have given its own name our address.
        if self._hosts is not None and _name(host) not in self._hosts:
            return _error(
                400,
                f"The request names the host {host[:100]!r}, but this server answers only as 127.0.0.1 or localhost: "
                "use the address it printed, or start it with --host.",
            )
        origin = headers.get("origin")
        foreign = origin is not None and urlsplit(origin).netloc.lower() != host.lower()
        if foreign and scope["method"] not in ("GET", "HEAD", "OPTIONS"):
            return _error(
                403, f"The request comes from a page of {str(origin)[:100]!r}, not from this server's own: open the "
                "page that this server printed.",
            )  # fmt: skip
        embedded = headers.get("sec-fetch-site") == "cross-site" and headers.get("sec-fetch-mode") != "navigate"
        if embedded:
            return _error(403, "Another site's page may not ask this server: open the page that this server printed.")
        return None


def counted(receive: Receive, limit: int) -> Receive:
    """A request's body that ends in an error once more bytes than `limit` came, whatever its head promised, or once it
    took longer than `BODY_S`."""
    total, ended = 0, False
    end = asyncio.get_running_loop().time() + BODY_S

    async def receive_counted() -> Message:
        nonlocal total, ended
        if ended:
            # What follows is that the client goes, whenever that is.
            return await receive()
        try:
            message = await asyncio.wait_for(receive(), end - asyncio.get_running_loop().time())
        except TimeoutError:
            raise HTTPException(
                408, f"The request did not come within {BODY_S:g} s: send it again, or a smaller file.",
                {"connection": "close"},
            ) from None  # fmt: skip
        ended = not message.get("more_body", False)
        total += len(message.get("body", b""))
        if total > limit:
            raise HTTPException(
                413,
                f"More than {limit / 1e6:g} MB were sent, expected at most that: keep the columns and years needed.",
                {"connection": "close"},
            )
        return message

    return receive_counted


def _name(host: str) -> str:
    """The name in a Host header, without its port."""
    try:
        return (urlsplit(f"//{host}").hostname or "").lower()
    except ValueError:
        return ""


def _error(status: int, sentence: str) -> JSONResponse:
    return JSONResponse({"error": sentence}, status)
