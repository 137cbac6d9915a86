"""Case files: TOML texts that tell what differs from a preset."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from freecool.cases.unit_map import read_map_file
from freecool.core.errors import CaseError
from freecool.core.regular_file import read_regular

MOST_BYTES = 1_000_000
"""A complete case is under 10 kB; our own bound."""


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
    tables = _tables_of(Path(path))
    map_file = _map_file(Path(path), tables)
    if map_file is not None:
        # Only a case file may name another file: a request over the network brings the table itself.
        del tables["unit"]["map_file"]
        tables["unit"]["map"] = read_map_file(map_file)
    return tables


def files_of_case(path: str | Path) -> list[Path]:
    """The files that a case file tells its case by, given its path.

    Parameters
    ----------
    path : str or Path
        As of `read_case_file`.

    Returns
    -------
    list of Path
        Itself, and the performance map that it names.

    Raises
    ------
    CaseError
        No such file, or no TOML.
    """
    path = Path(path)
    map_file = _map_file(path, _tables_of(path))
    return [path] if map_file is None else [path, map_file]


def _map_file(path: Path, tables: dict[str, Any]) -> Path | None:
    unit = tables.get("unit")
    name = unit.get("map_file") if isinstance(unit, dict) else None
    return path.parent / name if isinstance(name, str) else None


def _tables_of(path: Path) -> dict[str, Any]:
    try:
        content = read_regular(path, MOST_BYTES)
    except FileNotFoundError:
        raise CaseError(f"{path}: no such case file; give the path of a .toml file.") from None
    except OSError as error:
        reason = error.strerror or error
        raise CaseError(f"{path}: cannot be read as a case file ({reason}); expected UTF-8 TOML text.") from None
    return read_case_text(content, str(path))


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
    except RecursionError:
        raise CaseError(f"{where}: its tables or lists lie too deep in one another for a case file.") from None
    except ValueError as error:
        # Also a number or a date that Python cannot hold.
        raise CaseError(f"{where}: not valid TOML: {error}.") from None
