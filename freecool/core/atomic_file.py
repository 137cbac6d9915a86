"""Files written whole or not at all, and never over what is no output."""

from __future__ import annotations

import os
import stat
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from freecool.core.errors import FreecoolError


@contextmanager
def atomic_file(path: str | Path, remedy: str = "choose another folder or free space") -> Iterator[Path]:
    """A path to write to, which becomes `path` when the block ends well, given where the file shall be.

    Parameters
    ----------
    path : str or Path
        Where the file shall be.
    remedy : str, optional
        What a person shall do where it cannot be written, for the error message.

    Raises
    ------
    FreecoolError
        The place cannot be written, or holds something else than a file.
    """
    path = Path(path)
    refuse_other_than_file(path)
    try:
        with tempfile.TemporaryDirectory(dir=path.parent, prefix=".freecool-", ignore_cleanup_errors=True) as folder:
            whole = Path(folder) / path.name
            yield whole
            os.replace(whole, path)
    except OSError as error:
        raise FreecoolError(f"{path}: cannot be written ({error.strerror or error}); {remedy}.") from None


def refuse_other_than_file(path: Path) -> None:
    """Refuse to replace what is no file of its own, given a path to write to.

    Parameters
    ----------
    path : Path
        Nothing may be there, or a regular file.

    Raises
    ------
    FreecoolError
        A link, folder, pipe or device is there.
    """
    try:
        mode = path.lstat().st_mode
    except OSError:
        return
    except ValueError:
        raise FreecoolError(f"{path}: no file can have such a name; choose another.") from None
    if not stat.S_ISREG(mode):
        kinds = ((stat.S_ISLNK, "a link to another file"), (stat.S_ISDIR, "a folder"))
        kind = next((words for is_kind, words in kinds if is_kind(mode)), "a pipe or a device")
        raise FreecoolError(f"{path} is {kind}, which would be replaced: name a file.")


def check_places(*paths: Path | None, inputs: Iterable[Path] = ()) -> None:
    """Refuse places that cannot be written, given paths: before a long computation rather than after it.

    Parameters
    ----------
    *paths : Path or None
        Where something is to be written; None is passed over.
    inputs : iterable of Path
        What the same run reads, which nothing may replace.

    Raises
    ------
    FreecoolError
        A folder that is not there or cannot be written, a place that holds an input, or something else than a file,
        or two outputs in one place.
    """
    read = {_place(path) for path in inputs}
    taken: set[Path] = set()
    for path in filter(None, paths):
        if not (path.parent.is_dir() and os.access(path.parent, os.W_OK)):
            raise FreecoolError(f"{path}: {path.parent} is no folder that can be written; choose another or make it.")
        refuse_other_than_file(path)
        if (place := _place(path)) in read:
            raise FreecoolError(f"{path} is read by this very run and would be replaced: name another output.")
        if place in taken:
            raise FreecoolError(f"{path} is named for two outputs: name two files.")
        taken.add(place)


def _place(path: Path) -> Path:
    """One name for all names of a file that is there, links and folders of other spelling resolved."""
    try:
        return Path(os.path.normcase(path.resolve()))
    except (OSError, RuntimeError, ValueError):
        # A ring of links, or a name that no file has: whoever reads it says so.
        return path
