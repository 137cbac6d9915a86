"""Results written to files: tables as .csv or .parquet, reports as .html or .pdf, each whole or not at all."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from freecool.core.atomic_file import atomic_file
from freecool.core.errors import FreecoolError

if TYPE_CHECKING:
    import pandas as pd

    from freecool.core.presentation import Presented
    from freecool.core.units import System


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
        with atomic_file(dictionary_of(path)) as whole:
            whole.write_text(json.dumps(_dictionary(table, path.name), indent=2, ensure_ascii=False), encoding="utf-8")


def _dictionary(table: pd.DataFrame, name: str) -> dict[str, Any]:
    """What the columns of a table mean and whose weather is in it, given the table and its file's name."""
    told = table.attrs["columns"]
    columns = [{"titles": column, "dc:description": told[column]} for column in (table.index.name, *table.columns)]
    owner = {"dc:rights": table.attrs["attribution"]} if table.attrs["attribution"] else {}
    return {"@context": "http://www.w3.org/ns/csvw", "url": name, **owner, "tableSchema": {"columns": columns}}


def write_report(result: Presented, path: Path, units: System) -> None:
    """Write a result's report, given a path: a PDF where it ends in .pdf, else an HTML page.

    Parameters
    ----------
    result : Estimate, DifferentialSweep or RulesCompared
        What to show.
    path : Path
        Where to; a file there is replaced.
    units : {"ip", "si"}
        Unit system of what is shown.

    Raises
    ------
    FreecoolError
        A place that cannot be written, or a PDF where its library is not installed.
    """
    if path.suffix.lower() == ".pdf":
        from freecool.show.pdf import report_pdf

        with atomic_file(path) as whole:
            whole.write_bytes(report_pdf(result, units))
    else:
        from freecool.show.html import report_html

        write_page(report_html(result, units), path)


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


def table_places(path: Path | None) -> list[Path]:
    """Where a table and what stands beside it are written, given the table's path.

    Parameters
    ----------
    path : Path, optional
        Of a table to be written, or None.

    Returns
    -------
    list of Path
        Itself, and of a .csv file the meaning of its columns.
    """
    if path is None:
        return []
    return [path, dictionary_of(path)] if path.suffix.lower() == ".csv" else [path]


def dictionary_of(path: Path) -> Path:
    """Where the meaning of a table's columns stands, given where the table does.

    Parameters
    ----------
    path : Path
        Of a .csv file.

    Returns
    -------
    Path
        By the W3C's Model for Tabular Data (2015), section 5.3.
    """
    return path.with_name(f"{path.name}-metadata.json")


def check_report(path: Path | None) -> None:
    """Refuse a PDF where its library is not installed, given the path of a report: before a long computation.

    Parameters
    ----------
    path : Path, optional
        Name of a report to be written, or None.

    Raises
    ------
    FreecoolError
        It ends in .pdf, and weasyprint or what it needs is not there.
    """
    if path is not None and path.suffix.lower() == ".pdf":
        from freecool.show.pdf import check_pdf

        check_pdf()


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
