"""Plain CSV weather: columns that name their unit, measured in real years."""

from __future__ import annotations

import csv
import difflib
import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd

from freecool.core.errors import Notice, WeatherError
from freecool.weather.clock import Clock, find_daylight_saving, read_times, step_hours
from freecool.weather.columns import COLUMNS, HUMIDITY_COLUMNS, SOLAR_COLUMNS
from freecool.weather.model import Location, Weather
from freecool.weather.readers.text import EXPECTED_FORMATS, read_lines
from freecool.weather.table import (
    Faults,
    check_ranges,
    checked_location,
    finite,
    hourly_index,
    numbers,
    pressure_mismatch,
    shorten,
    show_time,
    standard_pressure_pa,
    typical_index,
    weather_from_table,
)

PLACE_NUMBERS = ("latitude", "longitude", "elevation_m", "utc_offset_h")
LONGEST_RECORD_YEARS = 100
SAVED_NOTICE = re.compile(r"([a-z_]+): (.+)")
COLDEST_WARMEST_HOUR_F = 54.5
"""No inhabited place stays below this all year, and no place on Earth passes 54.5 °C (WMO records), so
a °F column that never reaches it holds °C."""
TOO_SMALL = {
    "relative_humidity_percent": (1.0, "a fraction: multiply by 100"),
    "ghi_w_m2": (2.0, "kW/m2: multiply by 1000, or leave the column out if it was not measured"),
    "cloud_oktas": (1.0, "a fraction: multiply by 8"),
    "dry_bulb_f": (COLDEST_WARMEST_HOUR_F, "°C: name the column dry_bulb_c"),
}
"""Largest value of a column that never gets so small in a year: what it then probably holds."""


class Parsed(NamedTuple):
    """A CSV as text: header comments, cautions among them, place of each known column, rows and their numbers."""

    comments: dict[str, str]
    cautions: list[Notice]
    columns: dict[str, int]
    rows: np.ndarray
    fields: list[list[str]]


def read_csv(
    path: str | Path,
    *,
    allow_gaps: bool = False,
    name: str | None = None,
    latitude: float | None = None,
    longitude: float | None = None,
    elevation_m: float | None = None,
    utc_offset_h: float | None = None,
) -> Weather:
    """Weather of a plain CSV file, given its path and, where its header comments lack it, the place.

    Needs the columns time, dry_bulb_c or dry_bulb_f, and one for humidity; others as in `columns.COLUMNS`.
    Comment lines before the header, such as "# latitude: 40.0", give name, latitude, longitude, elevation_m,
    utc_offset_h and attribution, which an argument overrides, and the cautions of a saved weather.

    Parameters
    ----------
    path : str or Path
        The file.
    allow_gaps : bool
        Fill gaps longer than 48 h too, instead of refusing the month.
    name : str, optional
        Name of the place; the file's name if not given.
    latitude, longitude : float, optional
        North and east positive. [degrees]
    elevation_m : float, optional
        Above sea level; needed unless pressure is given. [m]
    utc_offset_h : float, optional
        Local standard time less UTC; needed unless the times carry an offset. [h]

    Raises
    ------
    WeatherError
        With all faults of the file in one message.
    """
    file_name = Path(path).name
    faults = Faults(file_name)
    parsed = _parse(read_lines(path), faults)
    arguments = {
        "latitude": latitude,
        "longitude": longitude,
        "elevation_m": elevation_m,
        "utc_offset_h": utc_offset_h,
    }
    place = _place(parsed.comments, arguments, faults)
    time_texts = [row[parsed.columns["time"]] for row in parsed.fields]
    clock = read_times(time_texts, parsed.rows, place["utc_offset_h"], faults)
    raw = pd.DataFrame(
        {
            column: numbers([row[position] for row in parsed.fields], column, parsed.rows, faults)
            for column, position in parsed.columns.items()
            if column != "time"
        },
        index=clock.times,
    )
    _check_units(raw, parsed.rows, faults)
    place["utc_offset_h"] = clock.utc_offset_h
    if np.isnan(place["elevation_m"]) and not faults.texts:
        place["elevation_m"] = _elevation_of_pressure(raw)
    _require_place(place, faults)
    title = name or parsed.comments.get("name") or Path(path).stem
    location = checked_location(
        title, place["latitude"], place["longitude"], place["elevation_m"], place["utc_offset_h"], faults
    )
    _check_order(clock, raw, parsed.rows, faults)
    faults.raise_any()
    table, notices = _hourly(_to_si(raw, location, faults), clock, location)
    found = weather_from_table(
        table,
        location,
        name=file_name,
        source=str(path),
        kind="CSV",
        # What "weather typical" saved comes back as the typical year it is.
        typical=parsed.comments.get("typical") == "yes" and table.index.equals(typical_index(location.utc_offset_h)),
        allow_gaps=allow_gaps,
        notices=notices,
        attribution=parsed.comments.get("attribution", ""),
    )
    # What "weather save" was told of the source is still true of its file.
    told = tuple(dict.fromkeys((*parsed.cautions, *found.notices)))
    return replace(found, notices=told, invented=any(notice.code == "invented_weather" for notice in told))


