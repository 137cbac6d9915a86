"""Typical-year files: EPW, TMY3 and TMY2."""

from __future__ import annotations

import csv
from calendar import isleap
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd

from freecool.core.errors import WeatherError
from freecool.weather.model import TYPICAL_CALENDAR_YEAR, Location, Weather
from freecool.weather.readers.text import read_lines
from freecool.weather.table import (
    Faults,
    check_ranges,
    checked_location,
    finite,
    hourly_index,
    numbers,
    shorten,
    show_time,
    weather_from_table,
)

NREL = "National Renewable Energy Laboratory (USA), typical meteorological year data, {manual}"


class Field(NamedTuple):
    """Where a quantity stands in a row, its factor to SI, and the values that mark it as missing."""

    place: int
    scale: float
    missing: tuple[float, ...]
    width: int = 0


# Auxiliary Programs documentation, "EnergyPlus Weather File (EPW) Data Dictionary"; cloud in tenths.
EPW_FIELDS = {
    "dry_bulb_c": Field(6, 1.0, (99.9, 999.0, 9999.0)),
    "dew_point_c": Field(7, 1.0, (99.9, 999.0, 9999.0)),
    "pressure_pa": Field(9, 1.0, (9999.0, 99999.0, 999999.0)),
    "ghi_w_m2": Field(13, 1.0, (9999.0, 99999.0, 999999.0)),
    "dni_w_m2": Field(14, 1.0, (9999.0, 99999.0, 999999.0)),
    "dhi_w_m2": Field(15, 1.0, (9999.0, 99999.0, 999999.0)),
    "cloud_oktas": Field(22, 0.8, (99.0, 999.0)),
}
# Wilcox and Marion, NREL/TP-581-43156 (2008), table 1-3; pressure in mbar, cloud in tenths.
TMY3_TIME = "Time (HH:MM)"
TMY3_TITLES = {
    "dry_bulb_c": "Dry-bulb (C)",
    "dew_point_c": "Dew-point (C)",
    "pressure_pa": "Pressure (mbar)",
    "ghi_w_m2": "GHI (W/m^2)",
    "dni_w_m2": "DNI (W/m^2)",
    "dhi_w_m2": "DHI (W/m^2)",
    "cloud_oktas": "TotCld (tenths)",
}
TMY3_SCALES = {"pressure_pa": 100.0, "cloud_oktas": 0.8}
TMY3_FIELDS = {column: Field(-1, TMY3_SCALES.get(column, 1.0), (-9900.0,)) for column in TMY3_TITLES}
# Marion and Urban, User's Manual for TMY2s, NREL/SP-463-7668 (1995), table 3-2, columns counted from 0 here;
# temperatures in tenths of a degree, pressure in mbar, cloud in tenths.
TMY2_WIDTH = 88
TMY2_FIELDS = {
    "dry_bulb_c": Field(67, 0.1, (9999.0,), 4),
    "dew_point_c": Field(73, 0.1, (9999.0,), 4),
    "pressure_pa": Field(84, 100.0, (9999.0,), 4),
    "ghi_w_m2": Field(17, 1.0, (9999.0,), 4),
    "dni_w_m2": Field(23, 1.0, (9999.0,), 4),
    "dhi_w_m2": Field(29, 1.0, (9999.0,), 4),
    "cloud_oktas": Field(59, 0.8, (99.0,), 2),
}


def is_epw(lines: Sequence[str]) -> bool:
    """Whether a file is EPW, given its lines."""
    return lines[0].lstrip().upper().startswith("LOCATION,")


def is_tmy3(lines: Sequence[str]) -> bool:
    """Whether a file is TMY3, given its lines."""
    return len(lines) > 1 and lines[1].lstrip().startswith("Date (MM/DD/YYYY),")


def is_tmy2(lines: Sequence[str]) -> bool:
    """Whether a file is TMY2, given its lines."""
    head = lines[0]
    return len(head) >= 59 and head[1:6].strip().isdigit() and head[37] in "NS" and head[45] in "EW"


