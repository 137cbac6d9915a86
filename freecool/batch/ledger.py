"""The ledger beside the output: every answered row, on disk as it comes, so that a batch that dies can go on."""

from __future__ import annotations

import json
import os
import sqlite3
import time
import zlib
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

from freecool.batch.columns import Value
from freecool.core.errors import BatchError, short

# Answered rows reach the disk itself at least this often [s]; a power cut costs no more than that.
SYNC_SECONDS = 1.0
DATABASE = "rows.sqlite"
FILES = (DATABASE, f"{DATABASE}-wal", f"{DATABASE}-shm", "whole.csv", "whole.parquet")
BUSY, DAMAGED = {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}, {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}


def ledger_folder(out: Path) -> Path:
    """The folder of a ledger, given the output that it belongs to."""
    return out.with_name(f"{out.name}.part")


class Ledger:
    """The answered rows of one batch, open for more.

    Parameters
    ----------
    folder : Path
    inputs : dict
        What the answers depend on, by name.
    rows : int
        How many rows there are in all.

    Attributes
    ----------
    done : int
        How many rows are answered.

    Raises
    ------
    BatchError
        The ledger was made from other inputs, is in use, or cannot be written.
    """

    def __init__(self, folder: Path, inputs: dict[str, Any], rows: int) -> None:
        self.folder = folder
        self.done = 0
        # One byte a row is all that is kept in memory.
        self._answered = bytearray(rows)
        self._synced = time.monotonic()
        try:
            folder.mkdir(exist_ok=True)
            sync_folder(folder.parent)
            self._database = _connected(folder)
        except (OSError, sqlite3.Error) as error:
            raise self._refusal(error) from None
        try:
            self._begin(inputs)
            self._find_answered()
        except (TypeError, ValueError, sqlite3.Error) as error:
            self._database.close()
            raise (self._refusal(error) if isinstance(error, sqlite3.Error) else _no_ledger(folder, error)) from None
        except BatchError:
            self._database.close()
            raise

    def __enter__(self) -> Ledger:
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        try:
            self._sync()
        except sqlite3.Error as error:
            # Whatever ended the batch is told rather than this.
            if kind is None:
                raise self._refusal(error) from None
        finally:
            self._database.close()

    def __contains__(self, site: int) -> bool:
        return bool(self._answered[site])

    def append(self, site: int, values: list[Value]) -> None:
        """Keep the values of a row, given its number among the sites.

        Parameters
        ----------
        site : int
            From 0; a row that is kept already stays as it is.
        values : list
            One for each column of the job.

        Raises
        ------
        BatchError
            The ledger cannot be written.
        """
        if site in self:
            return
        content = json.dumps(values, ensure_ascii=False, separators=(",", ":")).encode()
        to_disk = time.monotonic() - self._synced >= SYNC_SECONDS
        try:
            if to_disk:
                self._database.execute("PRAGMA synchronous = FULL")
            self._database.execute("INSERT INTO rows VALUES (?, ?, ?)", (site, content, zlib.crc32(content, site)))
            if to_disk:
                self._database.execute("PRAGMA synchronous = NORMAL")
                self._synced = time.monotonic()
        except sqlite3.Error as error:
            raise self._refusal(error) from None
        self._answered[site] = 1
        self.done += 1

    def __iter__(self) -> Iterator[list[Value]]:
        """The values of all rows, in the order of the sites."""
        try:
            for (content,) in self._database.execute("SELECT content FROM rows ORDER BY site"):
                yield json.loads(content)
        except ValueError as error:
            raise strange_row(self.folder, error) from None
        except sqlite3.Error as error:
            raise self._refusal(error) from None

    def _begin(self, inputs: dict[str, Any]) -> None:
        before = _inputs_in(self._database)
        if before is None:
            self._database.execute("BEGIN")
            self._database.execute("CREATE TABLE inputs (content TEXT NOT NULL)")
            self._database.execute("CREATE TABLE rows (site INTEGER PRIMARY KEY, content BLOB, checksum INTEGER)")
            self._database.execute("INSERT INTO inputs VALUES (?)", (json.dumps(inputs, ensure_ascii=False),))
            self._database.execute("COMMIT")
            self._sync()
        elif before != inputs:
            raise BatchError(
                f"{self.folder} was begun with other inputs: {', '.join(changed(before, inputs))}. Give the same "
                "inputs as then, or --overwrite to begin anew."
            )

    def _find_answered(self) -> None:
        """Mark the rows that are as they were written, and drop the others."""
        damaged = []
        for site, content, checksum in self._database.execute("SELECT site, content, checksum FROM rows"):
            whole = isinstance(content, bytes) and zlib.crc32(content, site) == checksum
            if whole and 0 <= site < len(self._answered):
                self._answered[site] = 1
                self.done += 1
            else:
                damaged.append((site,))
        self._database.executemany("DELETE FROM rows WHERE site = ?", damaged)

    def _sync(self) -> None:
        # What is committed survives the death of the process; a checkpoint brings it to the disk itself.
        self._database.execute("PRAGMA wal_checkpoint").fetchall()
        self._synced = time.monotonic()

    def _refusal(self, error: OSError | sqlite3.Error) -> BatchError:
        return _in_use_or_damaged(self.folder, error) or BatchError(
            f"{self.folder} cannot be written ({getattr(error, 'strerror', None) or error}): {self.done:,} of "
            f"{len(self._answered):,} rows are kept; free space or mend the folder, and run it again with --resume."
        )


