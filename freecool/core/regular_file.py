"""Files read without waiting: a pipe or a device in the place of a file would wait, or never end."""

from __future__ import annotations

import errno
import os
import stat
from io import BufferedReader
from pathlib import Path


def open_regular(path: Path) -> BufferedReader:
    """A file open for reading, given its path.

    Parameters
    ----------
    path : Path
        Of a regular file; a link to one will do.

    Returns
    -------
    io.BufferedReader
        To be closed.

    Raises
    ------
    OSError
        No such file, none that may be read, or a folder, pipe or device.
    """
    try:
        # Looked at before it is opened, which some devices feel, and after, when it cannot be exchanged any more.
        _refuse_other(os.stat(path).st_mode, path)
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except ValueError:
        raise OSError(errno.EINVAL, "no file has such a name", str(path)) from None
    try:
        _refuse_other(os.fstat(handle).st_mode, path)
    except OSError:
        os.close(handle)
        raise
    return os.fdopen(handle, "rb")


def read_regular(path: Path, most_bytes: int) -> bytes:
    """The content of a file, read once, given its path and how much is taken.

    Parameters
    ----------
    path : Path
        As of `open_regular`.
    most_bytes : int
        More is refused.

    Returns
    -------
    bytes
        All of it.

    Raises
    ------
    OSError
        As `open_regular`, or more than `most_bytes`.
    """
    with open_regular(path) as file:
        content = file.read(most_bytes + 1)
    if len(content) > most_bytes:
        raise OSError(errno.EFBIG, f"it holds more than {most_bytes:,} bytes, expected at most that", str(path))
    return content


def _refuse_other(mode: int, path: Path) -> None:
    if not stat.S_ISREG(mode):
        kind = "a folder" if stat.S_ISDIR(mode) else "a pipe or a device"
        raise OSError(errno.EINVAL, f"it is {kind}, expected a file", str(path))
