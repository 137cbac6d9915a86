"""Whether a year's air can be that of its place: level, season, swing and moisture tell wrong units and places."""

from __future__ import annotations

import numpy as np
import pandas as pd

from freecool.core.errors import WeatherError
from freecool.weather.faults import show_time
from freecool.weather.model import Location

LATITUDE_DEG = (0.0, 12.0, 25.0, 30.0, 37.0, 45.0, 52.0, 60.0, 70.0, 80.0, 90.0)
COLDEST_MEAN_C = (14.0, 13.0, 9.0, 7.0, 3.0, -4.0, -10.0, -18.0, -24.0, -40.0, -60.0)
WARMEST_MEAN_C = (35.0, 38.0, 35.0, 32.0, 29.0, 21.0, 17.0, 14.0, 9.0, 2.0, -4.0)
"""Yearly mean of dry bulb at sea level by distance from the equator, some 4 K beyond the coldest and warmest towns
(Lima, Harbin, Yakutsk, Verkhoyansk; Dallol, Kuwait, Palermo, Bergen, Tromsø; from memory, our own margin) [°C]."""
FALL_WITH_HEIGHT_K_M = 0.005
"""Of yearly means on highlands, less than in free air (our own, to suit Lhasa and La Paz) [K/m]."""
SEASONS_FROM_DEG, LEAST_SEASON_K = 25.0, 3.0
"""Distance from the equator and half the yearly range from which the seasons must be those of the hemisphere."""
WARMEST_DAY, MOST_DAYS_OFF = 207.0, 75.0
"""Of the yearly wave in the north, and how far it may lie off: monsoons shift it (our own limit)."""
LARGEST_SWING_K = 26.0
"""Mean daily range of dry bulb; the largest in the open years at hand is 14.5 K (our own limit)."""
DRIEST_YEAR_C, WARM_HOUR_C = 1.7, 15.0
"""A year with an hour of 15 °C has one with a dew point of more than 1.7 °C (our own limit) [°C]."""
LEVEL_STEP_K, LEVEL_STAYS_K = 20.0, 15.0
"""Step within an hour, and between the means of the week before and after: more than a front does (our own limit;
fronts at Denver fell by 20 K within an hour and came back, or by 16 K and stayed, from memory) [K]."""
UNIT_STEP_K, UNIT_FITS_K, UNIT_STAYS_K = 9.0, (2.5, 5.0), (8.0, 12.0)
"""The same where the step is what a change between °C and °F makes of the hour before, to 2.5 K; or to 5 K, where the
week after is what it makes of the week before. In the open years at hand no such hour fits to 5 K [K]."""


def refuse_implausible(table: pd.DataFrame, location: Location, name: str) -> None:
    """Refuse air that is not of this place or not in the unit that is told, given a table without gaps.

    Parameters
    ----------
    table : pandas.DataFrame
        Hourly whole days, columns dry_bulb_c and dew_point_c [°C].
    location : Location
        Where it was measured.
    name : str
        What to call the source in a message.

    Raises
    ------
    WeatherError
        With every contradiction in one sentence.
    """
    dry_bulb, dew_point = (table[column].to_numpy(dtype=float) for column in ("dry_bulb_c", "dew_point_c"))
    times = pd.DatetimeIndex(table.index)
    faults = [
        *_level(dry_bulb, location),
        *_season(dry_bulb, times, location),
        *_swing(dry_bulb),
        *_moisture(dry_bulb, dew_point),
        *_change_of_level(dry_bulb, times),
    ]
    if faults:
        raise WeatherError(f"{name}: {'; '.join(faults)}")


def _level(dry_bulb_c: np.ndarray, location: Location) -> list[str]:
    mean = float(dry_bulb_c.mean())
    height = FALL_WITH_HEIGHT_K_M * max(location.elevation_m, 0.0)
    distance = abs(location.latitude)
    coldest, warmest = (
        float(np.interp(distance, LATITUDE_DEG, limit)) - height for limit in (COLDEST_MEAN_C, WARMEST_MEAN_C)
    )
    if coldest <= mean <= warmest:
        return []
    unit = ""
    if mean < coldest and coldest <= 1.8 * mean + 32.0 <= warmest:
        unit = "; degrees Celsius may stand in a column in °F, or were converted twice"
    if mean > warmest and coldest <= (mean - 32.0) / 1.8 <= warmest:
        unit = "; degrees Fahrenheit may stand in a column in °C"
    return [
        f"outdoor dry bulb averages {mean:.1f} °C, expected {coldest:.0f} to {warmest:.0f} °C at latitude "
        f"{location.latitude:.1f} and {location.elevation_m:.0f} m{unit}: check the unit, latitude and elevation"
    ]


