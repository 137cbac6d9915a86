"""Where files that can be made again are kept."""

from __future__ import annotations

import os
from pathlib import Path


def cache_root() -> Path:
    """The folder of everything kept for later, which may not exist yet.

    Returns
    -------
    pathlib.Path
        `FREECOOL_CACHE_DIR` where it is set, else the user's cache folder as the system has it.
    """
    import platformdirs

    return Path(os.environ.get("FREECOOL_CACHE_DIR") or platformdirs.user_cache_path("freecool", appauthor=False))
