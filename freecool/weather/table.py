"""From columns of text to a checked table, and from a checked table to a Weather."""

from __future__ import annotations

import math
from calendar import isleap
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta, timezone

import numpy as np
import pandas as pd

from freecool.core.errors import Notice, WeatherError
from freecool.weather.columns import COLUMNS, SOLAR_COLUMNS, WEATHER_COLUMNS
from freecool.weather.model import HOURS_PER_YEAR, TYPICAL_CALENDAR_YEAR, Location, Weather
from freecool.weather.quality import repair
from freecool.weather.sun import fill_sunshine

FAULTS_NAMED = 6
MOST_HOURS_WITH_DEW_POINT_ABOVE = 0.02
"""Share of hours with a dew point over 1 K above dry bulb that sensor scatter can explain (our own limit)."""
LARGEST_PRESSURE_MISMATCH_PA = 4_000.0
"""Yearly mean against the standard atmosphere; weather moves the mean by under 1,000 Pa (our own limit)."""

WRONG_UNITS = {
    "dry_bulb_c": (
        ("high", 20.0, 140.0, "°F", "name the column dry_bulb_f"),
        ("high", 200.0, 335.0, "kelvin", "subtract 273.15"),
    ),
    "dew_point_c": (
        ("high", 10.0, 104.0, "°F", "name the column dew_point_f"),
        ("high", 170.0, 320.0, "kelvin", "subtract 273.15"),
    ),
    "wet_bulb_c": (("high", 10.0, 113.0, "°F", "name the column wet_bulb_f"),),
    "humidity_ratio_kg_kg": (
        ("high", 0.1, 40.0, "g/kg", "divide by 1000"),
        ("high", 0.1, 300.0, "grains/lb", "divide by 7000"),
    ),
    "pressure_pa": (
        ("low", 450.0, 1_100.0, "hPa or mbar", "name the column pressure_hpa"),
        ("low", 45.0, 110.0, "kPa", "multiply by 1000"),
        ("low", 13.0, 33.0, "inches of mercury", "multiply by 3386.39"),
    ),
    "pressure_hpa": (
        ("high", 45_000.0, 110_000.0, "Pa", "name the column pressure_pa"),
        ("low", 45.0, 110.0, "kPa", "multiply by 10"),
        ("low", 13.0, 33.0, "inches of mercury", "multiply by 33.8639"),
    ),
}
"""For values beyond the plausible range on one side: range of the median, probable unit, remedy."""


