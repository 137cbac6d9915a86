"""Compilation of the kernels: cached on disk, under a key that changes with what they are made of."""

from __future__ import annotations

import hashlib
import os
import pickle
import tempfile
from collections.abc import Callable
from contextlib import suppress
from functools import cache, partial
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numba

from freecool.core.cache import cache_root

UNKEPT = (OSError, EOFError, pickle.UnpicklingError)
"""What the loss of compiled code raises."""


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
    of everything a kernel can call. In it numba names a folder by where the sources lie; since they are the same, all
    these names lead to one, so that another environment does not compile again.
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
            for sources in (here, here.parent / "physics"):
                share(folder, sources)
            return str(folder)
    except OSError:
        pass
    return tempfile.mkdtemp(prefix="freecool-compiled-")


def share(folder: Path, sources: Path) -> None:
    """Give the compiled code of sources that lie here the place it has for the same sources elsewhere.

    Parameters
    ----------
    folder : pathlib.Path
        Of compiled code.
    sources : pathlib.Path
        A folder of modules with kernels.
    """
    from numba.core.caching import UserProvidedCacheLocator

    (folder / sources.name).mkdir(exist_ok=True)
    # Where no link can be made, or there is one, numba goes on with its own folder.
    with suppress(OSError):
        name = UserProvidedCacheLocator.get_suitable_cache_subpath(str(sources / "module.py"))  # type: ignore[no-untyped-call]
        (folder / name).symlink_to(sources.name, target_is_directory=True)


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
            compiled: Any = numba.njit(function, cache=True, nogil=True, error_model="numpy", forceinline=inline)
            # A full disk or a torn file costs time, never the answer; numba lets such pass on one system alone.
            if hasattr(compiled, "_cache"):
                compiled._cache._guard_against_spurious_io_errors = partial(suppress, *UNKEPT)
            return compiled
        finally:
            settings.CACHE_DIR = before

    return _compiled
