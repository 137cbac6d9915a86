"""Plain CSV weather: columns that name their unit, measured in real years."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, cast

import numpy as np
import pandas as pd

from freecool.core.errors import Notice
from freecool.weather.clock import Clock, find_daylight_saving, is_autumn_change, read_times, step_hours
from freecool.weather.columns import HUMIDITY_COLUMNS, OPTIONAL_COLUMNS, SOLAR_COLUMNS
from freecool.weather.faults import Faults, checked_location, finite, numbers, shorten, show_time
from freecool.weather.marks import marks_notice, without_marks
from freecool.weather.model import AIR_AT, Location, Weather
from freecool.weather.readers.csv_text import CsvText, parse_csv_text
from freecool.weather.readers.csv_units import check_humidity, check_units
from freecool.weather.readers.text import TextFile
from freecool.weather.table import (
    hourly_index,
    pressure_mismatch,
    standard_pressure_pa,
    typical_index,
    weather_from_table,
)

if TYPE_CHECKING:
    from freecool.weather.model import AirAt

LOCATION_FIGURES = ("latitude", "longitude", "elevation_m", "utc_offset_h")
LONGEST_RECORD_YEARS = 100


def read_csv(
    file: TextFile,
    *,
    allow_gaps: bool = False,
    name: str | None = None,
    latitude: float | None = None,
    longitude: float | None = None,
    elevation_m: float | None = None,
    utc_offset_h: float | None = None,
) -> Weather:
    """Weather of a plain CSV file, given the file and, where its header comments lack it, the location.

    Needs the columns time, dry_bulb_c or dry_bulb_f, and one for humidity; others as in `columns.COLUMNS`.
    Comment lines before the header, such as "# latitude: 40.0", give name, latitude, longitude, elevation_m,
    utc_offset_h and attribution, which an argument overrides, whether the air is the hour's mean (as without a word)
    or was read at its start or end (air_at), which end of its hour a time names (times: the start as without a word,
    or the end), and the cautions of a saved weather.

    Parameters
    ----------
    file : TextFile
        As `text.read_text_file` gives it.
    allow_gaps : bool
        Fill gaps longer than 48 h too, instead of refusing the month.
    name : str, optional
        Name of the place; the file's name if not given.
    latitude, longitude : float, optional
        North and east positive [degrees].
    elevation_m : float, optional
        Above sea level; needed unless pressure is given [m].
    utc_offset_h : float, optional
        Local standard time less UTC; needed unless the times carry an offset [h].

    Returns
    -------
    Weather
        Without gaps.

    Raises
    ------
    WeatherError
        With all faults of the file in one message.
    """
    faults = Faults(file.name)
    text = parse_csv_text(file.lines, faults)
    given = {
        "latitude": latitude,
        "longitude": longitude,
        "elevation_m": elevation_m,
        "utc_offset_h": utc_offset_h,
    }
    figures = _location_figures(text.comments, given, faults)
    times = text.comments.get("times", "start")
    if times not in ("start", "end"):
        faults.add(f"header: times is '{shorten(times)}', expected start or end: which end of its hour a time names")
    clock = read_times(text.texts("time"), text.rows, figures["utc_offset_h"], faults, times == "end")
    raw, marks = _raw_table(text, clock, faults)
    title = name or text.comments.get("name") or Path(file.source).stem
    location = _location(title, figures | {"utc_offset_h": clock.utc_offset_h}, raw, faults)
    _check_order(clock, raw, text.rows, faults)
    air_at = text.comments.get("air_at", "mean")
    if air_at not in AIR_AT:
        faults.add(f"header: air_at is '{shorten(air_at)}', expected {', '.join(AIR_AT)}")
    faults.raise_any()
    table, notices = _hourly(_to_si(raw, text.rows, location, faults), clock, location)
    found = weather_from_table(
        table,
        location,
        name=file.name,
        source=file.source,
        kind="CSV",
        # A typical year that was saved comes back as the typical year it is.
        typical=text.comments.get("typical") == "yes" and table.index.equals(typical_index(location.utc_offset_h)),
        allow_gaps=allow_gaps,
        notices=(*marks, *notices),
        attribution=text.comments.get("attribution", ""),
        air_at=cast("AirAt", air_at),
    )
    # The cautions of a saved source still hold for its file.
    cautions = tuple(dict.fromkeys((*text.cautions, *found.notices)))
    return replace(found, notices=cautions, invented=any(notice.code == "invented_weather" for notice in cautions))


def _location_figures(comments: dict[str, str], given: dict[str, float | None], faults: Faults) -> dict[str, float]:
    """Latitude, longitude, elevation and UTC offset, NaN where nobody says, given comments and arguments."""
    figures = {}
    for key in LOCATION_FIGURES:
        argument = given[key]
        figures[key] = float(argument) if argument is not None else finite(comments.get(key, "nan"))
        if argument is None and key in comments and np.isnan(figures[key]):
            faults.add(f"header: {key} is '{shorten(comments[key])}', expected a number")
    return figures


def _location(name: str, figures: dict[str, float], raw: pd.DataFrame, faults: Faults) -> Location:
    """The location, with the elevation that the pressure tells where nobody says it, given what is known."""
    if np.isnan(figures["elevation_m"]) and not faults.texts:
        figures = figures | {"elevation_m": _elevation_of_pressure(raw)}
    lacking = [key for key in LOCATION_FIGURES if np.isnan(figures[key])]
    if lacking:
        example = f"'# {lacking[0]}: {'-7' if lacking[0] == 'utc_offset_h' else '40'}'"
        faults.add(
            f"does not say where it was measured, expected {', '.join(lacking)} in lines above the header "
            f"such as {example}, or give {', '.join(f'{{{key}}}' for key in lacking)}",
            **dict.fromkeys(lacking),
        )
        faults.raise_any()
    return checked_location(
        name, figures["latitude"], figures["longitude"], figures["elevation_m"], figures["utc_offset_h"], faults
    )


def _raw_table(text: CsvText, clock: Clock, faults: Faults) -> tuple[pd.DataFrame, tuple[Notice, ...]]:
    """The known columns as numbers in the file's units and order, and what marks they hold, given the text."""
    values, marks = {}, {}
    for column in [column for column in text.positions if column != "time"]:
        told = numbers(text.texts(column), column, text.rows, faults)
        values[column], marks[column] = without_marks(told, column)
    raw = pd.DataFrame(values, index=clock.times)
    check_units(raw, text.rows, faults)
    return raw, marks_notice(marks)


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
        night = all(is_autumn_change(time) for time in times[conflicting][:LONGEST_RECORD_YEARS])
        remedy = (
            "clocks went back in that night, so the times follow daylight saving: give local standard time all year"
            if night
            else "remove one"
        )
        faults.add(
            f"row {rows[later]} ({show_time(times[later], True)}) has the time of row "
            f"{rows[first]} but other values, as {int(conflicting.sum()):,} rows do, "
            f"expected each time once: {remedy}"
        )