def read_inputs(folder: Path) -> dict[str, Any] | None:
    """What a ledger's answers depend on, given its folder; None where there is no ledger.

    Returns
    -------
    dict or None

    Raises
    ------
    BatchError
        The ledger is in use, or the folder holds something else.
    """
    if not (folder / DATABASE).exists():
        return None
    try:
        with closing(_connected(folder)) as database:
            return _inputs_in(database)
    except (TypeError, ValueError, sqlite3.Error) as error:
        raise _in_use_or_damaged(folder, error) or _no_ledger(folder, error) from None


def refuse_in_use(folder: Path) -> None:
    """Refuse a ledger that another batch holds, given its folder; one that cannot be read is nobody's.

    Raises
    ------
    BatchError
        It is in use.
    """
    if not (folder / DATABASE).exists():
        return
    try:
        with closing(_connected(folder)) as database:
            database.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.Error as error:
        if _code_of(error) in BUSY:
            raise _in_use(folder) from None


def remove_ledger(folder: Path) -> None:
    """Remove a ledger where there is one, given its folder, and nothing else in it.

    Raises
    ------
    BatchError
        It cannot be removed.
    """
    try:
        for name in FILES:
            (folder / name).unlink(missing_ok=True)
        if folder.is_dir() and not any(folder.iterdir()):
            folder.rmdir()
    except OSError as error:
        raise BatchError(f"{folder} cannot be removed ({error.strerror or error}): remove it by hand.") from None


def changed(before: dict[str, Any], now: dict[str, Any], prefix: str = "") -> list[str]:
    """The names of what differs, given two sets of inputs; where both are short, with what they were and are."""
    names: list[str] = []
    for name in dict.fromkeys([*before, *now]):
        old, new = before.get(name), now.get(name)
        if isinstance(old, dict) and isinstance(new, dict):
            names += changed(old, new, f"{name} ")
        elif old != new:
            names.append(f"{prefix}{name}" if prefix else f"{name} was {old}, is {new}" if _short(old, new) else name)
    return names


def sync_folder(folder: Path) -> None:
    """Bring what a folder lists to the disk itself, where the system can."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(handle)
    except OSError:
        return
    finally:
        os.close(handle)


def _short(*values: Any) -> bool:
    return all(len(str(value)) < 30 for value in values)


def _connected(folder: Path) -> sqlite3.Connection:
    """The database of a ledger, held by this process alone until it closes it or ends, however it ends."""
    database = sqlite3.connect(folder / DATABASE, timeout=0.0, isolation_level=None)
    try:
        # In this order: the log of an exclusive database needs no memory shared between processes.
        database.execute("PRAGMA locking_mode = EXCLUSIVE")
        database.execute("PRAGMA journal_mode = WAL")
        database.execute("PRAGMA synchronous = NORMAL")
    except sqlite3.Error:
        database.close()
        raise
    return database


def _inputs_in(database: sqlite3.Connection) -> dict[str, Any] | None:
    # Both tables and the inputs are written at once, or not at all.
    if database.execute("SELECT name FROM sqlite_master WHERE name = 'inputs'").fetchone() is None:
        return None
    return dict(json.loads(database.execute("SELECT content FROM inputs").fetchone()[0]))


def _in_use_or_damaged(folder: Path, error: Exception) -> BatchError | None:
    if _code_of(error) in BUSY:
        return _in_use(folder)
    if _code_of(error) in DAMAGED:
        return BatchError(
            f"{folder / DATABASE} cannot be read ({error}): --overwrite begins anew; or name another output."
        )
    return None


def strange_row(folder: Path, error: Exception) -> BatchError:
    """What is said of a row that is no answer, given its ledger's folder and what reading it raised."""
    return BatchError(f"{folder} holds a row that is none of this job ({short(str(error))}): --overwrite begins anew.")


def _no_ledger(folder: Path, error: Exception) -> BatchError:
    return BatchError(f"{folder / DATABASE} cannot be read ({error}): remove {folder}, or name another output.")


def _in_use(folder: Path) -> BatchError:
    return BatchError(f"{folder} is in use by another batch that still runs: let it end first.")


def _code_of(error: Exception) -> int:
    # The low byte of an extended code is the code itself.
    return int(getattr(error, "sqlite_errorcode", 0)) & 0xFF
