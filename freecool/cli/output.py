"""What the command line writes besides its answer: tables, pages, and progress while a person waits."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from freecool.core.atomic_file import atomic_file
from freecool.core.errors import FreecoolError

if TYPE_CHECKING:
    import pandas as pd

    from freecool.answers.scenarios import Progress


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


def write_table(table: pd.DataFrame, path: Path) -> None:
    """Write a table to a .csv or .parquet file, whole or not at all.

    Raises
    ------
    FreecoolError
        Another ending, or a place that cannot be written.
    """
    check_table_name(path)
    with atomic_file(path) as whole:
        if path.suffix.lower() == ".csv":
            # Weather handed on names its owner, as the plain weather CSV does.
            owner = table.attrs.get("attribution")
            with whole.open("w", encoding="utf-8", newline="") as file:
                file.write(f"# attribution: {owner}\n" if owner else "")
                table.to_csv(file, float_format="%.6g", lineterminator="\n")
        else:
            table.to_parquet(whole)


def write_page(page: str, path: Path) -> None:
    """Write an HTML page to a file, whole or not at all."""
    with atomic_file(path) as whole:
        whole.write_text(page, encoding="utf-8")


def check_places(*paths: Path | None) -> None:
    """Refuse places that cannot be written, before a long computation rather than after it."""
    for path in paths:
        if path is not None and not (path.parent.is_dir() and os.access(path.parent, os.W_OK)):
            raise FreecoolError(f"{path}: {path.parent} is no folder that can be written; choose another or make it.")


def check_table_name(path: Path | None) -> None:
    """Refuse a table's name that ends neither in .csv nor in .parquet."""
    if path is not None and path.suffix.lower() not in (".csv", ".parquet"):
        ending = path.suffix or "without an ending"
        raise FreecoolError(f"{path}: the table can be written as .csv or .parquet, not {ending!r}.")