def read_epw(path: str | Path, *, allow_gaps: bool = False) -> Weather:
    """Weather of an EPW file, given its path.

    A file whose rows all carry one year and fill it is taken as that year, any other as a typical year.

    Raises
    ------
    WeatherError
        The file is not whole, or holds values no weather has.
    """
    lines = read_lines(path)
    faults = Faults(Path(path).name)
    if not is_epw(lines):
        raise WeatherError(f"{faults.name} row 1 is '{shorten(lines[0])}', expected 'LOCATION,': this is no EPW file")
    location = _epw_location(lines[0], faults)
    start = next((row for row, line in enumerate(lines) if line.lstrip()[:1].isdigit()), len(lines))
    rows, fields = _split_rows(lines, start, 23, faults)
    years, months, days, hours = (_integers([row[place] for row in fields], rows, faults) for place in range(4))
    year = _real_year(years)
    _check_sequence(year or TYPICAL_CALENDAR_YEAR, months, days, hours, rows, faults)
    texts = {column: [row[field.place] for row in fields] for column, field in EPW_FIELDS.items()}
    return _weather(texts, EPW_FIELDS, location, rows, faults, path, "EPW", allow_gaps, year=year)


def read_tmy3(path: str | Path, *, allow_gaps: bool = False) -> Weather:
    """Weather of a TMY3 file, given its path.

    Humidity is read from the dew point, which the file's relative humidity contradicts by up to 6 K.

    Raises
    ------
    WeatherError
        The file is not whole, or holds values no weather has.
    """
    lines = read_lines(path)
    faults = Faults(Path(path).name)
    if not is_tmy3(lines):
        raise WeatherError(f"{faults.name} row 2 does not begin with 'Date (MM/DD/YYYY)': this is no TMY3 file")
    head = _split_header(lines[0], 7, "station, name, state, UTC offset, latitude, longitude, elevation", faults)
    zone, latitude, longitude, elevation = (finite(text) for text in head[-4:])
    place_name = ", ".join(part.strip() for part in head[1:-4])
    location = checked_location(place_name, latitude, longitude, elevation, zone, faults)
    titles = [title.strip() for title in lines[1].split(",")]
    absent = [title for title in (TMY3_TIME, *TMY3_TITLES.values()) if title not in titles]
    if absent:
        raise WeatherError(
            f"{faults.name} row 2 lacks the column {', '.join(absent)}: take the file from its source again"
        )
    rows, fields = _split_rows(lines, 2, len(titles), faults)
    dates = [[*row[0].split("/"), ""] for row in fields]
    clock = titles.index(TMY3_TIME)
    months = _integers([date[0] for date in dates], rows, faults)
    days = _integers([date[1] for date in dates], rows, faults)
    hours = _integers([row[clock].split(":")[0] for row in fields], rows, faults)
    _check_sequence(TYPICAL_CALENDAR_YEAR, months, days, hours, rows, faults)
    places = {column: titles.index(title) for column, title in TMY3_TITLES.items()}
    texts = {column: [row[place] for row in fields] for column, place in places.items()}
    attribution = NREL.format(manual="NREL/TP-581-43156")
    return _weather(texts, TMY3_FIELDS, location, rows, faults, path, "TMY3", allow_gaps, attribution)


def read_tmy2(path: str | Path, *, allow_gaps: bool = False) -> Weather:
    """Weather of a TMY2 file, given its path.

    Raises
    ------
    WeatherError
        The file is not whole, or holds values no weather has.
    """
    lines = read_lines(path)
    faults = Faults(Path(path).name)
    if not is_tmy2(lines):
        raise WeatherError(
            f"{faults.name} row 1 is '{shorten(lines[0])}', expected a TMY2 station line: it is no TMY2 file"
        )
    head = lines[0]
    latitude = (finite(head[39:41]) + finite(head[42:44]) / 60) * (1 if head[37] == "N" else -1)
    longitude = (finite(head[47:50]) + finite(head[51:53]) / 60) * (1 if head[45] == "E" else -1)
    place_name = f"{head[7:29].strip()}, {head[30:32].strip()}"
    location = checked_location(place_name, latitude, longitude, finite(head[55:59]), finite(head[33:36]), faults)
    kept = [(row, line) for row, line in enumerate(lines[1:], start=2) if line.strip()]
    rows = np.array([row for row, _ in kept], dtype=int)
    bodies = [line for _, line in kept]
    _check_widths(rows, [len(line) for line in bodies], TMY2_WIDTH, "characters", faults)
    months, days, hours = (_integers([line[first : first + 2] for line in bodies], rows, faults) for first in (3, 5, 7))
    _check_sequence(TYPICAL_CALENDAR_YEAR, months, days, hours, rows, faults)
    texts = {
        column: [line[field.place : field.place + field.width] for line in bodies]
        for column, field in TMY2_FIELDS.items()
    }
    attribution = NREL.format(manual="NREL/SP-463-7668")
    return _weather(texts, TMY2_FIELDS, location, rows, faults, path, "TMY2", allow_gaps, attribution)