def _parse(lines: Sequence[str], faults: Faults) -> Parsed:
    comments: dict[str, str] = {}
    cautions: list[Notice] = []
    start = 0
    while start < len(lines) and (not lines[start].strip() or lines[start].lstrip().startswith("#")):
        key, _, value = lines[start].strip().lstrip("#").partition(":")
        comments[key.strip().lower()] = value.strip()
        if key.strip().lower() == "notice" and (told := SAVED_NOTICE.fullmatch(value.strip())):
            cautions.append(Notice(*told.groups()))
        start += 1
    if start == len(lines):
        raise WeatherError(f"{faults.name} holds only comments, expected {EXPECTED_FORMATS}")
    try:
        records = [(number + start, row) for number, row in _records(lines[start:])]
    except csv.Error as error:
        raise WeatherError(f"{faults.name} is no readable CSV ({error}), expected {EXPECTED_FORMATS}") from None
    titles = [title.strip().lower() for title in records[0][1]]
    columns = {title: place for place, title in enumerate(titles) if title == "time" or title in COLUMNS}
    _check_header(titles, columns, start + 1, faults)
    kept = [(number, row) for number, row in records[1:] if any(field.strip() for field in row)]
    width = len(titles)
    ragged = [(number, len(row)) for number, row in kept if len(row) != width]
    if ragged:
        also = f" (and {len(ragged) - 1:,} more rows)" if len(ragged) > 1 else ""
        faults.add(
            f"row {ragged[0][0]} has {ragged[0][1]} fields{also}, expected {width} as in the header: "
            "correct the row, or export the file again"
        )
    if not kept:
        faults.add("has a header but no rows, expected one row an hour")
    faults.raise_any()
    return Parsed(
        comments, cautions, columns, np.array([number for number, _ in kept], dtype=int), [row for _, row in kept]
    )


def _records(lines: Sequence[str]) -> list[tuple[int, list[str]]]:
    reader = csv.reader(lines)
    return [(reader.line_num, row) for row in reader]


def _check_header(titles: list[str], columns: dict[str, int], row: int, faults: Faults) -> None:
    if not columns:
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
    doubled = sorted({title for title in columns if titles.count(title) > 1})
    if doubled:
        faults.add(f"row {row}: column {', '.join(doubled)} comes twice, expected once: remove one")
    unknown = [title for title in titles if title not in columns]
    for wanted in (("time",), ("dry_bulb_c", "dry_bulb_f"), HUMIDITY_COLUMNS):
        if not any(name in columns for name in wanted):
            close = next((found for name in wanted for found in difflib.get_close_matches(name, unknown, 1, 0.7)), "")
            hint = f": rename '{close}'?" if close else ": add it"
            one_of = "one of the columns " if len(wanted) > 1 else "the column "
            faults.add(f"row {row}: the header lacks {one_of}{', '.join(wanted)}{hint}")
    faults.raise_any()


def _place(comments: dict[str, str], arguments: dict[str, float | None], faults: Faults) -> dict[str, float]:
    place = {}
    for key in PLACE_NUMBERS:
        argument = arguments[key]
        place[key] = float(argument) if argument is not None else finite(comments.get(key, "nan"))
        if argument is None and key in comments and np.isnan(place[key]):
            faults.add(f"header: {key} is '{shorten(comments[key])}', expected a number")
    return place


def _require_place(place: dict[str, float], faults: Faults) -> None:
    lacking = [key for key in PLACE_NUMBERS if np.isnan(place[key])]
    if lacking:
        example = f"'# {lacking[0]}: {'-7' if lacking[0] == 'utc_offset_h' else '40'}'"
        faults.add(
            f"does not say where it was measured, expected {', '.join(lacking)} in lines above the header "
            f"such as {example}, or as options"
        )
        faults.raise_any()


def _check_units(raw: pd.DataFrame, rows: np.ndarray, faults: Faults) -> None:
    for column, (limit, meaning) in TOO_SMALL.items():
        if column in raw and raw[column].notna().any() and raw[column].max() <= limit:
            unit = COLUMNS[column].unit
            faults.add(
                f"column {column} never passes {raw[column].max():g} {unit}, expected more than "
                f"{limit:g} {unit} at times, so it probably holds {meaning}"
            )
            raw = raw.drop(columns=column)
    check_ranges(raw, rows, faults)


def _check_order(clock: Clock, raw: pd.DataFrame, rows: np.ndarray, faults: Faults) -> None:
    times = clock.times
    span = times.max() - times.min()
    if span > pd.Timedelta(days=366 * LONGEST_RECORD_YEARS):
        faults.add(
            f"row {rows[int(times.argmax())]} is in {times.max().year} and row {rows[int(times.argmin())]} "
            f"in {times.min().year}, expected at most {LONGEST_RECORD_YEARS} years: correct the date"
        )
        return
    step = step_hours(times)
    if step > 1.0:
        faults.add(f"values are {step:g} h apart, expected 1 h or less: take an hourly export")
        return
    if clock.naive:
        daylight_saving = find_daylight_saving(times, rows)
        if daylight_saving:
            faults.add(daylight_saving)
            return
    conflicting = times.duplicated() & ~_repeats(raw)
    if conflicting.any():
        later = int(np.argmax(conflicting))
        first = int(np.argmax(times == times[later]))
        faults.add(
            f"row {rows[later]} ({show_time(times[later], True)}) has the time of row "
            f"{rows[first]} but other values, as {int(conflicting.sum()):,} rows do, "
            "expected each time once: remove one"
        )


