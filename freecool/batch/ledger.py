"""The ledger beside the output: every answered row, on disk as it comes, so that a batch that dies can go on.

A folder of two files. `inputs.json` says what the answers depend on. `rows.log` only grows: a line a row, its
checksum before it, so that what a power cut or a full disk left half-written is seen and dropped.
"""

from __future__ import annotations

import json
import os
import time
import zlib
from array import array
from collections.abc import Iterator
from pathlib import Path
from typing import Any, BinaryIO

from freecool.batch.columns import Value
from freecool.core.errors import BatchError

try:
    import fcntl
except ImportError:  # where there is none, nothing keeps two batches from one ledger
    fcntl = None  # type: ignore[assignment]

# Answered rows reach the disk itself at least this often [s]; a power cut costs no more than that.
SYNC_SECONDS = 1.0
NOT_YET = -1
LOG, INPUTS = "rows.log", "inputs.json"


def ledger_folder(out: Path) -> Path:
    """Where the ledger of an output lies, given the output."""
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

    Raises
    ------
    BatchError
        The ledger was made from other inputs, is in use, or cannot be written.
    """

    def __init__(self, folder: Path, inputs: dict[str, Any], rows: int) -> None:
        self.folder = folder
        self.done = 0
        # One number a row is all that is kept in memory.
        self._places = array("q", [NOT_YET]) * rows
        self._synced = time.monotonic()
        try:
            before = read_inputs(folder)
            if before is None:
                folder.mkdir(exist_ok=True)
                (folder / LOG).unlink(missing_ok=True)
                self._write_inputs(inputs)
            elif before != inputs:
                raise BatchError(
                    f"{folder} was begun with other inputs: {', '.join(changed(before, inputs))}. Give the same inputs "
                    "as then, or --overwrite to begin anew."
                )
            self._file: BinaryIO = open(folder / LOG, "a+b", buffering=0)  # noqa: SIM115 (closed by __exit__)
            self._lock()
            self._end = self._read()
        except OSError as error:
            raise self._unwritable(error) from None

    def __enter__(self) -> Ledger:
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        try:
            self._sync()
        except OSError as failure:
            if kind is None:
                raise self._unwritable(failure) from None
        finally:
            self._file.close()

    def __contains__(self, index: int) -> bool:
        return self._places[index] != NOT_YET

    def append(self, index: int, values: list[Value]) -> None:
        """Keep the values of a row, given its place among the sites."""
        if index in self:
            return
        record = _framed(json.dumps([index, values], ensure_ascii=False, separators=(",", ":")).encode())
        try:
            written = 0
            # A disk that fills up takes part of a record before it refuses.
            while written < len(record):
                written += self._file.write(record[written:]) or 0
            if time.monotonic() - self._synced >= SYNC_SECONDS:
                self._sync()
        except OSError as error:
            raise self._unwritable(error) from None
        self._places[index] = self._end
        self._end += len(record)
        self.done += 1

    def __iter__(self) -> Iterator[list[Value]]:
        """The values of all rows, in the order of the sites."""
        with open(self.folder / LOG, "rb") as file:
            for place in self._places:
                file.seek(place)
                record = _unframed(file.readline())
                if record is None:
                    raise BatchError(f"{self.folder / LOG} was damaged meanwhile: run the batch again with --resume.")
                yield record[1]

    def _write_inputs(self, inputs: dict[str, Any]) -> None:
        new = self.folder / f"{INPUTS}.new"
        with new.open("w", encoding="utf-8") as file:
            json.dump(inputs, file, indent=1, ensure_ascii=False)
            file.flush()
            os.fsync(file.fileno())
        new.replace(self.folder / INPUTS)
        sync_folder(self.folder)
        sync_folder(self.folder.parent)

    def _read(self) -> int:
        """Find the rows that are whole, cut off a torn end, and say where the next record begins."""
        self._file.seek(0)
        end = 0
        with open(self.folder / LOG, "rb") as file:
            for line in file:
                if not line.endswith(b"\n"):
                    break
                record = _unframed(line)
                if record is not None and 0 <= record[0] < len(self._places) and record[0] not in self:
                    self._places[record[0]] = end
                    self.done += 1
                end += len(line)
        self._file.truncate(end)
        return end

    def _lock(self) -> None:
        if fcntl is None:
            return
        try:
            # Ends with this process, however it ends.
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            self._file.close()
            raise BatchError(f"{self.folder} is in use by another batch that still runs: let it end first.") from None

    def _sync(self) -> None:
        os.fsync(self._file.fileno())
        self._synced = time.monotonic()

    def _unwritable(self, error: OSError) -> BatchError:
        return BatchError(
            f"{self.folder} cannot be written ({error.strerror or error}): {self.done:,} of {len(self._places):,} rows "
            "are kept; free space or mend the folder, and run it again with --resume."
        )


def read_inputs(folder: Path) -> dict[str, Any] | None:
    """What a ledger's answers depend on, given its folder; None where there is no ledger.

    Raises
    ------
    BatchError
        The folder holds something else.
    """
    try:
        return dict(json.loads((folder / INPUTS).read_text(encoding="utf-8")))
    except FileNotFoundError:
        return None
    except (OSError, ValueError, TypeError):
        raise BatchError(f"{folder / INPUTS} cannot be read: remove {folder}, or name another output.") from None


def remove_ledger(folder: Path) -> None:
    """Remove a ledger where there is one, its inputs first: without them it is none. Nothing else in its folder."""
    try:
        for name in (INPUTS, f"{INPUTS}.new", LOG, "whole.csv", "whole.parquet"):
            (folder / name).unlink(missing_ok=True)
        if folder.is_dir() and not any(folder.iterdir()):
            folder.rmdir()
    except OSError as error:
        raise BatchError(f"{folder} cannot be removed ({error.strerror or error}): remove it by hand.") from None


def changed(before: dict[str, Any], now: dict[str, Any], place: str = "") -> list[str]:
    """The names of what differs between two sets of inputs."""
    names: list[str] = []
    for name in dict.fromkeys([*before, *now]):
        old, new = before.get(name), now.get(name)
        if isinstance(old, dict) and isinstance(new, dict):
            names += changed(old, new, f"{name} ")
        elif old != new:
            names.append(f"{place}{name}" if place else f"{name} was {old}, is {new}" if _short(old, new) else name)
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


def _framed(record: bytes) -> bytes:
    return b"%08x %s\n" % (zlib.crc32(record), record)


def _unframed(line: bytes) -> tuple[int, list[Value]] | None:
    """The record of a line, None where the line is not what was once written."""
    record = line[9:-1]
    if line[:9] != b"%08x " % zlib.crc32(record):
        return None
    index, values = json.loads(record)
    return index, values
