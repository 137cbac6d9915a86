"""From a station's hours in UTC to the columns of a Weather, as pure functions."""

from __future__ import annotations

from calendar import month_name
from datetime import timedelta, timezone

import numpy as np
import pandas as pd

from freecool.core.errors import Notice
from freecool.core.units import format_both, format_quantity
from freecool.weather.quality import LONGEST_FILLED_GAP_H, gaps
from freecool.weather.table import standard_pressure_pa

LEAST_MONTH_SHARE = 0.9
"""Hours of a month with temperature and humidity below which the month does not count (our own limit, in
the manner of the completeness rules of WMO-No. 1203)."""
LAPSE_RATE_K_M = 0.0065
"""ISO 2533:1975, standard atmosphere: fall of temperature with height [K/m]."""
GRAVITY_OVER_AIR_GAS_CONSTANT_K_M = 9.80665 / 287.05
"""Hydrostatic constant of dry air, ISO 2533:1975 [K/m]."""
# Alduchov and Eskridge, J. Appl. Meteorol. 35 (1996), eq. 21: the constants the relative humidity was made with.
MAGNUS_FACTOR, MAGNUS_KELVIN = 17.625, 243.04
CLOUD_BY_CONDITION = {1: 0.0, 2: 2.0, 3: 6.0}
"""Condition codes clear, fair and cloudy in oktas; every other code has a closed sky (our own reading)."""
CLOUD_EXPONENT = 3.4
LEAST_CLOUD_SHARE = 0.3
"""Share of hours with cloud, sunshine or condition below which nothing is made of it (our own limit)."""
KM_H_PER_M_S = 3.6


def local_hours(table: pd.DataFrame, first_year: int, last_year: int, utc_offset_h: float) -> pd.DataFrame:
    """The hours of some years in local standard time, given hours in UTC.

    Parameters
    ----------
    table : pandas.DataFrame
        One row an hour in UTC, with a column coco [code].
    first_year, last_year : int
        Local calendar years.
    utc_offset_h : float
        Local standard time less UTC [h].

    Returns
    -------
    pandas.DataFrame
        One row an hour, NaN where there is none; in a zone off by part of an hour between two hours of UTC.
    """
    hours_ahead = int(np.ceil(utc_offset_h))
    part = hours_ahead - utc_offset_h
    if part:
        # Condition codes have no mean.
        between = table * (1.0 - part) + table.shift(-1) * part
        table = between.assign(coco=table["coco"])
    zone = timezone(timedelta(hours=utc_offset_h))
    hours = pd.date_range(f"{first_year}-01-01", f"{last_year}-12-31 23:00", freq="h", tz=zone, unit="s", name="time")
    ahead = pd.DatetimeIndex(table.index) + timedelta(hours=hours_ahead)
    return table.set_axis(ahead).reindex(hours.tz_localize(None)).set_axis(hours)


def dew_point_c(dry_bulb_c: np.ndarray, relative_humidity_percent: np.ndarray) -> np.ndarray:
    """Dew point, given dry bulb and relative humidity.

    Parameters
    ----------
    dry_bulb_c : ndarray
        Shape (hours,) [°C].
    relative_humidity_percent : ndarray
        Over water, shape (hours,) [%].

    Returns
    -------
    ndarray
        Dew point, shape (hours,) [°C].

    Notes
    -----
    Alduchov and Eskridge, J. Appl. Meteorol. 35 (1996), p. 601, equation 21.
    """
    share = np.clip(relative_humidity_percent, 1.0, 100.0) / 100.0
    exponent = np.log(share) + MAGNUS_FACTOR * dry_bulb_c / (MAGNUS_KELVIN + dry_bulb_c)
    # At saturation rounding must not lift it above the dry bulb.
    dew_point_c: np.ndarray = np.minimum(MAGNUS_KELVIN * exponent / (MAGNUS_FACTOR - exponent), dry_bulb_c)
    return dew_point_c


def station_pressure_pa(sea_level_pa: pd.Series, dry_bulb_c: pd.Series, elevation_m: float) -> pd.Series:
    """Pressure at an elevation, given sea-level pressure, dry bulb and elevation.

    Parameters
    ----------
    sea_level_pa : pandas.Series
        Hourly, NaN where missing [Pa].
    dry_bulb_c : pandas.Series
        At the elevation, hourly [°C].
    elevation_m : float
        Above sea level [m].

    Returns
    -------
    pandas.Series
        Station pressure, hourly, NaN where an input is [Pa].

    Notes
    -----
    The hydrostatic equation over a column whose lower end is warmer by the standard lapse rate than the day's
    mean at its upper end: WMO-No. 8 (2018), volume I, chapter 3, equation 3.2 without its humidity term
    (from memory).
    """
    day_mean = dry_bulb_c.rolling(25, center=True, min_periods=1).mean()
    column_kelvin = day_mean + 273.15 + LAPSE_RATE_K_M * elevation_m / 2.0
    share: pd.Series = np.exp(-GRAVITY_OVER_AIR_GAS_CONSTANT_K_M * elevation_m / column_kelvin)
    return sea_level_pa * share


