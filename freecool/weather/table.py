"""From a checked hourly table to a `Weather`: gaps filled, sunshine completed, pressure compared with elevation."""

from __future__ import annotations

from calendar import isleap
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta, timezone

import numpy as np
import pandas as pd

from freecool.core.errors import Notice, WeatherError
from freecool.weather.columns import COLUMNS, OPTIONAL_COLUMNS, SOLAR_COLUMNS, WEATHER_COLUMNS
from freecool.weather.faults import show_time
from freecool.weather.model import HOURS_PER_YEAR, TYPICAL_CALENDAR_YEAR, AirAt, Location, Weather
from freecool.weather.place_time import check_sun, check_warmest_hour, check_zone
from freecool.weather.plausible import refuse_implausible
from freecool.weather.quality import repair
from freecool.weather.steps import without_impossible_air
from freecool.weather.sun import fill_sunshine

MOST_HOURS_WITH_DEW_POINT_ABOVE = 0.02
"""Share of hours with a dew point over 1 K above dry bulb that sensor scatter can explain (our own limit)."""
LARGEST_PRESSURE_MISMATCH_PA = 4_000.0
"""Yearly mean against the standard atmosphere; weather moves the mean by under 1,000 Pa (our own limit)."""


def hourly_index(first: str, hours: int, utc_offset_h: float) -> pd.DatetimeIndex:
    """Starts of consecutive hours in local standard time, given the first, their number and the UTC offset.

    Parameters
    ----------
    first : str
        Such as "2018-01-01".
    hours : int
        How many.
    utc_offset_h : float
        Local standard time less UTC [h].

    Returns
    -------
    pandas.DatetimeIndex
        Named "time", shape (hours,).
    """
    zone = timezone(timedelta(hours=utc_offset_h))
    return pd.date_range(first, periods=hours, freq="h", tz=zone, name="time", unit="s")


