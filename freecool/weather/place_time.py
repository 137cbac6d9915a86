"""Clock, sun and place of a weather held against each other: time zone, light and the warmest hour."""

from __future__ import annotations

import numpy as np
import pandas as pd

from freecool.core.errors import Notice, WeatherError
from freecool.weather.clock import standard_offset_h
from freecool.weather.model import AirAt, Location
from freecool.weather.sun import sun_in_the_dark, sun_position

DEGREES_AN_HOUR = 15.0
NEAR_ENOUGH_H = 0.75
"""Between the UTC offset and the sun's own time: most towns lie so, and need no look at the map (our own limit) [h]."""
SUMMER_TIME_H = 1.01
"""Off by this a zone may follow daylight saving or a border: a caution, no refusal [h]."""
ZONE_YEARS = (1975, 1990, 2005, 2024)
"""Years whose standard time counts as the place's: typical years reach back to the seventies."""
SOLAR_CONSTANT_W_M2 = 1_361.0
LIT_W_M2, UP_COSINE = 15.0, 0.05
"""Light that a pyranometer surely tells [W/m2], and the cosine of the sun's zenith angle that gives it."""
SUN_OFF_TOLD_H, SUN_OFF_REFUSED_H, SEASONS_APART_H = 0.6, 1.5, 0.6
"""Middle of the lit hours against the sun's noon, and summer against winter: at most 0.11 h and 0.25 h in the open
years at hand (our own limits) [h]."""
CLEARNESS = (0.22, 0.85)
"""Yearly light over that above the air: 0.36 to 0.65 at hand, near 0.3 in the dullest places (our own limits)."""
MOST_OPEN = 0.18
"""Mean distance of global from direct and diffuse together, over global: 0.01 at hand (our own limit)."""
LAG_TOLD_H, LAG_REFUSED_H = (0.3, 5.2), (-1.5, 7.0)
"""Hours from the sun's noon to the peak of the daily wave of dry bulb: 1.8 to 4.3 at hand (our own limits) [h]."""
LEAST_WAVE_K, LEAST_WAVE = 0.6, 0.1
"""Half the daily range of dry bulb [K], and of the lit share of hours, below which a wave has no clear peak."""


def check_zone(location: Location, name: str) -> tuple[Notice, ...]:
    """A caution where the UTC offset is an hour off standard time at the place, given both; more is refused.

    Parameters
    ----------
    location : Location
        Where it was measured.
    name : str
        What to call the source in a message.

    Returns
    -------
    tuple of Notice
        None where the offset fits.

    Raises
    ------
    WeatherError
        The offset is not that of the place.
    """
    told, by_sun = location.utc_offset_h, location.longitude / DEGREES_AN_HOUR
    if _apart(told, by_sun) <= NEAR_ENOUGH_H:
        return ()
    zones = standard_times(location.latitude, location.longitude)
    off = min((_apart(told, hours) for hours in zones.values()), default=max(_apart(told, by_sun) - 1.0, 0.0))
    if off < 0.01:
        return ()
    due = " or ".join(f"UTC{hours:+g} h ({zone})" for zone, hours in zones.items()) or f"about UTC{by_sun:+.0f} h"
    where = f"{location.latitude:g}, {location.longitude:g}"
    text = f"{name}: the UTC offset is {told:+g} h, expected {due} at {where}"
    if off <= SUMMER_TIME_H:
        return (Notice("time_zone", f"{text}: check that times are local standard time without daylight saving."),)
    raise WeatherError(f"{text}: {_probably(location)}")


def standard_times(latitude: float, longitude: float) -> dict[str, float]:
    """Standard times that hold or held at a place, given its latitude and longitude.

    Parameters
    ----------
    latitude, longitude : float
        North and east positive [degrees].

    Returns
    -------
    dict of float
        UTC offset by time zone and, where it changed, year [h]; empty where none is known.
    """
    from tzfpy import get_tzs

    found: dict[str, float] = {}
    for zone in get_tzs(longitude, latitude):
        try:
            offsets = {standard_offset_h(zone, year): year for year in ZONE_YEARS}
        except WeatherError:
            continue
        for hours, year in offsets.items():
            found[zone if len(offsets) == 1 else f"{zone} in {year}"] = hours
    return found


def _apart(hours: float, others: float) -> float:
    return abs((hours - others + 12.0) % 24.0 - 12.0)


def _probably(location: Location) -> str:
    told, by_sun = location.utc_offset_h, location.longitude / DEGREES_AN_HOUR
    if told and _apart(-told, by_sun) <= 1.6:
        return "the sign of the UTC offset or of the longitude is probably wrong; west of Greenwich both are negative"
    if abs(location.longitude) <= 90.0 and _apart(told, location.latitude / DEGREES_AN_HOUR) <= 1.6:
        return "latitude and longitude are probably exchanged"
    if not told:
        return (
            "if the times are UTC, write Z behind each and give the offset of the place's standard time; if they are "
            "local, correct the offset"
        )
    return "check the UTC offset, and latitude and longitude with their signs"


