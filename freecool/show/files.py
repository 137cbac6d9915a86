"""Results written to files: tables as .csv or .parquet, pages as .html, each whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from freecool.core.atomic_file import atomic_file
from freecool.core.errors import FreecoolError

if TYPE_CHECKING:
    import pandas as pd


def write_table(table: pd.DataFrame, path: Path) -> None:
    """Write a file, given a table and a path that ends in .csv or .parquet.

    Parameters
    ----------
    table : pandas.DataFrame
        Its `attrs["attribution"]`, where there is one, stands in the first line of a .csv file.
    path : Path
        Where to; a file there is replaced.

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
    """Write a file, given an HTML page and a path.

    Parameters
    ----------
    page : str
        HTML.
    path : Path
        Where to; a file there is replaced.

    Raises
    ------
    FreecoolError
        A place that cannot be written.
    """
    with atomic_file(path) as whole:
        whole.write_text(page, encoding="utf-8")


def check_places(*paths: Path | None) -> None:
    """Refuse places that cannot be written, given paths: before a long computation rather than after it.

    Parameters
    ----------
    *paths : Path or None
        Where something is to be written; None is passed over.

    Raises
    ------
    FreecoolError
        A folder that is not there or cannot be written.
    """
    for path in paths:
        if path is not None and not (path.parent.is_dir() and os.access(path.parent, os.W_OK)):
            raise FreecoolError(f"{path}: {path.parent} is no folder that can be written; choose another or make it.")


def check_table_name(path: Path | None) -> None:
    """Refuse a table's name that ends neither in .csv nor in .parquet, given its path.

    Parameters
    ----------
    path : Path, optional
        Name of a table to be written, or None.

    Raises
    ------
    FreecoolError
        Another ending.
    """
    if path is not None and path.suffix.lower() not in (".csv", ".parquet"):
        ending = path.suffix or "without an ending"
        raise FreecoolError(f"{path}: the table can be written as .csv or .parquet, not {ending!r}.")
