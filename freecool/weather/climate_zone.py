"""The thermal climate zone, from a year's degree days."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from freecool.core.units import parse

if TYPE_CHECKING:
    from freecool.weather.model import Weather

COOLING_BASE_C = parse("50F", "temperature")
HEATING_BASE_C = parse("65F", "temperature")
# ASHRAE 169-2013 table A-3 (from memory): degree days [K day] above 50 degF that start zones 2, 1 and 0,
# and below 65 degF that end zones 3 to 7.
HOT_STARTS = ((6000.0, "0"), (5000.0, "1"), (3500.0, "2"))
COLD_ENDS = ((2000.0, "3"), (3000.0, "4"), (4000.0, "5"), (5000.0, "6"), (7000.0, "7"))


def degree_days(weather: Weather) -> tuple[float, float]:
    """Degree days a year from daily mean dry bulb, given a weather.

    Parameters
    ----------
    weather : Weather
        Of one or several years.

    Returns
    -------
    cooling : float
        Above 50 °F [K day].
    heating : float
        Below 65 °F [K day].
    """
    daily = weather.frame["dry_bulb_c"].resample("D").mean().dropna().to_numpy(float)
    years = daily.size / 365.0
    cooling = float(np.maximum(daily - COOLING_BASE_C, 0.0).sum()) / years
    heating = float(np.maximum(HEATING_BASE_C - daily, 0.0).sum()) / years
    return cooling, heating


def thermal_zone(weather: Weather) -> str:
    """The number of the ASHRAE 169 climate zone, given a weather.

    Its letter rests on rainfall, which weather files do not carry reliably: only 7 and 8 are whole zones.

    Parameters
    ----------
    weather : Weather
        Of one or several years.

    Returns
    -------
    str
        "0" to "8".

    Notes
    -----
    ASHRAE 169-2013 table A-3 (from memory), from the degree days alone.
    """
    cooling, heating = degree_days(weather)
    for start, zone in HOT_STARTS:
        if cooling > start:
            return zone
    for end, zone in COLD_ENDS:
        if heating <= end:
            return zone
    return "8"
