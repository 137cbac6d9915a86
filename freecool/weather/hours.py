"""What an hour's air was on average, from readings at its edges."""

from __future__ import annotations

import numpy as np

from freecool.weather.columns import AIR_COLUMNS
from freecool.weather.model import Weather


def hour_means(weather: Weather) -> dict[str, np.ndarray]:
    """The air of each hour as its mean, given a weather.

    Parameters
    ----------
    weather : Weather
        Whose `air_at` tells when its air was read.

    Returns
    -------
    dict of ndarray
        dry_bulb_c, dew_point_c [°C] and pressure_pa [Pa], shapes (hours,): between two readings the air changes by a
        straight line. A typical year closes on itself; before or after a record of real years the air stays.
    """
    return {column: _means(weather.frame[column].to_numpy(float), weather) for column in AIR_COLUMNS}


def _means(readings: np.ndarray, weather: Weather) -> np.ndarray:
    if weather.air_at == "mean":
        return readings
    shift = 1 if weather.air_at == "end" else -1
    other = np.roll(readings, shift)
    if not weather.typical:
        edge = 0 if weather.air_at == "end" else -1
        other[edge] = readings[edge]
    means: np.ndarray = (readings + other) / 2.0
    return means