def year_faults(table: pd.DataFrame, *, allow_gaps: bool = False) -> dict[int, str]:
    """Why a year does not count, given hourly temperature and humidity of whole years.

    A month counts with temperature and humidity in 90 % of its hours and no gap over 48 h; a year with all
    twelve months.

    Parameters
    ----------
    table : pandas.DataFrame
        Columns temp [°C] and rhum [%], one row an hour.
    allow_gaps : bool
        Keep years with longer gaps.

    Returns
    -------
    dict of str
        The reason by year; years that count are left out.
    """
    times = pd.DatetimeIndex(table.index)
    air = table["temp"].where(table["rhum"].notna())
    longest = pd.Series(0, index=times)
    for year in times.year.unique():
        # A neighbouring year that is missing must not count against this one.
        start = int(np.argmax(times.year == year))
        for first, end in gaps(air[times.year == year].to_numpy()):
            longest.iloc[start + first : start + end] = end - first
    month = times.year * 12 + times.month - 1
    shares, worst = air.notna().groupby(month).mean(), longest.groupby(month).max()
    faults: dict[int, str] = {}
    for key, share, gap in zip(shares.index, shares, worst, strict=True):
        year, name = key // 12, month_name[key % 12 + 1]
        if share < LEAST_MONTH_SHARE:
            faults.setdefault(year, f"{name} has {share:.0%} of its hours")
        elif gap > LONGEST_FILLED_GAP_H and not allow_gaps:
            faults.setdefault(year, f"{name} has a gap of {gap:,} h")
    return faults


def cloud_oktas(table: pd.DataFrame) -> tuple[pd.Series, str]:
    """Cloud cover of every hour and what it was made of, given cloud, sunshine and condition.

    Observed cloud first; else minutes of sunshine, as the cover that leaves the same share of the clear sky's
    light (0.25 + 0.75 of the sunny share); else the condition code. Holes of up to 3 h are interpolated,
    others take the mean of the same hour and month.

    Parameters
    ----------
    table : pandas.DataFrame
        Columns cldc [oktas], tsun [min] and coco [code], one row an hour.

    Returns
    -------
    cover : pandas.Series
        Cloud cover, NaN throughout where too little is known [oktas].
    made_of : str
        Hours of each origin, empty where nothing is made of it.
    """
    condition = table["coco"].map(lambda code: CLOUD_BY_CONDITION.get(int(code), 8.0), na_action="ignore")
    shaded = 1.0 - table["tsun"].clip(0.0, 60.0) / 60.0
    observed, sunshine = table["cldc"].astype(float), 8.0 * shaded ** (1.0 / CLOUD_EXPONENT)
    cloud = observed.fillna(sunshine).fillna(condition.astype(float))
    if cloud.notna().mean() < LEAST_CLOUD_SHARE:
        return cloud * np.nan, ""
    parts = [
        (int(observed.notna().sum()), "h of observed cloud"),
        (int((observed.isna() & sunshine.notna()).sum()), "h of sunshine minutes"),
        (int((observed.isna() & sunshine.isna() & condition.notna()).sum()), "h of condition codes"),
        (int(cloud.isna().sum()), "h filled"),
    ]
    times = pd.DatetimeIndex(table.index)
    cloud = cloud.interpolate(limit=3, limit_area="inside")
    cloud = cloud.fillna(cloud.groupby([times.month, times.hour]).transform("mean")).fillna(cloud.mean())
    return cloud, ", ".join(f"{count:,} {what}" for count, what in parts if count)


def weather_columns(
    local: pd.DataFrame, station_elevation_m: float, elevation_m: float
) -> tuple[pd.DataFrame, list[Notice]]:
    """The columns of a Weather at an elevation, given a station's hours.

    Parameters
    ----------
    local : pandas.DataFrame
        One row an hour, columns temp [°C], rhum [%], pres [hPa], cldc [oktas], tsun [min], coco [code], wspd [km/h].
    station_elevation_m, elevation_m : float
        Of the station and of the building, above sea level [m].

    Returns
    -------
    table : pandas.DataFrame
        Columns dry_bulb_c, dew_point_c, pressure_pa, cloud_oktas and wind_m_s, one row an hour.
    notices : list of Notice
        What was moved, assumed and made.

    Notes
    -----
    Dry bulb is moved by the standard lapse rate of ISO 2533:1975 at the same relative humidity.
    """
    rise = elevation_m - station_elevation_m
    dry_bulb = local["temp"] - LAPSE_RATE_K_M * rise
    pressure, standard = _pressure(local, dry_bulb, elevation_m)
    cloud, made_of = cloud_oktas(local)
    columns = {
        "dry_bulb_c": dry_bulb,
        "dew_point_c": dew_point_c(dry_bulb.to_numpy(), local["rhum"].to_numpy()),
        "pressure_pa": pressure,
        "cloud_oktas": cloud,
        "wind_m_s": local["wspd"] / KM_H_PER_M_S,
    }
    origin = [Notice("cloud_sources", f"Cloud cover comes from {made_of}.")] if made_of else []
    return pd.DataFrame(columns, index=local.index), [*_lapse_notices(rise), *standard, *origin]


def _lapse_notices(rise_m: float) -> list[Notice]:
    if not rise_m:
        return []
    text = (
        f"The site is {format_quantity(abs(rise_m), 'length', digits=0)} ({abs(rise_m):.0f} m) "
        f"{'above' if rise_m > 0 else 'below'} the station: dry bulb was moved by "
        f"{format_both(-LAPSE_RATE_K_M * rise_m, 'difference')}, 6.5 K/km by the standard atmosphere, at the same "
        "relative humidity."
    )
    return [Notice("lapse_rate", text)]


def _pressure(local: pd.DataFrame, dry_bulb_c: pd.Series, elevation_m: float) -> tuple[pd.Series, list[Notice]]:
    """Station pressure [Pa], with the standard atmosphere in single missing hours, and a notice of those."""
    pressure = station_pressure_pa(local["pres"] * 100.0, dry_bulb_c, elevation_m)
    absent = int(pressure.isna().sum())
    if not 0 < absent < len(local):
        return pressure, []
    text = f"Air pressure is missing in {absent:,} h; the standard atmosphere at {elevation_m:.0f} m was taken."
    return pressure.fillna(standard_pressure_pa(elevation_m)), [Notice("standard_pressure", text)]
