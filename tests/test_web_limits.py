"""What the server bounds: silent and slow clients, work that nobody waits for, and drawing beside answers."""

from __future__ import annotations

import contextlib
import re
import signal
import socket
import threading
import time
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlsplit

import httpx
import pytest
from test_cli import freecool
from test_web_serve import started
from web_serving import Serving, serving

from freecool.answers.jobs import Job
from freecool.answers.scenarios import run_jobs
from freecool.core.cancel import Cancelled, cancellable
from freecool.core.errors import MOST_CHARACTERS
from freecool.weather.network import with_timeout
from freecool.web.connections import server_of

DESERT = "demo:high-desert"


@pytest.fixture(scope="module")
def server() -> Iterator[Serving]:
    with serving() as found:
        yield found


def connected(server: Serving) -> socket.socket:
    place = urlsplit(server.address)
    return socket.create_connection((str(place.hostname), int(place.port or 0)), timeout=30)


HALF = b"POST /api/value HTTP/1.1\r\nhost: 127.0.0.1\r\ncontent-type: application/json\r\ncontent-length: 100\r\n\r\n{"
SILENT = {
    "says nothing": [],
    "begins a head": [b"GET / HTT"],
    "goes on with a head for ever": [b"GET / HTTP/1.1\r\nhost: 127.0.0.1\r\nx: ", b"y", b"y"],
    "asks again, and stops": [b"GET /static/icon.svg HTTP/1.1\r\nhost: 127.0.0.1\r\n\r\n", b"GET / HT"],
}


