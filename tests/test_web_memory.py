"""``freecool serve`` answers page after page in the memory that the first ones took."""

from __future__ import annotations

import signal

import httpx
import psutil
import pytest
from test_web_serve import started

# Pages by which every store is full, and pages in all.
SETTLED, PAGES = 25, 70
# Stated before the run: what the allocator and a larger answer may take. Uncollected, a page leaves about 6 MB behind.
MOST_GROWTH_BYTES = 40_000_000


@pytest.mark.long
def test_a_server_does_not_grow_with_the_pages_it_answers() -> None:
    process, said = started("--demo")
    address = said.split("answers at ")[1].split()[0]
    server = psutil.Process(process.pid)
    settled = 0
    try:
        with httpx.Client(base_url=address, timeout=120) as client:
            for page in range(1, PAGES + 1):
                asked = {"weather": "demo:high-desert", "answer": "now", "schedule.cooling": f"{70 + page / 50:.2f}F"}
                answer = client.get("/value", params=asked)
                assert (answer.status_code, "data:image/svg" in answer.text) == (200, True)
                if page == SETTLED:
                    settled = server.memory_info().rss
        grown = server.memory_info().rss - settled
    finally:
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=60)
    assert "Traceback" not in errors
    assert grown < MOST_GROWTH_BYTES, f"{grown / 1e6:.0f} MB more after {PAGES - SETTLED} pages"
