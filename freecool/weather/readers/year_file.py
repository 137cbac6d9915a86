"""What EPW, TMY3 and TMY2 share: a header with the location, then one row an hour for one whole year."""

from __future__ import annotations

import csv
from calendar import isleap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from freecool.core.errors import WeatherError
from freecool.weather.faults import Faults, check_ranges, numbers, shorten, show_time
from freecool.weather.marks import marks_notice, without_marks
from freecool.weather.model import TYPICAL_CALENDAR_YEAR, Location, Weather
from freecool.weather.readers.text import TextFile
from freecool.weather.table import hourly_index, weather_from_table

TAKE_AGAIN = "take the file from its source again"


@dataclass(frozen=True)
class FileField:
    """A quantity as a file writes it.

    Attributes
    ----------
    position : int
        Of its field in a row, or of its first character where fields have fixed widths; -1 where the header tells.
    scale : float
        Factor from the file's unit to that of the column.
    missing : tuple of float
        Values that mark it as missing [unit of the file].
    width : int
        Characters, where fields have fixed widths.
    """

    position: int
    scale: float
    missing: tuple[float, ...]
    width: int = 0


@dataclass(frozen=True, kw_only=True)
class YearRows:
    """The rows of a file of one whole year, as text.

    Attributes
    ----------
    rows : ndarray of int
        Row of each hour in the file, shape (hours,).
    texts : dict of list of str
        By column, one text an hour.
    year : int, optional
        The calendar year, None for a typical year.
    """

    rows: np.ndarray
    texts: Mapping[str, Sequence[str]]
    year: int | None = None


def weather_of_year(
    file: TextFile,
    location: Location,
    year_rows: YearRows,
    fields: Mapping[str, FileField],
    faults: Faults,
    *,
    kind: str,
    allow_gaps: bool,
    attribution: str = "",
) -> Weather:
    """The Weather of a file of one whole year, given its location, its rows and how it writes each quantity.

    Parameters
    ----------
    file : TextFile
        The file.
    location : Location
        Where it was measured.
    year_rows : YearRows
        Its hours, in order and whole.
    fields : dict of FileField
        By column.
    faults : Faults
        Found so far; more are added.
    kind : str
        Which format it is.
    allow_gaps : bool
        Fill gaps longer than 48 h too, instead of refusing the month.
    attribution : str
        Whose data they are, where the format tells.

    Returns
    -------
    Weather
        Without gaps.

    Raises
    ------
    WeatherError
        With all faults of the file in one message.
    """
    first_day = f"{year_rows.year or TYPICAL_CALENDAR_YEAR}-01-01"
    table = pd.DataFrame(index=hourly_index(first_day, len(year_rows.rows), location.utc_offset_h))
    marks = {}
    for column, field in fields.items():
        values = numbers(year_rows.texts[column], column, year_rows.rows, faults)
        values = np.where(np.isin(values, field.missing), np.nan, values)
        values, marks[column] = without_marks(values, column, field.scale)
        table[column] = values * field.scale
    check_ranges(table, year_rows.rows, faults)
    faults.raise_any()
    return weather_from_table(
        table,
        location,
        name=file.name,
        source=file.source,
        kind=kind,
        typical=year_rows.year is None,
        allow_gaps=allow_gaps,
        notices=marks_notice(marks),
        attribution=attribution,
        # "At the time indicated", which is the hour's end; sunshine is of the 60 minutes before it. TMY3: Wilcox and
        # Marion, NREL/TP-581-43156 (2008), table 1-3, as pvlib's readers of TMY3 and EPW quote it; TMY2 from memory.
        air_at="end",
    )


def split_header(line: str, least: int, titles: str, faults: Faults) -> list[str]:
    """Fields of the header line, given the line and how many it has at least.

    Parameters
    ----------
    line : str
        The first line of the file; a field in quotes may hold commas.
    least : int
        Fields expected.
    titles : str
        What to say was expected.
    faults : Faults
        Whose name the message bears.

    Returns
    -------
    list of str
        The fields, without empty ones at the end.

    Raises
    ------
    WeatherError
        There are fewer.
    """
    try:
        head = next(csv.reader([line]))
    except csv.Error:
        head = []
    while head and not head[-1].strip():
        head.pop()
    if len(head) < least:
        raise WeatherError(f"{faults.name} row 1 has {len(head)} fields, expected {titles}: {TAKE_AGAIN}")
    return head


def real_year(years: np.ndarray) -> int | None:
    """The calendar year that the rows fill, given the year of each row.

    Parameters
    ----------
    years : ndarray of int
        As the file has them, shape (hours,).

    Returns
    -------
    int or None
        The year; None for a typical year.
    """
    if len(years) == 0 or (years != years[0]).any() or not 1900 <= years[0] <= 2100:
        return None
    year = int(years[0])
    return year if len(years) == 24 * (365 + isleap(year)) else None


