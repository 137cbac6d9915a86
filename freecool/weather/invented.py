"""Three invented climates for demonstrations: made up by a formula, measured nowhere."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from freecool.core.errors import Notice, WeatherError
from freecool.weather.columns import WEATHER_COLUMNS
from freecool.weather.model import HOURS_PER_YEAR, Location, Quality, Weather
from freecool.weather.sun import clear_sky, cloud_factor, split_global, sun_position
from freecool.weather.table import standard_pressure_pa, typical_index


@dataclass(frozen=True, kw_only=True)
class Climate:
    """What makes an invented climate; every figure is invented.

    Attributes
    ----------
    location : Location
        A place that does not exist.
    description : str
        The climate in a few words.
    mean_c : float
        Yearly mean of the dry bulb [°C].
    seasonal_c : float
        Half the difference between midsummer and midwinter [K].
    daily_c : float
        Half the daily swing under a clear sky [K].
    synoptic_c : float
        Standard deviation of the passing weather [K].
    dew_point_mean_c : float
        Yearly mean of the dew point [°C].
    dew_point_seasonal_c, dew_point_synoptic_c : float
        As of the dry bulb [K].
    cloud_mean : float
        Mean covered part of the sky [0-1].
    seed : int
        Of the random numbers.
    """

    location: Location
    description: str
    mean_c: float
    seasonal_c: float
    daily_c: float
    synoptic_c: float
    dew_point_mean_c: float
    dew_point_seasonal_c: float
    dew_point_synoptic_c: float
    cloud_mean: float
    seed: int


DEMOS: dict[str, Climate] = {
    "high-desert": Climate(
        location=Location(
            name="Dry Fork Mesa (invented)", latitude=36.0, longitude=-108.0, elevation_m=1_500.0, utc_offset_h=-7.0
        ),
        description="dry, hot days and cool nights",
        mean_c=12.5,
        seasonal_c=11.0,
        daily_c=7.5,
        synoptic_c=3.5,
        dew_point_mean_c=-2.5,
        dew_point_seasonal_c=6.5,
        dew_point_synoptic_c=4.0,
        cloud_mean=0.32,
        seed=1,
    ),
    "humid-coast": Climate(
        location=Location(
            name="Lantern Cove (invented)", latitude=30.0, longitude=-86.0, elevation_m=5.0, utc_offset_h=-6.0
        ),
        description="warm and damp, small daily swing",
        mean_c=20.0,
        seasonal_c=7.5,
        daily_c=3.5,
        synoptic_c=3.0,
        dew_point_mean_c=15.0,
        dew_point_seasonal_c=7.5,
        dew_point_synoptic_c=3.5,
        cloud_mean=0.50,
        seed=2,
    ),
    "mixed-inland": Climate(
        location=Location(
            name="Oxbow Prairie (invented)", latitude=39.5, longitude=-90.0, elevation_m=200.0, utc_offset_h=-6.0
        ),
        description="cold winters, warm damp summers",
        mean_c=12.0,
        seasonal_c=13.0,
        daily_c=5.5,
        synoptic_c=4.5,
        dew_point_mean_c=6.0,
        dew_point_seasonal_c=11.5,
        dew_point_synoptic_c=4.0,
        cloud_mean=0.48,
        seed=3,
    ),
}
"""Invented climates by name; the places do not exist."""

SYNOPTIC_MEMORY_H = 60.0
"""Hours after which passing weather is forgotten to 1/e (our own choice)."""


def invented_weather(name: str) -> Weather:
    """A year of invented weather, given the name of one of `DEMOS`; the same at every call.

    Parameters
    ----------
    name : str
        Such as "mixed-inland".

    Returns
    -------
    Weather
        A typical year, marked as invented.

    Raises
    ------
    WeatherError
        There is no invented climate of that name.
    """
    if name not in DEMOS:
        raise WeatherError(f"demo '{name}' is unknown, expected one of {', '.join(DEMOS)}")
    climate = DEMOS[name]
    location = climate.location
    notice = Notice(
        "invented_weather",
        f"The weather of {location.name} is made up for demonstration and stands for no real place; "
        "give a weather file for a real answer.",
    )
    return Weather(
        location=location,
        source=f"demo:{name}",
        kind="invented",
        frame=_invented_frame(climate),
        years=(),
        typical=True,
        quality=Quality(hours=HOURS_PER_YEAR, filled_hours=0, clipped_hours=0, notes=()),
        notices=(notice,),
        attribution="Invented for Freecool; measured nowhere.",
        invented=True,
    )


def _invented_frame(climate: Climate) -> pd.DataFrame:
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
    return pd.DataFrame(dict(zip(WEATHER_COLUMNS, columns, strict=True)), index=times)


def _passing_weather(random: np.random.Generator) -> np.ndarray:
    """First-order autoregressive noise of unit variance, smooth over a few hours."""
    memory = np.exp(-np.arange(8 * int(SYNOPTIC_MEMORY_H)) / SYNOPTIC_MEMORY_H)
    memory = np.convolve(memory, np.full(6, 1 / 6))
    memory /= np.sqrt((memory**2).sum())
    shocks = random.standard_normal(HOURS_PER_YEAR)
    # The year closes on itself, so that 31 December leads into 1 January.
    return np.fft.irfft(np.fft.rfft(shocks) * np.fft.rfft(memory, HOURS_PER_YEAR), HOURS_PER_YEAR)
