"""The results: the ledger turned into one table, in the order of the sites, whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

from freecool.batch.columns import COLUMNS, JobName, Value
from freecool.batch.ledger import Ledger, strange_row, sync_folder
from freecool.core.errors import BatchError

if TYPE_CHECKING:
    import pyarrow

# Rows of a row group; two groups are in memory at once.
ROWS_AT_ONCE = 1_000
ERROR = 2
# What a spreadsheet may run as it opens a CSV; OWASP, CSV injection (from memory).
FORMULA = ("=", "+", "-", "@", "\t", "\r")


def write_results(out: Path, ledger: Ledger, job: JobName) -> tuple[int, str | None]:
    """Write a .csv or .parquet file, given where and a complete ledger.

    Returns
    -------
    tuple of int and str or None
        How many rows have an error, and the first of them.

    Raises
    ------
    BatchError
        The place cannot be written; the ledger stays as it is.
    """
    # Begun inside the ledger's folder, so that nothing half-written lies about after a sudden death.
    whole = ledger.folder / f"whole{out.suffix.lower()}"
    errors, first = 0, None
    try:
        with _writer(whole, job) as writer:
            for rows in _several(ledger):
                writer.write_table(_checked_table(rows, job, whole))
                told = [str(row[ERROR]) for row in rows if row[ERROR] is not None]
                errors += len(told)
                first = first or next(iter(told), None)
        with whole.open("rb+") as file:
            os.fsync(file.fileno())
        os.replace(whole, out)
        sync_folder(out.parent)
    except OSError as error:
        whole.unlink(missing_ok=True)
        raise BatchError(
            f"{out}: cannot be written ({error.strerror or error}); every row is kept: free space and run it again "
            "with --resume."
        ) from None
    return errors, first


def _several(rows: Iterable[list[Value]]) -> Iterator[list[list[Value]]]:
    left = iter(rows)
    while several := list(islice(left, ROWS_AT_ONCE)):
        yield several


def _for_spreadsheets(rows: list[list[Value]]) -> list[list[Value]]:
    """Rows whose texts no spreadsheet takes for a formula: an apostrophe stands before those that begin like one."""
    return [
        [f"'{value}" if isinstance(value, str) and value.startswith(FORMULA) else value for value in row]
        for row in rows
    ]


def _schema(job: JobName) -> pyarrow.Schema:
    import pyarrow

    kinds = {"text": pyarrow.string(), "number": pyarrow.float64(), "flag": pyarrow.bool_()}
    return pyarrow.schema([(column.name, kinds[column.kind]) for column in COLUMNS[job]])


def _table(rows: list[list[Value]], job: JobName) -> pyarrow.Table:
    import pyarrow

    schema = _schema(job)
    columns = zip(*rows, strict=True)
    arrays = [pyarrow.array(values, kind) for values, kind in zip(columns, schema.types, strict=True)]
    return pyarrow.Table.from_arrays(arrays, schema=schema)


def _checked_table(rows: list[list[Value]], job: JobName, path: Path) -> pyarrow.Table:
    try:
        return _table(_for_spreadsheets(rows) if path.suffix == ".csv" else rows, job)
    except (TypeError, ValueError) as error:
        raise strange_row(path.parent, error) from None


def _writer(path: Path, job: JobName) -> Any:
    schema = _schema(job)
    if path.suffix == ".csv":
        from pyarrow.csv import CSVWriter, WriteOptions

        return CSVWriter(path, schema, write_options=WriteOptions(quoting_style="needed"))
    from pyarrow.parquet import ParquetWriter

    return ParquetWriter(path, schema)
