"""From a station's hours in UTC to a Weather of whole real years."""

from __future__ import annotations

import re
from calendar import month_name
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from typing import NamedTuple
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
import pandas as pd

from freecool.core.errors import Notice, WeatherError
from freecool.core.units import format_both, format_quantity
from freecool.weather.model import Location, Weather
from freecool.weather.quality import LONGEST_FILLED_GAP_H, gaps
from freecool.weather.station_store import (
    BY_MODEL,
    WHAT_ELSE,
    Inventory,
    NoHourlyData,
    Station,
    find_station,
    hourly_record,
    inventories,
    stations_near,
)
from freecool.weather.table import standard_pressure_pa, weather_from_table

DEFAULT_YEARS = 10
FIRST_YEAR = 1931
LEAST_MONTH_SHARE = 0.9
"""Hours of a month with temperature and humidity below which the month does not count (our own limit, in
the manner of the completeness rules of WMO-No. 1203)."""
LEAST_YEARS_SHARE = 0.5
"""Whole years among those asked for, below which the next station is tried (our own choice)."""
STATIONS_TRIED = 4
LAPSE_RATE_K_M = 0.0065
"""ISO 2533:1975, standard atmosphere: fall of temperature with height. [K/m]"""
GRAVITY_OVER_AIR_GAS_CONSTANT_K_M = 9.80665 / 287.05
"""Hydrostatic constant of dry air, ISO 2533:1975. [K/m]"""
# Alduchov and Eskridge, J. Appl. Meteorol. 35 (1996), eq. 21: the constants the relative humidity was made with.
MAGNUS_FACTOR, MAGNUS_KELVIN = 17.625, 243.04
CLOUD_BY_CONDITION = {1: 0.0, 2: 2.0, 3: 6.0}
"""Condition codes clear, fair and cloudy in oktas; every other code has a closed sky (our own reading)."""
CLOUD_EXPONENT = 3.4
LEAST_CLOUD_SHARE = 0.3
"""Share of hours with cloud, sunshine or condition below which nothing is made of it (our own limit)."""
KM_H_PER_M_S = 3.6


class Wanted(NamedTuple):
    """What was asked for: source, first and last year, and how."""

    source: str
    first: int
    last: int
    offline: bool
    elevation_m: float | None
    allow_gaps: bool

    @property
    def span(self) -> str:
        """The years as text."""
        return f"{self.first}-{self.last}"


class NoUsableYear(WeatherError):
    """A station without one whole year in the years asked for."""


def station_weather(
    asked: str,
    *,
    years: tuple[int, int] | None = None,
    offline: bool = False,
    elevation_m: float | None = None,
    allow_gaps: bool = False,
) -> Weather:
    """Weather of real years, given "station:ID" or "near:LAT,LON".

    Parameters
    ----------
    asked : str
        The source.
    years : tuple of int, optional
        First and last; the last ten complete years if not given.
    offline : bool
        Use only what was fetched before.
    elevation_m : float, optional
        Of the building; dry bulb is moved there by 6.5 K/km at the same relative humidity. [m]
    allow_gaps : bool
        Keep years with gaps longer than 48 h.

    Raises
    ------
    WeatherError
        No station, no data, no whole year, or no connection.
    """
    scheme, _, rest = asked.partition(":")
    wanted = Wanted(asked, *_span(years), offline, elevation_m, allow_gaps)
    if scheme == "station":
        return _weather(find_station(rest.strip(), offline=offline), wanted)
    near = stations_near(*_place(asked, rest), offline=offline)
    told = inventories(near, offline=offline)
    return _nearest_usable([station for station in near if _may_have(told[station.id], wanted)], wanted)


def standard_offset_h(time_zone: str, year: int) -> float:
    """Offset of standard time from UTC [h], without daylight saving, given an IANA time zone and a year."""
    try:
        zone = ZoneInfo(time_zone)
    except (ZoneInfoNotFoundError, ValueError):
        raise WeatherError(f"time zone '{time_zone}' of the station is unknown: take another station") from None
    offsets = [datetime(year, month, 1, tzinfo=zone).utcoffset() or timedelta() for month in (1, 7)]
    return min(offsets) / timedelta(hours=1)


def dew_point_of(dry_bulb_c: np.ndarray, relative_humidity_percent: np.ndarray) -> np.ndarray:
    """Dew point [°C], given dry bulb [°C] and relative humidity [%].

    Alduchov and Eskridge, J. Appl. Meteorol. 35 (1996), p. 601, equation 21.
    """
    share = np.clip(relative_humidity_percent, 1.0, 100.0) / 100.0
    exponent = np.log(share) + MAGNUS_FACTOR * dry_bulb_c / (MAGNUS_KELVIN + dry_bulb_c)
    # At saturation rounding must not lift it above the dry bulb.
    dew_point_c: np.ndarray = np.minimum(MAGNUS_KELVIN * exponent / (MAGNUS_FACTOR - exponent), dry_bulb_c)
    return dew_point_c


