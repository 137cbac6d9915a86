"""Case files: TOML texts that tell what differs from a preset, read and written."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import tomli_w

from freecool.cases.fields import CaseField
from freecool.cases.logo import read_logo
from freecool.cases.model import Case, case_fields, make_case
from freecool.cases.unit_map import read_map_file
from freecool.cases.vocabulary import MONEY_UNITS
from freecool.core.errors import CaseError
from freecool.core.regular_file import read_regular

MOST_BYTES = 1_000_000
"""A complete case is under 10 kB; our own bound."""
NAMED_FILES: dict[tuple[str, str], Callable[[Path], str]] = {
    ("unit", "map"): read_map_file,
    ("quote", "logo"): read_logo,
}
"""What reads the file that a case file names in place of a value, by section and key."""

# TOML has no word for nothing: this clears what a preset says.
NONE = "none"
# Longer ones stand above their line.
LONGEST_LINE = 120


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
        stands in `unit.map`, the logo that `quote.logo_file` names in `quote.logo`.

    Raises
    ------
    CaseError
        No such file, or no TOML; no such performance map or logo.
    """
    tables = _tables_of(Path(path))
    for section, key, file in _named_files(Path(path), tables):
        # Only a case file may name another file: a request over the network brings what would stand in it.
        del tables[section][f"{key}_file"]
        tables[section][key] = NAMED_FILES[section, key](file)
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
        Itself, and the performance map and the logo that it names.

    Raises
    ------
    CaseError
        No such file, or no TOML.
    """
    path = Path(path)
    return [path, *(file for _, _, file in _named_files(path, _tables_of(path)))]


def _named_files(path: Path, tables: dict[str, Any]) -> Iterator[tuple[str, str, Path]]:
    """Section, key and place of each file that a case file names."""
    for section, key in NAMED_FILES:
        table = tables.get(section)
        name = table.get(f"{key}_file") if isinstance(table, dict) else None
        if isinstance(name, str):
            yield section, key, path.parent / name


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
        Its tables, for `make_case`; not yet validated; None where the text says "none" for what may be none.

    Raises
    ------
    CaseError
        No TOML.
    """
    try:
        return _with_none(tomllib.loads(content.decode("utf-8-sig")))
    except UnicodeDecodeError as error:
        raise CaseError(f"{where}: cannot be read as a case file ({error}); expected UTF-8 TOML text.") from None
    except RecursionError:
        raise CaseError(f"{where}: its tables or lists lie too deep in one another for a case file.") from None
    except ValueError as error:
        # Also a number or a date that Python cannot hold.
        raise CaseError(f"{where}: not valid TOML: {error}.") from None


def case_text(told: Mapping[str, Any], case: Case) -> str:
    """The text of a case file that tells what was told, given that and the case that it made.

    Parameters
    ----------
    told : mapping
        Nested tables, as of `make_case`; a number without a unit is in that of the case's units.
    case : Case
        What `make_case` made of them.

    Returns
    -------
    str
        TOML: what was told as it was told, each with its unit and a comment that says what it is, and the preset.

    Raises
    ------
    CaseError
        What was told cannot be told by a case file.

    Examples
    --------
    >>> told = {"fan": {"flow": 900}}
    >>> print(case_text(told, make_case(told)))
    preset = "detached-house-medium"
    <BLANKLINE>
    [fan]
    flow = "900cfm" # supply air
    <BLANKLINE>
    """
    fields, values = case_fields(), dict(leaves({"preset": case.preset, **told}))
    tables: dict[str, list[str]] = {}
    for key in [key for key in fields if key in values] + [key for key in values if key not in fields]:
        table, _, name = key.rpartition(".")
        tables.setdefault(table, []).append(_line(name, values[key], fields.get(key), case))
    text = "\n".join(f"[{table}]\n{''.join(lines)}" if table else "".join(lines) for table, lines in tables.items())
    if make_case(read_case_text(text.encode(), "the case file"), units=case.units) != case:
        raise CaseError(
            "What was told cannot be told by a case file: a whole part is cleared; clear its values one by one."
        )
    return text


def _line(name: str, value: Any, field: CaseField | None, case: Case) -> str:
    """A value as a line of TOML, with what it is."""
    if field is None or field.kind == "list":
        return tomli_w.dumps({name: value}, multiline_strings=True)
    if value is None:
        value = NONE
    elif field.kind == "quantity" and _is_number(value):
        value = f"{value}{field.unit(case.units)}"
    elif field.kind in ("number", "integer", "flag"):
        value = field.value(case)
    line = tomli_w.dumps({name: value}, multiline_strings=True).rstrip("\n")
    unit = MONEY_UNITS.get(field.key, "").replace("money", case.money.currency)
    what = f"# {field.description}{f' [{unit}]' if unit else ''}"
    if field.key in ("name", "preset"):
        return f"{line}\n"
    return f"{what}\n{line}\n" if "\n" in line or len(line) + len(what) >= LONGEST_LINE else f"{line} {what}\n"


def leaves(tables: Mapping[str, Any], before: str = "") -> Iterator[tuple[str, Any]]:
    """Every single value of nested tables, given those and the key that they stand under.

    Parameters
    ----------
    tables : mapping
        As a case file's.
    before : str
        Of the tables, with its dot.

    Yields
    ------
    tuple of str and object
        Its dotted key, and the value.
    """
    for name, value in tables.items():
        if isinstance(value, Mapping):
            yield from leaves(value, f"{before}{name}.")
        else:
            yield f"{before}{name}", value


def _with_none(tables: Mapping[str, Any], before: str = "") -> dict[str, Any]:
    """The tables of a case file with None for the word that stands for it."""
    found: dict[str, Any] = {}
    for name, value in tables.items():
        field = case_fields().get(f"{before}{name}")
        if isinstance(value, Mapping):
            found[name] = _with_none(value, f"{before}{name}.")
        else:
            found[name] = None if value == NONE and field is not None and field.optional else value
    return found


def _is_number(value: Any) -> bool:
    try:
        float(value)
    except ValueError:
        return False
    return True