def _repeats(raw: pd.DataFrame) -> np.ndarray:
    return raw.reset_index().duplicated().to_numpy()


def _to_si(raw: pd.DataFrame, location: Location, faults: Faults) -> pd.DataFrame:
    from freecool.core import air

    table = pd.DataFrame(index=raw.index)
    table["dry_bulb_c"] = raw["dry_bulb_c"] if "dry_bulb_c" in raw else _celsius(raw["dry_bulb_f"])
    pressure = raw["pressure_pa"] if "pressure_pa" in raw else raw.get("pressure_hpa", np.nan) * 100.0
    table["pressure_pa"] = pressure
    if table["pressure_pa"].notna().any():
        mismatch = pressure_mismatch(table["pressure_pa"].to_numpy(), location.elevation_m)
        if mismatch:
            faults.add(f"{mismatch}; give station pressure, or leave the column out")
            faults.raise_any()
    given = next(column for column in HUMIDITY_COLUMNS if column in raw)
    values = raw[given].to_numpy(dtype=float)
    dry_bulb = table["dry_bulb_c"].to_numpy()
    station = table["pressure_pa"].fillna(standard_pressure_pa(location.elevation_m)).to_numpy()
    known = ~np.isnan(values) & ~np.isnan(dry_bulb)
    values, dry_bulb, station = values[known], dry_bulb[known], station[known]
    if given == "dew_point_c":
        dew_point = values
    elif given == "dew_point_f":
        dew_point = _celsius(values)
    elif given == "humidity_ratio_kg_kg":
        dew_point = air.dew_point_from_humidity_ratio(values, station)
    elif given == "relative_humidity_percent":
        dew_point = air.dew_point_from_relative_humidity(dry_bulb, np.minimum(values, 100.0) / 100.0)
    else:
        wet_bulb = _celsius(values) if given == "wet_bulb_f" else values
        dew_point = air.dew_point_from_wet_bulb(dry_bulb, np.minimum(wet_bulb, dry_bulb), station)
    table["dew_point_c"] = np.nan
    table.loc[known, "dew_point_c"] = dew_point
    for column in (*SOLAR_COLUMNS, "cloud_oktas", "wind_m_s"):
        if column in raw:
            table[column] = raw[column]
    return table


def _hourly(table: pd.DataFrame, clock: Clock, location: Location) -> tuple[pd.DataFrame, list[Notice]]:
    notices: list[Notice] = []
    times = clock.times
    if clock.hour_ending:
        notices.append(Notice("hour_ending_times", "Times run to 24:00, so they were read as ends of hours."))
    out_of_order = int((np.diff(times.to_numpy()) < np.timedelta64(0, "s")).sum())
    if out_of_order:
        notices.append(
            Notice("sorted_rows", f"Rows were sorted; {out_of_order:,} stood before the row they follow in time.")
        )
    repeated = times.duplicated()
    if repeated.any():
        text = f"{int(repeated.sum()):,} rows repeated an earlier row and were dropped."
        notices.append(Notice("repeated_rows", text))
    table = table[~repeated]
    within = pd.DatetimeIndex(table.index)
    if (within != within.floor("h")).any():
        table = table.groupby(within.floor("h")).mean()
        text = f"{len(within):,} values at times within the hour were averaged to {len(table):,} hourly ones."
        notices.append(Notice("averaged_subhourly", text))
    present = pd.DatetimeIndex(table.index).year.unique()
    hours = pd.date_range(table.index.min(), table.index.max(), freq="h")
    table = table.reindex(hours).set_axis(hourly_index(str(hours[0]), len(hours), location.utc_offset_h))
    absent = sorted(set(hours.year) - set(present))
    if absent:
        text = f"No hour of {', '.join(map(str, absent))} is there; the other years were joined without them."
        notices.append(Notice("years_absent", text))
        table = table[~hours.year.isin(absent)]
    return table, notices


def _celsius(fahrenheit: pd.Series | np.ndarray) -> pd.Series | np.ndarray:
    return (fahrenheit - 32.0) / 1.8


def _elevation_of_pressure(raw: pd.DataFrame) -> float:
    """Elevation [m] at which the standard atmosphere has the mean pressure, NaN without one.

    ASHRAE Fundamentals (2017), chapter 1, equation 3, solved for elevation.
    """
    for column, scale in (("pressure_pa", 1.0), ("pressure_hpa", 100.0)):
        if column in raw and raw[column].notna().any():
            return float((1.0 - (raw[column].mean() * scale / 101_325.0) ** (1 / 5.2559)) / 2.25577e-5)
    return float("nan")