def station_pressure_pa(sea_level_pa: pd.Series, dry_bulb_c: pd.Series, elevation_m: float) -> pd.Series:
    """Pressure at an elevation [Pa], given sea-level pressure [Pa], dry bulb [°C] and elevation [m].

    The hydrostatic equation over a column whose lower end is warmer by the standard lapse rate than the day's
    mean at its upper end: WMO-No. 8 (2018), volume I, chapter 3, equation 3.2 without its humidity term
    (from memory).
    """
    day_mean = dry_bulb_c.rolling(25, center=True, min_periods=1).mean()
    column_kelvin = day_mean + 273.15 + LAPSE_RATE_K_M * elevation_m / 2.0
    share: pd.Series = np.exp(-GRAVITY_OVER_AIR_GAS_CONSTANT_K_M * elevation_m / column_kelvin)
    return sea_level_pa * share


def year_faults(table: pd.DataFrame, *, allow_gaps: bool = False) -> dict[int, str]:
    """Why a year does not count, by year, given hourly temp and rhum of whole years.

    A month counts with temperature and humidity in 90 % of its hours and no gap over 48 h; a year with all
    twelve months.
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
    """Cloud cover of every hour [oktas] and what it was made of, given cldc, tsun, coco; NaN with too little.

    Observed cloud first; else minutes of sunshine, as the cover that leaves the same share of the clear sky's
    light (0.25 + 0.75 of the sunny share); else the condition code. Holes of up to 3 h are interpolated,
    others take the mean of the same hour and month.
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


def _span(years: tuple[int, int] | None) -> tuple[int, int]:
    now = datetime.now(UTC).year
    first, last = years or (now - DEFAULT_YEARS, now - 1)
    if not FIRST_YEAR <= first <= last <= now:
        raise WeatherError(
            f"years {first}-{last} were asked for, expected first to last from {FIRST_YEAR} to {now}, such as "
            f"{now - DEFAULT_YEARS}-{now - 1}"
        )
    return first, last


def _place(asked: str, text: str) -> tuple[float, float]:
    match = re.fullmatch(r"\s*([+-]?\d+(?:\.\d*)?)\s*,\s*([+-]?\d+(?:\.\d*)?)\s*", text)
    if not match:
        raise WeatherError(f"'{asked}': expected latitude and longitude in degrees, such as near:36.07,-79.79")
    return float(match[1]), float(match[2])


def _may_have(told: Inventory, wanted: Wanted) -> bool:
    # The list is not complete: where it says nothing, the station is tried.
    if told.first_year is None or told.last_year is None:
        return True
    return told.first_year <= wanted.last and told.last_year >= wanted.first


def _nearest_usable(near: Sequence[Station], wanted: Wanted) -> Weather:
    """The nearest station with half of the years wanted, else the one with most, given stations by distance."""
    found: list[Weather] = []
    passed: list[str] = []
    for station in near[:STATIONS_TRIED]:
        try:
            found.append(_weather(station, wanted))
        except NoUsableYear as error:
            passed.append(str(error))
            continue
        if len(found[-1].years) >= LEAST_YEARS_SHARE * (wanted.last - wanted.first + 1):
            return found[-1]
    if not found:
        raise WeatherError(
            f"{wanted.source}: no station near has a whole year in {wanted.span} "
            f"({'; '.join(passed) or 'the list names none'}): take other years, or {WHAT_ELSE}"
        )
    return max(found, key=lambda weather: len(weather.years))


def _local(table: pd.DataFrame, wanted: Wanted, utc_offset_h: float) -> pd.DataFrame:
    """The hours of the years wanted in local standard time, given hours in UTC."""
    hours_ahead = int(np.ceil(utc_offset_h))
    part = hours_ahead - utc_offset_h
    if part:
        # A zone off by a part of an hour: its hours lie between two of UTC. Condition codes have no mean.
        between = table * (1.0 - part) + table.shift(-1) * part
        table = between.assign(coco=table["coco"])
    zone = timezone(timedelta(hours=utc_offset_h))
    hours = pd.date_range(
        f"{wanted.first}-01-01", f"{wanted.last}-12-31 23:00", freq="h", tz=zone, unit="s", name="time"
    )
    ahead = pd.DatetimeIndex(table.index) + timedelta(hours=hours_ahead)
    return table.set_axis(ahead).reindex(hours.tz_localize(None)).set_axis(hours)


