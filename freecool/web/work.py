"""Bounded computation: a few threads, a queue with an end, a time limit, and work that stops when nobody waits."""

from __future__ import annotations

import asyncio
import json
import threading
from collections.abc import AsyncGenerator, Awaitable, Callable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import aclosing, suppress
from typing import Any

from freecool.core.cancel import Cancelled, cancellable, refuse_cancelled
from freecool.core.errors import FreecoolError, Wording, worded

# While a task waits or works in silence its last progress is told again, which shows whether anyone still listens. [s]
BEAT_S = 0.25

Line = dict[str, Any]
"""{"progress": [done, total]}, total 0 while it waits; {"answer": ...}, what can be shown early; {"result": ...}."""
Tell = Callable[[Line], None]
Task = Callable[[Tell, threading.Event], Any]


class Busy(FreecoolError):
    """Too many computations are waiting."""


class Stopped(FreecoolError):
    """The server is being stopped."""


class TooLong(FreecoolError):
    """A computation passed its time limit and was cancelled."""


class Work:
    """Runs tasks in a few threads, given how many may run, how many may wait, and how long one may take [s]."""

    def __init__(self, threads: int, waiting: int, seconds: float) -> None:
        self._pool = ThreadPoolExecutor(threads, thread_name_prefix="freecool-work")
        self._places = threads + waiting
        self._seconds = seconds
        self._taken = 0
        self._cancels: set[threading.Event] = set()
        self._stopped = False

    @property
    def taken(self) -> int:
        """Tasks that run or wait."""
        return self._taken

    def stop(self) -> None:
        """Cancel all tasks, for good; whoever waits is told."""
        self._stopped = True
        for cancel in list(self._cancels):
            cancel.set()

    async def lines(self, task: Task) -> AsyncGenerator[Line, None]:
        """What a task tells while it runs, then {"result": what it returned}; closing it early cancels the task.

        Raises
        ------
        Busy
            No place is free.
        Stopped
            The server is being stopped.
        TooLong
            The time limit passed.
        FreecoolError
            As the task.
        """
        if self._taken >= self._places:
            raise Busy(
                f"{self._places} computations are running or waiting, which is all that this server takes at once: "
                "try again in a minute."
            )
        loop = asyncio.get_running_loop()
        told: asyncio.Queue[Line | None] = asyncio.Queue()
        cancel, expired = threading.Event(), threading.Event()

        def hand(call: Callable[..., None], *arguments: Any) -> None:
            # A server that was stopped has closed its loop: nobody is told any more.
            with suppress(RuntimeError):
                loop.call_soon_threadsafe(call, *arguments)

        def tell(line: Line | None) -> None:
            hand(told.put_nowait, line)

        def expire() -> None:
            expired.set()
            cancel.set()

        def run() -> Any:
            timer = threading.Timer(self._seconds, expire)
            timer.daemon = True
            timer.start()
            try:
                with cancellable(cancel):
                    refuse_cancelled()
                    return task(tell, cancel)
            finally:
                timer.cancel()

        def free(_: Future[Any]) -> None:
            hand(leave)

        def leave() -> None:
            self._taken -= 1
            self._cancels.discard(cancel)
            told.put_nowait(None)

        self._taken += 1
        self._cancels.add(cancel)
        future = self._pool.submit(run)
        future.add_done_callback(free)
        latest: Line = {"progress": [0, 0]}
        try:
            while True:
                try:
                    line = await asyncio.wait_for(told.get(), BEAT_S)
                except TimeoutError:
                    if self._stopped:
                        raise Stopped("The server is being stopped: ask again when it answers.") from None
                    yield latest
                    continue
                if line is None:
                    break
                if "progress" in line:
                    latest = line
                yield line
            try:
                yield {"result": future.result()}
            except Cancelled:
                if self._stopped:
                    raise Stopped("The server is being stopped: ask again when it answers.") from None
                if not expired.is_set():
                    raise
                raise TooLong(
                    f"The computation took longer than {self._seconds:g} s and was cancelled: try fewer years, draws "
                    "or steps."
                ) from None
        finally:
            cancel.set()
            future.cancel()


async def outcome(lines: AsyncGenerator[Line, None], gone: Callable[[], Awaitable[bool]] | None = None) -> Any:
    """The result in a task's lines; the task is cancelled when `gone` says that nobody waits any more.

    Raises
    ------
    Cancelled
        Nobody waits any more.
    Busy, TooLong, FreecoolError
        As `Work.lines`.
    """
    async with aclosing(lines):
        async for line in lines:
            if "result" in line:
                return line["result"]
            if gone is not None and await gone():
                break
    raise Cancelled("Nobody waits for the answer any more; the computation was cancelled.")


async def as_lines_of_json(
    first: Line, lines: AsyncGenerator[Line, None], wording: Wording
) -> AsyncGenerator[str, None]:
    """A task's lines as JSON, one each, given the first; a refusal that comes later is a line {"error": sentence}."""
    async with aclosing(lines):
        yield _line(first)
        try:
            async for line in lines:
                yield _line(line)
        except FreecoolError as error:
            yield _line({"error": worded(error, wording)})


def _line(line: Line) -> str:
    return json.dumps(line, allow_nan=False) + "\n"