def _weather(
    texts: Mapping[str, Sequence[str]],
    fields: Mapping[str, Field],
    location: Location,
    rows: np.ndarray,
    faults: Faults,
    path: str | Path,
    kind: str,
    allow_gaps: bool,
    attribution: str = "",
    year: int | None = None,
) -> Weather:
    index = hourly_index(f"{year or TYPICAL_CALENDAR_YEAR}-01-01", len(rows), location.utc_offset_h)
    table = pd.DataFrame(index=index)
    for column, field in fields.items():
        values = numbers(texts[column], column, rows, faults)
        table[column] = np.where(np.isin(values, field.missing), np.nan, values * field.scale)
    check_ranges(table, rows, faults)
    faults.raise_any()
    return weather_from_table(
        table,
        location,
        name=faults.name,
        source=str(path),
        kind=kind,
        typical=year is None,
        allow_gaps=allow_gaps,
        attribution=attribution,
    )


def _epw_location(line: str, faults: Faults) -> Location:
    titles = "LOCATION, city, state, country, type, station, latitude, longitude, UTC offset, elevation"
    head = _split_header(line, 10, titles, faults)
    # Counted from the right, since a city may hold commas.
    latitude, longitude, zone, elevation = (finite(text) for text in head[-4:])
    city = ", ".join(part.strip() for part in head[1:-8])
    return checked_location(city, latitude, longitude, elevation, zone, faults)


def _split_header(line: str, least: int, titles: str, faults: Faults) -> list[str]:
    try:
        head = next(csv.reader([line]))
    except csv.Error:
        head = []
    while head and not head[-1].strip():
        head.pop()
    if len(head) < least:
        raise WeatherError(
            f"{faults.name} row 1 has {len(head)} fields, expected {titles}: take the file from its source again"
        )
    return head


def _real_year(years: np.ndarray) -> int | None:
    """The year of a record of one calendar year, None for a typical year, given the year of each row."""
    if len(years) == 0 or (years != years[0]).any() or not 1900 <= years[0] <= 2100:
        return None
    year = int(years[0])
    return year if len(years) == 24 * (365 + isleap(year)) else None


def _split_rows(lines: Sequence[str], start: int, width: int, faults: Faults) -> tuple[np.ndarray, list[list[str]]]:
    kept = [(row, line.split(",")) for row, line in enumerate(lines[start:], start=start + 1) if line.strip()]
    rows = np.array([row for row, _ in kept], dtype=int)
    fields = [parts for _, parts in kept]
    _check_widths(rows, [len(parts) for parts in fields], width, "fields", faults)
    return rows, fields


def _check_widths(rows: np.ndarray, widths: Sequence[int], least: int, what: str, faults: Faults) -> None:
    short = np.array(widths, dtype=int) < least
    if short.any():
        first = int(np.argmax(short))
        also = f" (and {int(short.sum()) - 1:,} more rows are short)" if short.sum() > 1 else ""
        faults.add(
            f"row {rows[first]} has {widths[first]} {what}{also}, expected {least}: "
            "the file is cut off or damaged, take it from its source again"
        )
    faults.raise_any()


def _integers(texts: Sequence[str], rows: np.ndarray, faults: Faults) -> np.ndarray:
    for position, text in enumerate(texts):
        digits = text.strip()
        if not (digits.isascii() and digits.isdecimal() and len(digits) <= 4):
            faults.add(
                f"row {rows[position]} has '{shorten(text)}' for a date or an hour, expected a whole "
                "number: take the file from its source again"
            )
            faults.raise_any()
    return np.array([int(text) for text in texts], dtype=int)


def _check_sequence(
    year: int, months: np.ndarray, days: np.ndarray, hours: np.ndarray, rows: np.ndarray, faults: Faults
) -> None:
    """Raise a fault where the hours of the year are not whole and in order, given the labels of all rows.

    Files number the hours of a day 1 to 24 or 0 to 23, or call midnight 0 o'clock of the next day.
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
            "take the file from its source again"
        )
        faults.raise_any()
