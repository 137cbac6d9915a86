"""What a person is told: words, and progress while one waits."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import typer

from freecool.core.errors import FreecoolError, printable

if TYPE_CHECKING:
    from freecool.answers.scenarios import Progress


class Untold(FreecoolError):
    """An answer that could not be printed."""


def say(text: str, err: bool = False) -> None:
    """Print a text and a line end, given the text; no control character of a user's file reaches the terminal.

    Raises
    ------
    Untold
        Standard output is full.
    """
    stream = sys.stderr if err else sys.stdout
    try:
        "−".encode(getattr(stream, "encoding", None) or "utf-8")
    except UnicodeEncodeError:
        # Hyphens for minus signs where there are none.
        text = text.replace("−", "-")
    try:
        typer.echo(printable(text), err=err)
    except BrokenPipeError:
        # Who read has what they wanted, as head does.
        raise
    except OSError as error:
        if err:
            return
        raise Untold(
            f"The answer cannot be printed ({error.strerror or error}): free space, or send it elsewhere."
        ) from None


@contextmanager
def progress_bar(what: str) -> Iterator[Progress]:
    """A bar on standard error where a person watches, else nothing; an interrupt cancels."""
    from rich import progress as shown
    from rich.console import Console

    console = Console(stderr=True)
    columns = (
        shown.TextColumn("{task.description}"),
        shown.BarColumn(),
        shown.TextColumn("{task.completed:,.0f} of {task.total:,.0f}"),
        shown.TimeRemainingColumn(),
    )
    with shown.Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task(what, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)