def split_rows(lines: Sequence[str], start: int, width: int, faults: Faults) -> tuple[np.ndarray, list[list[str]]]:
    """Rows of comma-separated fields, given the lines, where they begin and their width.

    Parameters
    ----------
    lines : sequence of str
        Of the file.
    start : int
        Of the first row, from 0.
    width : int
        Fields expected at least.
    faults : Faults
        To add to.

    Returns
    -------
    rows : ndarray of int
        Row of each in the file, from 1, shape (rows,).
    fields : list of list of str
        The fields of each.

    Raises
    ------
    WeatherError
        A row is short.
    """
    kept = [(row, line.split(",")) for row, line in enumerate(lines[start:], start=start + 1) if line.strip()]
    rows = np.array([row for row, _ in kept], dtype=int)
    fields = [parts for _, parts in kept]
    check_widths(rows, [len(parts) for parts in fields], width, "fields", faults)
    return rows, fields


def check_widths(rows: np.ndarray, widths: Sequence[int], least: int, what: str, faults: Faults) -> None:
    """Refuse rows that are short, given the width of each.

    Parameters
    ----------
    rows : ndarray of int
        Row of each in the file, shape (rows,).
    widths : sequence of int
        Fields or characters in each.
    least : int
        Expected at least.
    what : str
        What is counted.
    faults : Faults
        To add to.

    Raises
    ------
    WeatherError
        A row is short.
    """
    short = np.array(widths, dtype=int) < least
    if short.any():
        first = int(np.argmax(short))
        also = f" (and {int(short.sum()) - 1:,} more rows are short)" if short.sum() > 1 else ""
        faults.add(
            f"row {rows[first]} has {widths[first]} {what}{also}, expected {least}: "
            "the file is cut off or damaged, take it from its source again"
        )
    faults.raise_any()


def whole_numbers(texts: Sequence[str], rows: np.ndarray, faults: Faults) -> np.ndarray:
    """Parts of dates and hours, given their texts.

    Parameters
    ----------
    texts : sequence of str
        One a row.
    rows : ndarray of int
        Row of each in the file, shape (rows,).
    faults : Faults
        To add to.

    Returns
    -------
    ndarray of int
        The numbers, shape (rows,).

    Raises
    ------
    WeatherError
        One is no whole number of up to four digits.
    """
    # A year has few dates and hours, each written many times.
    known: dict[str, int] = {}
    for text in dict.fromkeys(texts):
        digits = text.strip()
        if not (digits.isascii() and digits.isdecimal() and len(digits) <= 4):
            faults.add(
                f"row {rows[texts.index(text)]} has '{shorten(text)}' for a date or an hour, expected a whole "
                f"number: {TAKE_AGAIN}"
            )
            faults.raise_any()
        known[text] = int(digits)
    return np.array([known[text] for text in texts], dtype=int)


def check_sequence(
    year: int, months: np.ndarray, days: np.ndarray, hours: np.ndarray, rows: np.ndarray, faults: Faults
) -> None:
    """Refuse hours that are not the whole year in order, given the date and hour of each row.

    Files number the hours of a day 1 to 24 or 0 to 23, or call midnight 0 o'clock of the next day.

    Parameters
    ----------
    year : int
        On whose calendar they lie.
    months, days, hours : ndarray of int
        As the file has them, shape (rows,).
    rows : ndarray of int
        Row of each in the file, shape (rows,).
    faults : Faults
        To add to.

    Raises
    ------
    WeatherError
        Hours are missing, doubled or out of order.
    """
    hours_of_year = 24 * (365 + isleap(year))
    if len(rows) != hours_of_year:
        faults.add(
            f"holds {len(rows):,} hourly rows, expected {hours_of_year:,}: it is cut off or not hourly, "
            "take it from its source again"
        )
        faults.raise_any()
    start = np.datetime64(f"{year}-01-01")
    labels = pd.DataFrame({"year": year, "month": months, "day": days})
    dates = pd.to_datetime(labels, errors="coerce").to_numpy()
    hour_of_year = (dates - start) / np.timedelta64(1, "h") + hours
    position = np.arange(hours_of_year)
    by_end = np.mod(hour_of_year - 1 - position, hours_of_year) != 0
    by_start = hour_of_year != position
    wrong = by_end if by_end.sum() <= by_start.sum() else by_start
    if wrong.any():
        first = int(np.argmax(wrong))
        time = pd.Timestamp(start) + pd.Timedelta(hours=first)
        faults.add(
            f"row {rows[first]} is month {months[first]}, day {days[first]}, hour {hours[first]}, expected "
            f"the hour from {show_time(time)}: an hour is missing, doubled or out of order, "
            f"{TAKE_AGAIN}"
        )
        faults.raise_any()
