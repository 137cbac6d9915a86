"""Fifty clients at once: no server error, every answer whole; how long they waited is printed."""

from __future__ import annotations

import signal
import statistics
import threading
import time
from collections import Counter, defaultdict

import httpx
import pytest
from test_web_serve import started

CLIENTS = 50
SECONDS = 20.0
# Of ten requests of a client: answers to new questions, each with a question of its own; whole pages; the form alone.
TURN = ("value",) * 7 + ("page", "form", "form")


def ask(client: httpx.Client, kind: str, number: int) -> httpx.Response:
    area = f"{1000 + number % 9000 + number / 1e6:.6f}ft2"
    if kind == "value":
        case = {"building": {"floor_area": area}}
        return client.post("/api/value", json={"weather": "demo:high-desert", "case": case})
    if kind == "page":
        return client.get("/value", params={"weather": "demo:high-desert", "building.floor_area": area})
    return client.get("/pick", params={"building.floor_area": area})


@pytest.mark.long
def test_fifty_clients_at_once() -> None:
    process, said = started("--demo")
    address = said.split("answers at ")[1].split()[0]
    codes: Counter[int] = Counter()
    waits: dict[str, list[float]] = defaultdict(list)
    faults: list[str] = []
    end = time.monotonic() + SECONDS

    def client(place: int) -> None:
        with httpx.Client(base_url=address, timeout=120) as asking:
            turn = place
            while time.monotonic() < end:
                kind = TURN[turn % len(TURN)]
                begun = time.monotonic()
                try:
                    answer = ask(asking, kind, place * 100_000 + turn)
                except httpx.HTTPError as error:
                    faults.append(repr(error))
                    return
                waits[kind].append(time.monotonic() - begun)
                codes[answer.status_code] += 1
                if kind == "value" and answer.status_code == 200 and answer.json()["hours"]["period"] != 8760.0:
                    faults.append(answer.text[:200])
                turn += 1

    try:
        threads = [threading.Thread(target=client, args=(place,)) for place in range(CLIENTS)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    finally:
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=60)
    # Shown by -rP, or where the test fails.
    print(f"{CLIENTS} clients for {SECONDS:.0f} s: {codes.total()} answers, {dict(codes)}")
    for kind, times in sorted(waits.items()):
        p95 = statistics.quantiles(times, n=20)[-1]
        print(f"  {kind}: {len(times)} answers, median {statistics.median(times):.2f} s, p95 {p95:.2f} s")
    assert faults == []
    assert {code for code in codes if code >= 500} == set()
    assert codes[200] == codes.total() > CLIENTS
    # Each client got its first answer at least.
    assert all(len(waits[kind]) >= CLIENTS * TURN.count(kind) / len(TURN) for kind in set(TURN))
    assert "Traceback" not in errors
