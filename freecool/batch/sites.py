"""The list of sites: a CSV checked before anything runs, then read a row at a time."""

from __future__ import annotations

import csv
import hashlib
import io
import itertools
from collections.abc import Iterator
from difflib import get_close_matches
from pathlib import Path
from typing import NamedTuple

from freecool.cases.model import case_fields
from freecool.cases.options import OPTION_KEYS, is_file
from freecool.core.errors import BatchError
from freecool.core.regular_file import open_regular

PLACE = ("years", "latitude", "longitude", "elevation", "utc_offset")


class Site(NamedTuple):
    """One row of the list."""

    place: int
    """Among the sites, from 0."""
    row: int
    """Its row as a spreadsheet counts: the header is row 1."""
    cells: dict[str, str]
    """What is told, by column; empty cells are left out."""
    fault: str
    """Why the row cannot be read, else empty."""


class SiteList(NamedTuple):
    """What the first reading of a list found."""

    path: Path
    columns: tuple[str, ...]
    rows: int
    digest: str
    """Of the file's content."""
    weather: dict[str, str]
    """Digest of the content of each weather file that is named, empty for a file that cannot be read."""


def read_sites(path: Path) -> SiteList:
    """What a list of sites holds, given its path: columns checked, rows counted, weather files digested.

    Raises
    ------
    BatchError
        No such file, no CSV, a column that is missing, unknown or told twice, or no site in it.
    """
    columns = _header(path)
    count = 0
    weather: dict[str, str] = {}
    for site in _sites(path, columns):
        count += 1
        source = site.cells.get("weather", "")
        if source and is_file(source) and source not in weather:
            weather[source] = digest_of(path.parent / source)
    if not count:
        raise BatchError(f"{path.name} holds no site below its header; give one row a site.")
    return SiteList(path, columns, count, digest_of(path), weather)


def iterate_sites(sites: SiteList) -> Iterator[Site]:
    """The sites in order, read as they are needed.

    Raises
    ------
    BatchError
        The file is no longer what it was.
    """
    # Of a list that grows, no more than was counted.
    yield from itertools.islice(_sites(sites.path, sites.columns), sites.rows)
    if digest_of(sites.path) != sites.digest:
        raise BatchError(f"{sites.path.name} changed while the batch ran: run it again from the start.")


def digest_of(path: Path) -> str:
    """SHA-256 of a file's content, empty where it cannot be read, as of a pipe or a device."""
    try:
        with open_regular(path) as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""


def case_keys() -> list[str]:
    """Every key of a case that holds a single value, dotted, such as "fan.flow"."""
    return [key for key, field in case_fields().items() if field.kind != "list"]


def _header(path: Path) -> tuple[str, ...]:
    first = next(_rows(path), (1, []))[1]
    columns = tuple(cell.strip() for cell in first)
    if len(columns) == 1 and (";" in columns[0] or "\t" in columns[0]):
        raise BatchError(f"{path.name}: the columns are not parted by commas; save the list as comma-separated values.")
    keys = case_keys()
    known = ("name", "weather", *PLACE, *keys, *OPTION_KEYS)
    faults = [f"{name} is missing" for name in ("name", "weather") if name not in columns]
    for name in dict.fromkeys(columns):
        shown = name or "one without a name"
        if columns.count(name) > 1:
            faults.append(f"{shown} is told twice")
        if name not in known:
            faults.append(f"{shown} is unknown{_meant(name, [*keys, *OPTION_KEYS])}")
    faults += _twice(columns)
    if faults:
        raise BatchError(
            f"{path.name}, columns: {'; '.join(faults)}; expected name, weather, and keys of the case such as "
            f"building.floor_area, options of the other commands such as setpoint, or {', '.join(PLACE)}."
        )
    return columns


def _twice(columns: tuple[str, ...]) -> list[str]:
    """A fault for each case key that two columns set under different names."""
    by_key: dict[str, list[str]] = {}
    for name in dict.fromkeys(columns):
        by_key.setdefault(OPTION_KEYS.get(name, name), []).append(name)
    return [
        f"{' and '.join(names)} set the same value ({key}): keep one" for key, names in by_key.items() if len(names) > 1
    ]


def _meant(name: str, keys: list[str]) -> str:
    tables = {key.partition(".")[0] for key in keys}
    ends = {key.rpartition(".")[2]: key for key in reversed(keys)}
    close = get_close_matches(name, keys, n=1) or [ends[end] for end in get_close_matches(name, ends, n=1)]
    if close:
        return f" (did you mean {close[0]!r}?)"
    return " (a table or list: tell it in the case file)" if name.partition(".")[0] in tables else ""


def _sites(path: Path, columns: tuple[str, ...]) -> Iterator[Site]:
    place = 0
    for row, cells in _rows(path):
        # Spreadsheets leave rows of commas behind.
        if row == 1 or not any(cell.strip() for cell in cells):
            continue
        fault = ""
        if len(cells) != len(columns):
            fault = f"has {len(cells)} cells, expected {len(columns)}: put a cell that holds a comma in quotes"
        told = {name: cell.strip() for name, cell in zip(columns, cells, strict=False) if cell.strip()}
        yield Site(place, row, told, fault)
        place += 1


def _rows(path: Path) -> Iterator[tuple[int, list[str]]]:
    row = 0
    try:
        with io.TextIOWrapper(open_regular(path), "utf-8-sig", newline="") as file:
            for row, cells in enumerate(csv.reader(file, strict=True), start=1):
                yield row, cells
    except UnicodeDecodeError:
        raise BatchError(f"{path.name} is not UTF-8 text after row {row}: save it as CSV UTF-8.") from None
    except csv.Error as error:
        raise BatchError(
            f"{path.name} row {row + 1}: cannot be read as CSV ({error}); close every quote, and save it as "
            "comma-separated values."
        ) from None
    except FileNotFoundError:
        raise BatchError(f"{path}: there is no such file; give a CSV with the columns name and weather.") from None
    except OSError as error:
        raise BatchError(
            f"{path}: cannot be read ({error.strerror or error}); give a CSV with the columns name and weather."
        ) from None
