"""A download by the station client, in bounded time and with the failures that it only logs."""

from __future__ import annotations

import logging
import socket
import threading
from collections.abc import Callable
from typing import TypeVar
from urllib.error import HTTPError, URLError

LOG = "meteostat"
Result = TypeVar("Result")


class _Failures(logging.Handler):
    """The client logs a failed download and returns nothing; kept here as one reason each."""

    def __init__(self, seconds: float) -> None:
        super().__init__(logging.WARNING)
        self.seconds = seconds
        self.thread = 0
        self.reasons: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        # An earlier download that was left behind may still fail now.
        if record.thread != self.thread:
            return
        error = record.exc_info[1] if record.exc_info else None
        self.reasons.append(failure_reason(error, self.seconds) if error else record.getMessage())


def with_timeout(work: Callable[[], Result], seconds: float) -> tuple[Result, list[str]]:
    """Result of a download and the failures it only logged, given the work and the longest wait [s].

    Raises
    ------
    TimeoutError
        The work took longer; it is left behind in its thread.
    """
    outcome: list[Result] = []
    raised: list[Exception] = []

    def run() -> None:
        failures.thread = threading.get_ident()
        try:
            outcome.append(work())
        except Exception as error:
            raised.append(error)

    # The client's hourly download has no time limit of its own, so the thread may be left behind.
    thread = threading.Thread(target=run, daemon=True)
    log, failures = logging.getLogger(LOG), _Failures(seconds)
    before = socket.getdefaulttimeout()
    socket.setdefaulttimeout(seconds)
    log.addHandler(failures)
    try:
        thread.start()
        thread.join(seconds)
    finally:
        log.removeHandler(failures)
        socket.setdefaulttimeout(before)
    if raised:
        raise raised[0]
    if not outcome:
        raise TimeoutError
    return outcome[0], failures.reasons


def failure_reason(error: BaseException, seconds: float) -> str:
    """Why a download failed, in a few words, given what was raised and the longest wait [s]."""
    if isinstance(error, HTTPError):
        return "too many requests, answer 429" if error.code == 429 else f"the server answered {error.code}"
    if isinstance(error, URLError) and isinstance(error.reason, Exception):
        error = error.reason
    if isinstance(error, TimeoutError):
        return f"no answer within {seconds:g} s"
    if isinstance(error, ConnectionResetError):
        return "the connection was cut"
    if isinstance(error, OSError) and type(error).__name__ not in {"BadGzipFile", "EmptyDataError"}:
        return "no connection to the server"
    if type(error) is Exception:
        return "no answer, or no connection to the server"
    return "what came is damaged or no data"
