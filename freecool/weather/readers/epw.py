"""EPW, the weather file of building simulation."""

from __future__ import annotations

from collections.abc import Sequence

from freecool.core.errors import WeatherError
from freecool.weather.faults import Faults, checked_location, finite, shorten
from freecool.weather.model import TYPICAL_CALENDAR_YEAR, Location, Weather
from freecool.weather.readers.text import TextFile
from freecool.weather.readers.year_file import (
    FileField,
    YearRows,
    check_sequence,
    real_year,
    split_header,
    split_rows,
    weather_of_year,
    whole_numbers,
)

HEADER = "LOCATION, city, state, country, type, station, latitude, longitude, UTC offset, elevation"
FEWEST_FIELDS = 23
"""Up to the opaque cloud cover; files differ in what stands behind it."""
# By the data dictionary of the format (EPW); cloud in tenths.
EPW_FIELDS = {
    "dry_bulb_c": FileField(6, 1.0, (99.9, 999.0, 9999.0)),
    "dew_point_c": FileField(7, 1.0, (99.9, 999.0, 9999.0)),
    "pressure_pa": FileField(9, 1.0, (9999.0, 99999.0, 999999.0)),
    # Some files write 0 where they have none.
    "horizontal_infrared_w_m2": FileField(12, 1.0, (0.0, 9999.0, 99999.0, 999999.0)),
    "ghi_w_m2": FileField(13, 1.0, (9999.0, 99999.0, 999999.0)),
    "dni_w_m2": FileField(14, 1.0, (9999.0, 99999.0, 999999.0)),
    "dhi_w_m2": FileField(15, 1.0, (9999.0, 99999.0, 999999.0)),
    "cloud_oktas": FileField(22, 0.8, (99.0, 999.0)),
}


def is_epw(lines: Sequence[str]) -> bool:
    """Whether a file is EPW, given its lines.

    Parameters
    ----------
    lines : sequence of str
        Of the file.

    Returns
    -------
    bool
        True where it begins as an EPW file does.
    """
    return lines[0].lstrip().upper().startswith("LOCATION,")


def read_epw(file: TextFile, *, allow_gaps: bool = False) -> Weather:
    """Weather of an EPW file, given the file.

    A file whose rows all carry one year and fill it is taken as that year, any other as a typical year.

    Parameters
    ----------
    file : TextFile
        As `text.read_text_file` gives it.
    allow_gaps : bool
        Fill gaps longer than 48 h too, instead of refusing the month.

    Returns
    -------
    Weather
        Without gaps.

    Raises
    ------
    WeatherError
        The file is not whole, or holds values no weather has.
    """
    faults = Faults(file.name)
    if not is_epw(file.lines):
        raise WeatherError(
            f"{file.name} row 1 is '{shorten(file.lines[0])}', expected 'LOCATION,': this is no EPW file"
        )
    location = _location(file.lines[0], faults)
    return weather_of_year(
        file, location, _rows(file.lines, faults), EPW_FIELDS, faults, kind="EPW", allow_gaps=allow_gaps
    )


def _location(line: str, faults: Faults) -> Location:
    head = split_header(line, 10, HEADER, faults)
    # Counted from the right, since a city may hold commas.
    latitude, longitude, zone, elevation = (finite(text) for text in head[-4:])
    city = ", ".join(part.strip() for part in head[1:-8])
    return checked_location(city, latitude, longitude, elevation, zone, faults)


def _rows(lines: Sequence[str], faults: Faults) -> YearRows:
    start = next((row for row, line in enumerate(lines) if line.lstrip()[:1].isdigit()), len(lines))
    rows, fields = split_rows(lines, start, FEWEST_FIELDS, faults)
    years, months, days, hours = (
        whole_numbers([row[position] for row in fields], rows, faults) for position in range(4)
    )
    year = real_year(years)
    check_sequence(year or TYPICAL_CALENDAR_YEAR, months, days, hours, rows, faults)
    texts = {column: [row[field.position] for row in fields] for column, field in EPW_FIELDS.items()}
    return YearRows(rows=rows, texts=texts, year=year)
