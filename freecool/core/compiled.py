"""Compilation of the kernels: cached on disk, under a key that changes with what they are made of."""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Callable
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numba

from freecool.core.cache import cache_root


@cache
def cache_folder() -> str:
    """Folder of this version's compiled code, which is made where there is none.

    Returns
    -------
    str
        In the cache, else a temporary folder.

    Notes
    -----
    numba notices a change in a function's own file but not in one that it calls, so that the folder is named by a hash
    of everything a kernel can call.
    """
    here = Path(__file__).parent
    digest = hashlib.sha256()
    for source in [here / "air.py", *sorted((here.parent / "physics").glob("*.py"))]:
        digest.update(source.read_bytes())
    digest.update(f"{version('numba')} {version('psychrolib')}".encode())
    folder = cache_root() / f"compiled-{digest.hexdigest()[:16]}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if os.access(folder, os.W_OK):
            return str(folder)
    except OSError:
        pass
    return tempfile.mkdtemp(prefix="freecool-compiled-")


def kernel(inline: bool = False) -> Callable[[Callable[..., Any]], Any]:
    """A decorator that compiles a function at its first call, or loads it from our cache.

    Parameters
    ----------
    inline : bool
        Compile it into its caller: for stages of a loop that would else wait for a call.

    Returns
    -------
    callable
        Takes a function of numbers, arrays and tuples of them, and returns it compiled.
    """

    def _compiled(function: Callable[..., Any]) -> Any:
        settings: Any = numba.config
        before = settings.CACHE_DIR
        settings.CACHE_DIR = cache_folder()
        try:
            # error_model="numpy": a division does not test for zero, each guard stands in the physics.
            return numba.njit(function, cache=True, nogil=True, error_model="numpy", forceinline=inline)
        finally:
            settings.CACHE_DIR = before

    return _compiled
