"""Case files: TOML texts that tell what differs from a preset."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from freecool.cases.unit_map import read_map_file
from freecool.core.errors import CaseError


def read_case_file(path: str | Path) -> dict[str, Any]:
    """What a TOML case file tells, given its path.

    Parameters
    ----------
    path : str or Path
        Of a UTF-8 text.

    Returns
    -------
    dict
        Its tables, for `make_case`; not yet validated. The table that `unit.map_file` names, from the file's folder,
        stands in `unit.map`.

    Raises
    ------
    CaseError
        No such file, or no TOML; no such performance map.
    """
    try:
        content = Path(path).read_bytes()
    except FileNotFoundError:
        raise CaseError(f"{path}: no such case file; give the path of a .toml file.") from None
    except OSError as error:
        raise CaseError(f"{path}: cannot be read as a case file ({error}); expected UTF-8 TOML text.") from None
    tables = read_case_text(content, str(path))
    unit = tables.get("unit")
    if isinstance(unit, dict) and isinstance(unit.get("map_file"), str):
        # Only a case file may name another file: a request over the network brings the table itself.
        unit["map"] = read_map_file(Path(path).parent / unit.pop("map_file"))
    return tables


def read_case_text(content: bytes, where: str) -> dict[str, Any]:
    """What the text of a case file tells, given its bytes and where they came from.

    Parameters
    ----------
    content : bytes
        A UTF-8 text.
    where : str
        For error messages.

    Returns
    -------
    dict
        Its tables, for `make_case`; not yet validated.

    Raises
    ------
    CaseError
        No TOML.
    """
    try:
        return tomllib.loads(content.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise CaseError(f"{where}: cannot be read as a case file ({error}); expected UTF-8 TOML text.") from None
    except tomllib.TOMLDecodeError as error:
        raise CaseError(f"{where}: not valid TOML: {error}.") from None
