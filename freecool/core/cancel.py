"""Work that stops when nobody waits for it any more: whoever begins it says so once, whoever takes long looks."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from threading import Event

from freecool.core.errors import FreecoolError

_wanted: ContextVar[Event | None] = ContextVar("freecool_cancel", default=None)


class Cancelled(FreecoolError):
    """The work was cancelled before it was done."""


@contextmanager
def cancellable(cancel: Event) -> Iterator[None]:
    """Lets what is called inside be cancelled, given the event that says so.

    Parameters
    ----------
    cancel : threading.Event
        Set when nobody waits any more.

    Yields
    ------
    None
        While it can be.
    """
    token = _wanted.set(cancel)
    try:
        yield
    finally:
        _wanted.reset(token)


def cancelling() -> Event | None:
    """The event that cancels the work of this thread.

    Returns
    -------
    threading.Event or None
        None where nobody cancels.
    """
    return _wanted.get()


def refuse_cancelled() -> None:
    """Stop here where the work was cancelled.

    Raises
    ------
    Cancelled
        It was.
    """
    cancel = cancelling()
    if cancel is not None and cancel.is_set():
        raise Cancelled("Nobody waits for it any more; it was cancelled.")
