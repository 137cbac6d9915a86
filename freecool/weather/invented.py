"""Three invented climates for demonstrations: made up by a formula, measured nowhere."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

from freecool.core.errors import Notice, WeatherError
from freecool.weather.columns import WEATHER_COLUMNS
from freecool.weather.model import HOURS_PER_YEAR, Location, Quality, Weather
from freecool.weather.sun import clear_sky, cloud_factor, split_global, sun_position
from freecool.weather.table import standard_pressure_pa, typical_index


class Climate(NamedTuple):
    """What makes an invented climate; every figure is invented."""

    location: Location
    description: str
    mean_c: float
    seasonal_c: float
    """Half the difference between midsummer and midwinter. [K]"""
    daily_c: float
    """Half the daily swing under a clear sky. [K]"""
    synoptic_c: float
    """Standard deviation of the passing weather. [K]"""
    dew_point_mean_c: float
    dew_point_seasonal_c: float
    dew_point_synoptic_c: float
    cloud_mean: float
    """Mean covered part of the sky. [0-1]"""
    seed: int


DEMOS: dict[str, Climate] = {
    "high-desert": Climate(
        Location("Dry Fork Mesa (invented)", 36.0, -108.0, 1_500.0, -7.0),
        "dry, hot days and cool nights",
        12.5, 11.0, 7.5, 3.5, -2.5, 6.5, 4.0, 0.32, 1,
    ),
    "humid-coast": Climate(
        Location("Lantern Cove (invented)", 30.0, -86.0, 5.0, -6.0),
        "warm and damp, small daily swing",
        20.0, 7.5, 3.5, 3.0, 15.0, 7.5, 3.5, 0.50, 2,
    ),
    "mixed-inland": Climate(
        Location("Oxbow Prairie (invented)", 39.5, -90.0, 200.0, -6.0),
        "cold winters, warm damp summers",
        12.0, 13.0, 5.5, 4.5, 6.0, 11.5, 4.0, 0.48, 3,
    ),
}  # fmt: skip
"""Invented climates by name; the places do not exist."""

SYNOPTIC_MEMORY_H = 60.0
"""Hours after which passing weather is forgotten to 1/e (our own choice)."""


def invented_weather(name: str) -> Weather:
    """A year of invented weather, given the name of one of `DEMOS`; the same at every call.

    Raises
    ------
    WeatherError
        There is no invented climate of that name.
    """
    if name not in DEMOS:
        raise WeatherError(f"demo '{name}' is unknown, expected one of {', '.join(DEMOS)}")
    climate = DEMOS[name]
    location = climate.location
    times = typical_index(location.utc_offset_h)
    random = np.random.default_rng(climate.seed)
    passing = _passing_weather(random)
    moisture = 0.6 * passing + 0.8 * _passing_weather(random)
    cloudiness = 0.3 * moisture + 0.95 * _passing_weather(random)

    hour = np.arange(HOURS_PER_YEAR)
    # Coldest about 20 January and 5 o'clock, warmest about 20 July and 16 o'clock.
    season = -np.cos(2 * np.pi * (hour / 24 - 20) / 365)
    day = np.cos(2 * np.pi * (hour % 24 + 0.5 - 16) / 24) + 0.25 * np.cos(4 * np.pi * (hour % 24 + 0.5 - 15) / 24)
    cover = np.clip(climate.cloud_mean + 0.35 * cloudiness, 0.0, 1.0)
    daily_mean_cover = np.convolve(cover, np.full(24, 1 / 24), mode="same")
    dry_bulb = (
        climate.mean_c
        + climate.seasonal_c * season
        + climate.daily_c * (1.3 - 0.6 * daily_mean_cover) * day
        + climate.synoptic_c * (1.0 - 0.35 * season) * passing
    )
    dew_point = (
        climate.dew_point_mean_c
        + climate.dew_point_seasonal_c * season
        + climate.dew_point_synoptic_c * (1.0 - 0.6 * season) * moisture
    )
    pressure = standard_pressure_pa(location.elevation_m) - 500.0 * _passing_weather(random)

    position = sun_position(times, location)
    ghi = clear_sky(position, times, location.elevation_m)["ghi_w_m2"] * cloud_factor(cover)
    dni, dhi = split_global(ghi, position, times)
    columns = (dry_bulb, np.minimum(dew_point, dry_bulb - 0.3), pressure, ghi, dni, dhi)
    frame = pd.DataFrame(dict(zip(WEATHER_COLUMNS, columns, strict=True)), index=times)
    notice = Notice(
        "invented_weather",
        f"The weather of {location.name} is made up for demonstration and stands for no real place; "
        "give a weather file for a real answer.",
    )
    return Weather(
        location=location,
        source=f"demo:{name}",
        kind="invented",
        frame=frame,
        years=(),
        typical=True,
        quality=Quality(HOURS_PER_YEAR, 0, 0, ()),
        notices=(notice,),
        attribution="Invented for Freecool; measured nowhere.",
        invented=True,
    )


def _passing_weather(random: np.random.Generator) -> np.ndarray:
    """First-order autoregressive noise of unit variance, smooth over a few hours."""
    memory = np.exp(-np.arange(8 * int(SYNOPTIC_MEMORY_H)) / SYNOPTIC_MEMORY_H)
    memory = np.convolve(memory, np.full(6, 1 / 6))
    memory /= np.sqrt((memory**2).sum())
    shocks = random.standard_normal(HOURS_PER_YEAR)
    # The year closes on itself, so that 31 December leads into 1 January.
    return np.fft.irfft(np.fft.rfft(shocks) * np.fft.rfft(memory, HOURS_PER_YEAR), HOURS_PER_YEAR)