class Faults:
    """The faults of one file, collected so that one message names them all."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.texts: list[str] = []

    def add(self, text: str) -> None:
        self.texts.append(text)

    def raise_any(self) -> None:
        """Raise one WeatherError naming the faults, if there are any."""
        if self.texts:
            named = "; ".join(self.texts[:FAULTS_NAMED])
            rest = len(self.texts) - FAULTS_NAMED
            raise WeatherError(f"{self.name} {named}" + (f"; and {rest} more faults" if rest > 0 else ""))


def shorten(text: str, length: int = 40) -> str:
    """A piece of a file fit for a message, given the piece."""
    text = text.strip()
    return text if len(text) <= length else text[: length - 1] + "…"


def numbers(texts: Sequence[str], column: str, rows: np.ndarray, faults: Faults) -> np.ndarray:
    """Values of a column, NaN where the field is empty, given its texts; anything else is a fault."""
    try:
        # Python reads 1_000 as a number; a file that holds it is damaged.
        if not any("_" in text for text in texts):
            return np.array(texts, dtype=float)
    except ValueError:
        pass
    values = np.full(len(texts), np.nan)
    wrong: list[int] = []
    for position, text in enumerate(texts):
        stripped = text.strip()
        if stripped.lower() in {"", "nan", "na", "n/a", "null", "none", "m", "-"}:
            continue
        try:
            values[position] = float(stripped.replace("_", "?"))
        except ValueError:
            wrong.append(position)
    if wrong:
        first = wrong[0]
        also = f" (and {len(wrong) - 1:,} more rows)" if len(wrong) > 1 else ""
        faults.add(
            f"row {rows[first]}: {column} is '{shorten(texts[first])}'{also}, expected a number, "
            "or nothing where the value is missing"
        )
    return values


def check_ranges(table: pd.DataFrame, rows: np.ndarray, faults: Faults) -> None:
    """Add a fault for each column with implausible values, given the table and its file rows."""
    times = pd.DatetimeIndex(table.index)
    several_years = times.year.nunique() > 1
    for name in table.columns:
        column = COLUMNS[name]
        values = table[name].to_numpy(dtype=float)
        wrong = (values < column.lowest) | (values > column.highest)
        if not wrong.any():
            continue
        worst = int(np.argmax(wrong))
        count = int(wrong.sum())
        also = f"; {count:,} of {len(values):,} values are outside" if count > 1 else ""
        faults.add(
            f"row {rows[worst]} ({show_time(times[worst], several_years)}): {column.description} is "
            f"{values[worst]:g} {column.unit}, expected {column.lowest:g} to {column.highest:g} "
            f"{column.unit}{also}"
            f"{_probable_unit(name, values, wrong)}"
        )


def _probable_unit(name: str, values: np.ndarray, wrong: np.ndarray) -> str:
    column = COLUMNS[name]
    median = float(np.nanmedian(values))
    # A few stray values are a sensor's fault, not a unit's.
    common = wrong.mean() >= 0.01
    for side, lowest, highest, unit, remedy in WRONG_UNITS.get(name, ()):
        beyond = np.nanmax(values) > column.highest if side == "high" else np.nanmin(values) < column.lowest
        if common and beyond and lowest <= median <= highest:
            return f", so the column probably holds {unit}: {remedy}"
    return ": correct the value, or leave the field empty where it is missing"


def show_time(time: pd.Timestamp, with_year: bool = False) -> str:
    """An hour as people write it, given its time."""
    return f"{time.day} {time:{'%B %Y' if with_year else '%B'} %H:%M}"


def checked_location(
    name: str, latitude: float, longitude: float, elevation_m: float, utc_offset_h: float, faults: Faults
) -> Location:
    """A location, given its place in degrees, metres and hours; a fault for each value off the Earth."""
    limits = (
        ("latitude", latitude, -90.0, 90.0, "degrees"),
        ("longitude", longitude, -180.0, 180.0, "degrees"),
        ("elevation", elevation_m, -450.0, 6_000.0, "m"),
        ("UTC offset", utc_offset_h, -12.0, 14.0, "h"),
    )
    for what, value, lowest, highest, unit in limits:
        if not lowest <= value <= highest:
            faults.add(f"header: {what} is {value:g}, expected {lowest:g} to {highest:g} {unit}")
    return Location(name, latitude, longitude, elevation_m, utc_offset_h)


def hourly_index(first: str, hours: int, utc_offset_h: float) -> pd.DatetimeIndex:
    """Starts of consecutive hours in local standard time, given first, number and offset [h]."""
    zone = timezone(timedelta(hours=utc_offset_h))
    return pd.date_range(first, periods=hours, freq="h", tz=zone, name="time", unit="s")


def typical_index(utc_offset_h: float) -> pd.DatetimeIndex:
    """Starts of the hours of the typical calendar year, given the UTC offset."""
    return hourly_index(f"{TYPICAL_CALENDAR_YEAR}-01-01", HOURS_PER_YEAR, utc_offset_h)


def weather_from_table(
    table: pd.DataFrame,
    location: Location,
    *,
    name: str,
    source: str,
    kind: str,
    typical: bool,
    allow_gaps: bool = False,
    notices: Sequence[Notice] = (),
    attribution: str = "",
) -> Weather:
    """A Weather, given a checked hourly table with gaps, and its location.

    Parameters
    ----------
    table : pandas.DataFrame
        Hourly and contiguous; columns dry_bulb_c, dew_point_c, and pressure_pa, ghi_w_m2, dni_w_m2, dhi_w_m2,
        cloud_oktas, wind_m_s where known; NaN where missing.
    location : Location
        The place.
    name, source, kind : str
        What to call it in a message, what was asked for, which format it was.
    typical, allow_gaps : bool
        As in `quality.fill_series`.
    notices, attribution
        Passed on to the Weather.

    Raises
    ------
    WeatherError
        Too short, a column missing throughout, a gap too long, dew point mostly above dry bulb.
    """
    if len(table) < HOURS_PER_YEAR:
        raise WeatherError(
            f"{name} covers {len(table):,} hours, expected at least one whole year of {HOURS_PER_YEAR:,}: "
            "add the missing months or take a typical year"
        )
    table = table.reindex(columns=[*WEATHER_COLUMNS, "cloud_oktas", "wind_m_s"]).astype(float)
    # Pyranometers read a few W/m2 below zero at night.
    table[list(SOLAR_COLUMNS)] = table[list(SOLAR_COLUMNS)].clip(lower=0.0)
    for column in ("dry_bulb_c", "dew_point_c"):
        if table[column].isna().all():
            raise WeatherError(f"{name} has no {COLUMNS[column].description} at all: take another source")
    _check_dew_point(table, name)
    added = list(notices)
    if table["pressure_pa"].isna().all():
        table["pressure_pa"] = standard_pressure_pa(location.elevation_m)
        text = f"Air pressure is not given; the standard atmosphere at {location.elevation_m:.0f} m was taken."
        added.append(Notice("standard_pressure", text))
    repaired = repair(table, name, typical=typical, allow_gaps=allow_gaps)
    added += repaired.notices
    mismatch = pressure_mismatch(repaired.table["pressure_pa"].to_numpy(), location.elevation_m)
    if mismatch:
        added.append(Notice("pressure_elevation", f"{name}: {mismatch}."))
    sunny, solar_notices = fill_sunshine(repaired.table, location)
    added += solar_notices
    # Nothing is reckoned from wind but which month is typical, so that its gaps may stay.
    has_wind = sunny["wind_m_s"].notna().any()
    frame = sunny[[*WEATHER_COLUMNS, "wind_m_s"] if has_wind else list(WEATHER_COLUMNS)]
    frame.index.name = "time"
    years = () if typical else whole_years(pd.DatetimeIndex(frame.index))
    notes = (*(notice.text for notice in notices), *repaired.quality.notes)
    quality = replace(repaired.quality, notes=notes)
    return Weather(location, source, kind, frame, years, typical, quality, tuple(added), attribution)


def standard_pressure_pa(elevation_m: float) -> float:
    """Pressure of the standard atmosphere [Pa], given elevation [m]."""
    from freecool.core.air import pressure_at_elevation

    return float(pressure_at_elevation(elevation_m))


def pressure_mismatch(pressure_pa: np.ndarray, elevation_m: float) -> str:
    """What is wrong between pressure and elevation, empty when nothing is, given both."""
    mean, standard = float(np.nanmean(pressure_pa)), standard_pressure_pa(elevation_m)
    if abs(mean - standard) <= LARGEST_PRESSURE_MISMATCH_PA:
        return ""
    return (
        f"air pressure averages {mean:,.0f} Pa, expected about {standard:,.0f} Pa at {elevation_m:,.0f} m: "
        "it may be sea-level pressure, or the elevation is wrong"
    )


def whole_years(times: pd.DatetimeIndex) -> tuple[int, ...]:
    """Calendar years the hours cover to within a day, else all they touch, given the hours."""
    years, counts = np.unique(times.year, return_counts=True)
    touched = [int(year) for year in years]
    whole = [year for year, count in zip(touched, counts, strict=True) if count >= 24 * (364 + isleap(year))]
    return tuple(whole or touched)


def _check_dew_point(table: pd.DataFrame, name: str) -> None:
    dry_bulb, dew_point = table["dry_bulb_c"].to_numpy(), table["dew_point_c"].to_numpy()
    above = dew_point - dry_bulb > 1.0
    share = float(above.mean())
    if share > MOST_HOURS_WITH_DEW_POINT_ABOVE:
        first = int(np.argmax(above))
        raise WeatherError(
            f"{name} at {show_time(pd.DatetimeIndex(table.index)[first])}: dew point is "
            f"{dew_point[first]:.1f} °C, above a dry bulb of {dry_bulb[first]:.1f} °C, as in {share:.0%} of "
            "the hours, expected at or below it: check whether the columns are exchanged or differ in unit"
        )


def finite(text: str) -> float:
    """A number, NaN when the text holds none, given the text."""
    try:
        value = float(text)
    except ValueError:
        return math.nan
    return value if math.isfinite(value) else math.nan