def typical_index(utc_offset_h: float) -> pd.DatetimeIndex:
    """Starts of the hours of the typical calendar year, given the UTC offset.

    Parameters
    ----------
    utc_offset_h : float
        Local standard time less UTC [h].

    Returns
    -------
    pandas.DatetimeIndex
        Of 2018, shape (8760,).
    """
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
    air_at: AirAt = "mean",
) -> Weather:
    """A Weather, given a checked hourly table with gaps, and its location.

    Parameters
    ----------
    table : pandas.DataFrame
        Hourly and contiguous; columns dry_bulb_c, dew_point_c [°C], and pressure_pa [Pa], ghi_w_m2, dni_w_m2,
        dhi_w_m2, horizontal_infrared_w_m2 [W/m2], cloud_oktas [oktas], wind_m_s [m/s] where known; NaN where missing.
    location : Location
        Where it was measured.
    name, source, kind : str
        What to call it in a message, what was asked for, which format it was.
    typical, allow_gaps : bool
        As in `quality.fill_series`.
    notices : sequence of Notice
        Cautions of the reader, kept on the Weather.
    attribution : str
        Owner and licence, kept on the Weather.
    air_at : {"mean", "start", "end"}
        When its air was read, kept on the Weather.

    Returns
    -------
    Weather
        Without gaps.

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
    table = table.reindex(columns=[*WEATHER_COLUMNS, "cloud_oktas", *OPTIONAL_COLUMNS]).astype(float)
    # Pyranometers read a few W/m2 below zero at night.
    table[list(SOLAR_COLUMNS)] = table[list(SOLAR_COLUMNS)].clip(lower=0.0)
    misplaced = check_zone(location, name)
    table, impossible = without_impossible_air(table, name, typical=typical)
    _check_air(table, name)
    table, standard = _with_pressure(table, location)
    repaired = repair(table, name, typical=typical, allow_gaps=allow_gaps)
    refuse_implausible(repaired.table, location, name)
    mismatch = pressure_mismatch(repaired.table["pressure_pa"].to_numpy(), location.elevation_m)
    mismatched = [Notice("pressure_elevation", f"{name}: {mismatch}.")] if mismatch else []
    sunny, estimated = fill_sunshine(repaired.table, location)
    measured = table["ghi_w_m2"].notna().any()
    mistimed = [
        *(check_sun(sunny, location, name) if measured else ()),
        *check_warmest_hour(sunny, location, air_at, name),
    ]
    frame = _weather_frame(sunny)
    told = (*notices, *impossible)
    return Weather(
        location=location,
        source=source,
        kind=kind,
        frame=frame,
        years=() if typical else whole_calendar_years(pd.DatetimeIndex(frame.index)),
        typical=typical,
        quality=replace(repaired.quality, notes=(*(notice.text for notice in told), *repaired.quality.notes)),
        notices=(*told, *standard, *repaired.notices, *mismatched, *misplaced, *mistimed, *estimated),
        attribution=attribution,
        air_at=air_at,
    )


def standard_pressure_pa(elevation_m: float) -> float:
    """Pressure of the standard atmosphere, given the elevation.

    Parameters
    ----------
    elevation_m : float
        Above sea level [m].

    Returns
    -------
    float
        Pressure; see `freecool.core.air.pressure_at_elevation` for the source [Pa].
    """
    from freecool.core.air import pressure_at_elevation

    return float(pressure_at_elevation(elevation_m))


def pressure_mismatch(pressure_pa: np.ndarray, elevation_m: float) -> str:
    """What is wrong between pressure and elevation, given both.

    Parameters
    ----------
    pressure_pa : ndarray
        Station pressure, NaN where missing, shape (hours,) [Pa].
    elevation_m : float
        Above sea level [m].

    Returns
    -------
    str
        What is wrong; empty when nothing is.
    """
    mean, standard = float(np.nanmean(pressure_pa)), standard_pressure_pa(elevation_m)
    if abs(mean - standard) <= LARGEST_PRESSURE_MISMATCH_PA:
        return ""
    return (
        f"air pressure averages {mean:,.0f} Pa, expected about {standard:,.0f} Pa at {elevation_m:,.0f} m: "
        "it may be sea-level pressure, or the elevation is wrong"
    )


def whole_calendar_years(times: pd.DatetimeIndex) -> tuple[int, ...]:
    """Calendar years that the hours cover to within a day, given the hours.

    Parameters
    ----------
    times : pandas.DatetimeIndex
        Starts of hours, shape (hours,).

    Returns
    -------
    tuple of int
        The years; all that are touched where none is whole.
    """
    years, counts = np.unique(times.year, return_counts=True)
    touched = [int(year) for year in years]
    whole = [year for year, count in zip(touched, counts, strict=True) if count >= 24 * (364 + isleap(year))]
    return tuple(whole or touched)


def _check_air(table: pd.DataFrame, name: str) -> None:
    for column in ("dry_bulb_c", "dew_point_c"):
        if table[column].isna().all():
            raise WeatherError(f"{name} has no {COLUMNS[column].description} at all: take another source")
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


def _with_pressure(table: pd.DataFrame, location: Location) -> tuple[pd.DataFrame, list[Notice]]:
    """The table with the standard atmosphere where no pressure is given at all, and a notice of it."""
    if not table["pressure_pa"].isna().all():
        return table, []
    text = f"Air pressure is not given; the standard atmosphere at {location.elevation_m:.0f} m was taken."
    standard = table.assign(pressure_pa=standard_pressure_pa(location.elevation_m))
    return standard, [Notice("standard_pressure", text)]


def _weather_frame(table: pd.DataFrame) -> pd.DataFrame:
    # Wind serves only to choose the months of a typical year, and infrared has a fallback, so their gaps may stay.
    told = [column for column in OPTIONAL_COLUMNS if table[column].notna().any()]
    return table[[*WEATHER_COLUMNS, *told]].rename_axis(index="time")
