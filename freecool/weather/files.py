"""Typical-year files: EPW, TMY3 and TMY2."""

from __future__ import annotations

import csv
from calendar import isleap
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from freecool.errors import WeatherError
from freecool.weather.model import HOURS_PER_YEAR, TYPICAL_CALENDAR_YEAR, Site, Weather
from freecool.weather.table import (
    Faults,
    check_ranges,
    checked_site,
    finite,
    hourly_index,
    numbers,
    shorten,
    typical_index,
    weather_from_table,
)
from freecool.weather.text import read_lines

LEAP_YEAR_HOURS = 8_784
NREL = "National Renewable Energy Laboratory (USA), typical meteorological year data, {manual}"

# Field positions, scales to SI and missing-value marks. EPW: Auxiliary Programs documentation, "EnergyPlus
# Weather File (EPW) Data Dictionary"; total sky cover is in tenths.
EPW_FIELDS = {
    "dry_bulb_c": (6, 1.0, (99.9, 999.0, 9999.0)),
    "dew_point_c": (7, 1.0, (99.9, 999.0, 9999.0)),
    "pressure_pa": (9, 1.0, (999999.0, 99999.0, 9999.0)),
    "ghi_w_m2": (13, 1.0, (9999.0, 99999.0, 999999.0)),
    "dni_w_m2": (14, 1.0, (9999.0, 99999.0, 999999.0)),
    "dhi_w_m2": (15, 1.0, (9999.0, 99999.0, 999999.0)),
    "cloud_oktas": (22, 0.8, (99.0, 999.0)),
}
# TMY3: Wilcox and Marion, NREL/TP-581-43156 (2008), table 1-3; pressure in mbar, cloud in tenths.
TMY3_FIELDS = {
    "dry_bulb_c": ("Dry-bulb (C)", 1.0),
    "dew_point_c": ("Dew-point (C)", 1.0),
    "pressure_pa": ("Pressure (mbar)", 100.0),
    "ghi_w_m2": ("GHI (W/m^2)", 1.0),
    "dni_w_m2": ("DNI (W/m^2)", 1.0),
    "dhi_w_m2": ("DHI (W/m^2)", 1.0),
    "cloud_oktas": ("TotCld (tenths)", 0.8),
}
TMY3_MISSING = (-9900.0,)
# TMY2: Marion and Urban, User's Manual for TMY2s (NREL 1995), table 3-2: columns counted from 1; temperatures
# in tenths of a degree, pressure in mbar, cloud in tenths.
TMY2_FIELDS = {
    "dry_bulb_c": (slice(67, 71), 0.1, (9999.0,)),
    "dew_point_c": (slice(73, 77), 0.1, (9999.0,)),
    "pressure_pa": (slice(84, 88), 100.0, (9999.0,)),
    "ghi_w_m2": (slice(17, 21), 1.0, (9999.0,)),
    "dni_w_m2": (slice(23, 27), 1.0, (9999.0,)),
    "dhi_w_m2": (slice(29, 33), 1.0, (9999.0,)),
    "cloud_oktas": (slice(59, 61), 0.8, (99.0,)),
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
    name = Path(path).name
    if not is_epw(lines):
        raise WeatherError(
            f"{name} row 1 is '{shorten(lines[0])}', expected 'LOCATION,': this is no EPW file"
        )
    faults = Faults(name)
    site = _epw_site(lines[0], faults)
    start = next((row for row, line in enumerate(lines) if line.lstrip()[:1].isdigit()), len(lines))
    rows, fields = _split_rows(lines, start, 23, faults)
    years, months, days, hours = (_integers(fields, position, rows, faults) for position in range(4))
    single_year = len(years) > 0 and bool((years == years[0]).all())
    leap = single_year and len(rows) == LEAP_YEAR_HOURS
    _check_length(len(rows), leap, faults)
    year = int(years[0]) if leap else TYPICAL_CALENDAR_YEAR
    _check_sequence(year, months, days, hours, rows, faults)
    real = single_year and (leap or not isleap(int(years[0])))
    first = f"{int(years[0])}-01-01" if real else f"{TYPICAL_CALENDAR_YEAR}-01-01"
    index = hourly_index(first, len(rows), site.utc_offset_h)
    table = pd.DataFrame(index=index)
    for column, (position, scale, missing) in EPW_FIELDS.items():
        values = numbers([row[position] for row in fields], column, rows, faults)
        table[column] = np.where(np.isin(values, missing), np.nan, values * scale)
    check_ranges(table, rows, faults)
    faults.raise_any()
    return weather_from_table(
        table, site, name=name, source=str(path), kind="EPW", typical=not real, allow_gaps=allow_gaps
    )


def read_tmy3(path: str | Path, *, allow_gaps: bool = False) -> Weather:
    """Weather of a TMY3 file, given its path.

    Humidity is read from the dew point, which the file's relative humidity contradicts by up to 6 K.

    Raises
    ------
    WeatherError
        The file is not whole, or holds values no weather has.
    """
    lines = read_lines(path)
    name = Path(path).name
    if not is_tmy3(lines):
        raise WeatherError(f"{name} row 2 does not begin with 'Date (MM/DD/YYYY)': this is no TMY3 file")
    faults = Faults(name)
    head = next(csv.reader([lines[0]]))
    if len(head) < 7:
        raise WeatherError(
            f"{name} row 1 has {len(head)} fields, expected station, name, state, UTC offset, latitude, "
            "longitude, elevation: take the file from its source again"
        )
    zone, latitude, longitude, elevation = (finite(text) for text in head[-4:])
    site_name = ", ".join(part.strip() for part in head[1:-4])
    site = checked_site(site_name, latitude, longitude, elevation, zone, faults)
    titles = [title.strip() for title in lines[1].split(",")]
    absent = [title for title, _ in TMY3_FIELDS.values() if title not in titles]
    if "Time (HH:MM)" not in titles:
        absent.append("Time (HH:MM)")
    if absent:
        raise WeatherError(
            f"{name} row 2 lacks the column {', '.join(absent)}: take the file from its source again"
        )
    rows, fields = _split_rows(lines, 2, len(titles), faults)
    dates = [[*row[0].strip().split("/"), "", ""] for row in fields]
    clock = titles.index("Time (HH:MM)")
    months = _integers(dates, 0, rows, faults)
    days = _integers(dates, 1, rows, faults)
    hours = _integers([row[clock].split(":") for row in fields], 0, rows, faults)
    _check_length(len(rows), False, faults)
    _check_sequence(TYPICAL_CALENDAR_YEAR, months, days, hours, rows, faults)
    table = pd.DataFrame(index=typical_index(site.utc_offset_h))
    for column, (title, scale) in TMY3_FIELDS.items():
        position = titles.index(title)
        values = numbers([row[position] for row in fields], column, rows, faults)
        table[column] = np.where(np.isin(values, TMY3_MISSING), np.nan, values * scale)
    check_ranges(table, rows, faults)
    faults.raise_any()
    return weather_from_table(
        table,
        site,
        name=name,
        source=str(path),
        kind="TMY3",
        typical=True,
        allow_gaps=allow_gaps,
        attribution=NREL.format(manual="NREL/TP-581-43156"),
    )


def read_tmy2(path: str | Path, *, allow_gaps: bool = False) -> Weather:
    """Weather of a TMY2 file, given its path.

    Raises
    ------
    WeatherError
        The file is not whole, or holds values no weather has.
    """
    lines = read_lines(path)
    name = Path(path).name
    if not is_tmy2(lines):
        raise WeatherError(
            f"{name} row 1 is '{shorten(lines[0])}', expected a TMY2 station line: this is no TMY2 file"
        )
    faults = Faults(name)
    head = lines[0]
    latitude = (finite(head[39:41]) + finite(head[42:44]) / 60) * (1 if head[37] == "N" else -1)
    longitude = (finite(head[47:50]) + finite(head[51:53]) / 60) * (1 if head[45] == "E" else -1)
    site_name = f"{head[7:29].strip()}, {head[30:32].strip()}"
    site = checked_site(site_name, latitude, longitude, finite(head[55:59]), finite(head[33:36]), faults)
    kept = [(row, line) for row, line in enumerate(lines[1:], start=2) if line.strip()]
    rows = np.array([row for row, _ in kept], dtype=int)
    bodies = [line for _, line in kept]
    months, days, hours = (
        _integers([[line[first : first + 2]] for line in bodies], 0, rows, faults) for first in (3, 5, 7)
    )
    _check_length(len(rows), False, faults)
    _check_sequence(TYPICAL_CALENDAR_YEAR, months, days, hours, rows, faults)
    table = pd.DataFrame(index=typical_index(site.utc_offset_h))
    for column, (place, scale, missing) in TMY2_FIELDS.items():
        values = numbers([line[place] for line in bodies], column, rows, faults)
        table[column] = np.where(np.isin(values, missing), np.nan, values * scale)
    check_ranges(table, rows, faults)
    faults.raise_any()
    return weather_from_table(
        table,
        site,
        name=name,
        source=str(path),
        kind="TMY2",
        typical=True,
        allow_gaps=allow_gaps,
        attribution=NREL.format(manual="NREL/SP-463-7668"),
    )


def _epw_site(line: str, faults: Faults) -> Site:
    head = next(csv.reader([line]))
    if len(head) < 10:
        raise WeatherError(
            f"{faults.name} row 1 has {len(head)} fields, expected LOCATION, city, state, country, type, "
            "station, latitude, longitude, UTC offset, elevation: take the file from its source again"
        )
    # Counted from the right, since a city may hold commas; a trailing comma is common.
    while head and not head[-1].strip():
        head.pop()
    latitude, longitude, zone, elevation = (finite(text) for text in head[-4:])
    city = ", ".join(part.strip() for part in head[1:-8])
    return checked_site(city, latitude, longitude, elevation, zone, faults)


def _split_rows(
    lines: Sequence[str], start: int, width: int, faults: Faults
) -> tuple[np.ndarray, list[list[str]]]:
    rows, fields, short = [], [], []
    for row, line in enumerate(lines[start:], start=start + 1):
        if not line.strip():
            continue
        parts = line.split(",")
        if len(parts) < width:
            short.append((row, len(parts)))
            parts += [""] * (width - len(parts))
        rows.append(row)
        fields.append(parts)
    if short:
        also = f" (and {len(short) - 1:,} more rows)" if len(short) > 1 else ""
        faults.add(
            f"row {short[0][0]} has {short[0][1]} fields{also}, expected {width}: "
            "the file is cut off or damaged, take it from its source again"
        )
    faults.raise_any()
    return np.array(rows, dtype=int), fields


def _integers(fields: Sequence[Sequence[str]], position: int, rows: np.ndarray, faults: Faults) -> np.ndarray:
    texts = [row[position] for row in fields]
    try:
        return np.array([int(text) for text in texts], dtype=int)
    except ValueError:
        wrong = next(place for place, text in enumerate(texts) if not text.strip().lstrip("+-").isdigit())
        faults.add(
            f"row {rows[wrong]} has '{shorten(texts[wrong])}' for a date or an hour, expected a whole "
            "number: take the file from its source again"
        )
        faults.raise_any()
        raise


def _check_length(count: int, leap: bool, faults: Faults) -> None:
    if count != (LEAP_YEAR_HOURS if leap else HOURS_PER_YEAR):
        faults.add(
            f"holds {count:,} hourly rows, expected {HOURS_PER_YEAR:,}, or {LEAP_YEAR_HOURS:,} for a single "
            "leap year: it is cut off or not hourly, take it from its source again"
        )
        faults.raise_any()


def _check_sequence(
    year: int, months: np.ndarray, days: np.ndarray, hours: np.ndarray, rows: np.ndarray, faults: Faults
) -> None:
    """Add a fault where the hours do not follow each other, given the labels of all rows.

    Files number the hours of a day 1 to 24 or 0 to 23, or call midnight 0 o'clock of the next day.
    """
    expected = pd.date_range(f"{year}-01-01", periods=len(rows), freq="h")
    dates = pd.to_datetime(
        pd.DataFrame({"year": year, "month": months, "day": days}), errors="coerce"
    ).to_numpy()
    hour_of_year = (dates - np.datetime64(f"{year}-01-01")) / np.timedelta64(1, "h") + hours
    position = np.arange(len(rows))
    by_end = np.mod(hour_of_year - 1 - position, len(rows)) != 0
    by_start = hour_of_year != position
    wrong = by_end if by_end.sum() <= by_start.sum() else by_start
    if wrong.any():
        first = int(np.argmax(wrong))
        time = expected[first]
        faults.add(
            f"row {rows[first]} is month {months[first]}, day {days[first]}, hour {hours[first]}, expected "
            f"the hour from {time.day} {time:%B %H:%M}: an hour is missing, doubled or out of order, "
            "take the file from its source again"
        )
        faults.raise_any()
