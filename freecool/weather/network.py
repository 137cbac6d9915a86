"""Downloads in bounded time and size, and why one failed, in a few words."""

from __future__ import annotations

import gzip
import logging
import socket
import threading
import time
from collections.abc import Callable
from io import BytesIO
from typing import TypeVar
from urllib.error import HTTPError, URLError
from urllib.request import urlopen

from freecool.core.cancel import refuse_cancelled

GLANCE_SECONDS = 0.25
"""How often a wait looks whether anybody still waits for it [s]."""
LOG = "meteostat"
"""Where the client of station data logs the failures that it does not raise."""
LARGEST_PACKED_BYTES, LARGEST_UNPACKED_BYTES = 5_000_000, 50_000_000
"""Of one station and year; true ones hold some 0.1 and 1 MB (our own limits) [bytes]."""
Result = TypeVar("Result")


def fetch_packed(address: str, seconds: float) -> bytes | None:
    """A gzip file of bounded size, packed and unpacked, given its address and the longest silence.

    Parameters
    ----------
    address : str
        Where it lies.
    seconds : float
        Longest silence [s].

    Returns
    -------
    bytes or None
        As it came; None where there is no such file.

    Raises
    ------
    HTTPError
        The server refuses.
    ValueError
        It is larger than a year of data can be.
    """
    try:
        with urlopen(address, timeout=seconds) as answer:
            packed: bytes = answer.read(LARGEST_PACKED_BYTES + 1)
    except HTTPError as error:
        if error.code == 404:
            return None
        raise
    if len(packed) > LARGEST_PACKED_BYTES:
        raise ValueError("larger than a year of data")
    with gzip.open(BytesIO(packed)) as file:
        if len(file.read(LARGEST_UNPACKED_BYTES + 1)) > LARGEST_UNPACKED_BYTES:
            raise ValueError("larger than a year of data")
    return packed


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
    """Result of a download and the failures it only logged, given the work and the longest wait.

    Parameters
    ----------
    work : callable
        The download.
    seconds : float
        Longest wait [s].

    Returns
    -------
    result : object
        What the work gave.
    failures : list of str
        Reasons that the client logged.

    Raises
    ------
    TimeoutError
        The work took longer; it is left behind in its thread.
    Cancelled
        Nobody waits for it any more; it is left behind too.
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
        end = time.monotonic() + seconds
        while thread.is_alive() and time.monotonic() < end:
            thread.join(min(GLANCE_SECONDS, max(end - time.monotonic(), 0.0)))
            refuse_cancelled()
    finally:
        log.removeHandler(failures)
        socket.setdefaulttimeout(before)
    if raised:
        raise raised[0]
    if not outcome:
        raise TimeoutError
    return outcome[0], failures.reasons


def failure_reason(error: BaseException, seconds: float) -> str:
    """Why a download failed, in a few words, given what was raised and the longest wait.

    Parameters
    ----------
    error : BaseException
        As the client raised it.
    seconds : float
        Longest wait [s].

    Returns
    -------
    str
        The reason.
    """
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
