"""Files written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
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
        The place cannot be written.
    """
    path = Path(path)
    try:
        with tempfile.TemporaryDirectory(dir=path.parent, prefix=".freecool-", ignore_cleanup_errors=True) as folder:
            whole = Path(folder) / path.name
            yield whole
            os.replace(whole, path)
    except OSError as error:
        raise FreecoolError(f"{path}: cannot be written ({error.strerror or error}); {remedy}.") from None