def _season(dry_bulb_c: np.ndarray, times: pd.DatetimeIndex, location: Location) -> list[str]:
    if abs(location.latitude) < SEASONS_FROM_DEG:
        return []
    day = times.day_of_year.to_numpy()
    wave = np.mean((dry_bulb_c - dry_bulb_c.mean()) * np.exp(2j * np.pi * day / 365.25))
    if 2.0 * abs(wave) < LEAST_SEASON_K:
        return []
    warmest = float(np.angle(wave) / (2.0 * np.pi) * 365.25) % 365.25
    expected = WARMEST_DAY if location.latitude > 0.0 else WARMEST_DAY - 365.25 / 2.0
    off = (warmest - expected + 182.6) % 365.25 - 182.6
    if abs(off) <= MOST_DAYS_OFF:
        return []
    found, due = (pd.Timestamp(2018, 1, 1) + pd.Timedelta(days=round(number)) for number in (warmest, expected))
    return [
        f"the warm season culminates about {found.day} {found:%B}, expected about {due.day} {due:%B} at latitude "
        f"{location.latitude:.1f}: check the sign of the latitude, and whether the months are in order"
    ]


def _swing(dry_bulb_c: np.ndarray) -> list[str]:
    days = dry_bulb_c[: len(dry_bulb_c) // 24 * 24].reshape(-1, 24)
    swing = float(np.mean(days.max(axis=1) - days.min(axis=1)))
    if swing <= LARGEST_SWING_K:
        return []
    return [
        f"outdoor dry bulb swings by {swing:.0f} K a day on average, expected under {LARGEST_SWING_K:.0f} K: check the "
        "unit; degrees Fahrenheit may stand in a column in °C"
    ]


def _moisture(dry_bulb_c: np.ndarray, dew_point_c: np.ndarray) -> list[str]:
    most = float(dew_point_c.max())
    if most > DRIEST_YEAR_C or dry_bulb_c.max() < WARM_HOUR_C:
        return []
    return [
        f"outdoor dew point never passes {most:.1f} °C ({most * 1.8 + 32.0:.0f} °F) while dry bulb reaches "
        f"{dry_bulb_c.max():.0f} °C, drier than any place: check the unit; degrees Celsius may stand in a column in "
        "°F, or a fraction in one of percent"
    ]


def _change_of_level(dry_bulb_c: np.ndarray, times: pd.DatetimeIndex) -> list[str]:
    steps = np.abs(np.diff(dry_bulb_c))
    for hour in (np.flatnonzero(steps > UNIT_STEP_K) + 1).tolist():
        last, first = float(dry_bulb_c[hour - 1]), float(dry_bulb_c[hour])
        before, after = (
            float(week.mean()) for week in (dry_bulb_c[max(hour - 168, 0) : hour], dry_bulb_c[hour:][:168])
        )
        stays, fits = abs(after - before), _off_conversion(last, first)
        near, far = UNIT_FITS_K
        if (
            (steps[hour - 1] > LEVEL_STEP_K and stays > LEVEL_STAYS_K)
            or (fits <= near and stays > UNIT_STAYS_K[0])
            or (fits <= far and _off_conversion(before, after) <= far and stays > UNIT_STAYS_K[1])
        ):
            return [
                f"outdoor dry bulb goes from {last:.0f} to {first:.0f} °C within an hour at "
                f"{show_time(times[hour], True)} and stays there, {before:.0f} °C on average in the week before and "
                f"{after:.0f} °C in the week after: check whether the unit changes there"
            ]
    return []


def _off_conversion(before: float, after: float) -> float:
    return min(abs(after - (before - 32.0) / 1.8), abs(after - (before * 1.8 + 32.0)))
