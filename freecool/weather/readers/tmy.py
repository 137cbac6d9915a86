"""Typical meteorological years of the United States: TMY3 and TMY2."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from freecool.core.errors import WeatherError
from freecool.weather.faults import Faults, checked_location, finite, shorten
from freecool.weather.model import TYPICAL_CALENDAR_YEAR, Location, Weather
from freecool.weather.readers.text import TextFile
from freecool.weather.readers.year_file import (
    TAKE_AGAIN,
    FileField,
    YearRows,
    check_sequence,
    check_widths,
    split_header,
    split_rows,
    weather_of_year,
    whole_numbers,
)

NREL = "National Renewable Energy Laboratory (USA), typical meteorological year data, {manual}"
TMY3_HEADER = "station, name, state, UTC offset, latitude, longitude, elevation"
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
TMY3_FIELDS = {column: FileField(-1, TMY3_SCALES.get(column, 1.0), (-9900.0,)) for column in TMY3_TITLES}
# Marion and Urban, User's Manual for TMY2s, NREL/SP-463-7668 (1995), table 3-2, characters counted from 0 here;
# temperatures in tenths of a degree, pressure in mbar, cloud in tenths.
TMY2_WIDTH = 88
TMY2_FIELDS = {
    "dry_bulb_c": FileField(67, 0.1, (9999.0,), 4),
    "dew_point_c": FileField(73, 0.1, (9999.0,), 4),
    "pressure_pa": FileField(84, 100.0, (9999.0,), 4),
    "ghi_w_m2": FileField(17, 1.0, (9999.0,), 4),
    "dni_w_m2": FileField(23, 1.0, (9999.0,), 4),
    "dhi_w_m2": FileField(29, 1.0, (9999.0,), 4),
    "cloud_oktas": FileField(59, 0.8, (99.0,), 2),
}


def is_tmy3(lines: Sequence[str]) -> bool:
    """Whether a file is TMY3, given its lines.

    Parameters
    ----------
    lines : sequence of str
        Of the file.

    Returns
    -------
    bool
        True where its second line begins as that of a TMY3 file does.
    """
    return len(lines) > 1 and lines[1].lstrip().startswith("Date (MM/DD/YYYY),")


def is_tmy2(lines: Sequence[str]) -> bool:
    """Whether a file is TMY2, given its lines.

    Parameters
    ----------
    lines : sequence of str
        Of the file.

    Returns
    -------
    bool
        True where its first line is a TMY2 station line.
    """
    head = lines[0]
    return len(head) >= 59 and head[1:6].strip().isdigit() and head[37] in "NS" and head[45] in "EW"


def read_tmy3(file: TextFile, *, allow_gaps: bool = False) -> Weather:
    """Weather of a TMY3 file, given the file.

    Humidity is read from the dew point, which the file's relative humidity contradicts by up to 6 K.

    Parameters
    ----------
    file : TextFile
        As `text.read_text_file` gives it.
    allow_gaps : bool
        Fill gaps longer than 48 h too, instead of refusing the month.

    Returns
    -------
    Weather
        A typical year without gaps.

    Raises
    ------
    WeatherError
        The file is not whole, or holds values no weather has.
    """
    faults = Faults(file.name)
    if not is_tmy3(file.lines):
        raise WeatherError(f"{file.name} row 2 does not begin with 'Date (MM/DD/YYYY)': this is no TMY3 file")
    location = _tmy3_location(file.lines[0], faults)
    rows = _tmy3_rows(file.lines, faults)
    attribution = NREL.format(manual="NREL/TP-581-43156")
    return weather_of_year(
        file, location, rows, TMY3_FIELDS, faults, kind="TMY3", allow_gaps=allow_gaps, attribution=attribution
    )


def read_tmy2(file: TextFile, *, allow_gaps: bool = False) -> Weather:
    """Weather of a TMY2 file, given the file.

    Parameters
    ----------
    file : TextFile
        As `text.read_text_file` gives it.
    allow_gaps : bool
        Fill gaps longer than 48 h too, instead of refusing the month.

    Returns
    -------
    Weather
        A typical year without gaps.

    Raises
    ------
    WeatherError
        The file is not whole, or holds values no weather has.
    """
    faults = Faults(file.name)
    if not is_tmy2(file.lines):
        raise WeatherError(
            f"{file.name} row 1 is '{shorten(file.lines[0])}', expected a TMY2 station line: it is no TMY2 file"
        )
    location = _tmy2_location(file.lines[0], faults)
    rows = _tmy2_rows(file.lines, faults)
    attribution = NREL.format(manual="NREL/SP-463-7668")
    return weather_of_year(
        file, location, rows, TMY2_FIELDS, faults, kind="TMY2", allow_gaps=allow_gaps, attribution=attribution
    )


def _tmy3_location(line: str, faults: Faults) -> Location:
    head = split_header(line, 7, TMY3_HEADER, faults)
    # Counted from the right, since a name may hold commas.
    zone, latitude, longitude, elevation = (finite(text) for text in head[-4:])
    name = ", ".join(part.strip() for part in head[1:-4])
    return checked_location(name, latitude, longitude, elevation, zone, faults)


def _tmy3_rows(lines: Sequence[str], faults: Faults) -> YearRows:
    titles = [title.strip() for title in lines[1].split(",")]
    absent = [title for title in (TMY3_TIME, *TMY3_TITLES.values()) if title not in titles]
    if absent:
        raise WeatherError(f"{faults.name} row 2 lacks the column {', '.join(absent)}: {TAKE_AGAIN}")
    rows, fields = split_rows(lines, 2, len(titles), faults)
    clock = titles.index(TMY3_TIME)
    dates = [[*row[0].split("/"), ""] for row in fields]
    months, days = (whole_numbers([date[part] for date in dates], rows, faults) for part in range(2))
    hours = whole_numbers([row[clock].split(":")[0] for row in fields], rows, faults)
    check_sequence(TYPICAL_CALENDAR_YEAR, months, days, hours, rows, faults)
    positions = {column: titles.index(title) for column, title in TMY3_TITLES.items()}
    texts = {column: [row[position] for row in fields] for column, position in positions.items()}
    return YearRows(rows=rows, texts=texts)


def _tmy2_location(line: str, faults: Faults) -> Location:
    latitude = (finite(line[39:41]) + finite(line[42:44]) / 60) * (1 if line[37] == "N" else -1)
    longitude = (finite(line[47:50]) + finite(line[51:53]) / 60) * (1 if line[45] == "E" else -1)
    name = f"{line[7:29].strip()}, {line[30:32].strip()}"
    return checked_location(name, latitude, longitude, finite(line[55:59]), finite(line[33:36]), faults)


def _tmy2_rows(lines: Sequence[str], faults: Faults) -> YearRows:
    kept = [(row, line) for row, line in enumerate(lines[1:], start=2) if line.strip()]
    rows = np.array([row for row, _ in kept], dtype=int)
    bodies = [line for _, line in kept]
    check_widths(rows, [len(line) for line in bodies], TMY2_WIDTH, "characters", faults)
    months, days, hours = (
        whole_numbers([line[first : first + 2] for line in bodies], rows, faults) for first in (3, 5, 7)
    )
    check_sequence(TYPICAL_CALENDAR_YEAR, months, days, hours, rows, faults)
    texts = {
        column: [line[field.position : field.position + field.width] for line in bodies]
        for column, field in TMY2_FIELDS.items()
    }
    return YearRows(rows=rows, texts=texts)
