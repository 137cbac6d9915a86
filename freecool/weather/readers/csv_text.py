"""A plain CSV as text: comments, header and rows, told apart and checked for their form."""

from __future__ import annotations

import csv
import difflib
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from freecool.core.errors import Notice, WeatherError
from freecool.weather.columns import COLUMNS, HUMIDITY_COLUMNS
from freecool.weather.faults import Faults, shorten
from freecool.weather.readers.text import EXPECTED_FORMATS

SAVED_NOTICE = re.compile(r"([a-z_]+): (.+)")


@dataclass(frozen=True, kw_only=True)
class CsvText:
    """A plain CSV as text.

    Attributes
    ----------
    comments : dict of str
        Of the lines before the header, by lower-case key.
    cautions : tuple of Notice
        Of a saved weather, in those lines too.
    positions : dict of int
        Of each known column in a row.
    rows : ndarray of int
        Row of each record in the file, shape (records,).
    fields : list of list of str
        The fields of each record.
    """

    comments: dict[str, str]
    cautions: tuple[Notice, ...]
    positions: dict[str, int]
    rows: np.ndarray
    fields: list[list[str]]

    def texts(self, column: str) -> list[str]:
        """Texts of a column, given its name.

        Parameters
        ----------
        column : str
            A known column.

        Returns
        -------
        list of str
            One a record.
        """
        position = self.positions[column]
        return [record[position] for record in self.fields]


def parse_csv_text(lines: Sequence[str], faults: Faults) -> CsvText:
    """A plain CSV as text, given its lines; a header or a row that cannot be read is refused.

    Parameters
    ----------
    lines : sequence of str
        Of the file.
    faults : Faults
        Whose name a message bears.

    Returns
    -------
    CsvText
        With the columns that are known here.

    Raises
    ------
    WeatherError
        It is no CSV, or lacks a column.
    """
    start = next((row for row, line in enumerate(lines) if not _is_comment(line)), len(lines))
    if start == len(lines):
        raise WeatherError(f"{faults.name} holds only comments, expected {EXPECTED_FORMATS}")
    comments, cautions = _comments(lines[:start])
    try:
        records = [(number + start, record) for number, record in _records(lines[start:])]
    except csv.Error as error:
        raise WeatherError(f"{faults.name} is no readable CSV ({error}), expected {EXPECTED_FORMATS}") from None
    titles = [title.strip().lower() for title in records[0][1]]
    positions = {title: position for position, title in enumerate(titles) if title == "time" or title in COLUMNS}
    _check_header(titles, positions, start + 1, faults)
    kept = [(number, record) for number, record in records[1:] if any(field.strip() for field in record)]
    _check_records(kept, len(titles), faults)
    return CsvText(
        comments=comments,
        cautions=cautions,
        positions=positions,
        rows=np.array([number for number, _ in kept], dtype=int),
        fields=[record for _, record in kept],
    )


def _is_comment(line: str) -> bool:
    return not line.strip() or line.lstrip().startswith("#")


def _comments(lines: Sequence[str]) -> tuple[dict[str, str], tuple[Notice, ...]]:
    """What the lines before the header say by key, and the cautions among them, given those lines."""
    parted = [line.strip().lstrip("#").partition(":") for line in lines]
    pairs = [(key.strip().lower(), value.strip()) for key, _, value in parted]
    matches = [SAVED_NOTICE.fullmatch(value) for key, value in pairs if key == "notice"]
    return dict(pairs), tuple(Notice(*match.groups()) for match in matches if match)


def _check_records(records: Sequence[tuple[int, list[str]]], width: int, faults: Faults) -> None:
    ragged = [(number, len(record)) for number, record in records if len(record) != width]
    if ragged:
        also = f" (and {len(ragged) - 1:,} more rows)" if len(ragged) > 1 else ""
        faults.add(
            f"row {ragged[0][0]} has {ragged[0][1]} fields{also}, expected {width} as in the header: "
            "correct the row, or export the file again"
        )
    if not records:
        faults.add("has a header but no rows, expected one row an hour")
    faults.raise_any()


def _records(lines: Sequence[str]) -> list[tuple[int, list[str]]]:
    reader = csv.reader(lines)
    return [(reader.line_num, row) for row in reader]


def _check_header(titles: list[str], positions: dict[str, int], row: int, faults: Faults) -> None:
    if not positions:
        separated = next((mark for mark in (";", "\t") if mark in titles[0] and "time" in titles[0]), "")
        if separated:
            shown = "tabs" if separated == "\t" else f"'{separated}'"
            raise WeatherError(
                f"{faults.name} row {row}: fields are separated by {shown}, expected ',' and a decimal "
                "point: export the file again with commas"
            )
        raise WeatherError(
            f"{faults.name} is no weather file that is known here: row {row} is "
            f"'{shorten(','.join(titles))}', expected {EXPECTED_FORMATS}"
        )
    doubled = sorted({title for title in positions if titles.count(title) > 1})
    if doubled:
        faults.add(f"row {row}: column {', '.join(doubled)} comes twice, expected once: remove one")
    unknown = [title for title in titles if title not in positions]
    for wanted in (("time",), ("dry_bulb_c", "dry_bulb_f"), HUMIDITY_COLUMNS):
        if not any(name in positions for name in wanted):
            close = next((found for name in wanted for found in difflib.get_close_matches(name, unknown, 1, 0.7)), "")
            hint = f": rename '{close}'?" if close else ": add it"
            one_of = "one of the columns " if len(wanted) > 1 else "the column "
            faults.add(f"row {row}: the header lacks {one_of}{', '.join(wanted)}{hint}")
    faults.raise_any()