@pytest.mark.parametrize("name", SILENT)
def test_who_says_nothing_is_let_go(name: str, server: Serving, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("freecool.web.connections.HEAD_S", 0.3)
    with connected(server) as client:
        begun = time.monotonic()
        for part in SILENT[name]:
            client.sendall(part)
            if part.endswith(b"\r\n\r\n"):
                assert client.recv(65_536).startswith(b"HTTP/1.1 200 ")
            time.sleep(0.1)
        while client.recv(65_536):
            pass
    assert 0.2 < time.monotonic() - begun < 4.5


def test_who_sends_half_a_body_is_told_so(server: Serving, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("freecool.web.security.BODY_S", 0.3)
    with connected(server) as client:
        client.sendall(HALF)
        said = b""
        while part := client.recv(65_536):
            said += part
    assert said.startswith(b"HTTP/1.1 408 ")
    assert b"The request did not come within 0.3 s" in said


LARGE = 30_000_000


async def large(scope: Any, receive: Any, send: Any) -> None:
    """An application whose answer no buffer between holds."""
    if scope["type"] == "http":
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": bytes(LARGE)})


@pytest.mark.parametrize(("longest_s", "whole"), [(0.3, False), (30.0, True)])
def test_who_does_not_read_is_let_go(longest_s: float, whole: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("freecool.web.connections.STALL_S", longest_s)
    running = server_of(large, lambda: None)
    with socket.create_server(("127.0.0.1", 0)) as listening:
        thread = threading.Thread(target=running.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        with socket.create_connection(listening.getsockname(), timeout=30) as client:
            client.sendall(b"GET / HTTP/1.1\r\nhost: any\r\nconnection: close\r\n\r\n")
            time.sleep(1.0)
            came = 0
            with contextlib.suppress(ConnectionResetError):
                while part := client.recv(1_000_000):
                    came += len(part)
        running.should_exit = True
        thread.join(20)
    assert (came > LARGE) is whole


def test_a_long_answer_is_not_cut_off(server: Serving, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("freecool.web.connections.HEAD_S", 0.05)
    begun = threading.Event()

    def slow(job: Job, question: Any, tell: Any, cancel: Any) -> Any:
        begun.set()
        time.sleep(0.6)
        raise Cancelled("late")

    monkeypatch.setattr(server.service, "_compute", slow)
    body = {"weather": DESERT, "case": {"building": {"floor_area": "1717ft2"}}}
    with httpx.Client(base_url=server.address, timeout=30) as client:
        assert client.post("/api/value", json=body).status_code == 499
    assert begun.is_set()


@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/pick",
        "/api/places?text=Green",
        "/api/openapi.json",
        "/static/icon.svg",
        f"/value?weather={DESERT}&answer=now",
    ],
)
def test_a_head_is_told_where_a_get_is(path: str, server: Serving) -> None:
    got, head = server.client.get(path), server.client.head(path)
    assert (head.status_code, head.content) == (got.status_code, b"")
    assert head.status_code == 200
    assert head.headers["content-type"] == got.headers["content-type"]
    assert server.client.head("/nothing/here").status_code == 404


def test_a_request_of_many_faults_gets_a_short_answer(server: Serving) -> None:
    many = {f"k{number}" * 5: 1 for number in range(5_000)}
    for body in (
        many,
        {"case": many},
        {"case": {"fan": many}},
        {"preset": ""},
        {"case": {"fan": {"flow": "9" * 90_000}}},
    ):
        told = server.post("/api/value", body)
        assert told.status_code == 422
        assert 10 < len(server.refusal(told)) <= MOST_CHARACTERS + 100


def test_answers_do_not_wait_for_drawings(server: Serving, monkeypatch: pytest.MonkeyPatch) -> None:
    """Pictures of three pages are being drawn, which takes as long as it takes; a number is told meanwhile."""
    drawing, let_go = threading.Event(), threading.Event()

    def drawn(link: Any, result: Any) -> str:
        drawing.set()
        assert let_go.wait(60)
        return ""

    monkeypatch.setattr("freecool.web.pages.pictures_html", drawn)

    def page() -> None:
        httpx.get(f"{server.address}/value", params={"weather": DESERT, "answer": "now"}, timeout=60)

    pages = [threading.Thread(target=page) for _ in range(3)]
    for thread in pages:
        thread.start()
    try:
        assert drawing.wait(60)
        answer = server.client.post("/api/value", json={"weather": DESERT}, timeout=30)
        assert answer.status_code == 200
        assert server.service.drawings.taken >= 1
    finally:
        let_go.set()
        for thread in pages:
            thread.join(60)


def test_who_is_cancelled_runs_no_job_more() -> None:
    cancel, ran = threading.Event(), list[int]()

    def job() -> int:
        ran.append(1)
        cancel.set()
        return 1

    with cancellable(cancel), pytest.raises(Cancelled):
        run_jobs([job] * 50, workers=1)
    assert len(ran) <= 2
    assert run_jobs([lambda: 1] * 3) == [1, 1, 1]


def test_a_download_that_nobody_waits_for_is_left_behind() -> None:
    cancel, over = threading.Event(), threading.Event()
    threading.Timer(0.2, cancel.set).start()
    begun = time.monotonic()
    with cancellable(cancel), pytest.raises(Cancelled):
        with_timeout(lambda: over.wait(20), 20.0)
    over.set()
    assert time.monotonic() - begun < 5.0


@pytest.mark.parametrize(
    ("host", "said"), [("", "--host is empty"), (" ", "--host is empty"), ("a\udc80", "cannot be listened")]
)
def test_a_host_that_is_none_is_refused(host: str, said: str) -> None:
    run = freecool("serve", "--no-browser", "--host", host)
    assert run.code == 2
    assert said in run.errors
    assert run.errors.count("\n") == 1


def test_stopped_while_it_works_it_is_quiet() -> None:
    process, said = started("--demo")
    address = re.search(r"http://127\.0\.0\.1:\d+", said)[0]  # type: ignore[index]
    codes: list[int] = []

    def ask() -> None:
        body = {"weather": DESERT, "draws": 500}
        codes.append(httpx.post(f"{address}/api/compare", json=body, timeout=60).status_code)

    asking = threading.Thread(target=ask)
    asking.start()
    time.sleep(0.5)
    process.send_signal(signal.SIGINT)
    output, errors = process.communicate(timeout=60)
    asking.join(60)
    assert (process.returncode, errors) == (0, "")
    assert output == "Stopped.\n"
    assert codes == [503]