def _weather(station: Station, wanted: Wanted) -> Weather:
    offset_h = standard_offset_h(station.time_zone, wanted.last)
    shift = pd.Timedelta(hours=offset_h)
    first = (pd.Timestamp(wanted.first, 1, 1) - shift).floor("h")
    last = (pd.Timestamp(wanted.last, 12, 31, 23) - shift).ceil("h")
    name = f"station {station.id} ({station.name})"
    try:
        record = hourly_record(station, first, last, offline=wanted.offline)
    except NoHourlyData as error:
        raise NoUsableYear(str(error)) from None
    local = _local(record.table, wanted, offset_h)
    faults = year_faults(local, allow_gaps=wanted.allow_gaps)
    absent = "not fetched before" if wanted.offline else "no data"
    faults |= {year: absent for year in record.missing_years if year in faults}
    kept = [year for year in range(wanted.first, wanted.last + 1) if year not in faults]
    dropped = "; ".join(f"{year} ({reason})" for year, reason in faults.items())
    if not kept:
        raise NoUsableYear(
            f"{name} has no whole year of temperature and humidity in {wanted.span}: {dropped}; take other years "
            "or another station ('freecool weather find LAT LON' lists them)"
        )
    local = local[pd.DatetimeIndex(local.index).year.isin(kept)]
    notices = [_station_notice(station, int((local[BY_MODEL] > 0.0).sum()))]
    if faults:
        rule = f"{LEAST_MONTH_SHARE:.0%} of each month's hours and no gap over {LONGEST_FILLED_GAP_H} h"
        notices.append(Notice("dropped_years", f"Years left out, for want of {rule}: {dropped}."))
    elevation_m = station.elevation_m if wanted.elevation_m is None else wanted.elevation_m
    table, more = _quantities(local, station, elevation_m)
    # The rule for years has judged the gaps; what is left may be filled, also where two years now touch.
    found = weather_from_table(
        table,
        Location(f"{station.name} ({station.id})", station.latitude, station.longitude, elevation_m, offset_h),
        name=name,
        source=wanted.source,
        kind="station",
        typical=False,
        allow_gaps=True,
        attribution=record.attribution,
    )
    return replace(found, years=tuple(kept), notices=(*notices, *more, *found.notices))


def _station_notice(station: Station, hours_by_model: int) -> Notice:
    away = "" if np.isnan(station.distance_m) else f", {station.distance_m / 1000.0:.0f} km away"
    height = f"{format_quantity(station.elevation_m, 'length', digits=0)} ({station.elevation_m:.0f} m)"
    made = f"in {hours_by_model:,} h" if hours_by_model else "there were none in these years"
    text = (
        f"Weather of station {station.id}, {station.name}{away}, at {height}; "
        f"values made by forecast models are left out ({made})."
    )
    return Notice("station", text)


def _quantities(local: pd.DataFrame, station: Station, elevation_m: float) -> tuple[pd.DataFrame, list[Notice]]:
    notices = []
    rise = elevation_m - station.elevation_m
    dry_bulb = local["temp"] - LAPSE_RATE_K_M * rise
    if rise:
        text = (
            f"The site is {format_quantity(abs(rise), 'length', digits=0)} ({abs(rise):.0f} m) "
            f"{'above' if rise > 0 else 'below'} the station: dry bulb was moved by "
            f"{format_both(-LAPSE_RATE_K_M * rise, 'difference')}, 6.5 K/km by the standard atmosphere, at the same "
            "relative humidity."
        )
        notices.append(Notice("lapse_rate", text))
    pressure = station_pressure_pa(local["pres"] * 100.0, dry_bulb, elevation_m)
    absent = int(pressure.isna().sum())
    if 0 < absent < len(local):
        text = f"Air pressure is missing in {absent:,} h; the standard atmosphere at {elevation_m:.0f} m was taken."
        notices.append(Notice("standard_pressure", text))
        pressure = pressure.fillna(standard_pressure_pa(elevation_m))
    cloud, made_of = cloud_oktas(local)
    if made_of:
        notices.append(Notice("cloud_sources", f"Cloud cover comes from {made_of}."))
    dew_point = dew_point_of(dry_bulb.to_numpy(), local["rhum"].to_numpy())
    columns = {
        "dry_bulb_c": dry_bulb,
        "dew_point_c": dew_point,
        "pressure_pa": pressure,
        "cloud_oktas": cloud,
        "wind_m_s": local["wspd"] / KM_H_PER_M_S,
    }
    return pd.DataFrame(columns, index=local.index), notices