def _repeats(raw: pd.DataFrame) -> np.ndarray:
    return raw.reset_index().duplicated().to_numpy()


def _to_si(raw: pd.DataFrame, rows: np.ndarray, location: Location, faults: Faults) -> pd.DataFrame:
    """The columns of a Weather, given those of the file; pressure at odds with the elevation is refused."""
    table = pd.DataFrame(index=raw.index)
    table["dry_bulb_c"] = raw["dry_bulb_c"] if "dry_bulb_c" in raw else _celsius(raw["dry_bulb_f"])
    table["pressure_pa"] = raw["pressure_pa"] if "pressure_pa" in raw else raw.get("pressure_hpa", np.nan) * 100.0
    if table["pressure_pa"].notna().any():
        mismatch = pressure_mismatch(table["pressure_pa"].to_numpy(), location.elevation_m)
        if mismatch:
            faults.add(f"{mismatch}; give station pressure, or leave the column out")
            faults.raise_any()
    pressure_pa = table["pressure_pa"].fillna(standard_pressure_pa(location.elevation_m))
    told = {
        column: _dew_points(raw, column, table["dry_bulb_c"], pressure_pa)
        for column in HUMIDITY_COLUMNS
        if column in raw
    }
    (first, table["dew_point_c"]), *others = told.items()
    for other, dew_point_c in others:
        check_humidity((first, told[first]), (other, dew_point_c), pd.DatetimeIndex(raw.index), rows, faults)
    faults.raise_any()
    for column in (*SOLAR_COLUMNS, "cloud_oktas", *OPTIONAL_COLUMNS):
        if column in raw:
            table[column] = raw[column]
    return table


def _dew_points(raw: pd.DataFrame, humidity: str, dry_bulb_c: pd.Series, pressure_pa: pd.Series) -> np.ndarray:
    """Dew point [°C] by one humidity column, NaN where it or the dry bulb is missing."""
    found = np.full(len(raw), np.nan)
    known = (raw[humidity].notna() & dry_bulb_c.notna()).to_numpy()
    found[known] = _dew_point_c(
        humidity,
        raw[humidity].to_numpy(dtype=float)[known],
        dry_bulb_c.to_numpy()[known],
        pressure_pa.to_numpy()[known],
    )
    return found


def _dew_point_c(column: str, values: np.ndarray, dry_bulb_c: np.ndarray, pressure_pa: np.ndarray) -> np.ndarray:
    """Dew point [°C], given the humidity column of a file, its values, dry bulb [°C] and pressure [Pa]."""
    from freecool.core import air

    if column == "dew_point_c":
        return values
    if column == "dew_point_f":
        return np.asarray(_celsius(values))
    if column == "humidity_ratio_kg_kg":
        return air.dew_point_from_humidity_ratio(values, pressure_pa)
    if column == "relative_humidity_percent":
        return air.dew_point_from_relative_humidity(dry_bulb_c, np.minimum(values, 100.0) / 100.0)
    wet_bulb_c = np.asarray(_celsius(values)) if column == "wet_bulb_f" else values
    return air.dew_point_from_wet_bulb(dry_bulb_c, np.minimum(wet_bulb_c, dry_bulb_c), pressure_pa)


def _hourly(table: pd.DataFrame, clock: Clock, location: Location) -> tuple[pd.DataFrame, list[Notice]]:
    """One row an hour of each year that is there, and what was changed for it, given rows in file order."""
    times = clock.times
    repeated = times.duplicated()
    notices = _order_notices(clock, int(repeated.sum()))
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


def _order_notices(clock: Clock, repeated: int) -> list[Notice]:
    notices: list[Notice] = []
    if clock.hour_ending:
        notices.append(Notice("hour_ending_times", "Times run to 24:00, so they were read as ends of hours."))
    out_of_order = int((np.diff(clock.times.to_numpy()) < np.timedelta64(0, "s")).sum())
    if out_of_order:
        text = f"Rows were sorted; {out_of_order:,} stood before the row they follow in time."
        notices.append(Notice("sorted_rows", text))
    if repeated:
        notices.append(Notice("repeated_rows", f"{repeated:,} rows repeated an earlier row and were dropped."))
    return notices


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
