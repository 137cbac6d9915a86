"""Who answers the rows: processes on this machine or workers of a Dask cluster, behind one interface."""

from __future__ import annotations

import logging
import multiprocessing
import os
import signal
import threading
from collections.abc import Iterator
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    ProcessPoolExecutor,
    wait,
)
from contextlib import contextmanager
from multiprocessing.connection import Connection
from typing import Protocol

from freecool.batch.columns import Value
from freecool.batch.row import RowTask, answer, failed
from freecool.core.errors import BatchError

# Rows in flight for each worker: the next one always waits, and memory does not grow with the list.
IN_FLIGHT = 4
CONNECT_SECONDS = 20


class WorkerPool(Protocol):
    """Workers: an executor, how many they are, and what it raises when one of them died over a row."""

    executor: Executor
    workers: int
    losses: tuple[type[BaseException], ...]

    def renew(self) -> None:
        """Replace what a lost worker broke."""

    def close(self) -> None:
        """Let go of all workers."""


class LocalPool:
    """Processes on this machine, given how many."""

    losses: tuple[type[BaseException], ...] = (BrokenExecutor,)

    def __init__(self, workers: int) -> None:
        self.workers = workers
        self._start()

    def renew(self) -> None:
        """Fresh processes.

        Raises
        ------
        BatchError
            They die before they do anything.
        """
        self.close()
        self._start()
        try:
            self.executor.submit(int).result()
        except BrokenExecutor:
            raise BatchError(
                "The worker processes die as they begin (out of memory?): give fewer --workers, and --resume."
            ) from None

    def _start(self) -> None:
        # Started anew rather than forked: libraries with threads do not survive a fork.
        context = multiprocessing.get_context("spawn")
        lifeline, self._hold = context.Pipe(duplex=False)
        self.executor: Executor = ProcessPoolExecutor(self.workers, context, _begin, (lifeline,))
        with _interrupts_ignored():
            for _ in range(self.workers):
                self.executor.submit(int)

    def close(self) -> None:
        """End the processes at once, whatever they are doing."""
        self._hold.close()
        self.executor.shutdown(cancel_futures=True)


class DaskPool:
    """The workers of a Dask cluster, given the address of its scheduler."""

    def __init__(self, address: str) -> None:
        try:
            from distributed import Client
            from distributed.scheduler import KilledWorker
        except ImportError:
            raise BatchError(
                "--scheduler needs dask.distributed: install it with pip install 'freecool[batch]'."
            ) from None
        # What is lost is said here, in a sentence; the library would print where it noticed.
        for name in list(logging.root.manager.loggerDict):
            if name.partition(".")[0] == "distributed":
                logging.getLogger(name).setLevel(logging.CRITICAL)
        try:
            self._client = Client(address, timeout=CONNECT_SECONDS, set_as_default=False)
            self._client.wait_for_workers(1, timeout=CONNECT_SECONDS)
        except (OSError, ValueError, TimeoutError) as error:
            raise BatchError(
                f"--scheduler is {address!r}: no scheduler with a worker answered there ({error}); give the address "
                "that dask scheduler printed, such as tcp://192.0.2.7:8786, and start dask worker."
            ) from None
        self.losses: tuple[type[BaseException], ...] = (KilledWorker,)
        self.workers = max(1, sum(self._client.nthreads().values()))
        self.executor: Executor = self._client.get_executor(pure=False)

    def renew(self) -> None:
        """Nothing: the scheduler gives the rows of a lost worker to another."""

    def close(self) -> None:
        """Give back the rows that are not done and leave the cluster."""
        self._client.close()


@contextmanager
def worker_pool(workers: int, scheduler: str | None) -> Iterator[WorkerPool]:
    """Workers for a while: on this machine, or of the cluster whose scheduler is named."""
    found = LocalPool(workers) if scheduler is None else DaskPool(scheduler)
    try:
        yield found
    finally:
        found.close()


def cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def answers(team: WorkerPool, tasks: Iterator[RowTask]) -> Iterator[tuple[RowTask, list[Value]]]:
    """Tasks with their answers as they are done, given workers and tasks.

    A row whose worker died is done again alone; one that kills a worker then too gets its sentence, and the others
    go on.

    Raises
    ------
    BatchError
        The cluster is gone, or a worker is of another version.
    """
    running: dict[Future[list[Value]], RowTask] = {}
    ended = False
    while True:
        lost: list[RowTask] = []
        while not ended and not lost and len(running) < IN_FLIGHT * team.workers:
            task = next(tasks, None)
            if task is None:
                ended = True
                break
            try:
                running[team.executor.submit(answer, task)] = task
            except team.losses:
                lost.append(task)
        if not running and not lost:
            return
        done = wait(running, return_when=FIRST_COMPLETED).done if running else set()
        while done:
            future = done.pop()
            task = running.pop(future)
            found = _outcome(team, future)
            if found is not None:
                yield task, found
                continue
            lost.append(task)
            if isinstance(team, LocalPool):
                # One death takes all that its pool was doing.
                done = set(running)
        if lost:
            team.renew()
            for task in lost:
                yield task, _alone(team, task)


def _alone(team: WorkerPool, task: RowTask) -> list[Value]:
    found = _outcome(team, team.executor.submit(answer, task))
    if found is None:
        team.renew()
        return failed(task, "its worker died over it twice (killed, or out of memory); the other rows went on.")
    return found


def _outcome(team: WorkerPool, future: Future[list[Value]]) -> list[Value] | None:
    """The answer of a row, None where its worker died."""
    try:
        return future.result()
    except team.losses:
        return None
    except CancelledError:
        raise BatchError("The cluster was lost: start it again, and run the batch with --resume.") from None


def _begin(lifeline: Connection) -> None:
    """What a worker does first: leave interrupts to the parent, and end when the parent lets go or dies."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with, args=(lifeline,), daemon=True).start()


def _end_with(lifeline: Connection) -> None:
    try:
        lifeline.recv()
    except (EOFError, OSError):
        os._exit(1)


@contextmanager
def _interrupts_ignored() -> Iterator[None]:
    """Processes started here never see Ctrl-C, not even while they begin."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
