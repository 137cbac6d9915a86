"""Text on standard output, and progress while a person waits."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from freecool.answers.scenarios import Progress


def echo(text: str) -> None:
    """Print a text, with hyphens for minus signs where standard output has none."""
    try:
        "−".encode(sys.stdout.encoding or "utf-8")
    except UnicodeEncodeError:
        text = text.replace("−", "-")
    typer.echo(text)


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