def check_sun(table: pd.DataFrame, location: Location, name: str) -> tuple[Notice, ...]:
    """A caution where measured light is an hour off the sun, given a table without gaps; more is refused.

    Parameters
    ----------
    table : pandas.DataFrame
        Hourly, with measured ghi_w_m2, and dni_w_m2 and dhi_w_m2 as measured or derived [W/m2].
    location : Location
        Where it was measured.
    name : str
        What to call the source in a message.

    Returns
    -------
    tuple of Notice
        None where the light fits the sun.

    Raises
    ------
    WeatherError
        Clock, place or unit of the sunshine is wrong.
    """
    times = pd.DatetimeIndex(table.index)
    zenith = sun_position(times, location)["zenith"].to_numpy()
    cosine, light = np.maximum(np.cos(np.radians(zenith)), 0.0), table["ghi_w_m2"].to_numpy(dtype=float)
    share = float(light.mean() / (SOLAR_CONSTANT_W_M2 * cosine.mean()))
    if not CLEARNESS[0] <= share <= CLEARNESS[1]:
        raise WeatherError(
            f"{name}: global irradiance is {share:.0%} of what falls above the air, expected {CLEARNESS[0]:.0%} "
            f"to {CLEARNESS[1]:.0%}: check its unit, W/m2, and latitude and longitude; leave the column out if it was "
            "not measured"
        )
    hour, month = times.hour.to_numpy(), times.month.to_numpy()
    lit, up = light > LIT_W_M2, cosine > UP_COSINE
    off = _behind(lit, up, hour)
    if abs(off) > SUN_OFF_REFUSED_H:
        raise WeatherError(
            f"{name}: the sun shines {abs(off):.1f} h {'later' if off > 0.0 else 'earlier'} than it stands "
            f"at {location.latitude:g}, {location.longitude:g} by UTC{location.utc_offset_h:+g} h: check whether times "
            "are local standard time or UTC, and latitude, longitude and UTC offset with their signs"
        )
    summer, winter = (month >= 4) & (month <= 10), (month == 12) | (month <= 2)
    later = _behind(lit[summer], up[summer], hour[summer]) - _behind(lit[winter], up[winter], hour[winter])
    if abs(later) > SEASONS_APART_H:
        season = "April to October" if later > 0.0 else "December to February"
        raise WeatherError(
            f"{name}: the sun shines {abs(later):.1f} h later from {season} than in the other half of the year, so "
            "the times follow daylight saving: give local standard time all year"
        )
    in_the_dark = sun_in_the_dark(table, location)
    if in_the_dark:
        return (Notice("sun_in_the_dark", f"{name}: {in_the_dark}."),)
    if abs(off) > SUN_OFF_TOLD_H:
        text = f"{name}: the sun shines {abs(off):.1f} h off the time at which it stands there: check the clock."
        return (Notice("sun_off", text),)
    direct, diffuse = (table[column].to_numpy(dtype=float) for column in ("dni_w_m2", "dhi_w_m2"))
    open_by = float(np.abs(light - direct * cosine - diffuse).mean() / light.mean())
    if open_by > MOST_OPEN:
        raise WeatherError(
            f"{name}: global irradiance is {open_by:.0%} off what direct and diffuse make together, expected at most "
            f"{MOST_OPEN:.0%}: check whether the columns are exchanged or differ in unit, or keep the global one alone"
        )
    return ()


def _behind(lit: np.ndarray, up: np.ndarray, hour: np.ndarray) -> float:
    """Hours by which the middle of the lit part of the days lies behind the middle of those with the sun up."""
    waves = [_daily_wave(values, hour) for values in (lit, up)]
    if min(abs(wave) for wave in waves) < LEAST_WAVE:
        return 0.0
    return float(np.angle(waves[0] / waves[1]) / (2.0 * np.pi) * 24.0)


def _daily_wave(values: np.ndarray, hour: np.ndarray) -> complex:
    """First harmonic of the mean day, about the half hour: amplitude, and hour of the peak as angle."""
    counts = np.bincount(hour, minlength=24)
    means = np.bincount(hour, values, 24) / np.maximum(counts, 1)
    return complex(2.0 * np.mean(means * np.exp(2j * np.pi * (np.arange(24) + 0.5) / 24.0)))


def check_warmest_hour(table: pd.DataFrame, location: Location, air_at: AirAt, name: str) -> tuple[Notice, ...]:
    """A caution where the air is warmest at an odd hour after the sun's noon, given a table; an impossible is refused.

    Parameters
    ----------
    table : pandas.DataFrame
        Hourly, dry_bulb_c without gaps [°C].
    location : Location
        Where it was measured.
    air_at : {"mean", "start", "end"}
        When the air was read.
    name : str
        What to call the source in a message.

    Returns
    -------
    tuple of Notice
        None where the hour is usual, or the day has no clear peak.

    Raises
    ------
    WeatherError
        No place has its peak then.
    """
    hour = pd.DatetimeIndex(table.index).hour.to_numpy()
    wave = _daily_wave(table["dry_bulb_c"].to_numpy(dtype=float), hour)
    if abs(wave) < LEAST_WAVE_K:
        return ()
    peak = np.angle(wave) / (2.0 * np.pi) * 24.0 + {"mean": 0.0, "start": -0.5, "end": 0.5}[air_at]
    noon = 12.0 + location.utc_offset_h - location.longitude / DEGREES_AN_HOUR
    lag = float((peak - noon + 10.0) % 24.0 - 10.0)
    if LAG_TOLD_H[0] <= lag <= LAG_TOLD_H[1]:
        return ()
    text = (
        f"{name}: the daily wave of outdoor dry bulb peaks {abs(lag):.1f} h {'after' if lag > 0.0 else 'before'} the "
        "sun's noon, expected 1 to 5 h after: check whether times are local standard time or UTC, and the longitude"
    )
    if LAG_REFUSED_H[0] <= lag <= LAG_REFUSED_H[1]:
        return (Notice("odd_warmest_hour", f"{text}."),)
    raise WeatherError(text)
