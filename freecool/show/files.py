"""Results written to files: tables as .csv or .parquet, pages as .html, each whole or not at all."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

from freecool.core.atomic_file import atomic_file
from freecool.core.errors import FreecoolError

if TYPE_CHECKING:
    import pandas as pd


def write_table(table: pd.DataFrame, path: Path) -> None:
    """Write a file, given a table and a path that ends in .csv or .parquet.

    Parameters
    ----------
    table : pandas.DataFrame
        What its `attrs` tell, the weather's owner and each column's meaning, stands beside FILE.csv in
        FILE.csv-metadata.json, by the W3C's Metadata Vocabulary for Tabular Data (2015), and within a .parquet file.
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
            table.to_csv(whole, float_format="%.6g", lineterminator="\n", encoding="utf-8")
        else:
            table.to_parquet(whole)
    if path.suffix.lower() == ".csv" and table.attrs:
        with atomic_file(path.with_name(f"{path.name}-metadata.json")) as whole:
            whole.write_text(json.dumps(_dictionary(table, path.name), indent=2, ensure_ascii=False), encoding="utf-8")


def _dictionary(table: pd.DataFrame, name: str) -> dict[str, Any]:
    """What the columns of a table mean and whose weather is in it, given the table and its file's name."""
    told = table.attrs["columns"]
    columns = [{"titles": column, "dc:description": told[column]} for column in (table.index.name, *table.columns)]
    owner = {"dc:rights": table.attrs["attribution"]} if table.attrs["attribution"] else {}
    return {"@context": "http://www.w3.org/ns/csvw", "url": name, **owner, "tableSchema": {"columns": columns}}


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
